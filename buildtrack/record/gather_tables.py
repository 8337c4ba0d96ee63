"""Table items as grids that fit the page: wide ones broken into blocks, ±, instrument and time told per column."""

from __future__ import annotations

from buildtrack import units
from buildtrack.judging import Judged
from buildtrack.model.build import Cell, Entry
from buildtrack.model.checklist import Column, Item
from buildtrack.model.instruments import taken_with
from buildtrack.record.gather_values import shown_unit
from buildtrack.record.gridding import blocks, column_width, grid
from buildtrack.record.pages import CLASS_MARKS, Grid
from buildtrack.record.shorten import WHERE
from buildtrack.record.text import day, line, stretch, tied
from buildtrack.workings.asked import visible_columns
from buildtrack.workings.values import Known, Table

MOST_NOTES = 40
"""So many notes of one table are printed."""


def _most_common(values: list[str]) -> str:
    return max(dict.fromkeys(values), key=values.count) if values else ""


def _cell_text(column: Column, cell: Cell | None, usual_meter: str) -> str:
    if cell is None or not cell.text:
        return ""
    text = tied(line(cell.text, 300))
    if column.kind == "choice":
        text = next((o.label for o in column.options if o.id == cell.text), line(cell.text, 300))
    if cell.value_class != "measured" and column.kind == "reading":
        text = f"{CLASS_MARKS.get(cell.value_class, '')} {text}".strip()
    meter = taken_with(column, cell)
    return f"{text} [{line(meter, 40)}]" if meter and meter != usual_meter else text


def _spread_text(item: Item, column: Column, judged: Judged) -> str:
    value = judged.assessment.sheet.value(item.id)
    if column.kind != "reading" or not isinstance(value, Known) or not isinstance(value.value, Table):
        return ""
    limits = [sum(c * c for c in s.values()) ** 0.5 for row in value.value if (s := row.spreads.get(column.id))]
    shown = {units.significant(units.in_unit(v, column.unit), 2): v for v in limits}
    if not shown:
        return ""
    low, high = min(shown, key=float), max(shown, key=float)
    return f"{low}" if low == high else f"{low}–{high}"


def _head(column: Column, judged: Judged) -> str:
    name = line(column.head or column.label)
    if column.kind != "reading" or not column.unit or column.unit in name.split():
        return name
    return f"{name} [{shown_unit(judged, column.unit)}]"


def _grouped(columns: list[Column], told: list[str], words: str) -> str:
    """What holds for which columns, in one sentence: with m1: start, end; with m2: current."""
    groups: dict[str, list[str]] = {}
    for column, what in zip(columns, told, strict=True):
        if what:
            groups.setdefault(what, []).append(line(column.head or column.label))
    if len(groups) == 1 and all(told):
        return f"{words} {next(iter(groups))}."
    listed = "; ".join(f"{what}: {', '.join(names)}" for what, names in groups.items())
    return f"{words} {listed}." if listed else ""


def _circumstances(columns: list[Column], entry: Entry, meters: dict[str, str]) -> tuple[str, ...]:
    """With which instrument and when the columns were read."""
    numeric = [c for c in columns if c.kind == "reading"]
    used = _grouped(numeric, [line(meters[c.id], 40) for c in numeric], "Read with")
    return tuple(s for s in (used, _entered(columns, entry)) if s)


def _entered(columns: list[Column], entry: Entry) -> str:
    """When: to the minute where all was entered on one day, else the days, column by column where they differ."""
    times = {c.id: [at for row in entry.rows if (cell := row.cells.get(c.id)) and (at := cell.taken)] for c in columns}
    every = [at for column in times.values() for at in column]
    if len({day(at) for at in every}) == 1:
        return f"Entered {stretch(every)}."
    return _grouped(columns, [" to ".join(dict.fromkeys((day(min(t)), day(max(t))))) if t else ""
                              for t in times.values()], "Entered")


def _notes(item: Item, entry: Entry, empty: list[Column], rows_left: int) -> tuple[str, ...]:
    found = [f"{row.id}, {line(column.label)}: {line(cell.note)}." for row in entry.rows for column in item.columns
             if (cell := row.cells.get(column.id)) and cell.note]
    if len(found) > MOST_NOTES:
        found[MOST_NOTES:] = [f"{len(found) - MOST_NOTES} more notes are in {WHERE}."]
    if rows_left:
        found.insert(0, f"{rows_left} more rows are in {WHERE}.")
    if empty:
        found.append("Nothing entered in: " + ", ".join(line(c.label) for c in empty) + ".")
    return tuple(found)


def grids(judged: Judged, item: Item, rows_left: int = 0) -> tuple[Grid, ...]:
    """A table item as one grid, or several where it is wider than the page; none where nothing was entered."""
    entry = judged.build.entry(item.id)
    if not entry.rows:
        return ()
    visible = visible_columns(item, judged.build, judged.assessment.sheet)
    columns = [c for c in item.columns if any(row.text(c.id) for row in entry.rows)]
    empty = [c for c in visible if c not in columns]
    meters = {c.id: _most_common([taken_with(c, row.cells[c.id]) for row in entry.rows if c.id in row.cells])
              for c in columns}
    head = (line(item.row_name), *(_head(c, judged) for c in columns))
    rows = tuple((line(row.id, 40), *(_cell_text(c, row.cells.get(c.id), meters[c.id]) for c in columns))
                 for row in entry.rows)
    spreads = tuple(_spread_text(item, c, judged) for c in columns)
    feet = (("±", *spreads),) if any(spreads) else ()
    notes = (*_circumstances(columns, entry, meters), *_notes(item, entry, empty, rows_left))
    widths = [column_width(head[k], tuple(r[k] for r in (*rows, *feet))) for k in range(len(head))]
    return tuple(_block(item, head, rows, feet, run, number, notes)
                 for number, run in enumerate(blocks(widths)))


def _block(item: Item, head: tuple[str, ...], rows: tuple[tuple[str, ...], ...], feet: tuple[tuple[str, ...], ...],
           run: range, number: int, notes: tuple[str, ...]) -> Grid:
    chosen = [0, *run]

    def cut(lines: tuple[tuple[str, ...], ...]) -> tuple[tuple[str, ...], ...]:
        return tuple(tuple(cells[k] for k in chosen) for cells in lines)

    last = run.stop == len(head)
    title = line(item.label) + (", continued" if number else "")
    kept = tuple(f for f in cut(feet) if any(f[1:]))
    return grid(title, tuple(head[k] for k in chosen), cut(rows), kept, notes if last else ())
