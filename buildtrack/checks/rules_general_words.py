"""What the rules over the record as a whole look at: every reading with its place, and words for lists."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Any

from buildtrack import units
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.model.build import Cell, Entry, Reading
from buildtrack.model.checklist import Column, Item
from buildtrack.model.instruments import ITEM as INSTRUMENTS
from buildtrack.model.instruments import Instrument, instruments, pick, taken_with
from buildtrack.workings.inputs import counting

PASS = Ruling("pass")


@dataclass(frozen=True, slots=True)
class Place:
    """One answer that stands in the record, wherever it stands."""

    item: Item
    column: Column | None
    row: str
    number: int
    """Which of the item's readings; 0 in a table."""
    answer: Reading | Cell
    kind: str
    """Kind of the item or column."""
    dimension: str
    """Dimension of the item or column."""
    metered: bool
    """Whether it is read from an instrument for this very build."""
    quantity: units.Quantity | None
    """What was read; None where it is no number (the item itself shows the refusal)."""

    @property
    def words(self) -> str:
        """How a person finds it."""
        if self.column is None:
            return self.item.label
        return f"{self.row} {self.column.label}"

    @property
    def value(self) -> float | None:
        """Its number in the canonical unit; None where it is none."""
        return self.quantity.value if self.quantity is not None else None


def _quantity(place: Item | Column, text: str) -> units.Quantity | None:
    if place.kind != "reading":
        return None
    try:
        return units.parse(text, place.dimension, place.unit)
    except units.QuantityError:
        return None


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the places of one item, or of one column of a table, have in common."""

    item: Item
    column: Column | None
    metered: bool

    def place(self, row: str, number: int, answer: Reading | Cell) -> Place:
        """One place with its answer."""
        asked = self.column or self.item
        return Place(self.item, self.column, row, number, answer, asked.kind, asked.dimension, self.metered,
                     _quantity(asked, answer.text))


def _asked(item: Item, column: Column | None = None) -> _Asked:
    asked = column or item
    metered = asked.kind == "reading" and asked.reuse == "measure again" and asked.metered
    return _Asked(item, column, metered)


KEPT = "places of items"
"""Where the sheet's memory keeps the places of each item with the entry they were made of (entries never change)."""


BY_READINGS = "by readings"
"""In the memo of a run: the checks that looked at all readings, and whether there was any."""


def places(context: Context) -> tuple[Place, ...]:
    """Every answer that counts of the items that apply, in the order of the checklist."""
    if "places" not in context.memo:
        placed = context.memo["places"] = tuple(_places(context))
        context.memo["any reading"] = any(p.quantity is not None for p in placed)
    found: tuple[Place, ...] = context.memo["places"]
    context.memo.setdefault(BY_READINGS, {})[context.rule.id] = context.memo["any reading"]
    return found


def rests_on_readings(context: Context) -> None:
    """Note that a rule judges readings, which it finds in another way: without any there is nothing to judge."""
    places(context)


def items_placed(context: Context) -> list[Item]:
    """The items whose answers count: those that apply to this build. It rests on readings."""
    rests_on_readings(context)
    states = context.status.items
    return [i for i in context.checklist.all_items() if (s := states.get(i.id)) is not None and s.state != "not needed"]


def _places(context: Context) -> Iterator[Place]:
    states, build, memory = context.status.items, context.build, context.sheet.memory
    for item in context.checklist.all_items():
        state = states.get(item.id)
        if state is not None and state.state != "not needed":
            yield from _kept_places(item, build.entry(item.id), memory)


def _kept_places(item: Item, entry: Entry, memory: dict[str, Any]) -> tuple[Place, ...]:
    """The places of one item; made anew only where its entry is another object."""
    kept: dict[str, tuple[Item, Entry, tuple[Place, ...]]] = memory.setdefault(KEPT, {})
    last = kept.get(item.id)
    if last is None or last[0] is not item or last[1] is not entry:
        last = kept[item.id] = (item, entry, tuple(_places_of(item, entry)))
    return last[2]


def _places_of(item: Item, entry: Entry) -> Iterator[Place]:
    if entry.readings:
        judged = entry.standing if item.kind in ("photo", "file") else counting(item, entry)
        asked = _asked(item)
        for number, reading in enumerate(entry.standing, 1):
            if any(reading is one for one in judged):  # one that another took the place of is held against nobody
                yield asked.place("", number, reading)
    columns = [_asked(item, column) for column in item.columns] if entry.rows else ()
    for row in entry.rows:
        for each in columns:
            cell = row.cells.get(each.column.id) if each.column is not None else None
            if cell is not None and cell.text:
                yield each.place(row.id, 0, cell)


METERS = "instruments by id"
"""Where the sheet's memory keeps them, with the entry they were read from."""


def meters_of(context: Context) -> Mapping[str, Instrument]:
    """The instruments of the build by id; the same object as long as the same are listed."""
    listed_now = context.build.entry(INSTRUMENTS)
    kept: tuple[Entry, Mapping[str, Instrument]] | None = context.sheet.memory.get(METERS)
    if kept is None or kept[0] is not listed_now:
        kept = context.sheet.memory[METERS] = (listed_now, instruments(context.build))
    return kept[1]


def meter_of(place: Place, meters: Mapping[str, Instrument]) -> Instrument | None:
    """The instrument range that a reading was taken with."""
    name = taken_with(place.column or place.item, place.answer)
    return pick(meters, name, place.dimension, place.quantity.value) if name and place.quantity is not None else None


LONGEST = 90
"""Letters of one entry of a list: what a maker typed may be as long as they like."""


def listed(words: Sequence[str], most: int = 6, joint: str = ", ") -> str:
    """Words one after another, not too many and none too long."""
    more = f" and {len(words) - most} more" if len(words) > most else ""
    return joint.join(w if len(w) <= LONGEST else f"{w[: LONGEST - 2].rstrip()} …" for w in words[:most]) + more


def found(words: Sequence[str], **facts: str) -> Ruling:
    """Pass when the list is empty, else fail with the list as {rows} and its length as {count}."""
    if not words:
        return PASS
    return Ruling("fail", {"rows": listed(words), "count": str(len(words)), **facts})


@dataclass(frozen=True, slots=True)
class Times:
    """When the answers of one item were taken, as far as that was noted."""

    entry: Entry
    first: datetime | None
    """When it was first answered; what was taken over is no reading of a moment."""
    latest: datetime | None
    """The latest of the answers that stand."""
    goes_back: bool
    """Whether a later reading bears an earlier time."""
    minutes: tuple[tuple[datetime, int], ...]
    """How many numbers of those that count bear one time, to the minute; none that was taken over."""


TIMES = "times of items"
"""Where the sheet's memory keeps them, by item."""


def times_of(context: Context, item: Item) -> Times:
    """The times of an item; looked for again only where its entry is another object."""
    kept: dict[str, Times] = context.sheet.memory.setdefault(TIMES, {})
    entry, found_times = context.build.entry(item.id), kept.get(item.id)
    if found_times is None or found_times.entry is not entry:
        found_times = kept[item.id] = _times(entry, _kept_places(item, entry, context.sheet.memory))
    return found_times


def _times(entry: Entry, placed: tuple[Place, ...]) -> Times:
    cells = [(c.taken, c.value_class) for row in entry.rows for c in row.cells.values() if c.taken]
    standing = [r.taken for r in entry.standing if r.taken]
    answers = [*((r.taken, r.value_class) for r in entry.readings if r.taken), *cells]
    own = [taken for taken, value_class in answers if value_class != "taken over"]
    minutes: dict[datetime, int] = {}
    for place in placed:
        taken = place.answer.taken
        if place.kind == "reading" and taken is not None and place.answer.value_class != "taken over":
            minute = taken.replace(second=0, microsecond=0)
            minutes[minute] = minutes.get(minute, 0) + 1
    return Times(entry, min(own, default=None), max([*standing, *(t for t, _ in cells)], default=None),
                 any(later < earlier for earlier, later in pairwise(standing)), tuple(minutes.items()))
