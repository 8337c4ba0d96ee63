"""A text saved so that a crash leaves either the old file or the new one, and a file changed by others is left alone.

The order is: new file in the same folder, written, fsync, read back, rename over the old one, fsync of the folder
(atomic replace as in POSIX rename; a folder that cannot be synced answers EINVAL, and only that is ignored).
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import secrets
import stat
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from buildtrack import units
from buildtrack.plain_file import read_plain

_SENTENCES = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EROFS: "the disk can only be read",
    errno.EACCES: "writing there is not allowed",
    errno.EPERM: "writing there is not allowed",
    errno.ENOENT: "the folder is no longer there",
    errno.ENOTDIR: "the folder is no longer there",
    errno.EIO: "the disk reports an error",
    errno.ESTALE: "the network folder has gone away",
    errno.ENAMETOOLONG: "the name is too long",
    errno.EFBIG: "the file would be too large for this disk",
    errno.ELOOP: "the links lead round in a circle",
}
_WHEN_READING = {errno.EACCES: "reading it is not allowed", errno.EPERM: "reading it is not allowed"}


class SaveError(OSError):
    """A file that could not be saved; one sentence. The file that was there is untouched unless `replaced` says so."""

    def __init__(self, sentence: str, replaced: Fingerprint | None = None) -> None:
        super().__init__(sentence)
        self.replaced = replaced
        """The new file, where it stands but the folder could not be synced."""


class ChangedOutside(SaveError):
    """The file is no longer the one that was read or written last."""


@dataclass(frozen=True, slots=True)
class Fingerprint:
    """What a file was when it was last read or written."""

    dev: int
    ino: int
    size: int
    mtime_ns: int
    sha256: str

    def same_stat(self, found: os.stat_result) -> bool:
        """Whether a file still has the same number, size and time."""
        return (self.dev, self.ino, self.size, self.mtime_ns) == (
            found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns)


@dataclass(frozen=True, slots=True)
class Disk:
    """The calls to the file system, so that a test can make any of them fail."""

    open: Callable[[str, int, int], int] = os.open
    write: Callable[[int, bytes], int] = os.write
    fsync: Callable[[int], None] = os.fsync
    close: Callable[[int], None] = os.close
    replace: Callable[[str, str], None] = os.replace
    unlink: Callable[[str], None] = os.unlink
    read: Callable[[str], bytes] = read_plain
    stat: Callable[[str], os.stat_result] = os.stat


REAL = Disk()


def reason(error: OSError, reading: bool = False) -> str:
    """An error of the file system in plain words. reading: it came from reading, not from writing."""
    code = error.errno if error.errno is not None else 0
    words = (_WHEN_READING.get(code) if reading else "") or _SENTENCES.get(code)
    return words or error.strerror or str(error) or type(error).__name__


def sentence(error: OSError, where: str, reading: bool = False) -> str:
    """One sentence for an error of the file system; `where` names the file or folder."""
    return f"{units.clip(where, 200)}: {reason(error, reading)}"


def digest(data: bytes) -> str:
    """SHA-256 of some bytes, as hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def fingerprint(path: Path, disk: Disk = REAL) -> Fingerprint:
    """What the file is now; OSError where it cannot be read."""
    real = os.path.realpath(path)
    before = disk.stat(real)
    data = disk.read(real)
    return Fingerprint(before.st_dev, before.st_ino, len(data), before.st_mtime_ns, digest(data))


def is_changed(path: Path, known: Fingerprint, disk: Disk = REAL) -> bool:
    """Whether the file holds something else than it did (cheap where number, size and time are the same).

    A file that is gone counts as changed.
    """
    real = os.path.realpath(path)
    try:
        return not known.same_stat(disk.stat(real)) and digest(disk.read(real)) != known.sha256
    except OSError:
        return True


def _refuse_foreign(real: str, expected: Fingerprint | None, wanted: str, disk: Disk) -> None:
    """Refuse to replace a file that is not the one known; its content is compared, not only its time."""
    name = units.clip(os.path.basename(real))
    try:
        found = digest(disk.read(real))
    except FileNotFoundError:
        if expected is not None and os.path.isdir(os.path.dirname(real)):
            raise ChangedOutside(f"{name} was moved or deleted by someone else") from None
        return
    if found == wanted:
        return
    if expected is None:
        raise ChangedOutside(f"{name} is there already")
    if found != expected.sha256:
        raise ChangedOutside(f"{name} was changed by someone else since it was read")


def _old_mode(real: str, disk: Disk) -> os.stat_result | None:
    try:
        found = disk.stat(real)
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(found.st_mode):
        raise SaveError(f"{units.clip(real, 200)}: this is not a file")
    if not os.access(real, os.W_OK):
        raise SaveError(f"{units.clip(real, 200)}: the file is marked as read-only")
    return found


def temporary_prefix(name: str) -> str:
    """How the name of a half-written file begins."""
    return f".{os.fsencode(name)[:120].decode('utf-8', 'ignore')}.part-"


def _keep_owner(handle: int, old: os.stat_result) -> None:
    """Give the new file the mode and owner of the old one."""
    now = os.fstat(handle)
    if (now.st_uid, now.st_gid) != (old.st_uid, old.st_gid):
        with contextlib.suppress(PermissionError):  # only the owner of the machine may give files away: then it is ours
            os.fchown(handle, old.st_uid, old.st_gid)
    os.fchmod(handle, stat.S_IMODE(old.st_mode))


def _write_all(handle: int, data: bytes, disk: Disk) -> None:
    view = memoryview(data)
    while view:
        written = disk.write(handle, bytes(view[:1 << 20]))
        view = view[written:]


def write_new(path: str, data: bytes, mode: int, disk: Disk, old: os.stat_result | None = None) -> Fingerprint:
    """Write a file that must not be there yet, synced and read back.

    old: the file whose mode and owner it gets. OSError, or SaveError where the disk gives back something else.
    """
    handle = disk.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, mode)
    try:
        if old:
            _keep_owner(handle, old)
        _write_all(handle, data, disk)
        disk.fsync(handle)
    finally:
        disk.close(handle)
    if disk.read(path) != data:
        raise SaveError("the disk does not give back what was written to it")
    found = disk.stat(path)
    return Fingerprint(found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns, digest(data))


def sync_folder(folder: str, disk: Disk = REAL) -> None:
    """Make the names in a folder durable; folders that cannot be synced say EINVAL, which is all that is ignored."""
    handle = disk.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC, 0)
    try:
        disk.fsync(handle)
    except OSError as error:
        if error.errno != errno.EINVAL:
            raise
    finally:
        disk.close(handle)


def private_folder(folder: Path) -> None:
    """Make a folder with all above it that is missing, open to nobody else (mkdir alone closes the last one only)."""
    if not folder.is_dir():
        private_folder(folder.parent)
        folder.mkdir(mode=0o700, exist_ok=True)


def _discard(temporary: str, disk: Disk) -> None:
    """Take a half-written file away; where even that fails, the error that led here is the one to tell."""
    with contextlib.suppress(OSError):
        disk.unlink(temporary)


def save_text(path: Path, text: str, expected: Fingerprint | None, disk: Disk = REAL) -> Fingerprint:
    """Save a text durably in place of the file that is known as `expected` (None: there must be none yet).

    Links are written through; mode, and owner where allowed, stay. Returns what the file is now. Raises ChangedOutside
    where the file is another one by now, SaveError with one sentence for all else; the old file is then untouched.
    """
    data = text.encode("utf-8")
    real = os.path.realpath(path)
    folder, name = os.path.split(real)
    temporary = os.path.join(folder, temporary_prefix(name) + secrets.token_hex(4))
    try:
        old = _old_mode(real, disk)
        _refuse_foreign(real, expected, digest(data), disk)
        made = write_new(temporary, data, stat.S_IMODE(old.st_mode) if old else 0o666, disk, old)
        _refuse_foreign(real, expected, made.sha256, disk)
        disk.replace(temporary, real)
    except SaveError:
        _discard(temporary, disk)
        raise
    except OSError as error:
        _discard(temporary, disk)
        raise SaveError(sentence(error, folder)) from error
    try:
        sync_folder(folder, disk)
    except OSError as error:
        raise SaveError(sentence(error, folder) + " (the file is written but may not outlast a crash)",
                        made) from error
    return made


def remove_left_overs(path: Path) -> int:
    """Take away what a killed save left beside the file; only the one who holds the lock may call this."""
    folder, name = os.path.split(os.path.realpath(path))
    prefix = temporary_prefix(name)
    try:
        found = [n for n in os.listdir(folder) if n.startswith(prefix)]
        for left in found:
            os.unlink(os.path.join(folder, left))
    except OSError:
        return 0
    return len(found)
