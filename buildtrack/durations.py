"""Lengths of time as they are told: hours, minutes and seconds one after another, or with colons.

Only text that means one length is read; what could mean two is refused, and the sentence spells out both.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

_NUMBER = r"\d{1,6}(?:[.,]\d{1,6})?"
_PART = re.compile(rf"({_NUMBER})\s*([a-z]*)", re.ASCII)
_PARTS = re.compile(rf"(?:{_NUMBER}\s*[a-z]+(?:\s*,\s+|\s+and\s+|\s*)){{1,4}}(?:{_NUMBER})?", re.ASCII)
_COLON = re.compile(r"(\d{1,3}):(\d{2})(?::(\d{2}))?\s*([a-z]*)", re.ASCII)
_THOUSANDS = re.compile(r"[1-9]\d*,\d{3}", re.ASCII)
"""A comma that may part thousands: nothing is proposed then."""
_FOLLOWS = {"h": "min", "min": "s"}
"""What a bare number behind a part means, as it is said aloud: 2 h 30."""
_STEPS = (("d", 86400.0), ("h", 3600.0), ("min", 60.0), ("s", 1.0), ("ms", 0.001))
_CARRY = {"h": 24, "min": 60, "s": 60, "ms": 1000}
"""At which number the unit above begins; of days and weeks it depends on what stands before them."""


@dataclass(frozen=True, slots=True)
class Told:
    """A length of time that was told in parts."""

    seconds: float
    unit: str
    """Unit of the last part."""
    step: float
    """One count of its last digit, in seconds."""


@dataclass(frozen=True, slots=True)
class _Part:
    text: str
    unit: str
    factor: float

    @property
    def number(self) -> float:
        return float(self.text.replace(",", "."))

    @property
    def decimals(self) -> int:
        return len(self.text.replace(",", ".").partition(".")[2])


def told_in_parts(text: str, names: Mapping[str, tuple[str, float]], plain: str) -> Told | None:
    """Read a length of time told in two parts or more; None where it is not told so.

    text: as typed, without blanks around it. names: spelling in lower case -> unit as shown and its seconds.
    plain: the unit of a bare number in this field; it decides what 1:30 means where it is h or s.
    Raises ValueError with a sentence that spells out what would be right.
    """
    lower = text.lower()
    if colons := _COLON.fullmatch(lower):
        *told, word = colons.groups()
        unit = names[word][0] if word in names else word
        return _with_colons([int(g) for g in told if g is not None], unit, plain)
    if not _PARTS.fullmatch(lower):
        return None
    parts: list[_Part] = []
    for number, word in _PART.findall(lower):
        spelled = word or (_FOLLOWS.get(parts[-1].unit, "") if parts else "")
        if not spelled and parts:
            raise ValueError(f"name the unit of the last part, like {_like(parts[-1])}")
        if spelled == "m":
            spelled = "min"  # beside another part it is no metre
        if spelled not in names:
            return None
        parts.append(_Part(number, *names[spelled]))
    return _added(parts) if len(parts) > 1 else None


def _like(part: _Part) -> str:
    return {"d": "2 d 12 h", "wk": "2 wk 3 d", "months": "2 months 10 d"}.get(part.unit, "5 s 500 ms")


def _added(parts: list[_Part]) -> Told:
    if any(larger.factor <= smaller.factor for larger, smaller in pairwise(parts)):
        raise ValueError("type the larger unit first, like 5 h 5 min")
    total = math.fsum(p.number * p.factor for p in parts)
    last = parts[-1]
    if any(p.decimals for p in parts[:-1]):
        right = "" if any(_THOUSANDS.fullmatch(p.text) for p in parts) else f": type {_spelled(total, parts[0], last)}"
        raise ValueError(f"only the last part may have decimals{right}")
    for larger, part in pairwise(parts):
        most = _CARRY.get(part.unit, math.ceil(larger.factor / part.factor))
        if part.number >= most:
            right = _spelled(total, parts[0], last)
            raise ValueError(f"{part.unit} behind {larger.unit} go up to {most - 1}: type {right}")
    return Told(total, last.unit, last.factor * 10.0 ** -last.decimals)


def _spelled(seconds: float, first: _Part, last: _Part) -> str:
    """A length of time in units from the largest typed to the smallest."""
    between = [(u, f) for u, f in _STEPS if last.factor < f < first.factor]
    found: list[str] = []
    rest = round(seconds, 6)
    for unit, factor in [(first.unit, first.factor), *between]:
        count = int((rest + 1e-9) // factor)
        rest = max(0.0, rest - count * factor)
        found += [f"{count} {unit}"] if count else []
    if rest > 1e-9 or not found:
        found.append(f"{rest / last.factor:.6g} {last.unit}")
    return " ".join(found)


def _with_colons(numbers: list[int], unit: str, plain: str) -> Told:
    """1:02:03 is hours, minutes, seconds; of 1:30 the unit behind it decides, or a field in hours or in seconds."""
    first, second, *third = numbers
    if any(n > 59 for n in numbers[1:]):
        raise ValueError("what stands behind a colon goes up to 59: type the parts with their units, like 1 h 30 min")
    if unit not in (("", "h") if third else ("", "h", "min", "s")):
        raise ValueError(f"'{unit}' does not go with colons: type the parts with their units, like 1 h 30 min")
    if third:
        return Told(first * 3600.0 + second * 60.0 + third[0], "s", 1.0)
    largest = {"h": "h", "s": "min", "min": "min" if unit else ""}.get(unit or plain, "")
    if not largest:
        raise ValueError(f"could be {first} h {second} min or {first} min {second} s: type the one it is")
    if largest == "h":
        return Told(first * 3600.0 + second * 60.0, "min", 60.0)
    return Told(first * 60.0 + second, "s", 1.0)


def colons_taken(text: str, plain: str) -> str:
    """How a time with colons was read in a field in the unit `plain`: h:min, min:s or h:min:s."""
    return "h:min:s" if text.count(":") == 2 else {"h": "h:min", "s": "min:s"}.get(plain, "")
