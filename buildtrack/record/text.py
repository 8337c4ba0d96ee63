"""Text from a build made fit for paper: nothing invisible, nothing endless, numbers kept together with their units."""

from __future__ import annotations

import re
import unicodedata
from datetime import UTC, datetime

LONGEST = 2000
"""Longest text printed of one field [characters]; the whole of it is in the attached build file."""
_UNITS = ("V", "mV", "A", "mA", "µA", "Ω", "mΩ", "kΩ", "MΩ", "Ah", "mAh", "Wh", "mWh", "kWh", "W", "mW", "s", "ms",
          "min", "h", "d", "m", "mm", "cm", "mm²", "g", "kg", "°C", "K", "%", "C", "A²s", "mΩ/m", "mV/d")
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:" + "|".join(re.escape(u) for u in _UNITS) + r")(?![\w²/]))")
_PLUS_MINUS = re.compile(r"(?<=\d) ± ?(?=\d)|(?<=\d)± (?=\d)")
_KEPT_INVISIBLE = {"\u00a0", "\u202f", "\u2009", "\n", "\t"}
_MINUS = re.compile(r"(?<![\w).\]])-(?=\d)|(?<= )-(?= )")
NBSP = "\u00a0"


def _shown(character: str) -> str:
    if character in _KEPT_INVISIBLE or character.isprintable():
        return character
    if unicodedata.category(character) in ("Zs",):
        return " "
    return f"[U+{ord(character):04X}]"


def plain(text: str, longest: int = LONGEST) -> str:
    """Text with control, direction and other invisible characters written out as [U+202E], cut where it is endless."""
    count = len(text)
    if count > longest:
        text = text[:longest]
    shown = "".join(_shown(c) for c in text.replace("\r\n", "\n"))
    return shown if count <= longest else f"{shown} … ({count} characters; the whole text is in the build file)"


def line(text: str, longest: int = LONGEST) -> str:
    """`plain` text on one line."""
    return " ".join(plain(text, longest).split())


def tied(text: str) -> str:
    """Numbers tied to their units and to their ± by no-break spaces."""
    return _BEFORE_UNIT.sub(NBSP, _PLUS_MINUS.sub(f"{NBSP}±{NBSP}", text))


def minus(text: str) -> str:
    """A formula with a real minus where it subtracts or is below 0; what holds typed words goes by `below_zero`."""
    return _MINUS.sub("\u2212", text)


def sentence(words: str) -> str:
    """Words that begin with a capital; a name with digits in it, like g2, stays as it is."""
    first = words.split(" ", 1)[0].rstrip(",:;")
    return words if any(c.isdigit() for c in first) else words[:1].upper() + words[1:]


def moment(at: datetime | None) -> str:
    """A moment as 2026-11-25 12:00 (UTC); empty where it is unknown."""
    return _utc(at).strftime("%Y-%m-%d %H:%M") if at else ""


def day(at: datetime | None) -> str:
    """A moment as its day (UTC); empty where it is unknown."""
    return _utc(at).strftime("%Y-%m-%d") if at else ""


def stretch(times: list[datetime]) -> str:
    """First and last of several moments, as short as can be."""
    if not times:
        return ""
    first, last = min(times), max(times)
    if moment(first) == moment(last):
        return moment(first)
    if day(first) == day(last):
        return f"{moment(first)}–{_utc(last).strftime('%H:%M')}"
    return f"{day(first)} to {day(last)}"


def _utc(at: datetime) -> datetime:
    return at.astimezone(UTC) if at.tzinfo else at


def short_hash(digest: str) -> str:
    """The first twelve signs of a SHA-256, in two groups."""
    return f"{digest[:6]}{NBSP}{digest[6:12]}" if digest else ""
