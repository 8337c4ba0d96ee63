"""TOML of any origin read in bounded time and memory: what is built to take long is refused before it is parsed.

tomllib is written in Python: it takes some microseconds a value, its time and memory grow with the parts of dotted keys
(with their square for one key), and deep nesting ends its recursion. The bounds are far above any real file: a finished
build of 240 kB holds 16,000 marks on 12,000 lines.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any

import tomli

from buildtrack import units
from buildtrack.storage import toml_lines
from buildtrack.storage.collector import no_collection

LARGEST = 2_000_000
"""Longest text that is read [characters]: eight times a finished build."""
DEEPEST = 40
"""How deep tables and lists may lie in one another."""
MOST_PARTS = 16
"""How many parts a dotted key may have; our own have at most five."""
MOST_MARKS = 150_000
"""How many of the marks that part values there may be: = , . [ {"""
MOST_LINES = 100_000
"""How many lines there may be."""
MOST_TABLES = 30_000
"""How many lines may begin with [: the heads of tables."""
MOST_TABLES_OF_A_CHECKLIST = 6_000
"""The same in a checklist, whose tables each take longer to read: twenty times those of the longest one."""
MOST_INCLUDED = 1_000_000
"""How much a checklist may include, a file as often as it is included [bytes]: five times what the longest one does."""
MOST_DOTS = 50_000
"""How many dots there may be outside of texts: each part of a dotted key costs a table or two."""
LONGEST_WORD = 10_000
"""Longest number or bare key [characters]: tomllib takes a hundred bytes for each digit."""

_MARKS = "=,.[{"
_ASIDE = re.compile(
    r'"""(?:\\.|[^"\\]|"(?!""))*+(?:"{3,5})?'
    r"|'''(?:[^']|'(?!''))*+(?:'{3,5})?"
    r'|"(?:\\.|[^"\\\n])*+"?'
    r"|'[^'\n]*+'?"
    r"|#[^\n]*+", re.DOTALL)
"""Texts and comments. One that is not closed goes to its end at once: every character is looked at once only."""
_DOTTED = re.compile(r"""(?<![\w"-])(?:[\w"-]++[ \t]*+\.[ \t]*+)++""", re.ASCII)
_WORD = re.compile(r"[\w.+-]+", re.ASCII)


class Refused(ValueError):
    """A text that is no TOML, or none that this program would touch."""

    def __init__(self, message: str, line: int = 0) -> None:
        self.message = message
        self.line = line
        """From 1; 0 where none can be named."""
        super().__init__(f"line {line}: {message}" if line else message)


def _blank(aside: re.Match[str]) -> str:
    """An empty text in place of a text or comment, on as many lines."""
    return ("" if aside.group()[0] == "#" else '""') + "\n" * aside.group().count("\n")


def refuse_much(text: str, most_tables: int = MOST_TABLES) -> None:
    """Refuse a text that is larger, or holds more lines, values or tables, than is read."""
    for found, most, what in (
            (len(text), LARGEST, "characters"), (text.count("\n"), MOST_LINES, "lines"),
            (sum(map(text.count, _MARKS)), MOST_MARKS, "values and marks"), (text.count("\n["), most_tables, "tables")):
        if found > most:
            raise Refused(f"{found} {what} are more than the {most} this program reads")


def refuse_words(text: str) -> None:
    """Refuse long dotted keys, too many of them, and endless numbers; texts are looked into only where that may be."""
    if text.count(".") <= MOST_DOTS and all(
            len(line) <= LONGEST_WORD and line.count(".") < MOST_PARTS for line in text.split("\n")):
        return
    bare = _ASIDE.sub(_blank, text)
    if (dots := bare.count(".")) > MOST_DOTS:
        raise Refused(f"{dots} parts of keys are more than the {MOST_DOTS} this program reads")
    for number, line in enumerate(bare.split("\n"), 1):
        if any(run.group().count(".") >= MOST_PARTS for run in _DOTTED.finditer(line)):
            raise Refused(f"a key of more than {MOST_PARTS} parts", number)
        if len(line) > LONGEST_WORD and any(len(word.group()) > LONGEST_WORD for word in _WORD.finditer(line)):
            raise Refused(f"a number or key of more than {LONGEST_WORD} characters", number)


def _refuse_depth(tree: Mapping[str, Any]) -> None:
    level: list[Any] = [tree]
    for _ in range(DEEPEST):
        level = [inner for outer in level for inner in (outer.values() if isinstance(outer, dict) else outer)
                 if isinstance(inner, (dict, list))]
        if not level:
            return
    raise Refused(f"tables lie more than {DEEPEST} deep in one another")


def _ended(error: ValueError, text: str) -> str:
    """What is said of a text that ends too early: in the middle of what, and where a text of several lines began."""
    if not (ended := toml_lines.ends_in(error)):
        return ""
    aside = next((found for found in _ASIDE.finditer(text) if found.end() == len(text)), None)
    if aside is not None and "\n" in aside.group().rstrip() and aside.group()[0] != "#":
        return f"{ended} that begins on line {text.count(chr(10), 0, aside.start()) + 1}"
    return f"{ended}: it was cut off, or a closing mark is missing"


def loads(text: str, most_tables: int = MOST_TABLES, *, quickly: bool = True) -> dict[str, Any]:
    """The plain tables of a text with LF line ends; Refused, in one sentence, for anything else.

    quickly: whether tomli reads it, else tomllib: the same, in half of the time where it is compiled.
    """
    refuse_much(text, most_tables)
    refuse_words(text)
    try:
        with no_collection():
            tree = tomli.loads(text) if quickly else tomllib.loads(text)
    except (tomli.TOMLDecodeError, tomllib.TOMLDecodeError) as error:
        what = re.sub(r" \(at (line \d+, column \d+|end of document)\)$", "", str(error))
        raise Refused(f"is not TOML: {_ended(error, text) or units.clip(what, 200)}",
                      toml_lines.broken_at(error, text)) from error
    except RecursionError as error:
        raise Refused(f"tables or lists lie more than {DEEPEST} deep in one another") from error
    except ValueError as error:
        raise Refused(f"holds a number that is no measurement: {units.clip(str(error), 80)}") from error
    _refuse_depth(tree)
    return tree
