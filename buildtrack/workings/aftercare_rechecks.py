"""Dated re-checks of a pack in service: spread, drift of each group against its sisters, capacity, resistance."""

from __future__ import annotations

import statistics
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from buildtrack import units
from buildtrack.physics.ageing import DAYS_PER_MONTH
from buildtrack.workings.values import Record, Table

MOST_GROUPS = 20


@dataclass(frozen=True, slots=True)
class Recheck:
    """One re-check."""

    id: str
    on: float
    """Ordinal number of the day."""
    days_since_charge: float | None
    voltages_v: Mapping[str, float]
    capacity_ah: float | None
    resistance_ohm: float | None
    temperature_degc: float | None

    @property
    def spread_v(self) -> float | None:
        """Highest minus lowest group; None with fewer than two."""
        values = self.voltages_v.values()
        return max(values) - min(values) if len(values) >= 2 else None

    @property
    def lowest_v(self) -> float | None:
        """Lowest group."""
        return min(self.voltages_v.values(), default=None)


@dataclass(frozen=True, slots=True)
class RecheckReport:
    """Every re-check in the order of its date."""

    rechecks: tuple[Recheck, ...]

    @property
    def summary(self) -> str:
        """The whole in one line."""
        last = self.rechecks[-1]
        told = f"{len(self.rechecks)} re-checks, the last on {date.fromordinal(int(last.on)).isoformat()}"
        if last.spread_v is not None:
            told += f": groups {units.show(last.spread_v, 'mV', digits=2)} apart"
        return told

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("on", "lowest", "spread", "capacity", "resistance", "temperature")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per re-check."""
        return tuple((
            date.fromordinal(int(r.on)).isoformat(), _shown(r.lowest_v, "V"), _shown(r.spread_v, "mV"),
            _shown(r.capacity_ah, "mAh"), _shown(r.resistance_ohm, "mΩ"),
            "-" if r.temperature_degc is None else units.short(r.temperature_degc, "°C"))
            for r in self.rechecks)


def _shown(value: float | None, unit: str) -> str:
    return "-" if value is None else units.show(value, unit)


@dataclass(frozen=True, slots=True)
class Drift:
    """How one group moved against the middle of all between two re-checks."""

    group: str
    since: float
    until: float
    per_month_v: float
    charged_between: bool
    verdict: str
    """good, watch or stop; nothing can be said ("charged") when the pack was charged in between."""


@dataclass(frozen=True, slots=True)
class DriftReport:
    """The drift of every group between the two last re-checks that no charge parts, else the two last."""

    drifts: tuple[Drift, ...]

    @property
    def worst(self) -> Drift:
        """The group that fell fastest against the others."""
        return min(self.drifts, key=lambda d: d.per_month_v)

    @property
    def verdict(self) -> str:
        """The worst verdict of all groups."""
        found = {d.verdict for d in self.drifts}
        return next(v for v in ("stop", "watch", "charged", "good") if v in found)

    @property
    def summary(self) -> str:
        """The whole in one line."""
        worst = self.worst
        told = f"{worst.group} moves {worst.per_month_v * 1000:+.1f} mV a month against the others: {self.verdict}"
        return told if self.verdict != "charged" else f"{told} in between, so this says little"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("group", "mV a month against the middle", "verdict")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per group."""
        return tuple((d.group, f"{d.per_month_v * 1000:+.1f}", d.verdict) for d in self.drifts)


def _recheck(row: Record) -> Recheck | None:
    on = row.number("on")
    if on is None:
        return None
    voltages = {f"g{n}": v for n in range(1, MOST_GROUPS + 1) if (v := row.number(f"g{n}")) is not None}
    return Recheck(row.id, on, row.number("days_since_charge"), voltages, row.number("capacity"),
                   row.number("resistance"), row.number("temperature"))


def recheck_report(rechecks: Table) -> RecheckReport | None:
    """The re-checks in the order of their dates; rows without a date are left out."""
    found = sorted((r for row in rechecks if (r := _recheck(row)) is not None), key=lambda r: r.on)
    return RecheckReport(tuple(found)) if found else None


def drift_report(recheck_report: RecheckReport, drift_watch: float, drift_stop: float) -> DriftReport | None:
    """Change of each group's distance from the middle group between two re-checks, per 30 days.

    Both readings are distances to sisters read in the same minute, so the meter's own error cancels. Between two
    re-checks without a charge only leaks move the groups apart.
    """
    usable = [r for r in recheck_report.rechecks if len(r.voltages_v) >= 2]
    pairs = [(a, b) for a, b in zip(usable, usable[1:], strict=False)
             if b.on > a.on and a.voltages_v.keys() == b.voltages_v.keys()]
    if not pairs:
        return None
    quiet = [p for p in pairs if not _charged_between(*p)]
    first, last = quiet[-1] if quiet else pairs[-1]
    return DriftReport(tuple(_drift(g, first, last, drift_watch, drift_stop) for g in first.voltages_v))


def _charged_between(first: Recheck, last: Recheck) -> bool:
    """Whether the pack was charged after the first and before the last; not stated counts as charged."""
    return last.days_since_charge is None or last.days_since_charge < last.on - first.on


def _drift(group: str, first: Recheck, last: Recheck, watch: float, stop: float) -> Drift:
    def distance(check: Recheck) -> float:
        return check.voltages_v[group] - statistics.median(check.voltages_v.values())

    per_month = (distance(last) - distance(first)) / (last.on - first.on) * DAYS_PER_MONTH
    charged = _charged_between(first, last)
    size = abs(per_month) - 1e-9
    verdict = "charged" if charged else "stop" if size > stop else "watch" if size > watch else "good"
    return Drift(group, first.on, last.on, per_month, charged, verdict)
