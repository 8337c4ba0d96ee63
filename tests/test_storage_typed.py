"""What is typed and no answer yet lies beside the journal: it outlasts a killed program, and never comes near the build file."""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from buildtrack.model import edit
from buildtrack.model.build import Build, Cell, Entry, Reading, Row
from buildtrack.storage.durable import REAL
from buildtrack.storage.session import BuildSession, create, open_session
from buildtrack.storage.typed_file import Typed, not_taken, read_typed, write_typed
from tests.small import small
from tests.storage_cases import AT, small_build

SMALL = small()
Texts = Mapping[tuple[str, ...], str]
TEXTS: Texts = {("part_temperature",): "31.", ("cells", "c01", "note"): "a scratch", ("?", "Why?"): "half \ud83d a reason"}


@pytest.fixture
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    return tmp_path / "state"


@pytest.fixture
def path(tmp_path: Path, state: Path) -> Path:
    (tmp_path / "work").mkdir()
    create(tmp_path / "work" / "a.toml", small_build(), SMALL)
    return tmp_path / "work" / "a.toml"


@pytest.fixture
def opened() -> Iterator[Callable[..., BuildSession]]:
    """Opens sessions of a file, and closes them at the end."""
    sessions: list[BuildSession] = []

    def start(path: Path, **given: Any) -> BuildSession:
        sessions.append(open_session(path, **{"find": lambda _n: SMALL, "clock": lambda: AT, **given}))
        return sessions[-1]

    yield start
    for session in sessions:
        session.close()


def typed_files(state: Path) -> list[str]:
    return sorted(p.name for p in (state / "journal").glob("*") if p.suffix != ".jsonl")


def after_a_kill(session: BuildSession) -> None:
    """The lock goes with the process that held it; nothing else is done."""
    assert session._lock is not None
    session._lock.release()
    session._lock = None


def test_what_was_typed_is_there_again_after_a_kill_and_the_build_file_never_held_it(
        path: Path, state: Path, opened: Callable[..., BuildSession]) -> None:
    before = path.read_bytes()
    first = opened(path)
    assert first.typed == {}
    assert first.keep_typed({("part_temperature",): "3"}) == "" and first.keep_typed(TEXTS) == ""
    after_a_kill(first)
    assert path.read_bytes() == before
    assert opened(path).typed == TEXTS
    assert [p.stat().st_mode & 0o077 for p in (state / "journal").iterdir()] == [0], "nobody else reads it"


def test_nothing_typed_leaves_no_file(path: Path, state: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened(path)
    assert session.keep_typed({}) == "" and typed_files(state) == []
    session.keep_typed(TEXTS)
    assert len(typed_files(state)) == 1
    session.keep_typed({})
    assert typed_files(state) == []


def test_who_only_reads_neither_writes_nor_takes_up_what_was_typed(
        path: Path, state: Path, opened: Callable[..., BuildSession]) -> None:
    writer, reader = opened(path), opened(path, read_only=True)
    second = opened(path)
    assert second.read_only_reason, "the first one writes"
    writer.keep_typed(TEXTS)
    for session in (reader, second):
        assert session.keep_typed({("x",): "theirs"}) == "" and session.typed == {}
    assert opened(path, read_only=True).typed == {}
    after_a_kill(writer)
    assert opened(path).typed == TEXTS


BROKEN = {
    "half a line": b'{"path": "/x", "texts": [{"pla',
    "no text at all": b"\xff\xfe\x00",
    "another shape": b"[1, 2]",
    "a number for a text": b'{"path": "/x", "at": "2026-11-25T14:00:00+00:00", "texts": [{"place": ["a"], "text": 5}]}',
    "no place": b'{"path": "/x", "at": "2026-11-25T14:00:00+00:00", "texts": [{"place": [], "text": "x"}]}',
    "a time of nowhere": b'{"path": "/x", "at": "2026-11-25T14:00:00", "texts": []}',
    "nested": b"[" * 100_000,
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_file_is_set_aside_and_said_and_the_build_opens(
        name: str, path: Path, state: Path, opened: Callable[..., BuildSession]) -> None:
    first = opened(path)
    first.keep_typed(TEXTS)
    after_a_kill(first)
    own = state / "journal" / typed_files(state)[0]
    own.write_bytes(BROKEN[name])
    session = opened(path)
    assert session.typed == {} and not own.exists()
    (note,) = [n for n in session.notes if "typed" in n]
    kept = own.with_suffix(".broken")
    assert str(kept) in note and kept.read_bytes() == BROKEN[name], "it is not thrown away"
    assert session.keep_typed(TEXTS) == "", "and new texts are kept as before"


def test_a_file_larger_than_is_read_is_set_aside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("buildtrack.storage.typed_file.LARGEST", 10)
    write_typed(tmp_path / "a.typed.json", TEXTS, AT, "/a")
    assert "too large" in read_typed(tmp_path / "a.typed.json").note


def test_what_was_typed_for_a_file_that_was_moved_is_found(
        path: Path, state: Path, opened: Callable[..., BuildSession]) -> None:
    first = opened(path)
    first.keep_typed(TEXTS)
    after_a_kill(first)
    moved = path.rename(path.with_name("b.toml"))
    session = opened(moved)
    assert session.typed == TEXTS
    session.keep_typed({("tool",): "x"})
    assert len(typed_files(state)) == 1, "and lies by the new place from then on"
    assert json.loads((state / "journal" / typed_files(state)[0]).read_text())["path"] == str(moved)


def test_what_was_typed_in_a_copy_stays_with_the_copy(path: Path, opened: Callable[..., BuildSession]) -> None:
    copy = path.with_name("copy.toml")
    copy.write_bytes(path.read_bytes())
    session = opened(path)
    session.keep_typed(TEXTS)
    assert opened(copy).typed == {}


def test_a_full_disk_is_said_and_what_was_kept_before_stays(path: Path, opened: Callable[..., BuildSession]) -> None:
    full: list[int] = []

    def write(handle: int, data: bytes) -> int:
        if full:
            raise OSError(errno.ENOSPC, "full")
        return os.write(handle, data)

    session = opened(path, disk=replace(REAL, write=write))
    session.keep_typed(TEXTS)
    full.append(1)
    assert "the disk is full" in session.keep_typed({("part_temperature",): "x"})
    after_a_kill(session)
    assert opened(path).typed == TEXTS


def taken(text: str, seconds: int) -> Build:
    return replace(small_build(), entries={"part_temperature": Entry((Reading(text, AT + timedelta(seconds=seconds)),))})


def test_a_text_that_was_taken_in_the_last_moment_does_not_come_back() -> None:
    typed = Typed({("part_temperature",): "31.5"}, AT)
    assert not_taken(small_build(), typed) == typed.texts
    assert not_taken(taken("31.5", 0), typed) == {} and not_taken(taken("31.5", 1), typed) == {}
    assert not_taken(taken("31.5", -60), typed) == typed.texts, "a second reading that reads the same"
    assert not_taken(taken("31.4", 1), typed) == typed.texts


def test_a_reason_typed_in_a_question_and_taken_in_the_last_moment_does_not_come_back() -> None:
    item, hand = SMALL.items["part_temperature"], edit.Hand(AT + timedelta(seconds=1))
    question = ("?", f"Leave out '{item.label}'?", "part_temperature")
    typed = Typed({question: "no thermometer "}, AT)
    assert not_taken(small_build(), typed) == typed.texts
    left_out = edit.leave_out(small_build(), item, "no thermometer", hand)
    assert not_taken(left_out, typed) == {}
    before = edit.leave_out(small_build(), item, "no thermometer", edit.Hand(AT - timedelta(minutes=1)))
    assert not_taken(before, typed) == typed.texts, "the same reason of an earlier time"
    other = Typed({("?", "Leave out 'x'?", "tool"): "no thermometer"}, AT)
    assert not_taken(left_out, other) == other.texts, "the same reason for another item"


def test_a_field_of_a_table_that_holds_the_text_already_does_not_come_back() -> None:
    build = replace(small_build(), entries={"cells": Entry(rows=(Row("c01", {"note": Cell("a scratch", AT)}),))})
    typed = Typed({("cells", "c01", "note"): "a scratch", ("cells", "c02", "note"): "a scratch"}, AT)
    assert not_taken(build, typed) == {("cells", "c02", "note"): "a scratch"}


def test_a_text_that_was_taken_does_not_come_back_when_the_answer_is_undone_later(
        path: Path, state: Path, opened: Callable[..., BuildSession]) -> None:
    first, item, hand = opened(path), SMALL.items["part_temperature"], edit.Hand(AT)
    first.keep_typed({("part_temperature",): "31.5", ("tool",): "a dr"})
    before = first.build
    first.commit(edit.add_reading(before, item, Reading("31.5", AT), hand))
    after_a_kill(first)
    second = opened(path)
    assert second.typed == {("tool",): "a dr"}
    second.commit(edit.undo(second.build, before, hand))
    second.close()
    assert opened(path).typed == {("tool",): "a dr"}


def test_texts_of_another_build_whose_id_begins_like_this_one_are_let_alone(
        path: Path, opened: Callable[..., BuildSession]) -> None:
    short, long = path.with_name("drill.toml"), path.with_name("drill-2.toml")
    create(short, small_build(id="drill"), SMALL)
    create(long, small_build(id="drill-2"), SMALL)
    first = opened(long)
    first.keep_typed(TEXTS)
    after_a_kill(first)
    moved = long.rename(path.with_name("moved.toml"))
    other = opened(short)
    assert other.typed == {}
    other.keep_typed({})
    assert opened(moved).typed == TEXTS


def unreadable(own: Path) -> None:
    """A folder in its place: reading it fails, as a disk does."""
    own.unlink()
    own.mkdir()


def test_a_file_that_cannot_be_read_is_set_aside_before_the_next_key_is_kept(
        path: Path, state: Path, opened: Callable[..., BuildSession]) -> None:
    first = opened(path)
    first.keep_typed(TEXTS)
    after_a_kill(first)
    own = state / "journal" / typed_files(state)[0]
    unreadable(own)
    session = opened(path)
    (note,) = [n for n in session.notes if "typed" in n]
    assert str(own.with_suffix(".broken")) in note and own.with_suffix(".broken").is_dir()
    assert session.keep_typed(TEXTS) == "" and own.is_file()


def test_a_file_that_can_be_neither_read_nor_set_aside_is_not_written_over(
        path: Path, state: Path, opened: Callable[..., BuildSession], monkeypatch: pytest.MonkeyPatch) -> None:
    first = opened(path)
    first.keep_typed(TEXTS)
    after_a_kill(first)
    own = state / "journal" / typed_files(state)[0]
    held = [True]

    def forbidden(real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*given: Any) -> Any:
            if held and own in (given[0], Path(str(given[0]))):
                raise PermissionError(errno.EACCES, "held by another program")
            return real(*given)
        return call

    monkeypatch.setattr(Path, "read_bytes", forbidden(Path.read_bytes))
    monkeypatch.setattr("buildtrack.storage.typed_file.os.replace", forbidden(os.replace))
    session = opened(path)
    (note,) = [n for n in session.notes if "typed" in n]
    assert "reading it is not allowed" in note
    before = own.stat()
    assert "cannot be kept" in session.keep_typed({("tool",): "x"})
    assert own.stat() == before
    held.clear()
    assert session.keep_typed({("tool",): "x"}) == ""
    assert json.loads(own.with_suffix(".broken").read_bytes())["texts"], "it is set aside as soon as it can be"


def test_the_second_broken_file_leaves_the_first_where_it_is(tmp_path: Path) -> None:
    own = tmp_path / "a.typed.json"
    for text in ("first", "second", "third"):
        own.write_text(text)
        assert not read_typed(own).texts
    assert [p.read_text() for p in sorted(tmp_path.iterdir())] == ["second", "third", "first"]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.typed.2.broken", "a.typed.3.broken", "a.typed.broken"]
