"""What the rules over the record as a whole look at: every reading with its place, and words for lists."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from buildtrack import units
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.model.build import Cell, Reading
from buildtrack.model.checklist import Column, Item
from buildtrack.model.instruments import Instrument, pick

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

    @property
    def kind(self) -> str:
        """Kind of the item or column."""
        return self.column.kind if self.column else self.item.kind

    @property
    def dimension(self) -> str:
        """Dimension of the item or column."""
        return self.column.dimension if self.column else self.item.dimension

    @property
    def unit(self) -> str:
        """Unit a plain number is taken in."""
        return self.column.unit if self.column else self.item.unit

    @property
    def reuse(self) -> str:
        """Whether another build may take it over."""
        return self.column.reuse if self.column else self.item.reuse

    @property
    def printed(self) -> bool:
        """Whether it is set, printed or taken from a sheet rather than read from an instrument."""
        name = self.column.id if self.column else self.item.id
        return any(part in name for part in PRINTED)

    @property
    def metered(self) -> bool:
        """Whether it is read from an instrument for this very build."""
        return self.kind == "reading" and self.reuse == "measure again" and not self.printed

    @property
    def words(self) -> str:
        """How a person finds it."""
        if self.column is None:
            return self.item.label
        return f"{self.row} {self.column.label}"

    @property
    def value(self) -> float | None:
        """Its number in the canonical unit; None where it is none."""
        if self.kind != "reading":
            return None
        try:
            return units.parse(self.answer.text, self.dimension, self.unit).value
        except units.QuantityError:
            return None  # the item itself shows the refusal


def places(context: Context) -> tuple[Place, ...]:
    """Every standing answer of the items that apply, in the order of the checklist."""
    if "places" not in context.memo:
        context.memo["places"] = tuple(_places(context))
    found: tuple[Place, ...] = context.memo["places"]
    return found


def _places(context: Context) -> Iterator[Place]:
    for item in context.checklist.all_items():
        state = context.status.items.get(item.id)
        if state is None or state.state == "not needed":
            continue
        entry = context.build.entry(item.id)
        for number, reading in enumerate(entry.standing, 1):
            yield Place(item, None, "", number, reading)
        for row in entry.rows:
            for column in item.columns:
                cell = row.cells.get(column.id)
                if cell is not None and cell.text:
                    yield Place(item, column, row.id, 0, cell)


def meter_of(place: Place, meters: Mapping[str, Instrument]) -> Instrument | None:
    """The instrument range that a reading was taken with."""
    value = place.value
    if value is None or not place.answer.instrument:
        return None
    return pick(meters, place.answer.instrument, place.dimension, value)


def listed(words: Sequence[str], most: int = 6) -> str:
    """Words one after another, not too many."""
    more = f" and {len(words) - most} more" if len(words) > most else ""
    return ", ".join(words[:most]) + more


def found(words: Sequence[str], **facts: str) -> Ruling:
    """Pass when the list is empty, else fail with the list as {rows} and its length as {count}."""
    if not words:
        return PASS
    return Ruling("fail", {"rows": listed(words), "count": str(len(words)), **facts})


def first_taken(context: Context, item: Item) -> datetime | None:
    """When an item was first answered, as far as times were noted."""
    entry = context.build.entry(item.id)
    times = [r.taken for r in entry.readings if r.taken]
    times += [c.taken for row in entry.rows for c in row.cells.values() if c.taken]
    return min(times, default=None)
