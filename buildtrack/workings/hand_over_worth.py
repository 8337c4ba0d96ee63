"""Whether the work paid: money per watt-hour against the other ways of getting one."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics import worth


@dataclass(frozen=True, slots=True)
class Way:
    """One way of having a working tool again."""

    name: str
    cost: float
    energy_wh: float | None

    @property
    def per_wh(self) -> float | None:
        """Money per watt-hour; None where the energy is not known or nothing was paid in earnest (below 0)."""
        known = self.energy_wh is not None and self.energy_wh > 0 and self.cost >= 0
        return worth.cost_per_wh(self.cost, self.energy_wh or 0.0) if known else None


@dataclass(frozen=True, slots=True)
class WorthReport:
    """The rebuilt pack beside what could have been bought."""

    ways: tuple[Way, ...]
    per_year: float | None
    hour_value: float | None
    """Value of an hour of work above which the cheapest bought way is cheaper."""
    against: str

    @property
    def summary(self) -> str:
        """The whole in one line."""
        own = self.ways[0]
        told = f"{own.cost:.2f} in all"
        if own.per_wh is not None:
            told += f", {own.per_wh:.2f} per Wh measured"
        if self.per_year is not None:
            told += f", {self.per_year:.2f} a year"
        if self.hour_value is not None:
            told += f"; {self._hours()}"
        return told

    def _hours(self) -> str:
        value = self.hour_value or 0.0
        if value <= 0:
            return f"the {self.against} would have been cheaper whatever an hour is worth"
        return f"cheaper than the {self.against} as long as an hour of work counts less than {value:.2f}"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("way", "cost", "energy", "cost per Wh")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per way."""
        return tuple((w.name, f"{w.cost:.2f}", "-" if not w.energy_wh else units.show(w.energy_wh, "Wh", digits=3),
                      "-" if w.per_wh is None else f"{w.per_wh:.2f}") for w in self.ways)


def worth_report(total_cost: float, delivered_energy: float | None = None, old_energy: float | None = None,
                 new_pack_price: float | None = None, copy_pack_price: float | None = None,
                 new_tool_price: float | None = None, hours: float | None = None, expected_years: float = 3.0,
                 ) -> WorthReport:
    """The rebuilt pack's cost per measured watt-hour and per year beside a new, a copied pack and a new tool."""
    ways = [Way("rebuilt pack", total_cost, delivered_energy)]
    bought = (("new original pack", new_pack_price, old_energy), ("copy of the pack", copy_pack_price, old_energy),
              ("new tool with pack", new_tool_price, None))
    ways += [Way(name, price, energy) for name, price, energy in bought if price is not None]
    others = ways[1:]
    cheapest = min(others, key=lambda w: w.cost) if others else None
    value = (worth.break_even_hour_value(total_cost, hours / 3600.0, cheapest.cost)
             if cheapest is not None and hours else None)
    return WorthReport(tuple(ways), worth.cost_per_year(total_cost, expected_years), value,
                       cheapest.name if cheapest is not None else "")
