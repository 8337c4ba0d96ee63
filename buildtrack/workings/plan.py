"""Workings of the step `plan`: do the instruments agree with each other?"""

from __future__ import annotations

import statistics
from dataclasses import dataclass

from buildtrack import units
from buildtrack.model.instruments import SHOWS_ONLY
from buildtrack.workings.graph import Working
from buildtrack.workings.values import Table

STEP = "plan"


@dataclass(frozen=True, slots=True)
class MeterOffset:
    """One meter beside the others on the same source."""

    meter: str
    reading_v: float
    offset_v: float
    """Its mean reading minus the median of all meters."""


@dataclass(frozen=True, slots=True)
class MeterOffsets:
    """All meters that read the same source in the same minute."""

    meters: tuple[MeterOffset, ...]
    middle_v: float

    @property
    def summary(self) -> str:
        """The whole in one line."""
        return f"{len(self.meters)} meters around {units.show(self.middle_v, 'V')}"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("meter", "reads", "from the median")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per meter."""
        return tuple((m.meter, units.show(m.reading_v, "V"), f"{m.offset_v * 1000:+.1f} mV") for m in self.meters)


def voltmeters(instruments: Table) -> float:
    """How many different meters of the list measure voltage; ranges of one meter count once."""
    names = {(row.text("meter") or row.id).strip().casefold() for row in instruments
             if row.text("quantity") == "voltage" and row.text("kind") != SHOWS_ONLY}
    return float(len(names))


def _mean_by_meter(meter_check: Table) -> dict[str, float]:
    readings: dict[str, list[float]] = {}
    for row in meter_check:
        reading = row.number("reading")
        if reading is not None:
            readings.setdefault(row.text("meter") or row.id, []).append(reading)
    return {meter: statistics.fmean(values) for meter, values in readings.items()}


def meter_offsets(meter_check: Table) -> MeterOffsets | None:
    """Every meter's mean reading of one source, beside the median of all meters."""
    means = _mean_by_meter(meter_check)
    if len(means) < 2:
        return None
    middle = statistics.median(means.values())
    return MeterOffsets(tuple(MeterOffset(meter, mean, mean - middle) for meter, mean in means.items()), middle)


def meter_disagreement(meter_check: Table) -> float | None:
    """Difference between the highest and the lowest meter on one source."""
    means = _mean_by_meter(meter_check)
    return max(means.values()) - min(means.values()) if len(means) >= 2 else None


def current_factor(meter_shown_current: float, tester_shown_current: float) -> float:
    """True current over the one the tester shows; its capacities are off by the same factor."""
    if not tester_shown_current > 0:
        raise ValueError(f"The tester shows {tester_shown_current:g} A; it must show a current above 0 A.")
    return meter_shown_current / tester_shown_current


def planned_share(
    planned_cost: float, new_pack_price: float | None = None, copy_pack_price: float | None = None
) -> float | None:
    """Estimated cost of the parts over the cheapest pack that could be bought instead; None where no price is known."""
    prices = [price for price in (new_pack_price, copy_pack_price) if price is not None]
    if not prices:
        return None
    bought = min(prices)
    if not bought > 0:
        raise ValueError("The price of a bought pack is 0; without a price there is nothing to compare with.")
    return planned_cost / bought


WORKINGS = (
    Working(voltmeters, STEP, "Voltmeters in the list", "", "different meters of the list that measure voltage",
            "definition", expression=False, note="ranges of one meter count once; a bench supply is none"),
    Working(meter_disagreement, STEP, "Meters differ by", "mV", "highest meter - lowest meter, each the mean of its "
            "readings", "definition", expression=False,
            note="as the meters show it; with two meters nobody can say which is wrong, three are needed"),
    Working(meter_offsets, STEP, "Each meter against the others", "", "mean of its readings - median of all meters",
            "definition", expression=False),
    Working(current_factor, STEP, "Meter's current over the tester's", "", "meter_shown_current / tester_shown_current",
            "definition", "k_I", digits=4, note="a tester that counts too much current counts too much capacity"),
    Working(planned_share, STEP, "Planned cost over a bought pack", "%",
            "planned cost / the cheaper of new pack and copy pack", "definition", expression=False),
)
