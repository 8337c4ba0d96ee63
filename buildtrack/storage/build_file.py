"""Build files in: the text read into the model, every refusal one line with file, line, step and item."""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from buildtrack import units
from buildtrack.model.build import FORMAT, Build
from buildtrack.model.checklist import Checklist
from buildtrack.plain_file import read_plain
from buildtrack.storage import durable, read_tree, toml_blocks, toml_guard, upgrade
from buildtrack.storage.toml_guard import LARGEST


class BuildFileError(ValueError):
    """A build file that cannot be used; one line that says where and what would be right."""

    def __init__(self, path: str, message: str, line: int = 0, where: str = "") -> None:
        self.path = path
        self.message = message
        self.line = line
        self.where = where
        parts = [units.clip(path, 300) or "build file", f"line {line}" if line else "", where, message]
        super().__init__(": ".join(part for part in parts if part))


@dataclass(frozen=True, slots=True)
class Opened:
    """A build as read, with the text it was read from."""

    build: Build
    text: str
    """Text of the file, LF line ends."""
    tree: Mapping[str, Any]
    """The same as plain tables, in the format of today."""
    steps: Mapping[str, str] = field(default_factory=dict)
    """In which step each item stands in the file."""
    mark: durable.Fingerprint | None = None
    """What the file was when it was read; None for a text that is not from a file."""
    crlf: bool = False
    """Whether its lines end with CR LF."""
    raw: Mapping[str, Any] | None = None
    """The tables as they stand in the text, where it is of an earlier format; None where `tree` holds them."""

    @property
    def sha256(self) -> str:
        """SHA-256 of the file, or of the text where it is not from one."""
        return self.mark.sha256 if self.mark is not None else durable.digest(self.text.encode())


def parse_tree(text: str, path: str = "", quickly: bool = True) -> dict[str, Any]:
    """The plain tables of a text; BuildFileError where it is no TOML, or none that this program would touch."""
    try:
        return toml_guard.loads(text, quickly=quickly)
    except toml_guard.Refused as error:
        raise BuildFileError(path, error.message, error.line) from error


def open_text(text: str, path: str = "", *, quickly: bool = True) -> Opened:
    """Read a build's text (LF line ends); BuildFileError names the first thing that is wrong.

    quickly: not where the reading is the proof of a text: then tomllib reads it, which did not read the text before.
    """
    raw = parse_tree(text, path, quickly)
    try:
        tree = upgrade.raised(raw, FORMAT, upgrade.BUILD, "build file")
        build, steps = read_tree.build(tree)
    except upgrade.Unknown as error:
        line = 1 if error.is_missing else toml_blocks.line_of(text, ("format",))
        raise BuildFileError(path, str(error), line, "file" if error.is_missing else "format") from error
    except read_tree.Trouble as trouble:
        line = toml_blocks.line_of(text, trouble.path)
        raise BuildFileError(path, trouble.message, line, read_tree.spoken(trouble.path)) from trouble
    return Opened(build, text, tree, steps, raw=None if tree is raw else raw)


def parse_build(text: str, path: str = "") -> Build:
    """The build in a text; BuildFileError names the first thing that is wrong."""
    return open_text(text.removeprefix("\ufeff").replace("\r\n", "\n"), path).build


def _contents(path: Path) -> tuple[bytes, os.stat_result]:
    """Bytes of a regular file that is not too large."""
    name = str(path)
    try:
        found = os.stat(path)
        if not stat.S_ISREG(found.st_mode):
            raise BuildFileError(name, "this is a folder, not a build file" if stat.S_ISDIR(found.st_mode) else
                                 "this is not a file")
        if found.st_size > LARGEST:
            raise BuildFileError(name, f"{found.st_size} bytes are more than the {LARGEST} this program reads")
        return read_plain(path), found
    except FileNotFoundError as error:
        raise BuildFileError(name, "there is no such file") from error
    except OSError as error:
        raise BuildFileError(name, f"cannot be read ({durable.reason(error, reading=True)})") from error
    except ValueError as error:
        if isinstance(error, BuildFileError):
            raise
        raise BuildFileError(name, "is not a name that a file can have") from error


def read_build(path: Path) -> Opened:
    """Read a build file; BuildFileError with one line for anything that is not one, with the copies kept of it."""
    try:
        return _read(path)
    except BuildFileError as error:
        if isinstance(error.__cause__, upgrade.Newer):
            raise  # it is not damaged: an older copy would be a step back
        from buildtrack.storage.kept_copies import about_copies  # a sound file never pays for it
        from buildtrack.storage.places import state_folder

        if not (kept := about_copies(path, state_folder())):
            raise
        raise BuildFileError(error.path, f"{error.message}. {kept}", error.line, error.where) from error


def _read(path: Path) -> Opened:
    data, found = _contents(path)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise BuildFileError(str(path), f"is not UTF-8 text (byte {error.start}): save it as UTF-8", line) from error
    opened = open_text(text.replace("\r\n", "\n"), str(path))
    mark = durable.Fingerprint(found.st_dev, found.st_ino, len(data), found.st_mtime_ns, durable.digest(data))
    return replace(opened, mark=mark, crlf="\r\n" in text)


def unknown_items(build: Build, checklist: Checklist) -> tuple[str, ...]:
    """Items, and columns as item.column, that the build holds and the checklist does not have (it has changed)."""
    found: list[str] = []
    for name, entry in build.entries.items():
        item = checklist.items.get(name)
        if item is None:
            found.append(name)
        elif item.kind == "table":
            columns = {c for row in entry.rows for c in row.cells}
            found += [f"{name}.{c}" for c in sorted(columns) if item.column(c) is None]
    return tuple(found)
