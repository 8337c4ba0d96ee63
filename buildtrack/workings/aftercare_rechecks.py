"""Dated re-checks of a pack in service: spread, drift of each group against its sisters, capacity, resistance."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from buildtrack import units
from buildtrack.physics.ageing import DAYS_PER_MONTH
from buildtrack.workings.values import Record, Table

MOST_GROUPS = 20
LONG_ENOUGH_D = 7.0
"""Days after a charge from which the distances of the groups tell of a leak: our own choice."""
VERDICTS = ("stop", "watch", "charged", "good")
"""The worst first; "charged" tells less than any."""
FAR_V = 0.020
"""So far a group may lie from the middle after a charge, without a limit of its own (common practice, no source)."""


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
    dated: bool = True
    """Whether its day was written down; else `on` is the day on which its readings were typed."""

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
    def dated(self) -> tuple[Recheck, ...]:
        """Those whose day was written down: only they are a look that was taken on time."""
        return tuple(r for r in self.rechecks if r.dated)

    @property
    def summary(self) -> str:
        """The whole in one line."""
        last = self.rechecks[-1]
        day = f"on {_day(last)}" if last.dated else f"without a date, typed on {_day(last)}"
        told = f"{units.counted(len(self.rechecks), 're-check')}, the last {day}"
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
            _day(r) if r.dated else f"typed {_day(r)}", _shown(r.lowest_v, "V"), _shown(r.spread_v, "mV"),
            _shown(r.capacity_ah, "mAh"), _shown(r.resistance_ohm, "mΩ"),
            "-" if r.temperature_degc is None else units.short(r.temperature_degc, "°C"))
            for r in self.rechecks)


def _day(check: Recheck) -> str:
    return date.fromordinal(int(check.on)).isoformat()


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
    assumed: bool = False
    """Whether it is reckoned from the last charge, as if that had left the groups equal."""
    undated: str = ""
    """The later re-check where that has no date: it was read at the latest on the day it was typed."""


@dataclass(frozen=True, slots=True)
class DriftReport:
    """The drift of every group between the two last re-checks that no charge parts, else the two last."""

    drifts: tuple[Drift, ...]
    level_v: float = FAR_V
    """So far from the middle a group may lie right after a charge."""

    @property
    def worst(self) -> Drift:
        """The group that moves fastest against the others; of two alike the one that falls."""
        return max(self.drifts, key=lambda d: (abs(d.per_month_v), -d.per_month_v))

    @property
    def verdict(self) -> str:
        """The worst verdict of all groups."""
        found = {d.verdict for d in self.drifts}
        return next(v for v in VERDICTS if v in found)

    @property
    def assumed(self) -> bool:
        """Whether it rests on the groups having been equal after a charge."""
        return self.worst.assumed

    @property
    def summary(self) -> str:
        """The whole in one line."""
        worst = self.worst
        if worst.assumed:
            days = worst.until - worst.since
            return (f"{worst.group} moves at least {worst.per_month_v * 1000:+.1f} mV a month against the others over "
                    f"the {days:.0f} days since a charge, if that left them equal within {self.level_v * 1000:.0f} mV: "
                    f"{self.verdict}")
        least, why = ("at least ", f" ({worst.undated} has no date)") if worst.undated else ("", "")
        told = (f"{worst.group} moves {least}{worst.per_month_v * 1000:+.1f} mV a month against the others{why}: "
                f"{self.verdict}")
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
    dated = row.number("on")
    on = row.typed_on if dated is None else dated
    if on is None:
        return None
    voltages = {f"g{n}": v for n in range(1, MOST_GROUPS + 1) if (v := row.number(f"g{n}")) is not None}
    if not voltages and row.number("capacity") is None and row.number("resistance") is None:
        return None  # a day, a temperature or a remark alone is no look at the pack
    return Recheck(row.id, on, row.number("days_since_charge"), voltages, row.number("capacity"),
                   row.number("resistance"), row.number("temperature"),
                   dated is not None)


def recheck_report(rechecks: Table) -> RecheckReport | None:
    """The re-checks in the order of their dates.

    One without a date stands at the day its readings were typed; where that is not known either it is left out. So is
    one of which neither a group, nor capacity, nor resistance was read. None where no re-check is left.
    """
    found = sorted((r for row in rechecks if (r := _recheck(row)) is not None), key=lambda r: r.on)
    return RecheckReport(tuple(found)) if found else None


def drift_report(recheck_report: RecheckReport, drift_watch: float, drift_stop: float,
                 drift_level: float = FAR_V) -> DriftReport | None:
    """Change of each group's distance from the middle group between two re-checks, per 30 days.

    Both readings are distances to sisters read in the same minute, so the meter's own error cancels. Between two
    re-checks without a charge only leaks move the groups apart. Where a charge lies between all of them, a group that
    is far from the middle days after it is told as if that charge had left the groups equal.
    """
    usable = [r for r in recheck_report.rechecks if len(r.voltages_v) >= 2]
    pairs = [(a, b) for n, b in enumerate(usable) if (a := _before(usable[:n], b)) is not None]
    quiet = [p for p in pairs if not _charged_between(*p)]
    found = []
    if pairs:
        first, last = quiet[-1] if quiet else pairs[-1]
        found.append(DriftReport(tuple(_drift(g, first, last, drift_watch, drift_stop) for g in first.voltages_v)))
    if usable and not (quiet and quiet[-1][1] is usable[-1]):
        lost = _since_charge(usable[-1], drift_watch, drift_stop, drift_level)
        found += [DriftReport(lost, drift_level)] if lost else []
    return min(found, key=lambda r: VERDICTS.index(r.verdict), default=None)


def _before(earlier: Sequence[Recheck], check: Recheck) -> Recheck | None:
    """The re-check of the same groups that one is held against: the one before it, on an earlier day.

    One without a date may have been typed on the day of another; then it is held against the day before that.
    """
    asked = earlier[-1:] if check.dated else earlier
    groups = check.voltages_v.keys()
    return next((a for a in reversed(asked) if a.on < check.on and a.voltages_v.keys() == groups), None)


def _since_charge(last: Recheck, watch: float, stop: float, level: float) -> tuple[Drift, ...]:
    """What each group lost against the middle since the last charge; empty where none is far or it was just charged."""
    days = last.days_since_charge
    middle = statistics.median(last.voltages_v.values())
    if days is None or days < LONG_ENOUGH_D or all(abs(v - middle) <= level + 1e-9 for v in last.voltages_v.values()):
        return ()
    apart = {group: v - middle for group, v in last.voltages_v.items()}
    lost = {group: math.copysign(max(0.0, abs(v) - level), v) / days * DAYS_PER_MONTH for group, v in apart.items()}
    return tuple(Drift(group, last.on - days, last.on, per_month, True, _size_word(per_month, watch, stop), True)
                 for group, per_month in lost.items())


def _size_word(per_month_v: float, watch: float, stop: float) -> str:
    size = abs(per_month_v) - 1e-9
    return "stop" if size > stop else "watch" if size > watch else "good"


def _charged_between(first: Recheck, last: Recheck) -> bool:
    """Whether the pack was charged after the first and before the last; not stated counts as charged.

    A re-check without a date may have been read long before it was typed: stated days may reach back to the first.
    """
    return last.days_since_charge is None or (last.dated and last.days_since_charge < last.on - first.on)


def _drift(group: str, first: Recheck, last: Recheck, watch: float, stop: float) -> Drift:
    def distance(check: Recheck) -> float:
        return check.voltages_v[group] - statistics.median(check.voltages_v.values())

    per_month = (distance(last) - distance(first)) / (last.on - first.on) * DAYS_PER_MONTH
    charged = _charged_between(first, last)
    verdict = "charged" if charged else _size_word(per_month, watch, stop)
    return Drift(group, first.on, last.on, per_month, charged, verdict, undated="" if last.dated else last.id)
