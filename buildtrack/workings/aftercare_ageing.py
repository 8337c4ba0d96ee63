"""How fast a pack in service fades, when to look at it next, and when to take it out of service."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from buildtrack import units
from buildtrack.physics import ageing
from buildtrack.workings.aftercare_days import DAY_S, day_after
from buildtrack.workings.aftercare_rechecks import RecheckReport, recheck_report
from buildtrack.workings.inputs import parse_date
from buildtrack.workings.values import Table


@dataclass(frozen=True, slots=True)
class RetireReport:
    """Capacity and resistance of now beside the first ones, and the limits of service."""

    capacity_share: float | None
    resistance_ratio: float | None
    capacity_limit: float
    resistance_limit: float
    days_left: float | None
    """Days until the capacity limit on a straight line; None where it does not fade or is not known."""

    @property
    def retire(self) -> bool:
        """Whether either limit is reached."""
        worn = self.capacity_share is not None and self.capacity_share <= self.capacity_limit
        return worn or (self.resistance_ratio is not None and self.resistance_ratio >= self.resistance_limit)

    @property
    def summary(self) -> str:
        """The whole in one line."""
        told = []
        if self.capacity_share is not None:
            told.append(f"{self.capacity_share * 100:.0f} % of the first capacity (limit "
                        f"{self.capacity_limit * 100:.0f} %)")
        if self.resistance_ratio is not None:
            told.append(f"{self.resistance_ratio * 100:.0f} % of the first resistance (limit "
                        f"{self.resistance_limit * 100:.0f} %)")
        if self.retire:
            told.append("take it out of service")
        elif self.days_left is not None:
            left = units.show(self.days_left * DAY_S, "months", digits=2)
            told.append(f"about {left} left at this rate, rather less")
        return "; ".join(told)

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("what", "now", "limit")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """Capacity and resistance beside their limits."""
        return (("capacity of the first", _percent(self.capacity_share), _percent(self.capacity_limit)),
                ("resistance of the first", _percent(self.resistance_ratio), _percent(self.resistance_limit)))


def _percent(value: float | None) -> str:
    return "-" if value is None else f"{value * 100:.0f} %"


def _capacities(report: RecheckReport | None) -> list[tuple[float, float]]:
    """Day and capacity of the re-checks that measured one."""
    return [(r.on, r.capacity_ah) for r in report.rechecks if r.capacity_ah is not None] if report is not None else []


def _resistances(report: RecheckReport | None) -> list[tuple[float, float]]:
    """Day and resistance of the re-checks that measured one."""
    found = report.rechecks if report is not None else ()
    return [(r.on, r.resistance_ohm) for r in found if r.resistance_ohm is not None]


def fade_per_month(rechecks: Table) -> float | None:
    """Capacity lost per 30 days as a share of the first, between the first and the last re-check with a capacity."""
    points = _capacities(recheck_report(rechecks))
    if len(points) < 2:
        return None
    (day_1, first), (day_2, last) = points[0], points[-1]
    return ageing.fade_share_per_month(first, last, day_2 - day_1)


def resistance_growth(rechecks: Table) -> float | None:
    """Resistance gained per 30 days as a share of the first re-check's."""
    points = _resistances(recheck_report(rechecks))
    if len(points) < 2:
        return None
    (day_1, first), (day_2, last) = points[0], points[-1]
    return ageing.resistance_growth_share_per_month(first, last, day_2 - day_1)


def retire_report(rechecks: Table, retire_capacity: float, retire_resistance: float,
                  delivered_capacity_tested: float | None = None) -> RetireReport | None:
    """The last capacity against the pack's own first test, the last resistance against its first, and the limits."""
    report = recheck_report(rechecks)
    points = _capacities(report)
    first = delivered_capacity_tested if delivered_capacity_tested is not None else next((q for _, q in points), None)
    share = ageing.capacity_kept_share(points[-1][1], first) if points and first is not None else None
    ohms = [ohm for _, ohm in _resistances(report)]
    ratio = ohms[-1] / ohms[0] if len(ohms) >= 2 and ohms[0] > 0 else None
    if share is None and ratio is None:
        return None
    days = None
    if len(points) >= 2 and first is not None:
        (day_1, one), (day_2, last) = points[0], points[-1]
        days = ageing.days_to_limit(one, last, day_2 - day_1, retire_capacity * first) if one > last else None
    return RetireReport(share, ratio, retire_capacity, retire_resistance, days)


def next_recheck(recheck_after: float, recheck_second: float, recheck_third: float,
                 recheck_fourth: float, recheck_yearly: float, recheck_report: RecheckReport | None = None,
                 handed_over_on: str = "") -> str | None:
    """Day of the next re-check: the first appointment after the last one that was kept, in months of the calendar.

    The appointments are counted from the hand-over (from the first re-check where its day is not written down): after a
    week, a month, three, six and twelve months, then every year. Nothing is due before there is either.
    """
    done = [r.on for r in recheck_report.dated] if recheck_report is not None else []
    handed_over = float(parse_date(handed_over_on).toordinal()) if handed_over_on else None
    if handed_over is None and not done:
        return None
    start = handed_over if handed_over is not None else min(done)
    last = max(done, default=start)
    after = (recheck_after, recheck_second, recheck_third, recheck_fourth, recheck_yearly)
    due = [day_after(date.fromordinal(int(start)), s) for s in after]
    # Half the time since the appointment before counts as kept, so that one done a few days early is not asked again.
    for before, day in zip([start, *(d.toordinal() for d in due)], due, strict=False):
        if last < (before + day.toordinal()) / 2:
            return day.isoformat()
    return day_after(date.fromordinal(int(last)), recheck_yearly).isoformat()
