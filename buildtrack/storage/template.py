"""Starting a build: empty, or with the design of a past one carried over and every measurement asked for again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime

from buildtrack.model.build import Build, Cell, ChecklistRef, Entry, Event, Origin, Reading, Row
from buildtrack.model.checklist import Checklist, Column, Item, Option

TAKEN_OVER = "taken over"
DONE_THERE = frozenset(("thermal_sensor", "alarm_switched_off", "old_terminals", "parts_kept", "housing_obstacles",
                        "series_resistor_fitted"))
"""Items that say what was done to or seen of the past thing, whatever a checklist carries: never done of this one."""


def start_new(checklist: Checklist, title: str, maker: str, at: datetime, id: str) -> Build:
    """An empty build for a checklist."""
    ref = ChecklistRef(checklist.id, checklist.version, checklist.sha256)
    started = Event(at=at, what="started", after=title, by=maker)
    return Build(id=id, title=title, checklist=ref, created=at, maker=maker, history=(started,))


def start_from(past: Build, past_hash: str, checklist: Checklist, title: str, at: datetime, id: str,
               maker: str = "") -> Build:
    """A build that begins with the design of a past one.

    What the checklist carries is taken over, and marked so; what is to be confirmed or measured again becomes an
    expectation. Verdict, waivers, policy, reviews, photos, files, reasons and history stay behind.
    past_hash: SHA-256 of the past file. Where it lies is not recorded: the new file is meant to be handed on.
    """
    entries: dict[str, Entry] = {}
    for item in checklist.all_items():
        entry = past.entries.get(item.id)
        begun = _begun(item, entry, at) if entry is not None else Entry()
        if begun != Entry():
            entries[item.id] = begun
    started = Event(at=at, what="started from a past build", before=past.title, after=title, by=maker)
    ref = ChecklistRef(checklist.id, checklist.version, checklist.sha256)
    return Build(id=id, title=title, checklist=ref, created=at, maker=maker, currency=past.currency, entries=entries,
                 history=(started,), origin=Origin(past.title, past.id, past_hash))


def _begun(item: Item, entry: Entry, at: datetime) -> Entry:
    if item.kind in {"photo", "file"}:
        return Entry()
    return _begun_table(item, entry, at) if item.kind == "table" else _begun_reading(item, entry, at)


def _fits(options: tuple[Option, ...], text: str) -> bool:
    """Whether a choice of the past is still one."""
    return not options or text in {option.id for option in options}


def _begun_reading(item: Item, entry: Entry, at: datetime) -> Entry:
    standing = [r for r in entry.standing if r.text and _fits(item.options, r.text)]
    if not standing:
        return Entry()
    last = standing[-1]
    if item.reuse == "carry" and item.id not in DONE_THERE:
        return Entry(readings=(Reading(last.text, at, value_class=TAKEN_OVER),))
    return Entry(expected=last.text)


def _is_carried(item: Item, column: Column) -> bool:
    """A column is carried where it says so, or where its table does and it does not ask to be confirmed.

    Never of instruments: whoever builds next reads with other ones, and their limits of error are others.
    """
    if item.role == "instruments":
        return False
    return column.reuse == "carry" or (item.reuse == "carry" and column.reuse != "confirm")


def _rows(entry: Entry, columns: Mapping[str, Column], make: Callable[[Cell], Cell]) -> tuple[Row, ...]:
    found: list[Row] = []
    for row in entry.rows:
        cells = {name: make(row.cells[name]) for name, column in columns.items()
                 if row.text(name) and _fits(column.options, row.text(name))}
        if cells:
            found.append(Row(row.id, cells))
    return tuple(found)


def _begun_table(item: Item, entry: Entry, at: datetime) -> Entry:
    carried = {c.id: c for c in item.columns if _is_carried(item, c)}
    others = {c.id: c for c in item.columns if c.id not in carried}
    return Entry(rows=_rows(entry, carried, lambda cell: Cell(cell.text, at, value_class=TAKEN_OVER)),
                 expected_rows=_rows(entry, others, lambda cell: Cell(cell.text)))
