"""A build file while it is open: every commit is safe, whatever the disk, a crash or somebody else does."""

from __future__ import annotations

import errno
import gc
import os
import stat
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from buildtrack.model import edit
from buildtrack.model.build import Build, ChecklistRef, Entry, Reading
from buildtrack.model.checklist import Checklist, Item
from buildtrack.storage import backups, journal
from buildtrack.storage.build_file import BuildFileError, read_build
from buildtrack.storage.durable import REAL, Disk, SaveError, temporary_prefix
from buildtrack.storage.opening import about_checklist, about_summary
from buildtrack.storage.session import BuildSession, create, open_session
from tests.small import small
from tests.storage_cases import AT, small_build

SMALL = small()
READING = SMALL.items["part_temperature"]
CHECKED = SMALL.items["checked"]


class Clock:
    """A clock that a test sets."""

    def __init__(self) -> None:
        self.now = AT

    def __call__(self) -> datetime:
        return self.now


class Breakable:
    """A disk whose calls fail for paths that a test names."""

    def __init__(self) -> None:
        self.number = 0
        self.where = ""
        self.folders_fail = False

    def disk(self) -> Disk:
        return replace(REAL, open=self.open, fsync=self.fsync)

    def fsync(self, handle: int) -> None:
        if self.folders_fail and stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(errno.EIO, "error")
        os.fsync(handle)

    def open(self, path: str, flags: int, mode: int) -> int:
        if self.number and self.where in path and flags & os.O_CREAT:
            raise OSError(self.number, os.strerror(self.number))
        return os.open(path, flags, mode)


@pytest.fixture
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "state"
    monkeypatch.setenv("BUILDTRACK_STATE", str(folder))
    return folder


@pytest.fixture
def path(tmp_path: Path, state: Path) -> Path:
    work = tmp_path / "work"
    work.mkdir()
    create(work / "a.toml", small_build(), SMALL)
    return work / "a.toml"


@pytest.fixture
def opened(path: Path) -> Iterator[Callable[..., BuildSession]]:
    """Opens sessions of the file, and closes them at the end."""
    sessions: list[BuildSession] = []

    def start(**given: Any) -> BuildSession:
        sessions.append(open_session(given.pop("path", path), **{"find": lambda _n: SMALL, "clock": Clock(), **given}))
        return sessions[-1]

    yield start
    for session in sessions:
        session.close()


def said(build: Build, text: str, item: Item = READING) -> Build:
    return edit.add_reading(build, item, Reading(text, AT), edit.Hand(AT, "maker"))


def texts(build: Build, item: Item = READING) -> list[str]:
    return [r.text for r in build.entry(item.id).readings]


def abandon(session: BuildSession) -> None:
    """What a killed process does: nothing but that the kernel takes its lock back."""
    assert session._lock is not None
    session._lock.release()
    session._lock = None


def test_a_commit_is_in_the_file_when_it_returns(path: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened()
    assert (session.build, session.checklist, session.path, session.read_only_reason, session.notes) == (
        small_build(), SMALL, path, "", ())
    saved = session.commit(said(session.build, "21 °C"))
    assert (saved.saved, saved.saved_at, saved.reason, saved.notes) == (True, AT, "", ())
    assert read_build(path).build == session.build
    assert session._journal.lines() == []
    assert session.commit(session.build) == saved


def test_a_new_file_is_never_written_over_an_old_one(path: Path) -> None:
    with pytest.raises(SaveError, match=r"a\.toml is there already"):
        create(path, small_build(title="other"), SMALL)
    assert read_build(path).build.title == "Hedge trimmer"


def test_commits_from_many_threads_lose_nothing(path: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened()
    builds = [session.build]
    for number in range(20):
        builds.append(said(builds[-1], f"{number} °C"))
    threads = [threading.Thread(target=session.commit, args=(b,)) for b in reversed(builds[1:])]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert session.state.saved
    assert read_build(path).build == session.build == builds[-1]


@pytest.mark.parametrize(("number", "says"), [
    (errno.ENOSPC, "the disk is full"), (errno.EROFS, "the disk can only be read"),
    (errno.EIO, "the disk reports an error")])
def test_what_the_disk_refuses_is_kept_in_memory_and_journal_and_saved_later(
        path: Path, opened: Callable[..., BuildSession], number: int, says: str) -> None:
    breakable = Breakable()
    session = opened(disk=breakable.disk())
    breakable.number, breakable.where = number, ".part-"
    for text in ("1 °C", "2 °C"):
        result = session.commit(said(session.build, text))
        assert not result.saved
        assert result.reason == f"{path.parent}: {says}; what was entered is kept in memory and in the journal"
    assert texts(session.build) == ["1 °C", "2 °C"]
    assert texts(read_build(path).build) == []
    assert len(session._journal.lines()) == 2
    breakable.number = 0
    assert session.retry().saved
    assert texts(read_build(path).build) == ["1 °C", "2 °C"]
    assert session._journal.lines() == []


def test_what_was_not_saved_is_put_in_again_on_opening(path: Path, opened: Callable[..., BuildSession]) -> None:
    breakable = Breakable()
    session = opened(disk=breakable.disk())
    breakable.number, breakable.where = errno.ENOSPC, ".part-"
    session.commit(said(session.build, "1 °C"))
    session.commit(said(session.build, "2 °C"))
    abandon(session)
    again = opened()
    assert texts(again.build) == texts(read_build(path).build) == ["1 °C", "2 °C"]
    assert again.notes == ("put in again from the journal, because it had not reached the file: 2 edits",)
    assert again.state.saved
    assert again._journal.lines() == []


def test_a_file_moved_after_a_crash_gets_its_edits(
        path: Path, tmp_path: Path, opened: Callable[..., BuildSession]) -> None:
    breakable = Breakable()
    session = opened(disk=breakable.disk())
    breakable.number, breakable.where = errno.ENOSPC, ".part-"
    session.commit(said(session.build, "1 °C"))
    abandon(session)
    (tmp_path / "elsewhere").mkdir()
    moved = path.rename(tmp_path / "elsewhere" / "b.toml")
    again = opened(path=moved)
    assert texts(read_build(moved).build) == ["1 °C"]
    again.close()
    assert opened(path=moved).notes == ()


def test_a_copy_gets_no_edit_of_the_file_it_was_copied_from(path: Path, opened: Callable[..., BuildSession]) -> None:
    breakable = Breakable()
    session = opened(disk=breakable.disk())
    breakable.number, breakable.where = errno.ENOSPC, ".part-"
    session.commit(said(session.build, "1 °C"))
    copy = path.with_name("copy.toml")
    copy.write_bytes(path.read_bytes())
    assert texts(opened(path=copy).build) == []


def test_a_crash_between_saving_and_forgetting_puts_nothing_in_twice(
        path: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened()
    line = journal.edit(session.build, said(session.build, "1 °C"), str(path))
    session.commit(said(session.build, "1 °C"))
    session._journal.append(line)
    abandon(session)
    again = opened()
    assert texts(again.build) == ["1 °C"]
    assert again.notes == ()
    assert again._journal.lines() == []


def test_without_a_journal_commits_are_saved_all_the_same_and_it_is_told(
        path: Path, opened: Callable[..., BuildSession]) -> None:
    breakable = Breakable()
    session = opened(disk=breakable.disk())
    breakable.number, breakable.where = errno.EACCES, "/journal/"
    result = session.commit(said(session.build, "1 °C"))
    assert result.saved
    assert "the journal cannot be written" in result.notes[0]
    breakable.where = ""
    result = session.commit(said(session.build, "2 °C"))
    assert not result.saved
    assert "kept in memory only (the journal cannot be written" in result.reason
    breakable.where = ".part-"
    session.commit(said(session.build, "3 °C"))
    abandon(session)
    assert texts(opened().build) == ["1 °C", "2 °C", "3 °C"]


def test_a_state_folder_that_cannot_be_used_does_not_stop_the_work(
        path: Path, state: Path, opened: Callable[..., BuildSession]) -> None:
    state.write_text("a file where a folder should be")
    session = opened()
    assert "no lock on this machine" in session.notes[0]
    result = session.commit(said(session.build, "1 °C"))
    assert result.saved
    assert [note.partition(":")[0] for note in result.notes] == ["the journal cannot be written", "no backup was made"]
    assert texts(read_build(path).build) == ["1 °C"]


def test_a_vanished_folder_is_told_and_nothing_is_lost(
        path: Path, tmp_path: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened()
    hidden = path.parent.rename(tmp_path / "pulled out")
    result = session.commit(said(session.build, "1 °C"))
    assert not result.saved
    assert "the folder is no longer there; what was entered is kept in memory and in the journal" in result.reason
    assert session.is_changed_outside()
    hidden.rename(path.parent)
    assert session.retry().saved
    assert texts(read_build(path).build) == ["1 °C"]


def test_a_file_changed_by_somebody_else_is_never_written_over(path: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened()
    assert not session.is_changed_outside()
    theirs = path.read_text().replace("Hedge trimmer", "Edger")
    path.write_text(theirs)
    assert session.is_changed_outside()
    result = session.commit(said(session.build, "1 °C"))
    assert (result.saved, result.changed_outside) == (False, True)
    assert path.read_text() == theirs
    assert '-title = "Edger"' in session.differences()
    assert '+text = "1 °C"' in session.differences()


def test_reloading_takes_their_file_and_puts_the_unsaved_edits_in(
        path: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened()
    path.write_text(path.read_text().replace("Hedge trimmer", "Edger"))
    session.commit(said(session.build, "1 °C"))
    assert session.reload().saved
    assert session.build.title == "Edger"
    assert texts(session.build) == ["1 °C"]
    assert read_build(path).build == session.build
    assert not session.is_changed_outside()


def test_reloading_sets_aside_what_does_not_fit_and_keeps_a_backup(
        path: Path, state: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened()
    session.commit(said(session.build, "1 °C"))
    path.write_text(path.read_text().replace('text = "1 °C"', 'text = "9 °C"'))
    session.commit(said(session.build, "2 °C"))
    session.reload()
    assert texts(session.build) == texts(read_build(path).build) == ["9 °C"]
    assert "set aside: item part_temperature" in session.notes[0]
    aside = Path(session.notes[1].rpartition(" ")[2])
    assert "2 °C" in journal.from_json(aside.read_text())["events"][0]["to"]
    kept = [p.read_text() for p in backups.generations(state, "b1")]
    assert any('text = "2 °C"' in text for text in kept)


def test_reloading_a_file_that_is_no_build_changes_nothing(path: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened()
    before = session.build
    path.write_text("no build")
    with pytest.raises(BuildFileError, match="line 1: is not TOML"):
        session.reload()
    assert session.build is before


def test_both_are_kept_if_that_is_wished(path: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened()
    path.write_text(path.read_text().replace("Hedge trimmer", "Edger"))
    session.commit(said(session.build, "1 °C"))
    beside = session.keep_both()
    assert beside.name == "a-mine-20261103T182000Z.toml"
    assert texts(read_build(beside).build) == ["1 °C"]
    assert (session.build.title, texts(session.build), session.state.saved) == ("Edger", [], True)
    assert session._journal.lines() == []


def test_an_edit_known_to_neither_file_nor_journal_survives_a_reload(
        path: Path, opened: Callable[..., BuildSession]) -> None:
    breakable = Breakable()
    session = opened(disk=breakable.disk())
    breakable.number = errno.ENOSPC
    session.commit(said(session.build, "1 °C"))
    breakable.number = 0
    path.write_text(path.read_text().replace("Hedge trimmer", "Edger"))
    session.reload()
    assert (session.build.title, texts(session.build)) == ("Edger", ["1 °C"])


def test_a_second_session_reads_and_says_who_writes(path: Path, opened: Callable[..., BuildSession]) -> None:
    first, second = opened(), opened()
    assert second.read_only_reason.endswith(f" since 2026-11-03 18:20:00 UTC (process {os.getpid()}) is writing it")
    result = second.commit(said(second.build, "1 °C"))
    assert (result.saved, result.reason) == (False, second.read_only_reason)
    first.commit(said(first.build, "2 °C"))
    assert second.is_changed_outside()
    second.reload()
    assert texts(second.build) == ["2 °C"]
    first.close()
    assert first.commit(said(first.build, "3 °C")).reason == "the file is closed"
    assert opened().read_only_reason == ""


def test_reading_only_leaves_no_trace(path: Path, state: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened(read_only=True)
    assert session.read_only_reason == "opened for reading only"
    session.commit(said(session.build, "1 °C"))
    session.close()
    assert os.listdir(path.parent) == ["a.toml"]
    assert not state.exists()


def test_a_file_or_folder_that_cannot_be_written_is_opened_for_reading(
        path: Path, opened: Callable[..., BuildSession], monkeypatch: pytest.MonkeyPatch) -> None:
    for blocked, says in ((path, "the file is marked as read-only"), (path.parent, "its folder is read-only")):
        real = os.path.realpath(blocked)
        with monkeypatch.context() as patch:  # the superuser, who may run the tests, may write everywhere
            patch.setattr(os, "access", lambda p, _m, real=real: str(p) != real)
            assert opened().read_only_reason == says
            assert os.listdir(path.parent) == ["a.toml"]


def test_the_first_save_and_then_one_in_ten_minutes_keeps_the_generation_before(
        path: Path, state: Path, opened: Callable[..., BuildSession]) -> None:
    clock = Clock()
    session = opened(clock=clock)
    for minutes in (0, 1, 9, 11, 12, -60, -59):
        clock.now = AT + timedelta(minutes=minutes)
        session.commit(said(session.build, f"{minutes} °C"))
    kept = [read_build(p).build for p in backups.generations(state, "b1")]
    assert [len(texts(build)) for build in kept] == [0, 3, 5]


def test_backups_are_thinned_to_the_last_twenty_and_one_a_day_for_thirty_days(tmp_path: Path) -> None:
    for hours in range(0, 24 * 40, 6):
        backups.keep(tmp_path, "b1", f"{hours}".encode(), AT + timedelta(hours=hours))
    kept = [p.name for p in backups.generations(tmp_path, "b1")]
    days = [name[7:15] for name in kept]
    assert len(set(days)) == 31
    assert len(days) == 20 + 31 - 6  # the last twenty, four a day, lie on six days
    assert days[0] == f"{AT + timedelta(days=39.75) - timedelta(days=30):%Y%m%d}"
    assert kept == sorted(kept)


def test_backups_are_not_made_twice_and_a_clock_set_back_loses_none(tmp_path: Path) -> None:
    synced: list[bool] = []

    def fsync(handle: int) -> None:
        synced.append(stat.S_ISDIR(os.fstat(handle).st_mode))
        os.fsync(handle)

    first = backups.keep(tmp_path, "../x", b"1", AT, replace(REAL, fsync=fsync))
    assert synced == [False, True]
    assert (first.read_bytes(), first.stat().st_mode & 0o777) == (b"1", 0o600)
    assert backups.keep(tmp_path, "../x", b"1", AT) == first
    assert first.parent.parent == tmp_path / "backups"
    second = backups.keep(tmp_path, "../x", b"2", AT - timedelta(days=4000))
    assert backups.generations(tmp_path, "../x") == [first, second]


def summary(verdict: str, **workings: str) -> Callable[..., Mapping[str, object]]:
    def made(build: Build, checklist: Checklist, path: Path, now: datetime) -> Mapping[str, object]:
        assert (checklist, path.name, now.tzinfo is not None) == (SMALL, "a.toml", True)
        return {"verdict": verdict, "workings": {**workings, "readings": str(len(build.history))}}
    return made


def test_the_summary_is_written_and_compared_on_opening(path: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened(snapshot=summary("incomplete", heat="1 W"))
    session.commit(said(session.build, "1 °C"))
    session.close()
    assert read_build(path).build.snapshot["verdict"] == "incomplete"
    again = opened(snapshot=summary("incomplete", heat="1 W"))
    assert again.notes == ()
    again.close()
    notes = opened(snapshot=summary("cleared", heat="2 W")).notes
    assert notes == ("the summary in the file says 'incomplete'; computed now it is 'cleared'",
                     "the summary in the file differs from what is computed now: heat")


def test_a_summary_of_another_shape_is_no_trouble() -> None:
    build = small_build(snapshot={"verdict": "cleared", "workings": "none"})
    assert about_summary(build, {"verdict": "cleared", "workings": {"a": "1"}}) == []
    assert about_summary(build, {"verdict": "cleared"}) == []


def test_a_summary_that_fails_stops_no_save(path: Path, opened: Callable[..., BuildSession]) -> None:
    def broken(*_given: object) -> Mapping[str, object]:
        raise ZeroDivisionError("oh")

    session = opened(snapshot=broken)
    assert session.notes == ("the summary could not be computed: ZeroDivisionError: oh",)
    result = session.commit(said(session.build, "1 °C"))
    assert result.saved
    assert result.notes == ("the summary could not be computed: ZeroDivisionError: oh",)


def test_another_checklist_is_told_and_an_unknown_one_is_refused(
        path: Path, opened: Callable[..., BuildSession]) -> None:
    newer = replace(SMALL, version="2", sha256="11")
    assert opened(find=lambda _n: newer, read_only=True).notes == (
        "made with version 1 of the checklist; this is version 2",)
    edited = small_build(checklist=ChecklistRef("small", "1", "00"))
    assert about_checklist(edited, SMALL) == [
        "the checklist was changed since the build was made, under the same version"]
    assert about_checklist(small_build(checklist=ChecklistRef("small", "1", SMALL.sha256)), SMALL) == []
    assert about_checklist(small_build(entries={f"x{n}": Entry() for n in range(6)}), SMALL) == [
        "kept, though the checklist does not ask for it any more: x0, x1, x2, x3, x4, x5"]
    fewer = replace(SMALL, steps=SMALL.steps[:1])
    session = opened()
    session.commit(said(session.build, "3.3 V", CHECKED))
    session.close()
    assert opened(find=lambda _n: fewer, read_only=True).notes == (
        "kept, though the checklist does not ask for it any more: checked",)
    with pytest.raises(BuildFileError, match=r"table \[checklist\]: checklist 'small' is not known; there are"):
        open_session(path)


def test_a_file_that_is_changed_while_it_is_opened_is_read_again(
        path: Path, opened: Callable[..., BuildSession]) -> None:
    def find(_name: str) -> Checklist:
        path.write_text(path.read_text().replace("Hedge trimmer", "Edger"))
        return SMALL

    session = opened(find=find)
    assert session.build.title == "Edger"
    assert session.commit(said(session.build, "1 °C")).saved


def test_windows_line_ends_and_mode_and_link_stay(path: Path, opened: Callable[..., BuildSession]) -> None:
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    path.chmod(0o640)
    link = path.with_name("link.toml")
    link.symlink_to("a.toml")
    session = opened(path=link)
    for text in ("1 °C", "2 °C"):
        assert session.commit(said(session.build, text)).saved
    data = path.read_bytes()
    assert data.count(b"\r\n") == data.count(b"\n") > 20
    assert link.is_symlink()
    assert path.stat().st_mode & 0o777 == 0o640


def test_what_a_killed_save_left_is_swept_up_on_opening(path: Path, opened: Callable[..., BuildSession]) -> None:
    left = path.with_name(temporary_prefix(path.name) + "12345678")
    left.write_text("half")
    opened(read_only=True)
    assert left.exists()
    session = opened()
    assert not left.exists()
    assert session.close() == session.state


def test_a_session_closes_itself_and_saves_what_it_can(path: Path) -> None:
    breakable = Breakable()
    with open_session(path, find=lambda _n: SMALL, clock=Clock(), disk=breakable.disk()) as session:
        breakable.number, breakable.where = errno.ENOSPC, ".part-"
        session.commit(said(session.build, "1 °C"))
        breakable.number = 0
    assert texts(read_build(path).build) == ["1 °C"]
    assert os.listdir(path.parent) == ["a.toml"]


def test_lines_that_can_be_neither_put_in_nor_set_aside_stay_in_the_journal(
        path: Path, opened: Callable[..., BuildSession], monkeypatch: pytest.MonkeyPatch) -> None:
    session = opened()
    session._journal.append({"no": "edit"})
    abandon(session)

    def full(*_given: object) -> Path:
        raise OSError(errno.ENOSPC, "full")

    with monkeypatch.context() as patch:
        patch.setattr(journal.Journal, "set_aside", full)
        again = opened()
        assert "the journal is let alone" in again.notes[1]
        assert again.commit(said(again.build, "1 °C")).saved
    assert again._journal.lines()[0] == '{"no":"edit"}'
    again.close()
    last = opened()
    assert "what could not be put in is kept in" in last.notes[1]
    assert texts(last.build) == ["1 °C"]
    assert last._journal.lines() == []


def test_a_folder_that_cannot_be_synced_is_told_and_the_next_save_goes_on_from_there(
        path: Path, opened: Callable[..., BuildSession]) -> None:
    breakable = Breakable()
    session = opened(disk=breakable.disk())
    session.commit(said(session.build, "1 °C"))
    session._journal.append({})
    breakable.folders_fail = True
    result = session.commit(said(session.build, "2 °C"))
    assert not result.saved
    assert "the file is written but may not outlast a crash" in result.reason
    assert texts(read_build(path).build) == ["1 °C", "2 °C"]
    assert not session.is_changed_outside()
    breakable.folders_fail = False
    assert session.commit(said(session.build, "3 °C")).saved
    assert texts(read_build(path).build) == ["1 °C", "2 °C", "3 °C"]


@pytest.mark.parametrize(("text", "says"), [
    ("half \udcff", "it holds a character that is no text, right behind "), (b"bytes", "a journal cannot hold a bytes")])
def test_what_no_file_can_hold_is_not_taken_and_stands_in_the_way_of_nothing(
        path: Path, opened: Callable[..., BuildSession], text: Any, says: str) -> None:
    session = opened()
    before = path.read_bytes()
    held = Entry((Reading(text, AT),))
    result = session.commit(replace(session.build, entries={READING.id: held}))
    assert not result.saved
    assert says in result.reason
    assert (session.build, path.read_bytes(), session._journal.lines()) == (small_build(), before, [])
    assert session.state.saved
    assert session.commit(said(session.build, "1 °C")).saved


def test_a_build_that_is_none_is_not_saved_and_the_file_stays(path: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened()
    before = path.read_bytes()
    result = session.commit(replace(session.build, id=" "))
    assert not result.saved
    assert result.reason.startswith("the build cannot be written: build file: line 2: id: 'id' is empty")
    assert path.read_bytes() == before


def test_the_layout_that_cannot_be_kept_is_told_and_the_old_file_kept(
        path: Path, state: Path, opened: Callable[..., BuildSession], monkeypatch: pytest.MonkeyPatch) -> None:
    path.write_text("# mine\n" + path.read_text())
    session = opened()
    monkeypatch.setattr("buildtrack.storage.toml_patch.patch", lambda text, *_a, **_k: text)
    result = session.commit(said(session.build, "1 °C"))
    assert result.saved
    assert "the layout of the file could not be kept" in result.notes[0]
    assert "# mine" not in path.read_text()
    assert "# mine" in backups.generations(state, "b1")[0].read_text()


def test_a_journal_that_cannot_be_read_is_let_alone(
        path: Path, opened: Callable[..., BuildSession], monkeypatch: pytest.MonkeyPatch) -> None:
    session = opened()
    session._journal.append(journal.edit(session.build, said(session.build, "1 °C"), str(path)))
    abandon(session)
    with monkeypatch.context() as patch:
        patch.setattr(journal, "LARGEST", 3)
        again = opened()
        assert "the journal cannot be read" in again.notes[0]
        assert again.commit(said(again.build, "3.3 V", CHECKED)).saved
    again.close()
    assert texts(opened().build) == ["1 °C"]


def test_a_journal_that_cannot_be_forgotten_is_told(
        path: Path, opened: Callable[..., BuildSession], monkeypatch: pytest.MonkeyPatch) -> None:
    def stuck(*_given: object) -> None:
        raise OSError(errno.EROFS, "read-only")

    session = opened()
    with monkeypatch.context() as patch:
        patch.setattr(journal.Journal, "clear", stuck)
        result = session.commit(said(session.build, "1 °C"))
    assert result.saved
    assert "the journal stays" in result.notes[0]
    abandon(session)
    assert texts(opened().build) == ["1 °C"]


def test_a_file_that_stops_being_a_build_while_it_is_opened_leaves_no_lock(path: Path) -> None:
    def find(_name: str) -> Checklist:
        path.write_text("no build")
        return SMALL

    with pytest.raises(BuildFileError):
        open_session(path, find=find)
    assert os.listdir(path.parent) == ["a.toml"]


def test_a_summary_that_cannot_be_computed_stops_no_new_file(path: Path) -> None:
    def broken(*_given: object) -> Mapping[str, object]:
        raise ZeroDivisionError("oh")

    create(path.with_name("b.toml"), small_build(), SMALL, snapshot=broken)
    create(path.with_name("c.toml"), small_build(), SMALL, snapshot=lambda *_given: {"verdict": "incomplete"})
    assert read_build(path.with_name("b.toml")).build.snapshot == {}
    assert read_build(path.with_name("c.toml")).build.snapshot == {"verdict": "incomplete"}


def test_what_cannot_be_backed_up_before_reloading_is_told(
        path: Path, state: Path, opened: Callable[..., BuildSession]) -> None:
    session = opened()
    path.write_text(path.read_text().replace("Hedge trimmer", "Edger"))
    session.commit(replace(session.build, id=" "))
    session.reload()
    assert "no backup was made: the build cannot be written" in session.notes[0]
    assert session.build.title == "Edger"


def test_the_collector_is_on_again_after_a_save_and_stays_off_where_it_was_off(
        path: Path, opened: Callable[..., BuildSession]) -> None:
    was_on = gc.isenabled()
    try:
        for wanted in (True, False):
            (gc.enable if wanted else gc.disable)()
            session = opened()
            session.commit(said(session.build, "1 °C"))
            assert gc.isenabled() == wanted
            session.close()
    finally:
        (gc.enable if was_on else gc.disable)()
