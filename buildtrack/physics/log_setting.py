"""What of a log is set by hand: columns, units, the sign of the current; the rest is told as before, all named."""

from __future__ import annotations

import re
import shlex
from collections.abc import Sequence
from pathlib import Path

from buildtrack.physics.log_columns import Chosen, Mapping, guess_mapping
from buildtrack.physics.log_sniff import Sniffed, sniff

SINGLE = ("time", "date", "current", "voltage", "capacity", "energy", "state")
LISTS = ("groups", "temperatures")
LONGEST = 500
"""Longest text of columns that is read."""
POSITIVE = "positive"
"""Which way the current of a file is positive."""
SIGNS = {"discharge": 1, "charge": -1}
QUANTITY_UNITS = {"current": ("a", "ma"), "voltage": ("v", "mv"), "groups": ("v", "mv"), "capacity": ("ah", "mah"),
                  "energy": ("wh", "mwh"), "time": ("s", "ms", "min", "h")}
"""The units that can be set with a column."""
_BEGIN = re.compile(rf"\s+(?=['\"]?(?:{'|'.join((*SINGLE, *LISTS, POSITIVE))})=)")


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


def chosen_columns(words: Sequence[str], sniffed: Sniffed) -> Chosen:
    """What is set by words like current=3, current=3:mA, voltage=U[V], groups=4+5+6, positive=charge."""
    columns: dict[str, tuple[int, ...]] = {}
    units: dict[int, str] = {}
    sign: int | None = None
    for word in words:
        what, mark, column = word.partition("=")
        if not mark:
            raise ColumnError(f"columns: {word[:40]!r}: write it as WHAT=COLUMN, for instance current=3")
        if what == POSITIVE:
            sign = _sign(column, sign)
            continue
        if what not in (*SINGLE, *LISTS):
            there = ", ".join((*SINGLE, *LISTS, POSITIVE))
            raise ColumnError(f"columns: {what[:40]!r} cannot be set; there are {there}")
        if what in columns:
            raise ColumnError(f"columns: {what} is set twice")
        parts = [_column_and_unit(what, part, sniffed) for part in (column.split("+") if what in LISTS else [column])]
        columns[what] = tuple(k for k, _ in parts)
        units |= _units(what, parts)
    return Chosen(columns, units, sign)


def _units(what: str, parts: Sequence[tuple[int, str]]) -> dict[int, str]:
    """Unit by column; of several columns one unit holds for all, and two cannot both be right."""
    named = list(dict.fromkeys(unit for _, unit in parts if unit))
    if len(named) > 1:
        raise ColumnError(f"columns: {what} has one unit, not {' and '.join(named)}")
    return {k: unit for k, _ in parts for unit in named}


def _sign(text: str, before: int | None) -> int:
    if before is not None:
        raise ColumnError(f"columns: {POSITIVE} is set twice")
    if text not in SIGNS:
        raise ColumnError(f"columns: {POSITIVE}={text[:40]}: write {POSITIVE}=discharge or {POSITIVE}=charge")
    return SIGNS[text]


def _column_and_unit(what: str, text: str, sniffed: Sniffed) -> tuple[int, str]:
    """A column by number or name, perhaps with a unit behind a colon; a name may hold colons of its own."""
    name, mark, unit = text.rpartition(":")
    allowed = QUANTITY_UNITS.get(what, ())
    if not mark or text.strip() in [h.strip() for h in sniffed.header]:
        return _column(text, sniffed), ""
    if unit.strip().lower() not in allowed:
        right = f"one of {', '.join(allowed)}" if allowed else "nothing: it has no unit that can be set"
        raise ColumnError(f"columns: {what}={text[:40]}: behind the colon stands a unit, {right}")
    return _column(name, sniffed), unit.strip().lower()


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
