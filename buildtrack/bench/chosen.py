"""Which instruments were chosen by key, and which one the next reading is taken with. Knows no screen."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # what is known of a build is loaded after the first frame
    from buildtrack.bench.desk import Desk
    from buildtrack.model.checklist import Column, Item


@dataclass(slots=True)
class Chosen:
    """The instruments chosen since the program was started; an empty name says that none is to be named."""

    in_step: dict[tuple[str, str], str] = field(default_factory=dict)
    """By step and quantity: it counts in that step wherever it fits."""
    here: dict[tuple[str, str], str] = field(default_factory=dict)
    """By item and column (empty for a simple item): there nobody asks whether it fits."""

    def choose(self, item: Item, column: Column | None, name: str) -> None:
        """Take over what was chosen at an item or a column."""
        self.in_step[item.step, (column or item).dimension] = name
        self.here[item.id, column.id if column else ""] = name

    def at(self, item: Item, column: Column | None) -> str | None:
        """What was chosen just there, else for the quantity in the step; None where nobody chose."""
        named = self.here.get((item.id, column.id if column else ""))
        return self.in_step.get((item.step, (column or item).dimension)) if named is None else named

    def instrument_for(self, desk: Desk, item: Item, column: Column | None, text: str = "") -> str:
        """The instrument a reading is taken with, empty for none; text: the reading, empty before it is typed."""
        from buildtrack.bench.meters import by_itself
        from buildtrack.bench.words import last_instrument

        place = column or item
        step = desk.checklist.step(item.step)
        if place.kind != "reading" or not place.metered or step is None:
            return ""
        here = self.here.get((item.id, column.id if column else ""))
        if here is not None:
            return here
        chosen = self.in_step.get((item.step, place.dimension))
        if chosen == "":
            return ""
        return by_itself(desk.build, place, (chosen or "", last_instrument(desk, step, place.dimension)), text)

    def is_unnamed(self, desk: Desk, item: Item, column: Column | None) -> bool:
        """Whether instruments for a place are listed, none fits by itself, and nobody said that none is to be named."""
        from buildtrack.bench.meters import listed_for

        if not listed_for(desk.build, column or item) or self.at(item, column) == "":
            return False
        return not self.instrument_for(desk, item, column)
