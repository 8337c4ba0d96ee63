"""Groups at the end of a charge and after the rest: how far apart, how far each fell back."""

from __future__ import annotations

import statistics
from dataclasses import dataclass

from buildtrack import units
from buildtrack.workings.values import Table

TIMES = ("after_5min", "after_15min", "after_30min", "at_end")
LEAK_FALL_V = 0.020
"""A group that falls so much more than the middle one after the charge leaks (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Fall:
    """How far one group fell from the end of the charge to the rested reading."""

    group: str
    end_v: float
    rested_v: float
    more_than_middle_v: float
    verdict: str
    """usual, or leaks (fell more than the others)."""

    @property
    def fall_v(self) -> float:
        """Voltage lost in the rest."""
        return self.end_v - self.rested_v


@dataclass(frozen=True, slots=True)
class RestDropReport:
    """The rest after a charge, group by group."""

    falls: tuple[Fall, ...]

    @property
    def leaking(self) -> tuple[str, ...]:
        """Groups that fell more than the others."""
        return tuple(f.group for f in self.falls if f.verdict == "leaks")

    @property
    def summary(self) -> str:
        """The whole in one line."""
        middle = statistics.median(f.fall_v for f in self.falls)
        told = f"groups fall {units.show(middle, 'mV', digits=2)} in the rest"
        return told + (f"; more than the others: {', '.join(self.leaking)}" if self.leaking else ", all alike")

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("group", "end of charge", "rested", "fell", "verdict")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per group."""
        return tuple((f.group, f"{f.end_v:.3f} V", f"{f.rested_v:.3f} V", f"{f.fall_v * 1000:.0f} mV", f.verdict)
                     for f in self.falls)


def rest_drop_report(charge_groups: Table) -> RestDropReport | None:
    """How far each group falls back after the charge; one that falls more than its sisters leaks."""
    found = [(r.id, end, rested) for r in charge_groups
             if (end := r.number("at_end")) is not None and (rested := r.number("rested")) is not None]
    if not found:
        return None
    middle = statistics.median(end - rested for _, end, rested in found)
    falls = []
    for group, end, rested in found:
        more = end - rested - middle
        falls.append(Fall(group, end, rested, more, "leaks" if more > LEAK_FALL_V + 1e-9 else "usual"))
    return RestDropReport(tuple(falls))


def charge_spread_end(charge_groups: Table) -> float | None:
    """Highest minus lowest group at the end of the charge."""
    values = charge_groups.numbers("at_end")
    return max(values) - min(values) if len(values) >= 2 else None


def charge_spread_rested(charge_groups: Table) -> float | None:
    """Highest minus lowest group after the rest."""
    values = charge_groups.numbers("rested")
    return max(values) - min(values) if len(values) >= 2 else None


def highest_group_seen(charge_groups: Table, first_charge_groups: Table | None = None) -> float | None:
    """Highest voltage any group was read at in either charge."""
    tables = [t for t in (charge_groups, first_charge_groups) if t is not None]
    values = [v for table in tables for column in TIMES for v in table.numbers(column)]
    return max(values) if values else None
