"""Days of appointments: whole months are counted on the calendar, everything else in days."""

from __future__ import annotations

from calendar import monthrange
from datetime import date, timedelta

DAY_S = 86400.0
MONTH_S = 365.25 / 12 * DAY_S
"""A month as a duration (units.txt); as an appointment it is the same day of another month."""


def months_after(day: date, months: int) -> date:
    """The same day of a later month, the last of that month where it is shorter: 31 January and a month is 28 February.

    months: 0 or more. Source: common practice in contracts and calendars (no source).
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def day_after(day: date, seconds: float) -> date:
    """The day that lies a duration later: whole months on the calendar, other durations as days, rounded."""
    months = seconds / MONTH_S
    if round(months) >= 1 and abs(months - round(months)) < 1e-6:
        return months_after(day, round(months))
    return day + timedelta(days=round(seconds / DAY_S))
