"""Build files in: the text read into the model, every refusal one line with file, line, step and item."""

from __future__ import annotations

import os
import re
import stat
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from buildtrack import units
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist
from buildtrack.storage import durable, read_tree, toml_blocks, toml_lines

LARGEST = 2_000_000
"""Largest build file that is read [bytes]: ten times a full build; the worst that fits in takes about 2 s."""
DEEPEST = 40
"""How deep tables and lists may lie in one another."""
MOST_PARTS = 64
"""How many parts a dotted key may have (tomllib's time grows with their square)."""

_QUOTED = re.compile(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'')
_DOTTED = re.compile(r"""(?<![\w"'-])(?:[\w"'-]++[ \t]*+\.[ \t]*+)++""", re.ASCII)


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
    """The same as plain tables."""
    steps: Mapping[str, str] = field(default_factory=dict)
    """In which step each item stands in the file."""
    mark: durable.Fingerprint | None = None
    """What the file was when it was read; None for a text that is not from a file."""
    crlf: bool = False
    """Whether its lines end with CR LF."""

    @property
    def sha256(self) -> str:
        """SHA-256 of the file, or of the text where it is not from one."""
        return self.mark.sha256 if self.mark is not None else durable.digest(self.text.encode())


def _refuse_long_keys(text: str, path: str) -> None:
    for number, line in enumerate(text.split("\n"), 1):
        if line.count(".") < MOST_PARTS:
            continue
        if any(run.group().count(".") >= MOST_PARTS for run in _DOTTED.finditer(_QUOTED.sub('""', line))):
            raise BuildFileError(path, f"a key of more than {MOST_PARTS} parts", number)


def _refuse_depth(tree: Mapping[str, Any], path: str) -> None:
    level: list[Any] = [tree]
    for _ in range(DEEPEST):
        level = [inner for outer in level for inner in (outer.values() if isinstance(outer, dict) else outer)
                 if isinstance(inner, (dict, list))]
        if not level:
            return
    raise BuildFileError(path, f"tables lie more than {DEEPEST} deep in one another")


def parse_tree(text: str, path: str = "") -> dict[str, Any]:
    """The plain tables of a text; BuildFileError where it is no TOML, or none that this program would touch."""
    if len(text) > LARGEST:
        raise BuildFileError(path, f"{len(text)} characters are more than the {LARGEST} this program reads")
    _refuse_long_keys(text, path)
    try:
        tree = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line = toml_lines.broken_at(error)
        what = re.sub(r" \(at (line \d+, column \d+|end of document)\)$", "", str(error))
        raise BuildFileError(path, f"is not TOML: {units.clip(what, 200)}", line) from error
    except RecursionError as error:
        raise BuildFileError(path, f"tables or lists lie more than {DEEPEST} deep in one another") from error
    except ValueError as error:
        raise BuildFileError(path, f"holds a number that is no measurement: {units.clip(str(error), 80)}") from error
    _refuse_depth(tree, path)
    return tree


def open_text(text: str, path: str = "") -> Opened:
    """Read a build's text (LF line ends); BuildFileError names the first thing that is wrong."""
    tree = parse_tree(text, path)
    try:
        build, steps = read_tree.build(tree)
    except read_tree.Trouble as trouble:
        line = toml_blocks.line_of(text, trouble.path)
        raise BuildFileError(path, trouble.message, line, read_tree.spoken(trouble.path)) from trouble
    return Opened(build, text, tree, steps)


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
        return Path(path).read_bytes(), found
    except FileNotFoundError as error:
        raise BuildFileError(name, "there is no such file") from error
    except OSError as error:
        raise BuildFileError(name, f"cannot be read ({durable.reason(error)})") from error
    except ValueError as error:
        if isinstance(error, BuildFileError):
            raise
        raise BuildFileError(name, "is not a name that a file can have") from error


def read_build(path: Path) -> Opened:
    """Read a build file; BuildFileError with one line for anything that is not one."""
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
