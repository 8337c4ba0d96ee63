"""Which line of a TOML text a key stands on, so that a message can name it (tomllib keeps no positions)."""

from __future__ import annotations

import re

_HEAD = re.compile(r"(\[\[?)([^\[\]]{1,200})(\]\]?)(?:\s*#.*)?")
_KEY = re.compile(r"""("[^"]{1,200}"|'[^']{1,200}'|[A-Za-z0-9_-]{1,200})\s*=""")
_AT_LINE = re.compile(r"line (\d+)")

Path = tuple[str | int, ...]


def _parts(name: str) -> list[str]:
    return [part.strip().strip("\"'") for part in name.split(".")]


def index(text: str) -> dict[Path, int]:
    """Line number (from 1) of every table head and key that stands on a line of its own, by its path."""
    lines: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    here: Path = ()
    fence = ""
    for number, raw in enumerate(text.split("\n"), 1):
        line = raw.strip()
        if fence:
            fence = "" if fence in line else fence
            continue
        head = _HEAD.fullmatch(line) if line[:1] == "[" else None
        if head:
            here = _enter(_parts(head.group(2)), head.group(1) == "[[", counts)
            lines.setdefault(here, number)
        elif key := _KEY.match(line):
            lines.setdefault((*here, key.group(1).strip("\"'")), number)
            fence = next((f for f in ('"""', "'''") if line.count(f) == 1), "")
    return lines


def _enter(parts: list[str], is_array: bool, counts: dict[Path, int]) -> Path:
    path: Path = ()
    for depth, part in enumerate(parts):
        path = (*path, part)
        if is_array and depth == len(parts) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def line_of(lines: dict[Path, int], path: Path) -> int:
    """Line of `path`, or of the nearest thing around it."""
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return 1


_AT_END = "(at end of document)"
_MIDDLES = (("string", "a text"), ("'\\'", "a text"), ("\"\"\"", "a text"), ("'''", "a text"),
            ("declaration", "the head of a table"), ("key", "a key"), ("value", "a value"))
"""What a reader of TOML had begun to read, by a word of its complaint."""


def broken_at(error: ValueError, text: str) -> int:
    """Line that a reader of TOML complains about: the last one where it is the end of the text (1 for none named)."""
    match = _AT_LINE.search(str(error))
    if match is None and _AT_END in str(error):
        return text.rstrip().count("\n") + 1
    return int(match.group(1)) if match else 1


def ends_in(error: ValueError) -> str:
    """In the middle of what a text ends, where that is what a reader of TOML complains about; else empty."""
    said = str(error)
    if _AT_END not in said:
        return ""
    return f"it ends in the middle of {next((what for word, what in _MIDDLES if word in said), 'something')}"
