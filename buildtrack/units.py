"""Numbers and units: what a person typed, turned into a quantity, and a quantity turned back into text.

The number is parsed here by a strict grammar; the unit must be one of the spellings in spellings.toml that fits the
field. pint holds the definitions (units.txt) and proves the factors, but never sees typed text: it deletes commas, so
that "3,30 V" would become 330 V.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildtrack.durations import colons_taken, told_in_parts

if TYPE_CHECKING:
    import pint

LONGEST = 60
"""Longest text that is looked at as a quantity [characters]."""

SMALLEST = 1e-9
"""What is smaller, in the unit shown, is rounding of the computer and shown as 0."""

_NUMBER = re.compile(r"([+-]?)(\d{1,15}(?:[.,]\d{0,12})?|[.,]\d{1,12})(?:[eE]([+-]?\d{1,3}))?", re.ASCII)
_MANY_DIGITS = re.compile(r"[0-9]{16,}", re.ASCII)
_GAUGE = re.compile(r"(?:awg\s*#?\s*(\d{1,2})|#?\s*(\d{1,2})\s*awg)", re.ASCII | re.IGNORECASE)
_SAME_SIGN = str.maketrans({"−": "-", "Ω": "Ω", "μ": "µ", "\u00a0": " ", "\u202f": " ", "\u2009": " "})


class QuantityError(ValueError):
    """Typed text that is not the quantity asked for; the sentence says what would be right."""


class TwoMeanings(QuantityError):
    """A comma with three digits behind it: a decimal mark, or one of thousands."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of one dimension."""

    dimension: str
    show: str
    """How it is printed."""
    factor: float
    """Canonical value = (typed + offset) × factor."""
    offset: float
    pint: str
    """Its name in units.txt."""


@dataclass(frozen=True, slots=True)
class Dimension:
    """A kind of quantity with its units; the first unit is the canonical one."""

    id: str
    name: str
    example: str
    units: tuple[Unit, ...]
    spellings: Mapping[str, Unit]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A parsed quantity: value in the canonical unit of its dimension, and the step of its last digit."""

    value: float
    dimension: str
    unit: Unit
    step: float
    """Size of one count of the last digit typed, in the canonical unit."""


def _unit(dimension: str, row: Mapping[str, Any]) -> Unit:
    return Unit(dimension, row["show"], float(row["factor"]), float(row.get("offset", 0.0)), row["pint"])


@lru_cache(maxsize=1)
def dimensions() -> Mapping[str, Dimension]:
    """Every dimension the program knows, by id."""
    raw = tomllib.loads((Path(__file__).parent / "spellings.toml").read_text(encoding="utf-8"))
    found: dict[str, Dimension] = {}
    for name, body in raw.items():
        units: list[Unit] = []
        spellings: dict[str, Unit] = {}
        for row in body["units"]:
            unit = _unit(name, row)
            units.append(unit)
            for spelling in (row["show"], *row["also"]):
                spellings[spelling.translate(_SAME_SIGN)] = unit
        found[name] = Dimension(name, body["name"], body["example"], tuple(units), spellings)
    return found


@lru_cache(maxsize=1024)
def find_unit(text: str, dimension: str | None = None) -> Unit | None:
    """The unit spelled `text`, in one dimension or in any; None where it is unknown."""
    spelled = text.strip().translate(_SAME_SIGN)
    places = [dimensions()[dimension]] if dimension else list(dimensions().values())
    for place in places:
        if spelled in place.spellings:
            return place.spellings[spelled]
    return None


def dimension_of(unit: str) -> str:
    """The dimension in which `unit` is at home (first match in spellings.toml); QuantityError if it is unknown."""
    found = find_unit(unit)
    if found is None:
        raise QuantityError(f"'{unit}' is not a unit this program knows")
    return found.dimension


def _expected(dimension: Dimension, default: Unit) -> str:
    units = [u.show for u in dimension.units if u.show]
    if not units:
        return f"expected {dimension.name}, for example {dimension.example}"
    return f"expected {dimension.name} in {' or '.join(units)} (plain numbers are taken as {default.show})"


def _refuse_shape(text: str, length: int, expected: str) -> None:
    if not text:
        raise QuantityError(f"nothing typed: {expected}")
    if len(text) > LONGEST:
        raise QuantityError(f"{length} characters are too many for one reading: {expected}")
    if "\n" in text or "\r" in text:
        raise QuantityError(f"more than one line: type one reading; {expected}")
    odd = next((c for c in text if c.isdecimal() and not c.isascii()), None)
    if odd is not None:
        raise QuantityError(f"'{odd}' is not a plain digit 0-9: {expected}")


def _split_number(text: str, expected: str) -> tuple[float, float, str]:
    """Number, step of its last digit, and the rest behind it."""
    match = _NUMBER.match(text)
    if match is None:
        raise QuantityError(f"'{clip(text)}' does not begin with a number: {expected}")
    sign, digits, exponent = match.groups()
    rest = text[match.end():]
    if rest[:1] in {".", ",", "_", "'"} or re.match(r"\s*[+-]?[\d.,]", rest, re.ASCII):
        if digits := _MANY_DIGITS.match(text.strip()):
            raise QuantityError(f"'{clip(text)}' has {len(digits[0])} digits: a number has at most 15; was a key held?")
        raise QuantityError(f"'{clip(text)}' holds more than one number or mark: type one number, like 3.3 or 3,3")
    whole, mark, decimals = digits.partition("," if "," in digits else ".")
    if mark == "," and len(decimals) == 3 and whole.strip("0"):
        raise TwoMeanings(f"'{clip(text)}' could mean {whole}{decimals} or {whole}.{decimals}: "
                          f"type {whole}.{decimals} with a point, or {whole}{decimals} without a mark")
    if exponent is not None and abs(int(exponent)) > 15:
        raise QuantityError(f"'{clip(text)}' is beyond anything a bench instrument shows: {expected}")
    power = int(exponent or 0)
    value = float(f"{sign}{whole or '0'}.{decimals or '0'}e{power}")
    return value, 10.0 ** (power - len(decimals)), rest.strip()


def clip(text: str, most: int = 40) -> str:
    """Typed text made fit to stand in a message: control characters out, one line, not too long."""
    plain = text if text.isprintable() else "".join(c if c.isprintable() else "·" for c in text)
    return plain if len(plain) <= most else plain[: most - 1] + "…"


def _wrong_unit(rest: str, text: str, dimension: Dimension, expected: str) -> QuantityError:
    other = find_unit(rest)
    if other is not None and other.dimension != "count":  # 'x' and 'cells' only say that something was counted
        name = dimensions()[other.dimension].name
        return QuantityError(f"'{clip(text)}' is {name}: {expected}")
    return QuantityError(f"'{clip(rest)}' is not a unit that fits here: {expected}")


def parse(text: str, dimension: str, default_unit: str = "") -> Quantity:
    """Read a typed quantity.

    text: what was typed; decimal point or comma; unit optional.
    dimension: an id of spellings.toml. default_unit: the unit of a plain number (else the canonical one).
    Returns the quantity in the canonical unit. Raises QuantityError with a sentence that says what would be right.
    """
    return _parsed(text if len(text) <= 4 * LONGEST else text[: 4 * LONGEST] + "…", len(text), dimension, default_unit)


@lru_cache(maxsize=16_384)  # a build of 2,000 readings is read anew at every edit
def _parsed(text: str, length: int, dimension: str, default_unit: str) -> Quantity:
    place = dimensions()[dimension]
    default = place.spellings.get(default_unit.translate(_SAME_SIGN), place.units[0])
    expected = _expected(place, default)
    plain = text.strip().translate(_SAME_SIGN)
    _refuse_shape(plain, length, expected)
    if dimension == "area" and (gauge := _GAUGE.fullmatch(plain)):
        return _from_gauge(int(gauge.group(1) or gauge.group(2)), place.units[0])
    if dimension == "time" and (found := _in_parts(plain, place, default)):
        return found
    number, step, rest = _split_number(plain, expected)
    unit = place.spellings.get(rest.lower() if dimension == "time" else rest) if rest else default
    if unit is None:
        raise _wrong_unit(rest, plain, place, expected)
    value = float(f"{(number + unit.offset) * unit.factor:.15g}")  # 3300 mV is 3.3 V, not 3.3000000000000003
    if not math.isfinite(value) or abs(value) > 1e15:
        raise QuantityError(f"'{clip(text)}' is beyond anything a bench instrument shows: {expected}")
    if dimension == "count" and value != int(value):
        raise QuantityError(f"'{clip(text)}' is not a whole number: {expected}")
    return Quantity(value, dimension, unit, step * unit.factor)


def _in_parts(text: str, place: Dimension, default: Unit) -> Quantity | None:
    """A length of time told in several parts; None where it is not."""
    names = {spelling.lower(): (unit.show, unit.factor) for spelling, unit in place.spellings.items()}
    try:
        told = told_in_parts(text, names, default.show)
    except ValueError as error:
        raise QuantityError(f"'{clip(text)}': {error}") from error
    if told is None:
        return None
    return Quantity(told.seconds, "time", place.spellings[told.unit], told.step)


def unit_taken(text: str, unit: str) -> str:
    """The unit in which typed text is taken that names none, for a field in `unit`; empty where it names its own."""
    plain = text.strip().translate(_SAME_SIGN)
    if _NUMBER.fullmatch(plain):
        return unit
    return "" if plain.count(":") not in (1, 2) or plain[-1].isalpha() else colons_taken(plain, unit)


def _from_gauge(number: int, unit: Unit) -> Quantity:
    """Area of an American wire gauge; diameter 0.127 mm × 92^((36 − n)/39) (ASTM B258)."""
    if not 0 <= number <= 40:
        raise QuantityError(f"AWG {number} is outside 0 to 40: type the size as AWG 14 or 2.5 mm²")
    diameter_mm = 0.127 * 92.0 ** ((36 - number) / 39)
    return Quantity(math.pi / 4 * diameter_mm**2, "area", unit, 0.0)


def in_unit(value: float, unit: str) -> float:
    """A canonical value in the unit spelled `unit`; unknown units (compound ones of workings) leave it as it is."""
    found = find_unit(unit) if unit else None
    return value if found is None else value / found.factor - found.offset


WHOLE_STEPS = frozenset({"mV", "ms", "s", "min", "h", "d"})
"""Units in which most values are differences of readings: whole steps of an instrument or of a clock."""


def significant(value: float, digits: int) -> str:
    """`value` with so many significant digits, never in exponent form for bench-sized numbers."""
    if abs(value) < SMALLEST or not math.isfinite(value):
        return "0" if abs(value) < SMALLEST else str(value)
    exponent = math.floor(math.log10(abs(value)))
    if not -6 <= exponent < 9:
        return f"{value:.{digits - 1}e}"
    rounded = round(value, digits - 1 - exponent)
    places = max(0, digits - 1 - (math.floor(math.log10(abs(rounded))) if rounded else 0))
    return f"{rounded:.{places}f}"


def short(value: float, unit: str = "") -> str:
    """A canonical value as one would type it: in `unit`, without trailing zeros."""
    return f"{in_unit(value, unit):.6g}" + (f" {unit}" if unit else "")


def _without_zeros(text: str, number: float) -> str:
    """A number that is short by itself without the zeros that nobody read: 73 mV, not 73.00 mV."""
    exact = "." in text and abs(float(text) - number) <= 1e-9 * max(1.0, abs(number))
    return text.rstrip("0").rstrip(".") if exact else text


def show(value: float, unit: str = "", plus_minus: float | None = None, digits: int = 4) -> str:
    """A canonical value for people: in `unit`, with ± to two significant digits and the value to the same place.

    value, plus_minus: canonical unit of the dimension of `unit`. digits: significant digits where there is no ±.
    """
    found = find_unit(unit) if unit else None
    number = in_unit(value, unit)
    tail = f" {unit}" if unit else ""
    if plus_minus is None or plus_minus <= 0 or not math.isfinite(plus_minus):
        text = significant(number, digits)
        return (_without_zeros(text, number) if unit in WHOLE_STEPS else text) + tail
    spread = plus_minus / (found.factor if found else 1.0)
    places = max(0, 1 - math.floor(math.log10(spread)))
    return f"{number:.{places}f} ± {spread:.{places}f}{tail}"


def counted(number: int, thing: str) -> str:
    """A count of things as it is said: 1 row, 2 rows."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


_SIGNS = {"€": "EUR", "$": "USD", "£": "GBP", "eur": "EUR"}


def other_currency(text: str, currency: str) -> str:
    """Why an amount does not fit a build that reckons in `currency`: it is told in another one; empty where it fits."""
    typed = re.sub(r"^[+−-]?[\d.,]*(?:[eE][+-]?\d+)?", "", text.strip()).strip()
    if not typed or not currency or typed == "money" or find_unit(typed, "money") is None:
        return ""
    if _SIGNS.get(typed, typed) == _SIGNS.get(currency, currency):
        return ""
    return f"'{clip(text)}' is not in {currency}, in which this build reckons: type the amount in {currency}"


_MONEY = re.compile(r"(?<=\d) money\b")


def in_currency(text: str, currency: str) -> str:
    """Amounts in a text told in a currency: 49 money becomes 49 EUR; without one the bare number stands."""
    return _MONEY.sub(lambda _: f" {currency}", text) if currency else _MONEY.sub("", text)


@lru_cache(maxsize=1)
def registry() -> pint.UnitRegistry[float]:
    """The program's only pint registry, from units.txt (imported on first use: it costs 0.2 s)."""
    import pint

    found: pint.UnitRegistry[float] = pint.UnitRegistry(None)
    found.load_definitions(str(Path(__file__).parent / "units.txt"))
    return found
