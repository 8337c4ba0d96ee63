"""Photos and logs beside a build file: named by relative path, known by hash and size, never outside the folder."""

from __future__ import annotations

import hashlib
import os
import secrets
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path, PurePosixPath

from buildtrack import units
from buildtrack.model.build import Build, Reading
from buildtrack.model.checklist import Checklist
from buildtrack.plain_file import open_plain
from buildtrack.storage import durable

LARGEST = 2_000_000_000
"""Largest photo or log that is attached [bytes]."""


class AttachmentError(ValueError):
    """A file that cannot be attached or used; one sentence."""


@dataclass(frozen=True, slots=True)
class Attached:
    """A file beside the build."""

    name: str
    """Relative to the folder of the build file, with forward slashes."""
    sha256: str
    size: int


@dataclass(frozen=True, slots=True)
class Fault:
    """An attached file that is not as it was."""

    item: str
    name: str
    problem: str
    """missing, changed, or refused."""
    message: str


def resolve(folder: Path, name: str) -> Path:
    """The file that a relative name means; AttachmentError for a name that leads out of the folder of the build."""
    shown = units.clip(name, 80)
    parts = PurePosixPath(name).parts
    if not name.strip() or name != name.strip():
        raise AttachmentError(f"'{shown}' is not a file name: write the path from the folder of the build file")
    if any(not c.isprintable() for c in name) or "\\" in name:
        raise AttachmentError(f"'{shown}' holds characters that have no place in a file name; separate folders with /")
    if name.startswith(("/", "~")) or ":" in name.split("/")[0]:
        raise AttachmentError(f"'{shown}' is not a path from the folder of the build file, like build_files/photo.jpg")
    if ".." in parts:
        raise AttachmentError(f"'{shown}' leads out of the folder of the build file")
    root = os.path.realpath(folder)
    real = os.path.realpath(os.path.join(root, name))
    if os.path.commonpath([root, real]) != root:
        raise AttachmentError(f"'{shown}' is a link that leads out of the folder of the build file")
    return Path(real)


@lru_cache(maxsize=64)  # a build is judged at every edit; a file of this size and time was read before
def _digest(path: Path, _size: int, _time: int) -> str:
    with open_plain(path) as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _measured(path: Path, shown: str) -> Attached:
    """Hash and size of a regular file; AttachmentError for anything else."""
    try:
        found = os.stat(path)
        if not stat.S_ISREG(found.st_mode):
            raise AttachmentError(f"{shown}: this is not a file")
        if found.st_size > LARGEST:
            raise AttachmentError(f"{shown}: {found.st_size} bytes are more than the {LARGEST} that can be attached")
        code = _digest(path, found.st_size, found.st_mtime_ns)
    except FileNotFoundError as error:
        raise AttachmentError(f"{shown}: there is no such file") from error
    except OSError as error:
        raise AttachmentError(f"{shown}: cannot be read ({durable.reason(error, reading=True)})") from error
    except ValueError as error:
        if isinstance(error, AttachmentError):
            raise
        raise AttachmentError(f"{shown}: is not a name that a file can have") from error
    return Attached("", code, found.st_size)


def files_folder(build_path: Path) -> Path:
    """Folder beside a build file for what is attached to it."""
    return build_path.with_name(f"{build_path.stem}_files")


def _safe_name(name: str) -> str:
    plain = "".join(c if c.isprintable() and c not in "/\\:" else "_" for c in name).strip(" .") or "file"
    if len(plain.encode()) <= 120:
        return plain
    stem, dot, ending = plain.rpartition(".") if "." in plain else (plain, "", "")
    return f"{stem[:30]}{dot}{ending[:8]}"


def attach(build_path: Path, source: Path) -> Attached:
    """Attach a photo or log: named where it lies if that is beside the build, else copied there first.

    Returns what a reading says of it. AttachmentError with one sentence where that cannot be done.
    """
    shown = units.clip(str(source), 200)
    found = _measured(source, shown)
    root = Path(os.path.realpath(build_path.parent))
    real = Path(os.path.realpath(source))
    if real.is_relative_to(root):
        name = real.relative_to(root).as_posix()
        if _is_good(root, name):
            return Attached(name, found.sha256, found.size)
    folder = files_folder(Path(os.path.realpath(build_path)))
    resolve(root, folder.name)  # a link to elsewhere is not written through
    try:
        folder.mkdir(exist_ok=True)
        target = _free_name(folder, _safe_name(source.name), found)
        if not target.exists():
            _copy(real, target, found, shown)
    except OSError as error:
        raise AttachmentError(f"{shown}: cannot be copied ({durable.sentence(error, str(folder))})") from error
    return Attached(f"{folder.name}/{target.name}", found.sha256, found.size)


def _is_good(root: Path, name: str) -> bool:
    try:
        resolve(root, name)
    except AttachmentError:
        return False
    return True


def _free_name(folder: Path, name: str, wanted: Attached) -> Path:
    """A name that is free, or that the very same file has already."""
    stem, dot, ending = name.rpartition(".") if "." in name.strip(".") else (name, "", "")
    for number in range(1, 10_000):
        target = folder / (name if number == 1 else f"{stem}-{number}{dot}{ending}")
        if not os.path.lexists(target):
            return target
        if target.is_file() and not target.is_symlink() and _measured(target, str(target)).sha256 == wanted.sha256:
            return target
    raise AttachmentError(f"{units.clip(name)}: there are too many files of this name")


def _copy(source: Path, target: Path, wanted: Attached, shown: str) -> None:
    """Copy durably: into a new file of the same folder, synced, then given its name."""
    temporary = target.with_name(f".{secrets.token_hex(8)}.part")
    code = hashlib.sha256()
    try:
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o666)
        with open_plain(source) as reading, os.fdopen(handle, "wb") as writing:
            while part := reading.read(1 << 20):
                code.update(part)
                writing.write(part)
            writing.flush()
            os.fsync(handle)
        if code.hexdigest() != wanted.sha256:
            raise AttachmentError(f"{shown}: changed while it was copied")
        os.replace(temporary, target)
        durable.sync_folder(str(target.parent))
    finally:
        temporary.unlink(missing_ok=True)


def attached(build: Build, checklist: Checklist) -> Iterator[tuple[str, Reading]]:
    """Every standing reading that names a file, with its item; of a file attached again under its name the last."""
    for item, entry in build.entries.items():
        known = checklist.items.get(item)
        named = [r for r in entry.standing if r.sha256 or (known is not None and known.kind in {"photo", "file"})]
        last = {reading.text: reading for reading in named}
        yield from ((item, reading) for reading in named if last[reading.text] is reading)


def check_attachments(build: Build, checklist: Checklist, folder: Path) -> list[Fault]:
    """Every attached file that is missing, changed, or not to be touched."""
    found = (_fault(item, reading, folder) for item, reading in attached(build, checklist))
    return [fault for fault in found if fault is not None]


def _fault(item: str, reading: Reading, folder: Path) -> Fault | None:
    name = reading.text
    shown = units.clip(name, 80)
    try:
        path = resolve(folder, name)
    except AttachmentError as error:
        return Fault(item, name, "refused", str(error))
    try:
        if reading.size is not None and path.is_file() and path.stat().st_size != reading.size:
            size = path.stat().st_size
            return Fault(item, name, "changed", f"{shown} has {size} bytes; when attached it had {reading.size}")
        now = _measured(path, shown)
    except (AttachmentError, OSError) as error:
        return Fault(item, name, "missing", str(error))
    if reading.sha256 and now.sha256 != reading.sha256:
        return Fault(item, name, "changed", f"{shown} is not the file that was attached: its SHA-256 differs")
    return None
