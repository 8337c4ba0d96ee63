"""Which instrument stamps the readings of a column, and whether a listed one fits better. Knows no screen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from rich.cells import cell_len

from buildtrack import units
from buildtrack.bench.plain import plain
from buildtrack.model.build import Build
from buildtrack.model.checklist import Column, Item
from buildtrack.model.instruments import Instrument, contributions, instruments, pick

WORTH_CHANGING = 0.75
"""An instrument fits better where its limit of error is at most this share of the other's. No source."""


SHOWS = 0.25
"""An instrument fits a reading where its limit of error is at most this share of it. Chosen, no source."""
COUNTS = 2000
"""Steps of a range of which no step is listed: a display of three and a half digits. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Meter:
    """The instrument of a column, with the listed one that fits better."""

    name: str
    """Empty where none is named."""
    meter: str = ""
    """What it is, where that is listed."""
    better: str = ""
    """The one that fits better; empty where none does."""
    why: str = ""
    """Why it does, in words."""
    others: bool = False
    """Whether another one is listed for this quantity."""


def meter_of(build: Build, column: Column, name: str, text: str) -> Meter:
    """The instrument called `name` for a column. text: what stands in the field, which tells what is to be reached."""
    listed = {i.id: i for i in instruments(build).values() if i.quantity == column.dimension}
    value = _value(column, text)
    chosen = pick(listed, name, column.dimension, value or 0.0) if name else None
    what = chosen.meter if chosen is not None and chosen.meter != name else ""
    others = any(i is not chosen for i in listed.values())
    if chosen is None or value is None:
        return Meter(name, what, others=others)
    better, why = _better(listed, chosen, value, column.unit)
    return Meter(name, what, better, why, others)


def shows(instrument: Instrument, place: Item | Column, value: float | None) -> bool:
    """Whether a reading at a place lies in a sensible part of the range of an instrument.

    Not above its top, and its limit of error at most SHOWS of the reading. Where nothing is usual too, a reading near
    nothing is right: the highest usual value counts. value: None before it is read, then the highest usual one within
    the range counts. Of a temperature only the top counts, since 0 °C is not no temperature.
    """
    if value is not None and not _reaches(instrument, value):
        return False
    low, high = place.plausible.low, abs(place.plausible.high or 0.0)
    if value is None:
        size = high if instrument.top is None else min(high, instrument.top)
    else:
        size = max(abs(value), high) if not value or (low is not None and low <= 0.0) else abs(value)
    return not size or place.dimension == "temperature" or _error(instrument, size) <= SHOWS * size


def _error(instrument: Instrument, value: float) -> float:
    """Limit of error at a value [canonical unit]; where nothing is listed, what a usual display would show."""
    step = instrument.resolution if instrument.resolution is not None else (instrument.top or 0.0) / COUNTS
    return sum(contributions(instrument, value, step, "").values())


def fitting(build: Build, place: Item | Column) -> list[str]:
    """The listed instruments that read the quantity of a place and show its highest usual value, by id.

    Of several ranges of one meter only the smallest that fits.
    """
    highest = place.plausible.high
    listed = [i for i in instruments(build).values() if place.metered and i.quantity == place.dimension]
    reaching = [i for i in listed if (highest is None or _reaches(i, highest)) and shows(i, place, None)]
    reaching.sort(key=lambda i: i.top if i.top is not None else float("inf"))
    first: dict[str, str] = {}
    for each in reaching:
        first.setdefault(each.meter or each.id, each.id)
    return list(first.values())


def only_fitting(build: Build, place: Item | Column) -> str:
    """The instrument that readings are taken with where nobody chose one: the only listed one that fits; else none."""
    found = fitting(build, place)
    return found[0] if len(found) == 1 else ""


def by_itself(build: Build, place: Item | Column, names: Iterable[str], text: str = "") -> str:
    """The instrument a reading is taken with where none was named for just this place; empty where none fits.

    names: what was chosen or used for the quantity, the best first; then the only listed one that fits. Where a range
    does not show the reading, another range of the same meter may. text: the reading, empty before it is typed.
    """
    value = _typed(place, text)
    listed = {i.id: i for i in instruments(build).values() if place.metered and i.quantity == place.dimension}
    for name in (*names, only_fitting(build, place)):
        chosen = pick(listed, name, place.dimension, value or 0.0) if name else None
        if chosen is None:
            continue
        if shows(chosen, place, value):
            return name
        same = [i for i in listed.values() if i.meter == chosen.meter and shows(i, place, value)]
        if same:
            return min(same, key=lambda i: _error(i, abs(value or 0.0))).id
    return ""


def listed_for(build: Build, place: Item | Column) -> bool:
    """Whether an instrument for the quantity of a place is listed, whatever its range; never where none reads it."""
    return place.metered and any(i.quantity == place.dimension for i in instruments(build).values())


def _typed(place: Item | Column, text: str) -> float | None:
    try:
        return units.parse(text, place.dimension, place.unit).value if text else None
    except units.QuantityError:
        return None  # the field itself says that it does not fit


def _value(column: Column, text: str) -> float | None:
    """What a reading of a column is like: the one that stands there, else the highest usual one."""
    if text:
        try:
            return units.parse(text, column.dimension, column.unit).value
        except units.QuantityError:
            return column.plausible.high  # the field itself says that it does not fit
    return column.plausible.high


def _better(listed: Mapping[str, Instrument], chosen: Instrument, value: float, unit: str) -> tuple[str, str]:
    """Id of the instrument that fits better and why; both empty where none does."""
    reaching = [i for i in listed.values() if i is not chosen and _reaches(i, value)]
    if not reaching:
        return "", ""
    best = min(reaching, key=lambda i: _limit(i, value))
    if not _reaches(chosen, value):
        return best.id, f"{chosen.id} ends at {_shown(chosen.top or 0.0, unit)}"
    now, then = _limit(chosen, value), _limit(best, value)
    if then > WORTH_CHANGING * now or then == float("inf"):
        return "", ""
    if now == float("inf"):
        return best.id, "its accuracy is known"
    return best.id, f"±{_shown(then, unit)} instead of ±{_shown(now, unit)}"


def _shown(value: float, unit: str) -> str:
    return f"{units.in_unit(value, unit):.2g} {unit}".rstrip()


def _reaches(instrument: Instrument, value: float) -> bool:
    return instrument.top is None or abs(value) <= instrument.top


def _limit(instrument: Instrument, value: float) -> float:
    """Limit of error at a value, canonical unit; without end where its accuracy is not known."""
    if instrument.accuracy is None:
        return float("inf")
    return sum(contributions(instrument, value, 0.0, "").values())


def meter_words(meter: Meter, room: int, key: str) -> str:
    """One quiet line that fits into so many cells; empty where there is nothing to say or no room. key: changes it."""
    fitting = (text for text in _told(meter, key) if text and cell_len(text) <= room)
    return next(fitting, "")


def _told(meter: Meter, key: str) -> tuple[str, ...]:
    """The same in fewer and fewer words."""
    name, what = plain(meter.name), plain(meter.meter)
    if not name:
        return (f"no instrument named: {key} names one", f"no instrument: {key}") if meter.others and key else ()
    whole = f"read with {name} ({what})" if what else f"read with {name}"
    short = f"with {name}"
    if not key or not meter.others:
        return whole, short
    if not meter.better:
        return f"{whole}, {key} changes it", f"{short}, {key} changes it", f"{short}, {key}"
    better = plain(meter.better)
    return (f"{whole}; {key} for {better}: {meter.why}", f"{short}; {key} for {better}: {meter.why}",
            f"{short}; {key}: {better} fits better", f"{short}; {key}: {better}")
