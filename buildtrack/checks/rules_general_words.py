"""What the rules over the record as a whole look at: every reading with its place, and words for lists."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from buildtrack import units
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.model.build import Cell, Entry, Reading
from buildtrack.model.checklist import Column, Item
from buildtrack.model.instruments import Instrument, instruments, pick
from buildtrack.workings.inputs import counting

PASS = Ruling("pass")
PRINTED = ("rated", "limit", "range", "min_", "end_voltage", "capacity_current", "dc_current", "price", "tester_stop")
"""Parts of the names of columns that hold what was set or printed."""


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
    printed: bool
    """Whether it is set, printed or taken from a sheet rather than read from an instrument."""
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


@lru_cache(maxsize=2048)
def _printed(name: str) -> bool:
    return any(part in name for part in PRINTED)


def _place(item: Item, column: Column | None, row: str, number: int, answer: Reading | Cell) -> Place:
    asked = column or item
    printed = _printed(asked.id)
    metered = asked.kind == "reading" and asked.reuse == "measure again" and not printed
    return Place(item, column, row, number, answer, asked.kind, asked.dimension, printed, metered,
                 _quantity(asked, answer.text))


KEPT = "places of items"
"""Where the sheet's memory keeps the places of each item with the entry they were made of (entries never change)."""


BY_READINGS = "by readings"
"""In the memo of a run: the checks that looked at all readings, and whether there was any."""


def places(context: Context) -> tuple[Place, ...]:
    """Every answer that counts of the items that apply, in the order of the checklist."""
    if "places" not in context.memo:
        context.memo["places"] = tuple(_places(context))
    found: tuple[Place, ...] = context.memo["places"]
    context.memo.setdefault(BY_READINGS, {})[context.rule.id] = any(p.quantity is not None for p in found)
    return found


def rests_on_readings(context: Context) -> None:
    """Note that a rule judges readings, which it finds in another way: without any there is nothing to judge."""
    places(context)


def _places(context: Context) -> Iterator[Place]:
    kept: dict[str, tuple[Item, Entry, tuple[Place, ...]]] = context.sheet.memory.setdefault(KEPT, {})
    for item in context.checklist.all_items():
        state = context.status.items.get(item.id)
        if state is None or state.state == "not needed":
            continue
        entry, last = context.build.entry(item.id), kept.get(item.id)
        if last is None or last[0] is not item or last[1] is not entry:
            last = kept[item.id] = (item, entry, tuple(_places_of(item, entry)))
        yield from last[2]


def _places_of(item: Item, entry: Entry) -> Iterator[Place]:
    judged = entry.standing if item.kind in ("photo", "file") else counting(item, entry)
    for number, reading in enumerate(entry.standing, 1):
        if any(reading is one for one in judged):  # one that another took the place of is held against nobody
            yield _place(item, None, "", number, reading)
    for row in entry.rows:
        for column in item.columns:
            cell = row.cells.get(column.id)
            if cell is not None and cell.text:
                yield _place(item, column, row.id, 0, cell)


def meters_of(context: Context) -> Mapping[str, Instrument]:
    """The instruments of the build by id."""
    if "meters" not in context.memo:
        context.memo["meters"] = instruments(context.build)
    found: Mapping[str, Instrument] = context.memo["meters"]
    return found


def meter_of(place: Place, meters: Mapping[str, Instrument]) -> Instrument | None:
    """The instrument range that a reading was taken with."""
    if place.quantity is None or not place.answer.instrument:
        return None
    return pick(meters, place.answer.instrument, place.dimension, place.quantity.value)


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


def first_taken(context: Context, item: Item) -> datetime | None:
    """When an item was first answered, as far as times were noted; what was taken over is no reading of a moment."""
    entry = context.build.entry(item.id)
    times = [r.taken for r in entry.readings if r.taken and r.value_class != "taken over"]
    times += [c.taken for row in entry.rows for c in row.cells.values() if c.taken and c.value_class != "taken over"]
    return min(times, default=None)
