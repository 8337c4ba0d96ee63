"""TOML as this program and its authors write it, read line by line: in a quarter of the time that tomllib takes.

Only what is plain is read here: heads of tables, and keys without dots, each on a line of its own. A value that is more
than a text without escapes or a moment is handed to tomllib by itself. At the first line that is anything else, and at
whatever might be a mistake, nothing is returned: tomllib then reads the whole and says what is wrong.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from datetime import datetime
from typing import Any

_PLAIN = r'"[^"\\\x00-\x08\x0a-\x1f\x7f]*"'
_LINE = re.compile(
    rf"([A-Za-z0-9_-]+) = (?:({_PLAIN})"
    r"|(\d{4}-\d\d-\d\dT(?:[01]\d|2[0-3]):\d\d:\d\dZ)"
    rf"|(\[(?:{_PLAIN}(?:, {_PLAIN})*)?\])"
    r"|(.+))"
    r"|\[\[([A-Za-z0-9_.-]+)\]\]"
    r"|\[([A-Za-z0-9_.-]+)\]"
    r"|(?:#[^\x00-\x08\x0a-\x1f\x7f]*)?", re.ASCII)
_TEXT, _MOMENT, _TEXTS, _OTHER, _ONE_MORE, _TABLE = range(2, 8)
"""Groups of a line: what its value is, or which head it is."""

MOST_OTHERS = 2000
"""So many values are handed to tomllib one by one: with more it is quicker with the whole. No file of ours has 200."""
_WORDS = {"true": True, "false": False}
Table = dict[str, Any]


class _NotPlain(Exception):
    """Something that tomllib is to look at."""


def loads(text: str) -> Table:
    """The tables of a text with LF line ends, as tomllib gives them; TOMLDecodeError where it is no TOML."""
    found = plain(text)
    return tomllib.loads(text) if found is None else found


def plain(text: str) -> Table | None:
    """The same where all of it is plain; None where tomllib has to read it."""
    if "\r" in text:
        return None
    try:
        return _Tables().read(text.split("\n"))
    except (_NotPlain, ValueError, RecursionError):
        return None  # tomllib says what is wrong, if anything is


class _Tables:
    """The tables of one text while its lines are read."""

    def __init__(self) -> None:
        self.root: Table = {}
        self._told: set[int] = set()
        """Tables that have had their head, by identity; each may have it once."""
        self._by_head: set[int] = {id(self.root)}
        """Tables and lists that came of heads, by identity: heads may go on in them, never in what is a value."""
        self._others = 0

    def read(self, lines: list[str]) -> Table:
        here = self.root
        left = iter(lines)
        for line in left:
            found = _LINE.fullmatch(line)
            if found is None:
                raise _NotPlain
            kind = found.lastindex
            if kind is None:
                continue
            if kind == _ONE_MORE:
                here = self._one_more(found.group(kind).split("."))
            elif kind == _TABLE:
                here = self._table(found.group(kind).split("."))
            else:
                key, value = found.group(1, kind)
                if key in here:
                    raise _NotPlain
                if kind == _TEXT:
                    here[key] = value[1:-1]
                elif kind == _MOMENT:
                    here[key] = datetime.fromisoformat(value)
                elif kind == _TEXTS:
                    here[key] = value[2:-2].split('", "') if value != "[]" else []
                else:
                    here[key] = self._other(value, left)
        return self.root

    def _inside(self, parts: list[str]) -> Table:
        """The table in which the last of these names stands; made where it is not there yet."""
        here = self.root
        for part in parts[:-1]:
            inner = here.get(part)
            if inner is None:
                inner = here[part] = self._new()
            elif id(inner) not in self._by_head:
                raise _NotPlain
            here = inner[-1] if isinstance(inner, list) else inner
        if not all(parts):
            raise _NotPlain
        return here

    def _new(self) -> Table:
        made: Table = {}
        self._by_head.add(id(made))
        return made

    def _table(self, parts: list[str]) -> Table:
        around = self._inside(parts)
        here = around.get(parts[-1])
        if here is None:
            here = around[parts[-1]] = self._new()
        if not isinstance(here, dict) or id(here) not in self._by_head or id(here) in self._told:
            raise _NotPlain
        self._told.add(id(here))
        return here

    def _one_more(self, parts: list[str]) -> Table:
        around = self._inside(parts)
        rows = around.get(parts[-1])
        if rows is None:
            rows = around[parts[-1]] = []
            self._by_head.add(id(rows))
        if not isinstance(rows, list) or id(rows) not in self._by_head:
            raise _NotPlain
        made = self._new()
        self._told.add(id(made))
        rows.append(made)
        return made

    def _other(self, text: str, more: Iterator[str]) -> Any:
        self._others += 1
        if self._others > MOST_OTHERS:
            raise _NotPlain
        return _value(text, more)


def _value(text: str, more: Iterator[str]) -> Any:
    """Any other value as tomllib reads it: the rest of its line, or a list on lines of its own that ends with `]`."""
    if text in _WORDS:
        return _WORDS[text]
    if text.isascii() and text.isdigit() and len(text) < 10 and (text[0] != "0" or text == "0"):
        return int(text)
    if text == "[":
        lines = [text]
        for line in more:
            lines.append(line)
            if line == "]":
                break
        text = "\n".join(lines)
    return tomllib.loads(f"value = {text}")["value"]
