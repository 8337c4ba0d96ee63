"""Days as they are typed: read where they can mean only one day, else refused with what would be right."""

from __future__ import annotations

import re
from datetime import date

from buildtrack import units

EXAMPLE = "2026-11-25"
"""The day shown as an example; where a clock is at hand it is replaced by today."""
_PLAIN = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_PARTS = re.compile(r"(\d{1,4})([-./])(\d{1,2})\2(\d{1,4})", re.ASCII)


def parse_date(text: str) -> date:
    """Read a day: 2026-11-25 and 2026/11/25, 25.11.2026, and 25/11/2026 where only one order of day and month fits.

    With dots the day stands first (common practice, no source). ValueError says in one sentence what would be right.
    """
    plain = text.strip()
    if _PLAIN.fullmatch(plain):
        found = [*_days(plain, *plain.split("-"))]
    elif match := _PARTS.fullmatch(plain):
        first, mark, second, third = match.groups()
        found = _meant(plain, first, mark, second, third)
    else:
        raise ValueError(f"'{units.clip(text)}' is not a date: write it like {EXAMPLE}")
    if len(found) > 1:
        could, right = (" or ".join(each) for each in ([_said(d) for d in found], [d.isoformat() for d in found]))
        raise ValueError(f"'{plain}' could be {could}: write {right}")
    return found[0]


def _meant(plain: str, first: str, mark: str, second: str, third: str) -> list[date]:
    """The days that three numbers with a mark between them can mean, in the order day first."""
    if len(first) == 4 and len(third) <= 2:
        return _days(plain, first, second, third)
    if len(third) != 4 or len(first) > 2:
        raise ValueError(f"'{plain}': write the year with four digits, like {EXAMPLE}")
    if mark == ".":
        return _days(plain, third, second, first)
    orders = [(third, second, first), (third, first, second)]
    found = dict.fromkeys(d for order in orders if (d := _day(*order)) is not None)
    return [*found] or _days(plain, *orders[0])


def _day(year: str, month: str, day: str) -> date | None:
    try:
        return date(int(year), int(month), int(day))
    except ValueError:
        return None  # no such day: the other order is tried, then it is said


def _days(plain: str, year: str, month: str, day: str) -> list[date]:
    found = _day(year, month, day)
    if found is None:
        raise ValueError(f"'{plain}' is no day of the calendar: write it like {EXAMPLE}")
    return [found]


def _said(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]}"


MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
          "December")
