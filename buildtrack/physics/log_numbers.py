"""Numbers and times as loggers write them."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

NO_VALUE = frozenset(
    {"", "--", "---", "-", "***", "ol", "o.l", "nan", "inf", "-inf", "null", "none", "n/a", "na", "err"}
)

HIGHEST = 1e15
"""From here on a field is no reading (times in milliseconds since 1970 are near 2e12)."""

TIME_SCALE = {"s": 1.0, "ms": 0.001, "min": 60.0, "h": 3600.0, "d": 86400.0}

LONGEST_FIELD = 64
"""A longer field is no reading [characters]; the patterns below may take the square of its length."""

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d+)?", re.IGNORECASE)
_TRAILING_UNIT = re.compile(r"\s*(m?v|m?a|m?ah|m?wh|s|°c|degc)$", re.IGNORECASE)
_CLOCK = re.compile(
    r"(?:(\d+)\s*d[ay]*s?\s*|(\d+)\.(?=\d\d:))?(\d+):(\d{1,2})(?::(\d{1,2}(?:[.,]\d+)?))?(?:\s*([ap])\.?m\.?)?",
    re.IGNORECASE,
)
_DATE = re.compile(r"(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})")


def read_number(text: str, decimal: str = ".") -> float | None:
    """A number with the file's decimal mark, None if there is none; a unit behind it and thousands marks are let pass.

    Range: plain and exponent notation. Source: own grammar.
    """
    text = text.strip().strip('"').replace("\u2212", "-")
    if len(text) > LONGEST_FIELD or text.lower() in NO_VALUE:
        return None
    text = _TRAILING_UNIT.sub("", text)
    if decimal == ",":
        if "." in text and ("," in text or re.fullmatch(r"[+-]?\d{1,3}(\.\d{3})+", text)):
            text = text.replace(".", "")
        text = text.replace(",", ".")
    elif "," in text and re.fullmatch(r"[+-]?\d{1,3}(,\d{3})+(\.\d*)?", text):
        text = text.replace(",", "")
    text = text.replace("\u00a0", "").replace("'", "")
    value = float(text) if _NUMBER.fullmatch(text) else None
    return value if value is None or abs(value) < HIGHEST else None


def looks_like_time(text: str) -> bool:
    """True for h:mm:ss, mm:ss, with days or AM/PM, and for dates with or without a clock."""
    text = text.strip().strip('"')
    if len(text) > LONGEST_FIELD:
        return False
    return bool(_CLOCK.fullmatch(text)) or (bool(_DATE.match(text)) and read_moment(text, "dmy") is not None)


def read_clock(text: str, short: str = "mm:ss") -> float | None:
    """Seconds of a clock: h:mm:ss(.mmm), "1d 02:03:04", "1.02:03:04", AM/PM; two parts as `short` says."""
    text = text.strip().strip('"')
    match = _CLOCK.fullmatch(text) if len(text) <= LONGEST_FIELD else None
    if match is None:
        return None
    days, dotted, first, second, third, half = match.groups()
    whole = 86400.0 * int(days or dotted or 0)
    if third is None:
        big = 60 if short == "mm:ss" else 3600
        return whole + int(first) * big + int(second) * big / 60
    hours = int(first)
    if half:
        hours = hours % 12 + (12 if half.lower() == "p" else 0)
    return whole + 3600 * hours + 60 * int(second) + float(third.replace(",", "."))


def read_moment(text: str, order: str) -> float | None:
    """Seconds of a date with an optional clock, as if in UTC; `order` is "dmy", "mdy" or "ymd"; None if no date."""
    text = text.strip().strip('"')
    match = _DATE.match(text) if len(text) <= LONGEST_FIELD else None
    if match is None:
        return None
    parts = [int(match.group(k)) for k in (1, 3, 4)]
    if len(match.group(1)) == 4:
        year, month, day = parts
    elif order == "mdy":
        month, day, year = parts
    else:
        day, month, year = parts
    rest = text[match.end() :].strip(" T").removesuffix("Z")
    rest = re.sub(r"[+-]\d\d:?\d\d$", "", rest)
    clock = read_clock(rest, "hh:mm") if rest else 0.0
    if clock is None:
        return None
    try:
        start = datetime(year + 2000 if year < 100 else year, month, day, tzinfo=UTC)
    except ValueError:
        return None
    return start.timestamp() + clock


@dataclass(frozen=True, slots=True)
class TimeForm:
    """How the time column is written: kind (number, clock, date, index), seconds per unit, order of the date parts."""

    kind: str
    scale: float = 1.0
    order: str = "dmy"
    short: str = "mm:ss"

    def reader(self, decimal: str) -> Callable[[str], float | None]:
        """A function from the text of a field to seconds (or scaled counts)."""
        if self.kind == "clock":
            return lambda text: read_clock(text, self.short)
        if self.kind == "date":
            return lambda text: read_moment(text, self.order)
        return lambda text: None if (value := read_number(text, decimal)) is None else value * self.scale


def guess_time_form(values: Sequence[str], unit: str, is_index: bool, decimal: str) -> tuple[TimeForm, str]:
    """The form of a time column from its first values and the unit in its header, with the assumption in words."""
    values = [value for value in values if value.strip()]
    if values and all(read_clock(value) is not None for value in values):
        if all(value.count(":") == 1 for value in values):
            return TimeForm("clock"), "time has two parts, read as minutes:seconds"
        return TimeForm("clock"), "time read as hours:minutes:seconds"
    if values and all(_DATE.match(value.strip().strip('"')) for value in values):
        return _date_form(values)
    numbers = [number for value in values if (number := read_number(value, decimal)) is not None]
    if unit in TIME_SCALE:
        return TimeForm("number", TIME_SCALE[unit]), f"time read in {unit} by its unit"
    if numbers and numbers[0] > 1e11:
        return TimeForm("number", 0.001), "time has no unit, read as Unix milliseconds"
    if is_index:
        return TimeForm("index"), "there is only a row number; an interval is needed"
    if numbers and numbers[0] > 1e8:
        return TimeForm("number", 1.0), "time has no unit, read as Unix seconds"
    if numbers and 30_000 < numbers[0] < 80_000 and any(number % 1 for number in numbers):
        return TimeForm("number", 86400.0), "time has no unit, read as days of a spreadsheet"
    steps = sorted(b - a for a, b in zip(numbers, numbers[1:], strict=False))
    if steps and steps[len(steps) // 2] >= 90 and all(number == int(number) for number in numbers):
        return TimeForm("number", 0.001), "time has no unit and rises by hundreds a row, read as milliseconds"
    return TimeForm("number", 1.0), "time has no unit, read as seconds"


def _date_form(values: Sequence[str]) -> tuple[TimeForm, str]:
    first, second = [], []
    for value in values:
        match = _DATE.match(value.strip().strip('"'))
        if match is not None:
            if len(match.group(1)) == 4:
                return TimeForm("date", order="ymd"), "date read as year, month, day"
            first.append(int(match.group(1)))
            second.append(int(match.group(3)))
    if max(second) > 12:
        return TimeForm("date", order="mdy"), "date read as month, day, year (a second part is above 12)"
    if max(first) > 12:
        return TimeForm("date", order="dmy"), "date read as day, month, year (a first part is above 12)"
    american = any(re.search(r"[ap]\.?m", value, re.IGNORECASE) for value in values)
    order = "mdy" if american else "dmy"
    words = "month, day, year" if american else "day, month, year"
    return TimeForm("date", order=order), f"date read as {words}; the values alone do not tell"
