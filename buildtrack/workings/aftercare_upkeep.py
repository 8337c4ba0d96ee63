"""When a pack in the drawer is to be looked at and topped up again, by the interval that its maker chose."""

from __future__ import annotations

from datetime import date, timedelta

from buildtrack.workings.aftercare_days import DAY_S
from buildtrack.workings.aftercare_rechecks import RecheckReport
from buildtrack.workings.inputs import parse_date


def next_top_up(top_up_interval: float, recheck_report: RecheckReport | None = None,
                handed_over_on: str = "") -> str | None:
    """Day by which the groups are to be looked at again: the interval after the last look; None before the first.

    top_up_interval: s. The hand-over and each re-check count as a look.
    """
    seen = last_look(recheck_report, handed_over_on)
    return None if seen is None else (seen + timedelta(days=round(top_up_interval / DAY_S))).isoformat()


def last_look(report: RecheckReport | None, handed_over_on: str) -> date | None:
    """The day on which the groups were last looked at; None where the pack is not in use yet."""
    days = [date.fromordinal(int(r.on)) for r in report.dated] if report is not None else []
    return max([*days, *([parse_date(handed_over_on)] if handed_over_on else [])], default=None)
