"""Columns of a log set by hand: what was told wrongly is put right, the rest is told as before, all named."""

from __future__ import annotations

import re
import shlex
from collections.abc import Sequence
from pathlib import Path

from buildtrack.physics.log_columns import Mapping, guess_mapping
from buildtrack.physics.log_sniff import Sniffed, sniff

SINGLE = ("time", "date", "current", "voltage", "capacity", "energy", "state")
LISTS = ("groups", "temperatures")
LONGEST = 500
"""Longest text of columns that is read."""
_BEGIN = re.compile(rf"\s+(?=['\"]?(?:{'|'.join((*SINGLE, *LISTS))})=)")


class ColumnError(ValueError):
    """Columns that cannot be set; one sentence says what would be right."""


def split_typed(text: str) -> tuple[str, str]:
    """What was typed as a file's name and the columns set behind it: `log.csv current=3 groups=4+5+6`."""
    name, *rest = _BEGIN.split(text.strip(), maxsplit=1)
    return name, rest[0] if rest else ""


def words_of(columns: str) -> list[str]:
    """The single settings of a text; ColumnError where it cannot be parted."""
    if len(columns) > LONGEST:
        raise ColumnError(f"columns: {len(columns)} characters are too many; at most {LONGEST}")
    try:
        return shlex.split(columns)
    except ValueError as error:
        raise ColumnError("columns: a quotation mark is not closed") from error


def chosen_columns(words: Sequence[str], sniffed: Sniffed) -> dict[str, tuple[int, ...]]:
    """Quantity to column numbers (from 0) of settings like current=3, voltage=U[V], groups=4+5+6."""
    chosen: dict[str, tuple[int, ...]] = {}
    for word in words:
        what, mark, column = word.partition("=")
        if not mark:
            raise ColumnError(f"columns: {word[:40]!r}: write it as WHAT=COLUMN, for instance current=3")
        if what not in (*SINGLE, *LISTS):
            raise ColumnError(f"columns: {what[:40]!r} cannot be set; there are {', '.join((*SINGLE, *LISTS))}")
        if what in chosen:
            raise ColumnError(f"columns: {what} is set twice")
        parts = column.split("+") if what in LISTS else [column]
        chosen[what] = tuple(_column(part, sniffed) for part in parts)
    return chosen


def _column(text: str, sniffed: Sniffed) -> int:
    width = max((len(row) for row in sniffed.rows), default=len(sniffed.header))
    if text.isascii() and text.isdigit() and 1 <= int(text) <= width:
        return int(text) - 1
    names = [h.strip() for h in sniffed.header]
    if text.strip() in names:
        return names.index(text.strip())
    there = f"{', '.join(n for n in names if n)}, or " if names else ""
    raise ColumnError(f"columns: there is no column {text[:40]!r}; there are {there}numbers from 1 to {width}")


def set_mapping(path: Path | str, columns: str) -> tuple[Mapping, tuple[str, ...]]:
    """The mapping of a log with the columns set in a text, every assumption in words; the rest is told as always."""
    sniffed = sniff(path)
    chosen = chosen_columns(words_of(columns), sniffed)
    mapping, notes = guess_mapping(sniffed, Path(path).name, chosen=chosen)
    return mapping, (f"set by hand: {columns}", *notes)
