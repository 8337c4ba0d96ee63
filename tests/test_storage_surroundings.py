"""What the machine may do to a save: state folders without rights, another device, links, a clock that goes back."""

from __future__ import annotations

import errno
import os
import sys
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from buildtrack.model import edit
from buildtrack.model.build import Build, Reading
from buildtrack.storage import backups
from buildtrack.storage.build_file import read_build
from buildtrack.storage.durable import REAL, Disk
from buildtrack.storage.lock import Lock
from buildtrack.storage.session import BuildSession, create, open_session
from tests.small import small
from tests.storage_cases import AT, small_build

SMALL = small()
READING = SMALL.items["part_temperature"]


@pytest.fixture(autouse=True)
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    return tmp_path / "state"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    (tmp_path / "work").mkdir()
    create(tmp_path / "work" / "a.toml", small_build(), SMALL)
    return tmp_path / "work" / "a.toml"


def opened(path: Path, disk: Disk = REAL, clock: Callable[[], datetime] = lambda: AT) -> BuildSession:
    return open_session(path, find=lambda _name: SMALL, clock=clock, disk=disk)


def said(build: Build, text: str) -> Build:
    return edit.add_reading(build, READING, Reading(text, AT), edit.Hand(AT))


def texts(path: Path) -> list[str]:
    return [r.text for r in read_build(path).build.entry(READING.id).readings]


def refusing(part: str, number: int) -> Disk:
    """A disk that lets nothing be made where `part` stands in the path (rights do not bind the root user)."""
    def opening(path: str, flags: int, mode: int) -> int:
        if part in path and flags & (os.O_CREAT | os.O_WRONLY | os.O_RDWR):
            raise OSError(number, os.strerror(number))
        return os.open(path, flags, mode)
    return replace(REAL, open=opening)


@pytest.mark.parametrize(("part", "tells"), [
    ("state/journal", "the journal cannot be written"), ("state/backups", "no backup was made")])
@pytest.mark.parametrize("number", [errno.EACCES, errno.EROFS, errno.ENOSPC])
def test_a_state_folder_without_rights_or_room_costs_its_purpose_only_and_is_told(
        path: Path, part: str, tells: str, number: int) -> None:
    with opened(path, refusing(part, number)) as session:
        result = session.commit(said(session.build, "21 °C"))
        assert result.saved
        assert any(tells in note for note in result.notes)
    assert texts(path) == ["21 °C"]


def test_a_file_in_the_place_of_a_state_folder_is_no_traceback(path: Path, state: Path) -> None:
    state.mkdir()
    for name in ("journal", "backups", "locks"):
        (state / name).write_text("not a folder", encoding="utf-8")
    with opened(path) as session:
        assert any("no lock on this machine" in note for note in session.notes)
        result = session.commit(said(session.build, "21 °C"))
        assert result.saved
        assert len(result.notes) == 2
    assert texts(path) == ["21 °C"]
    assert [(state / name).read_text(encoding="utf-8") for name in ("journal", "backups", "locks")] == ["not a folder"] * 3


def test_state_folders_are_closed_to_others(path: Path, state: Path) -> None:
    with opened(path) as session:
        session.commit(said(session.build, "21 °C"))
        made = [p for p in state.rglob("*") if p.parent != state]
        assert len(made) >= 2
        assert all(p.stat().st_mode & 0o077 == 0 for p in (*made, state / "backups", state / "locks"))


def test_state_folder_and_build_may_lie_on_different_devices(path: Path) -> None:
    """A file is only ever renamed inside its own folder; a move over a border between devices (EXDEV) never happens."""
    moves: list[tuple[str, str]] = []

    def replacing(old: str, new: str) -> None:
        moves.append((old, new))
        if os.path.dirname(old) != os.path.dirname(new):
            raise OSError(errno.EXDEV, os.strerror(errno.EXDEV))
        os.replace(old, new)

    with opened(path, replace(REAL, replace=replacing)) as session:
        assert session.commit(said(session.build, "21 °C")).saved
    assert moves and {os.path.dirname(p) for pair in moves for p in pair} == {str(path.parent)}


@pytest.mark.skipif(not os.access("/dev/shm", os.W_OK) or os.stat("/dev/shm").st_dev == os.stat("/tmp").st_dev,
                    reason="needs a second device")
def test_a_build_on_another_device_is_saved_backed_up_and_replayed(state: Path) -> None:
    import tempfile

    with tempfile.TemporaryDirectory(dir="/dev/shm") as name:
        path = Path(name) / "a.toml"
        create(path, small_build(), SMALL)
        session = opened(path, refusing(".part-", errno.ENOSPC))
        assert not session.commit(said(session.build, "21 °C")).saved
        assert session._lock is not None
        session._lock.release()
        with opened(path) as again:
            assert any("put in again from the journal" in note for note in again.notes)
        assert texts(path) == ["21 °C"]
        assert len(backups.generations(state, "b1")) == 1


def test_a_link_from_another_folder_is_written_through_with_its_state_under_the_real_place(
        path: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.toml"
    link.symlink_to(path)
    with opened(link) as session:
        assert session.commit(said(session.build, "21 °C")).saved
        second = opened(path)
        assert "is writing it" in second.read_only_reason, "link and file are one and the same"
    assert link.is_symlink()
    assert texts(path) == ["21 °C"]


def test_a_clock_set_back_saves_backs_up_and_keeps_the_order(path: Path, state: Path) -> None:
    moments = [AT, AT - timedelta(days=400), AT - timedelta(days=800), AT + timedelta(days=1)]
    now = [AT]
    with opened(path, clock=lambda: now[0]) as session:
        for number, moment in enumerate(moments):
            now[0] = moment
            result = session.commit(said(session.build, f"{number} °C"))
            assert result.saved and result.saved_at == moment
    assert texts(path) == ["0 °C", "1 °C", "2 °C", "3 °C"]
    kept = [len(read_build(p).build.entry(READING.id).readings) for p in backups.generations(state, "b1")]
    assert kept == [0, 1, 2, 3], "a save at a moment before the last backup keeps one more, never one less"


# --- network folders: no watcher, other numbers for the same file, a server that goes away for a while ---


def test_a_change_is_found_by_asking_alone(path: Path) -> None:
    """Nothing watches in the background, so it works where nothing can: on network folders."""
    before = threading.enumerate()
    with opened(path) as session:
        assert threading.enumerate() == before
        assert not session.is_changed_outside()
        path.write_text(path.read_text().replace("Hedge trimmer", "Edger"))
        assert session.is_changed_outside()
    assert not {"watchdog", "watchfiles", "inotify", "pyinotify"} & sys.modules.keys()


def test_a_server_that_numbers_its_files_anew_has_not_changed_them(path: Path) -> None:
    """After a restart of the server, or over another way to it, the same file has another device, number and time."""
    shift = [0]

    def numbered(name: str) -> os.stat_result:
        found = os.stat(name)
        if name != str(path):
            return found
        moved = os.stat_result((found.st_mode, found.st_ino + shift[0], found.st_dev + shift[0], *found[3:]))
        assert (moved.st_ino, moved.st_dev, moved.st_size) == (found.st_ino + shift[0], found.st_dev + shift[0], found.st_size)
        return moved

    with opened(path, replace(REAL, stat=numbered)) as session:
        for shift[0] in (7, 0, 9):
            assert not session.is_changed_outside()
            assert session.commit(said(session.build, f"{shift[0]} °C")).saved
    assert texts(path) == ["7 °C", "0 °C", "9 °C"]


@pytest.mark.parametrize("number", [errno.ESTALE, errno.EIO, errno.EACCES])
def test_a_server_that_goes_away_and_comes_back_costs_nothing(path: Path, number: int) -> None:
    away = [False]

    def guarded(call: Callable[..., Any]) -> Callable[..., Any]:
        def called(name: str, *given: Any) -> Any:
            if away[0] and name.startswith(str(path.parent)):
                raise OSError(number, os.strerror(number))
            return call(name, *given)
        return called

    disk = replace(REAL, **{n: guarded(getattr(REAL, n)) for n in ("open", "read", "stat", "replace", "unlink")})
    with opened(path, disk) as session:
        assert session.commit(said(session.build, "1 °C")).saved
        away[0] = True
        assert session.is_changed_outside(), "what cannot be looked at is not said to be unchanged"
        lost = session.commit(said(session.build, "2 °C"))
        assert not lost.saved and not lost.changed_outside
        assert lost.reason.endswith("what was entered is kept in memory and in the journal")
        away[0] = False
        assert not session.is_changed_outside()
        assert session.retry().saved
    assert texts(path) == ["1 °C", "2 °C"]


def test_two_sessions_that_no_lock_keeps_apart_never_write_over_each_other(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As on two machines whose network folder passes on neither locks nor lock files: the content is compared at each save."""
    monkeypatch.setattr("buildtrack.storage.lock.acquire", lambda *_given: Lock())
    one, other = opened(path), opened(path)
    assert (one.read_only_reason, other.read_only_reason) == ("", "")
    assert one.commit(said(one.build, "1 °C")).saved
    result = other.commit(said(other.build, "2 °C"))
    assert (result.saved, result.changed_outside) == (False, True)
    assert texts(path) == ["1 °C"]
    beside = other.keep_both()
    assert (texts(path), texts(beside)) == (["1 °C"], ["2 °C"])
    assert not one.is_changed_outside()
