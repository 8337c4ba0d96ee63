"""A save leaves the old file or the new one, says in a sentence what failed, and never touches what others wrote."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from buildtrack.storage.durable import (
    REAL,
    ChangedOutside,
    Disk,
    SaveError,
    fingerprint,
    is_changed,
    remove_left_overs,
    save_text,
    temporary_prefix,
)


def failing(number: int) -> Callable[..., Any]:
    """A call to the file system that fails."""
    def call(*_given: object) -> Any:
        raise OSError(number, os.strerror(number))
    return call


def fails_for_folders(number: int) -> Callable[[int], None]:
    """An fsync that fails for folders and works for files."""
    def call(handle: int) -> None:
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(number, os.strerror(number))
        os.fsync(handle)
    return call


def test_a_new_file_is_written_with_the_usual_mode(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    old = os.umask(0o027)
    try:
        made = save_text(path, "x = 'ä'\n", None)
    finally:
        os.umask(old)
    assert path.read_bytes() == "x = 'ä'\n".encode()
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert made == fingerprint(path)
    assert os.listdir(tmp_path) == ["a.toml"]


def test_the_mode_of_the_old_file_stays(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text("old")
    for mode in (0o604, 0o666, 0o660):  # also where new files would get another one
        path.chmod(mode)
        save_text(path, f"new {mode}", fingerprint(path))
        assert stat.S_IMODE(path.stat().st_mode) == mode


def test_the_owner_of_the_old_file_stays_where_files_may_be_given_away(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.toml"
    path.write_text("old")
    theirs = os.stat_result((*path.stat()[:4], 12345, 54321, *path.stat()[6:]))
    given: list[tuple[int, int]] = []
    monkeypatch.setattr(os, "fchown", lambda _handle, user, group: given.append((user, group)))
    known = fingerprint(path)
    save_text(path, "new", known, replace(REAL, stat=lambda p: theirs if p == str(path) else os.stat(p)))
    assert given == [(12345, 54321)]

    def forbidden(*_given: object) -> None:
        raise PermissionError(errno.EPERM, "no")

    monkeypatch.setattr(os, "fchown", forbidden)
    save_text(path, "newer", fingerprint(path), replace(REAL, stat=lambda p: theirs if p == str(path) else os.stat(p)))
    assert path.read_text() == "newer"


def test_no_file_stays_open(tmp_path: Path) -> None:
    before = len(os.listdir("/proc/self/fd"))
    save_text(tmp_path / "a.toml", "x", None)
    with pytest.raises(SaveError):
        save_text(tmp_path / "b.toml", "x", None, replace(REAL, fsync=failing(errno.EIO)))
    assert len(os.listdir("/proc/self/fd")) == before


def test_a_link_is_written_through(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    real = tmp_path / "there" / "real.toml"
    real.write_text("old")
    link = tmp_path / "link.toml"
    link.symlink_to("there/real.toml")
    save_text(link, "new", fingerprint(link))
    assert link.is_symlink()
    assert real.read_text() == "new"
    assert os.listdir(tmp_path / "there") == ["real.toml"]


def test_a_file_of_a_very_long_name_is_saved(tmp_path: Path) -> None:
    path = tmp_path / ("ä" * 120 + ".toml")
    save_text(path, "new", None)
    assert path.read_text() == "new"


def test_no_file_is_written_over_that_was_not_known(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text("theirs")
    with pytest.raises(ChangedOutside, match=r"^a\.toml is there already$"):
        save_text(path, "mine", None)
    assert path.read_text() == "theirs"


@pytest.mark.parametrize("change", ["size", "same size and time", "replaced", "gone"])
def test_a_file_changed_by_someone_else_is_left_alone(tmp_path: Path, change: str) -> None:
    path = tmp_path / "a.toml"
    path.write_text("first")
    known = fingerprint(path)
    if change == "gone":
        path.unlink()
    elif change == "replaced":
        (tmp_path / "b").write_text("other")
        os.replace(tmp_path / "b", path)
    else:
        path.write_text("longer text" if change == "size" else "FIRST")
        os.utime(path, ns=(known.mtime_ns, known.mtime_ns))
    before = path.read_text() if path.exists() else None
    with pytest.raises(ChangedOutside, match="by someone else"):
        save_text(path, "mine", known)
    assert (path.read_text() if path.exists() else None) == before
    assert [n for n in os.listdir(tmp_path) if n != "a.toml"] == []


def test_a_file_only_touched_is_still_the_known_one(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text("first")
    known = fingerprint(path)
    os.utime(path, (1, 1))
    assert not is_changed(path, known)
    save_text(path, "mine", known)
    assert path.read_text() == "mine"


def test_a_file_is_read_again_only_where_its_number_size_or_time_is_another(tmp_path: Path) -> None:
    """It is asked every few seconds, also over a network."""
    path = tmp_path / "a.toml"
    path.write_text("first")
    known, reads = fingerprint(path), []

    def read(name: str) -> bytes:
        reads.append(name)
        return Path(name).read_bytes()

    disk = replace(REAL, read=read)
    assert not is_changed(path, known, disk) and reads == []
    os.utime(path, (1, 1))
    assert not is_changed(path, known, disk) and reads == [str(path)]
    path.write_text("other")
    assert is_changed(path, known, disk) and len(reads) == 2


def test_a_change_between_writing_and_renaming_is_seen(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text("first")
    known = fingerprint(path)

    def fsync(handle: int) -> None:
        os.fsync(handle)
        path.write_text("theirs")

    with pytest.raises(ChangedOutside):
        save_text(path, "mine", known, replace(REAL, fsync=fsync))
    assert path.read_text() == "theirs"
    assert os.listdir(tmp_path) == ["a.toml"]


@pytest.mark.parametrize("call", ["open", "write", "fsync", "replace"])
@pytest.mark.parametrize(("number", "says"), [
    (errno.ENOSPC, "the disk is full"), (errno.EDQUOT, "the disk quota is used up"),
    (errno.EROFS, "the disk can only be read"), (errno.EACCES, "writing there is not allowed"),
    (errno.EIO, "the disk reports an error"), (errno.ESTALE, "the network folder has gone away"),
    (errno.EINVAL, "Invalid argument")])
def test_each_failure_is_a_sentence_and_the_old_file_stays(tmp_path: Path, call: str, number: int, says: str) -> None:
    path = tmp_path / "a.toml"
    path.write_text("old")
    with pytest.raises(SaveError) as caught:
        save_text(path, "new", fingerprint(path), replace(REAL, **{call: failing(number)}))
    assert str(caught.value) == f"{tmp_path}: {says}"
    assert caught.value.replaced is None
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["a.toml"]


def test_a_disk_that_fills_up_half_way_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text("old")
    room = [10]

    def write(handle: int, data: bytes) -> int:
        if not room[0]:
            raise OSError(errno.ENOSPC, "full")
        taken = os.write(handle, data[:room[0]])
        room[0] -= taken
        return taken

    with pytest.raises(SaveError, match="the disk is full"):
        save_text(path, "new text of more than ten letters", fingerprint(path), replace(REAL, write=write))
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["a.toml"]


def test_short_writes_are_completed(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    save_text(path, "a long enough text", None, replace(REAL, write=lambda h, d: os.write(h, d[:3])))
    assert path.read_text() == "a long enough text"


def test_a_disk_that_gives_back_something_else_is_found_out(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text("old")

    def read(name: str) -> bytes:
        data = Path(name).read_bytes()
        return data if name == str(path) else data[:-1] + b"?"

    with pytest.raises(SaveError, match="does not give back what was written"):
        save_text(path, "new", fingerprint(path), replace(REAL, read=read))
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["a.toml"]


def test_a_folder_that_cannot_be_synced_is_no_failure_but_an_error_of_the_disk_is(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    known = save_text(path, "one", None, replace(REAL, fsync=fails_for_folders(errno.EINVAL)))
    with pytest.raises(SaveError, match="the disk reports an error .the file is written but may not outlast") as caught:
        save_text(path, "two", known, replace(REAL, fsync=fails_for_folders(errno.EIO)))
    assert path.read_text() == "two"
    assert caught.value.replaced == fingerprint(path)


def test_a_vanished_folder_is_told(tmp_path: Path) -> None:
    folder = tmp_path / "stick"
    folder.mkdir()
    path = folder / "a.toml"
    known = save_text(path, "one", None)
    path.unlink()
    folder.rmdir()
    with pytest.raises(SaveError, match="stick: the folder is no longer there") as caught:
        save_text(path, "two", known)
    assert not isinstance(caught.value, ChangedOutside)
    assert is_changed(path, known)


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SaveError, match="this is not a file"):
        save_text(tmp_path, "x", None)


def test_a_file_marked_read_only_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.toml"
    path.write_text("old")
    monkeypatch.setattr(os, "access", lambda *_a: False)  # the superuser may write what is marked read-only
    with pytest.raises(SaveError, match="the file is marked as read-only"):
        save_text(path, "x", fingerprint(path))
    assert path.read_text() == "old"


def test_what_a_killed_save_left_is_swept_up(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    save_text(path, "one", None)
    (tmp_path / (temporary_prefix("a.toml") + "12345678")).write_text("half")
    (tmp_path / (temporary_prefix("b.toml") + "12345678")).write_text("another's")
    assert remove_left_overs(path) == 1
    assert sorted(os.listdir(tmp_path)) == [temporary_prefix("b.toml") + "12345678", "a.toml"]


def test_a_reader_sees_the_old_or_the_new_text_and_nothing_between(tmp_path: Path) -> None:
    """Looked at before and after each call of a save to the file system, and while half of the text is written."""
    path = tmp_path / "a.toml"
    known = save_text(path, "0" * 50_000, None)
    seen: list[str] = []

    def looking(call: Callable[..., Any]) -> Callable[..., Any]:
        def looked(*given: Any) -> Any:
            seen.append(path.read_text())
            answer = call(*given)
            seen.append(path.read_text())
            return answer
        return looked

    def write(handle: int, data: bytes) -> int:
        return os.write(handle, data[:20_000])

    names = ("open", "fsync", "close", "replace", "unlink", "read", "stat")
    save_text(path, "1" * 50_000, known, Disk(write=looking(write), **{n: looking(getattr(REAL, n)) for n in names}))
    assert set(seen) == {"0" * 50_000, "1" * 50_000}
    first_new = seen.index("1" * 50_000)
    assert "0" * 50_000 not in seen[first_new:], "once the new text is there it stays"


def test_the_calls_come_in_the_order_that_makes_a_save_durable(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    known = save_text(path, "old", None)
    calls: list[str] = []

    def noting(name: str, call: Callable[..., Any]) -> Callable[..., Any]:
        def noted(*given: Any) -> Any:
            folder = name == "fsync" and stat.S_ISDIR(os.fstat(given[0]).st_mode)
            calls.append("fsync folder" if folder else name)
            return call(*given)
        return noted

    disk = Disk(**{n: noting(n, getattr(REAL, n)) for n in ("write", "fsync", "replace", "unlink")})
    save_text(path, "new", known, disk)
    assert calls == ["write", "fsync", "replace", "fsync folder"]
