"""A block pasted into a table: which text goes into which field, and what is asked before it does. Knows no screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from buildtrack import units
from buildtrack.bench.entry import told_once, try_column
from buildtrack.bench.pasted_fields import fields_of
from buildtrack.bench.plain import listed
from buildtrack.bench.rows import Placed, new_name
from buildtrack.bench.words import option_label
from buildtrack.model.build import Entry
from buildtrack.model.checklist import Column, Item

Way = Literal["all", "fits", "empty", "along", "leave"]
"""What becomes of a paste: all of it, what has a row, what finds an empty field, all along the row, nothing."""
FIRST_TOLD = 3
"""So many values that would be replaced are named."""


@dataclass(frozen=True, slots=True)
class SharedOut:
    """Pasted texts, field by field."""

    fields: tuple[Placed, ...]
    apart: tuple[Placed, ...] = ()
    """What is unusual or does not fit, with the reason as its note: each waits in its own field."""
    left: tuple[str, ...] = ()
    """What found no field."""
    read_as: tuple[str, ...] = ()
    """What could have meant two numbers, and how each was read."""


def lines_of(text: str) -> list[list[str]]:
    """The lines of a paste, each in its parts; an empty line keeps its place, those at the end are none."""
    return [fields_of(line) for line in text.rstrip().splitlines()]


def share_block(
    text: str, names: Sequence[str], columns: Sequence[Column], row: int, column: int, currency: str = "",
) -> SharedOut:
    """Lines fill the rows from the current one down; tab-separated parts the columns to the right.

    currency: that of the build, where one is said.
    """
    found: list[Placed] = []
    apart: list[Placed] = []
    left: list[str] = []
    read_as: list[str] = []
    for down, line in enumerate(lines_of(text)):
        for across, part in enumerate(line):
            if not part:
                continue
            if row + down >= len(names) or column + across >= len(columns):
                left.append(part)
                continue
            name, place = names[row + down], columns[column + across]
            tried = try_column(place, part, currency)
            wrong = tried.refused or tried.unusual
            (apart if wrong else found).append(Placed(name, place, tried.text, wrong))
            read_as += [tried.read_as] if tried.read_as and not wrong else []
    return SharedOut(tuple(found), tuple(apart), tuple(left), tuple(read_as))


def along(text: str) -> str:
    """The lines of a paste as the fields of one row."""
    return "\t".join(part for line in lines_of(text) for part in line if part)


def lacking(text: str, item: Item, names: Sequence[str], row: int) -> list[str]:
    """Names of the rows that a paste lacks, where the table may get more and the checklist names them."""
    found: list[str] = []
    for _ in range(row + len(lines_of(text)) - len(names)):
        name = "" if item.rows_from else new_name(item, [*names, *found])
        if not name:
            return []
        found.append(name)
    return found


def replaced(fields: Sequence[Placed], entry: Entry) -> list[tuple[Placed, str]]:
    """The fields in which another text stands, with that text."""
    stands = [(f, row.text(f.column.id)) for f in fields if (row := entry.row(f.row)) is not None]
    return [(f, text) for f, text in stands if text and text != f.text]


def only_empty(shared: SharedOut, entry: Entry) -> SharedOut:
    """What of a paste goes into fields in which nothing else stands; the rest finds no field."""
    taken = {(f.row, f.column.id) for f, _ in replaced((*shared.fields, *shared.apart), entry)}

    def free(fields: Sequence[Placed]) -> tuple[Placed, ...]:
        return tuple(f for f in fields if (f.row, f.column.id) not in taken)

    left = [f.text for f in (*shared.fields, *shared.apart) if (f.row, f.column.id) in taken]
    return SharedOut(free(shared.fields), free(shared.apart), (*shared.left, *left), shared.read_as)


@dataclass(frozen=True, slots=True)
class Asked:
    """A question before a paste is put in."""

    title: str
    choices: tuple[tuple[str, str], ...]
    more: str


def question(text: str, item: Item, columns: Sequence[Column], at: tuple[int, int], names: Sequence[str],
             shared: SharedOut, entry: Entry) -> Asked | None:
    """What is asked: where values that stand would be replaced, or rows are lacking; None where all finds its place.

    at: row and column of the current field. shared: what the paste becomes in the rows there are.
    """
    over, new = replaced(shared.fields, entry), lacking(text, item, names, at[0])
    lines = lines_of(text)
    one_row = len(lines) > 1 and all(len(line) == 1 for line in lines) and at[0] + len(lines) > len(names)
    across = one_row and bool(names) and at[1] + len(lines) <= len(columns)
    if not (over or new or across):
        return None
    parts = sum(1 for line in lines for part in line if part)
    told = [over_words(over), _rows_words(lines, names, at[0], new)]
    kept = units.counted(len(over), "value") if over else ""
    adds = f"add {units.counted(len(new), 'row')}" if new else ""
    does = " and ".join(p for p in (adds, f"replace {kept}" if kept else "") if p)
    choices: list[tuple[str, str]] = [("all", f"put it in: {does}")] if does else []
    if new or (across and not does):
        choices.append(("fits", "only into the rows there are" + (f": replace {kept}" if kept else "")))
    if over:
        choices.append(("empty", "only into the empty fields of the rows there are"))
    if across:
        choices.append(("along", f"along the row, from {names[at[0]]} '{columns[at[1]].label}' on"))
    choices.append(("leave", "leave the table as it is"))
    return Asked(f"Put {units.counted(parts, 'pasted value')} in?", tuple(choices), "\n".join(t for t in told if t))


def over_words(over: Sequence[tuple[Placed, str]]) -> str:
    """How many values would be replaced, and the first of them, old and new; empty where there are none."""
    if not over:
        return ""
    lines = [f"{f.row}, {f.column.label}: {_shown(f.column, old)} → {_shown(f.column, f.text)}"
             for f, old in over[:FIRST_TOLD]]
    more = [f"and {len(over) - FIRST_TOLD} more"] if len(over) > FIRST_TOLD else []
    verb = "stands and would be" if len(over) == 1 else "stand and would be"
    return "\n".join([f"{units.counted(len(over), 'value')} {verb} replaced:", *lines, *more])


def _shown(column: Column, text: str) -> str:
    return option_label(column.options, text) if column.kind == "choice" else units.clip(text)


def _rows_words(lines: Sequence[Sequence[str]], names: Sequence[str], row: int, new: Sequence[str]) -> str:
    there = len(names) - row
    if len(lines) <= there:
        return ""
    down = f" from {names[row]} down" if names else ""
    said = f"{units.counted(len(lines), 'line')}, but {units.counted(there, 'row')}{down}."
    last = f" to {new[-1]}" if len(new) > 1 else ""
    return f"{said} New: {new[0]}{last}." if new else said


def pasted_text(shared: SharedOut) -> str:
    """What became of a paste: how much was filled, what waits in its field and why, what found none."""
    number = len(shared.fields)
    told = " ".join(p for p in (f"{units.counted(number, 'pasted field')} filled.", told_once(shared.read_as)) if p)
    if shared.apart:
        first = shared.apart[0]
        others = f" {len(shared.apart) - 1} more wait in theirs." if len(shared.apart) > 1 else ""
        told += f" {first.row}: {first.note}. It waits in its field, Enter asks.{others}"
    if shared.left:
        kept = listed([*shared.left], 4)
        told += f" Not taken: {kept} (there is no further field for it)."
    return told
