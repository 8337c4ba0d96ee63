"""Rules about trust: guesses, values that look made up, values written over, values taken from another build."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime

from buildtrack import units
from buildtrack.checks.rules_general_words import (
    PASS,
    Place,
    found,
    items_placed,
    meter_of,
    meters_of,
    places,
    rests_on_readings,
    times_of,
)
from buildtrack.checks.ruling import Context, Ruling

ALIKE = 5
"""So many equal readings in a row, fine enough to scatter, look copied: common practice, no source."""
ROUND = 6
"""So many readings that all end in 0 or 5 look rounded (chance 1 in 15 000): common practice, no source."""
GO = 30
"""So many readings of three steps with one time look typed in one go: common practice, no source."""
FAR = 0.20
"""A reading so far from that of the past build asks for a reason: common practice, no source."""
MEASURED = ("voltage", "current", "capacity", "resistance", "mass")
HELD = ("dc_current_1", "dc_current_2")
"""Columns with a current that a tester holds: it shows the same each time, and nobody copied it."""
_DIGITS = re.compile(r"\d+(?:[.,]\d+)?", re.ASCII)


def _typed(text: str) -> str:
    match = _DIGITS.search(text)
    return match.group(0) if match else ""


def _fineness(text: str) -> int:
    return len(_typed(text).replace(".", "").replace(",", "").lstrip("0"))


def _series(context: Context) -> list[tuple[str, list[Place]]]:
    """Readings that were taken one after another: of one item, or down one column."""
    rests_on_readings(context)
    if "series" not in context.memo:
        context.memo["series"] = list(_rows_and_columns(context))
    found_series: list[tuple[str, list[Place]]] = context.memo["series"]
    return found_series


def _rows_and_columns(context: Context) -> Iterator[tuple[str, list[Place]]]:
    rows: dict[tuple[str, str], list[Place]] = defaultdict(list)
    for place in places(context):
        if place.column is not None and place.column.id in HELD:
            continue
        if place.metered and place.dimension in MEASURED and place.answer.value_class == "measured":
            rows[place.item.id, place.column.id if place.column else ""].append(place)
    for found_places in rows.values():
        first = found_places[0]
        yield f"{first.item.label}: {first.column.label}" if first.column else first.item.label, found_places


def looks_copied(context: Context) -> Ruling:
    """Series of readings that are equal to the last of at least four digits."""
    alike = []
    for words, series in _series(context):
        if len(series) < ALIKE or len({_typed(p.answer.text) for p in series}) > 1:
            continue
        if _fineness(series[0].answer.text) >= 4:
            alike.append(f"{words}: {len(series)} times {series[0].answer.text}")
    return found(alike)


def looks_rounded(context: Context) -> Ruling:
    """Series of readings that all end in 0 or 5 although the instrument shows more."""
    meters = meters_of(context)
    rounded = []
    for words, series in _series(context):
        if len(series) < ROUND:
            continue
        texts = [_typed(p.answer.text) for p in series]
        if len(set(texts)) < 2 or not all(t[-1:] in ("0", "5") for t in texts):
            continue
        coarse = any((m := meter_of(p, meters)) is not None and m.resolution is not None
                     and m.resolution >= 4.99 * _step(p) for p in series)
        if not coarse:
            rounded.append(f"{words} ({len(series)} readings)")
    return found(rounded)


def _step(place: Place) -> float:
    return place.quantity.step if place.quantity is not None else 0.0


def typed_in_one_go(context: Context) -> Ruling:
    """Many readings of several steps that carry one and the same time."""
    counts: dict[datetime, int] = {}
    steps: dict[datetime, set[str]] = defaultdict(set)
    for item in items_placed(context):
        for minute, count in times_of(context, item).minutes:
            counts[minute] = counts.get(minute, 0) + count
            steps[minute].add(item.step)
    return found([f"{count} readings of {len(steps[when])} steps at {when.isoformat(sep=' ', timespec='minutes')}"
                  for when, count in counts.items() if count >= GO and len(steps[when]) >= 3])


def guessed_under_hold(context: Context) -> Ruling:
    """Hold points that rest on a guess."""
    guesses = [p for p in places(context) if p.item.hold and p.answer.value_class == "guessed"]
    context.seen.update(p.item.id for p in guesses)
    return found(list(dict.fromkeys(p.words for p in guesses)))


def retaken(context: Context) -> Ruling:
    """Measured values that were changed later without saying why."""
    rests_on_readings(context)
    changed = []
    items = context.checklist.items
    for event in context.build.history:
        if event.what != "changed" or event.reason or event.before == event.after:
            continue
        if (item := items.get(event.item)) is None:
            continue
        column = item.column(event.column) if event.column else None
        if column is not None and column.default and event.before == column.default:
            continue  # what was filled in beforehand was never measured
        if (column.kind if column else item.kind) == "reading":
            where = f"{event.row} {column.label}" if column else item.label
            changed.append(f"{where} from {units.clip(event.before)} to {units.clip(event.after)}")
    return found(changed)


def copied_from_past(context: Context) -> Ruling:
    """Values that must be measured afresh and were taken over from a past build."""
    rests_on_readings(context)
    if context.build.origin is None:
        return PASS
    return found([place.words for place in places(context) if place.metered
                  and place.answer.value_class == "taken over"])


def far_from_past(context: Context) -> Ruling:
    """Readings that differ from those of the past build by more than a fifth."""
    far = []
    for place in places(context):
        if place.column is not None or place.value is None or place.dimension == "money":
            continue  # prices are other ones another day
        entry = context.build.entry(place.item.id)
        if not entry.expected:
            continue
        try:
            expected = units.parse(entry.expected, place.dimension, place.item.unit).value
        except units.QuantityError:
            continue  # an expectation that cannot be read is no measure for anything
        if expected and abs(place.value / expected - 1) > FAR:
            far.append(f"{place.words} {place.answer.text}, expected {units.clip(entry.expected)}")
    return found(far)
