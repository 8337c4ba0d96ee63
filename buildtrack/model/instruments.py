"""Instruments of a build: what a reading's instrument says about its uncertainty."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from buildtrack import units
from buildtrack.model.build import Build, Cell, Reading, Row
from buildtrack.model.checklist import Column, Item

ITEM = "instruments"
"""Id of the table item that lists the instruments."""

_PERCENT = re.compile(r"([\d.,]+)\s*%", re.ASCII)
_DIGITS = re.compile(r"([\d.,]+)\s*(?:digits?|dgts?|d|counts?)?$", re.ASCII | re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Accuracy:
    """A meter maker's statement: so much of the reading, so many counts, or a fixed amount."""

    share: float = 0.0
    """Share of the reading (0.005 for 0.5 %)."""
    counts: float = 0.0
    """Counts of the last digit."""
    fixed: float = 0.0
    """A fixed amount in the canonical unit."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """One range of one instrument."""

    id: str
    meter: str
    """Which physical instrument it is; ranges of one meter share its errors."""
    kind: str
    quantity: str
    top: float | None
    """Top of the range, canonical unit."""
    resolution: float | None
    accuracy: Accuracy | None


def parse_accuracy(text: str, dimension: str) -> Accuracy:
    """Read "0.5 % + 3 digits", "±1 %", "2 %+5" or "0.02 V"; units.QuantityError says what would be right."""
    plain = text.strip().lstrip("±").strip().strip("()")
    share = counts = fixed = 0.0
    for part in (p.strip() for p in plain.split("+")):
        if match := _PERCENT.fullmatch(part):
            share += units.parse(match.group(1), "ratio", "%").value
        elif match := _DIGITS.fullmatch(part):
            counts += units.parse(match.group(1), "count").value
        else:
            fixed += _fixed(part, dimension, text)
    return Accuracy(share, counts, fixed)


def _fixed(part: str, dimension: str, text: str) -> float:
    try:
        return units.parse(part, dimension).value
    except units.QuantityError as error:
        raise units.QuantityError(
            f"'{units.clip(text)}' is not an accuracy: write it like 0.5 % + 3 digits, 1 % or 0.02 V"
        ) from error


def _measure(row: Row, column: str, quantity: str) -> float | None:
    text = row.text(column)
    if not text or quantity not in units.dimensions():
        return None
    try:
        return units.parse(text, quantity).value
    except units.QuantityError:
        return None  # the table itself shows the refusal beside the field


def _accuracy(row: Row, quantity: str) -> Accuracy | None:
    text = row.text("accuracy")
    if not text or quantity not in units.dimensions():
        return None
    try:
        return parse_accuracy(text, quantity)
    except units.QuantityError:
        return None  # as above


def instruments(build: Build) -> Mapping[str, Instrument]:
    """The instruments of a build by id (one per row: one range of one meter)."""
    found: dict[str, Instrument] = {}
    for row in build.entry(ITEM).rows:
        quantity = row.text("quantity")
        found[row.id] = Instrument(
            row.id, row.text("meter") or row.id, row.text("kind"), quantity, _measure(row, "range", quantity),
            _measure(row, "resolution", quantity), _accuracy(row, quantity))
    return found


SHOWS_ONLY = "bench supply"
"""Kind of instrument that shows a voltage and cannot read a cell."""


def meters(build: Build, dimension: str) -> tuple[str, ...]:
    """The different meters of the list that read a dimension; ranges of one meter count once."""
    found: dict[str, str] = {}
    for each in instruments(build).values():
        if each.quantity == dimension and each.kind != SHOWS_ONLY:
            found.setdefault(each.meter.strip().casefold(), each.meter.strip())
    return tuple(found.values())


def meter_column(item: Item) -> Column | None:
    """The column of a table that names the meter of each row; None where it has none, or is the list itself."""
    if item.role == "instruments":
        return None
    return next((c for c in item.columns if c.id == "meter" and c.kind == "text"), None)


def meters_of_rows(item: Item, build: Build) -> tuple[str, ...]:
    """The listed meters that the rows of a table can be read with; empty where it has no column for them."""
    reading = next((c for c in item.columns if c.kind == "reading"), None)
    return meters(build, reading.dimension) if reading is not None and meter_column(item) is not None else ()


def pick(available: Mapping[str, Instrument], name: str, dimension: str, value: float) -> Instrument | None:
    """The instrument meant by `name` for a value: a range by its id, or the smallest fitting range of a meter."""
    exact = available.get(name)
    if exact is not None and exact.quantity == dimension:
        return exact
    same = [i for i in available.values() if i.meter == name and i.quantity == dimension]
    fitting = [i for i in same if i.top is None or abs(value) <= i.top] or same
    return min(fitting, key=lambda i: i.top if i.top is not None else float("inf"), default=None)


def taken_with(place: Item | Column, answer: Reading | Cell) -> str:
    """The instrument that counts for an answer; empty where none reads it, whatever stands in the file.

    What is printed, set or agreed, taken over or guessed has no meter's error, also where one was noted with it.
    """
    return answer.instrument if place.metered and answer.value_class in ("measured", "computed") else ""


def contributions(instrument: Instrument, value: float, step: float, address: str) -> dict[str, float]:
    """Limits of error of one reading by source, in the unit of the value.

    A meter maker's statement adds up: so much of the reading and so many counts, for every reading of that range. It is
    common to all readings of the range and cancels in their differences as far as they are alike; half a step of the
    last digit is the reading's own.
    """
    found: dict[str, float] = {}
    resolution = instrument.resolution if instrument.resolution is not None else step
    if instrument.accuracy is not None:
        stated = instrument.accuracy
        limit = stated.share * abs(value) + stated.counts * resolution + stated.fixed
        if limit:
            found[f"{instrument.meter}, {instrument.quantity}, {instrument.id}"] = limit
    if resolution:
        found[f"last digit of {address}"] = resolution / 2
    return found


def known_names(available: Iterable[Instrument]) -> tuple[str, ...]:
    """Every name a reading may give: range ids and meters."""
    names: dict[str, None] = {}
    for instrument in available:
        names.setdefault(instrument.id)
        names.setdefault(instrument.meter)
    return tuple(names)
