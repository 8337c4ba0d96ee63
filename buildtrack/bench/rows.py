"""The rows of a table item: what is shown, what a new row is called, what an edit does. Knows no screen."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from buildtrack import units
from buildtrack.bench.desk import Desk
from buildtrack.bench.plain import listed, plain
from buildtrack.bench.widgets.grid import GridColumn, GridRow
from buildtrack.bench.words import option_label, unit_text
from buildtrack.model.build import Build, Cell, Entry, Row
from buildtrack.model.checklist import Column, Item, Option
from buildtrack.model.edit import Hand, add_row, set_cell
from buildtrack.model.instruments import meter_column, meters_of_rows
from buildtrack.workings.asked import visible_columns, wanted_rows
from buildtrack.workings.cells_facts import AGAINST_WORDS
from buildtrack.workings.cells_report import CellReport
from buildtrack.workings.inputs import column_misfit, outside, parse_date
from buildtrack.workings.values import Known

FILLED_IN = "today, filled in with the new row"
"""Stands beside a date that the program filled in."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A text for one field."""

    row: str
    column: Column
    text: str
    note: str = ""


def columns_of(item: Item, desk: Desk) -> tuple[Column, ...]:
    """The columns that apply to this build; one that names the meter of a row offers those of the list."""
    found = visible_columns(item, desk.build, desk.judged.assessment.sheet)
    meters, names = meters_of_rows(item, desk.build), meter_column(item)
    if names is None or not meters:
        return found
    offered = replace(names, kind="choice", options=tuple(Option(name, name) for name in meters))
    return tuple(offered if c.id == names.id else c for c in found)


def row_names(item: Item, desk: Desk) -> list[str]:
    """Rows there are, and those that are to be."""
    have = [r.id for r in desk.build.entry(item.id).rows]
    wanted = wanted_rows(item, desk.judged.assessment.sheet)
    return [*(n for n in wanted), *(n for n in have if n not in wanted)] if wanted else have


def new_name(item: Item, names: Sequence[str]) -> str:
    """Name of the next row; empty where the checklist names none."""
    if not item.row_prefix:
        return ""
    taken = set(names)
    number = max(item.first_row, 1 if item.first_row else 0)
    padded = any(n.startswith(f"{item.row_prefix}0") and len(n) > len(item.row_prefix) + 1 for n in taken) or (
        item.row_prefix == "c" and not taken
    )
    while True:
        name = f"{item.row_prefix}{number:02d}" if padded else f"{item.row_prefix}{number}"
        if name not in taken:
            return name
        number += 1


def _head(column: Column, unit: str) -> str:
    """The short head of a column; the unit, which stands beneath it, is not said twice."""
    head = plain(column.head or column.label)
    return head.removesuffix(f" {unit}") if unit else head


def grid_columns(columns: Sequence[Column], desk: Desk) -> tuple[GridColumn, ...]:
    """Columns for the screen."""
    return tuple(
        GridColumn(
            id=c.id,
            head=(head := _head(c, unit := unit_text(c.unit, desk))),
            unit=unit if head != unit else "",
            right=c.kind == "reading",
            most=24 if c.kind == "text" else 14,
        )
        for c in columns
    )


def grid_rows(item: Item, desk: Desk, columns: Sequence[Column], names: Sequence[str]) -> tuple[GridRow, ...]:
    """Rows for the screen; what was typed and is not taken yet stands in its field."""
    entry = desk.build.entry(item.id)
    drafts = {(n, c.id): text for n in names for c in columns if (text := desk.drafts.of((item.id, n, c.id)))}
    against = spoken_against(desk, item)
    warned = {*against, *(r.id for r in entry.rows if lacks_date(item, r))}
    return tuple(_grid_row(item, entry.row(name) or Row(name), columns, drafts, name in warned) for name in names)


def spoken_against(desk: Desk, item: Item) -> dict[str, str]:
    """What speaks against the candidate cells that are not rejected, by row."""
    report = desk.judged.assessment.sheet.value("cell_report") if item.id == "candidates" else None
    if not (isinstance(report, Known) and isinstance(report.value, CellReport)):
        return {}
    return {c.id: ", ".join(AGAINST_WORDS[each] for each in c.against)
            for c in report.value.cells if c.against and c.decision != "reject"}


def goes_down(item: Item, columns: Sequence[Column]) -> bool:
    """Whether Enter goes down the column: where a column is one moment, or at most two columns are no words."""
    return item.moments or len([c for c in columns if c.kind != "text"]) <= 2


def moment_at(empty: Sequence[Sequence[bool]]) -> tuple[int, int] | None:
    """The first empty field of the moment that is being read, which a column each is; None where nothing is empty.

    That is the last column in which anything stands, the next one once it is full; what was missed comes last.
    """
    width = len(empty[0]) if empty else 0
    begun = [c for c in range(width) if not all(row[c] for row in empty)]
    return (next_empty(empty, (-1, begun[-1]), True) if begun else None) or next_empty(empty, (-1, 0), True)


def next_empty(empty: Sequence[Sequence[bool]], at: tuple[int, int], down: bool) -> tuple[int, int] | None:
    """The next empty field after the one at row and column, along the rows or down the columns; None at the end.

    empty: whether a field is empty, by row and column.
    """
    width = len(empty[0]) if empty else 0
    places = ((r, c) for c in range(width) for r in range(len(empty))) if down else (
        (r, c) for r in range(len(empty)) for c in range(width))
    after = (p for p in places if (p[::-1] > at[::-1] if down else p > at))
    return next((p for p in after if empty[p[0]][p[1]]), None)


def first_to_fill(
    empty: Sequence[Sequence[bool]], required: Sequence[bool], last: Sequence[int], down: bool
) -> tuple[int, int] | None:
    """The field to begin at, by row and column; None where nothing is empty.

    That is in the first row that lacks what must be there: its first empty field behind what was entered last in it,
    else the one that must be there. empty: by row and column. required: by column. last: by row, the last column in
    which something was entered; -1 where nothing was.
    """
    must = [[e and r for e, r in zip(row, required, strict=True)] for row in empty]
    found = next_empty(must, (-1, -1), False)
    if found is None:
        return next_empty(empty, (-1, -1), down)
    number = found[0]
    behind = next((c for c, e in enumerate(empty[number]) if e and c > last[number]), found[1])
    return number, behind


def last_entered(row: Row | None, columns: Sequence[Column]) -> int:
    """The last column of a row in which somebody entered something; -1 where nobody did."""
    cells = [row.cells.get(c.id) for c in columns] if row is not None else []
    entered = [n for n, cell in enumerate(cells) if cell is not None and cell.text and not is_taken_over(cell)]
    return entered[-1] if entered else -1


def is_taken_over(cell: Cell | None) -> bool:
    """Whether a field holds a text that nobody entered here: what is usual, or that of a past build."""
    return cell is not None and bool(cell.text) and cell.value_class == "taken over"


def passed_over(row: Row | None, columns: Sequence[Column], at: int) -> str:
    """What is said where the fields of a row before the one at `at` are filled already; empty where they are not."""
    before = columns[:at]
    if row is None or not before or not all(is_taken_over(row.cells.get(c.id)) for c in before):
        return ""
    names = listed([f"'{c.label}'" for c in before], 3)
    return f"{plain(names)} {'is' if at == 1 else 'are'} filled in already, from what is usual or past: ← goes there."


def _grid_row(item: Item, row: Row, columns: Sequence[Column], drafts: Mapping[tuple[str, str], str],
              warned: bool) -> GridRow:
    cells = tuple(
        (f"› {drafts[row.id, c.id]}", "accent") if (row.id, c.id) in drafts else _cell(item, c, row)
        for c in columns
    )
    rejected = row.text("decision") == "reject"
    lacking = any(c.required and not row.text(c.id) for c in columns)
    bad = any(look == "bad" for _, look in cells)
    sign, look = (
        ("✗", "bad")
        if bad
        else ("–", "muted")
        if rejected
        else ("▲", "warn")
        if warned
        else ("·", "muted")
        if lacking or not row.cells
        else ("✓", "good")
    )
    if rejected:
        cells = tuple((text, "muted") for text, _ in cells)
    return GridRow(row.id, sign, look, cells)


def _cell(item: Item, column: Column, row: Row) -> tuple[str, str]:
    cell = row.cells.get(column.id)
    if cell is None or not cell.text:
        return "", "muted"
    shown = in_words(item, column, row)
    if column_misfit(column, cell.text):
        return shown, "bad"
    if column.kind == "reading" and not cell.note:
        value = units.parse(cell.text, column.dimension, column.unit).value
        if outside(column.plausible, value, column.unit, "is unusual"):
            return f"▲{shown}", "warn"
    return shown, "plain"


_TYPED = re.compile(r"([+−-]?\d+)(?:([.,])(\d+))?(\s*(?!e[+-]?\d)[A-Za-z%°µμΩ€$£].*)?", re.ASCII)


def shown_in_column(text: str, column: Column) -> str:
    """A field as it is shown under its head: numbers of a column in one form, whatever way they were typed.

    The decimal mark is a point, and the unit of the column stands in its head alone; no digit is added or dropped.
    """
    if column.kind == "choice":
        return option_label(column.options, text)
    if column.kind == "date":
        try:
            return parse_date(text).isoformat()
        except ValueError:
            return text  # marked as not fitting
    found = _TYPED.fullmatch(text.strip()) if column.kind == "reading" else None
    if found is None or (found[2] == "," and len(found[3]) == 3):
        return text  # a comma and three digits may be thousands: told as typed
    number = found[1] + (f".{found[3]}" if found[3] else "")
    tail = found[4] or ""
    return number if column.unit and tail.strip() == column.unit else number + tail


def in_words(item: Item, column: Column, row: Row | None) -> str:
    """A field as it is shown; what is said of an instrument without a unit stands with that in which it is taken."""
    text = row.text(column.id) if row is not None else ""
    if row is None or item.role != "instruments" or column.id not in ("range", "resolution"):
        return shown_in_column(text, column)
    quantity = row.text("quantity")
    unit = units.parse("1", quantity).unit.show if quantity in units.dimensions() else ""
    return f"{text.strip()} {unit}" if unit and units.unit_taken(text, unit) == unit else text


def sort_key(column: Column, row: Row | None) -> tuple[int, float, str]:
    """What rows are sorted by: numbers, days, words; empty last."""
    text = row.text(column.id) if row else ""
    if not text:
        return (2, 0.0, "")
    try:
        if column.kind == "reading":
            return (0, units.parse(text, column.dimension, column.unit).value, "")
        if column.kind == "date":
            return (0, float(parse_date(text).toordinal()), "")
    except ValueError:
        return (1, 0.0, text)  # shown as not fitting; sorted behind the numbers
    return (1, 0.0, text.casefold())


def fill(
    build: Build, item: Item, fields: Sequence[Placed], meter_of: Callable[[Column, str], str], at: datetime, hand: Hand
) -> Build:
    """Enter several fields, adding rows that are not there yet; one edit, so that one undo takes it back.

    meter_of: the instrument that a text in a column is taken with.
    """
    for field in fields:
        if build.entry(item.id).row(field.row) is None:
            build = with_row(build, item, field.row, hand)
        row = build.entry(item.id).row(field.row)
        meter = meter_of(field.column, field.text) if field.column.kind == "reading" else ""
        if meter_column(item) is not None and field.column.kind == "reading" and row is not None:
            meter = row.text("meter") or meter
        cell = Cell(field.text, at, meter, "measured", field.note)
        before = row.cells.get(field.column.id) if row is not None else None
        if before is not None and replace(before, taken=at) == cell:
            continue  # the same once more: the first reading keeps its time, and nothing was changed
        build = set_cell(build, item, field.row, field.column.id, cell, hand, field.note)
    return build


def with_begun_row(build: Build, item: Item, name: str, hand: Hand) -> Build:
    """Add a row that a person begins now: where its rows are dated events, it is dated today."""
    build = with_row(build, item, name, hand)
    if item.dated_by is None:
        return build
    today = Cell(hand.at.astimezone().date().isoformat(), hand.at, note=FILLED_IN)
    return set_cell(build, item, name, item.dated_by.id, today, hand, FILLED_IN)


def lacks_date(item: Item, row: Row | None) -> bool:
    """Whether a row of dated events holds a reading, and no date."""
    if item.dated_by is None or row is None or row.text(item.dated_by.id):
        return False
    return any(row.text(c.id) for c in item.columns if c.kind == "reading")


def first_changed(before: Entry, after: Entry) -> tuple[str, str]:
    """Row and column of the first field in which two states of a table differ; both empty where none does."""
    for name in dict.fromkeys(r.id for r in (*before.rows, *after.rows)):
        old, new = (e.row(name) or Row(name) for e in (before, after))
        column = next((c for c in {**old.cells, **new.cells} if old.cells.get(c) != new.cells.get(c)), "")
        if column:
            return name, column
    return "", ""


def with_row(build: Build, item: Item, name: str, hand: Hand) -> Build:
    """Add a row with the defaults of its columns."""
    build = add_row(build, item, name, hand)
    for column in item.columns:
        if column.default:
            build = set_cell(
                build, item, name, column.id, Cell(column.default, hand.at, value_class="taken over"), hand
            )
    return build
