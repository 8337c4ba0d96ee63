"""Balance of the groups: how much charge apart, how long the board needs, and whether it can ever end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.physics.ocv import FLAT_MV_PER_PERCENT, Curve


@dataclass(frozen=True, slots=True)
class Imbalance:
    """Charge a group is above the lowest one, as told and as a range; None with a note when it cannot be told [Ah]."""

    charge_ah: float | None
    low_ah: float | None
    high_ah: float | None
    note: str


def charge_of_difference_ah(difference_v: float, slope_mv_per_percent: float, capacity_ah: float) -> float:
    """Charge behind a voltage difference: q = dU / slope * Q / 100, dU in mV and slope in mV per % [Ah].

    Refused on a flat curve (below 1 mV per %). Source: arithmetic.
    """
    if slope_mv_per_percent < FLAT_MV_PER_PERCENT:
        raise ValueError(f"cannot tell: the curve is flat here ({slope_mv_per_percent:.2g} mV per %)")
    return 1000 * difference_v / slope_mv_per_percent * capacity_ah / 100


def imbalance(
    rested_v: Sequence[float], capacity_ah: Sequence[float], curve: Curve, difference_uncertainty_v: float = 0.002
) -> tuple[Imbalance, ...]:
    """Charge of every group above the lowest, by the slope of the curve between the two.

    `difference_uncertainty_v` belongs to a difference of two readings of one meter (resolution and repeatability, not
    the whole error). Near full or near empty, after an hour's rest; on the flat part the answer is "cannot tell".
    """
    lowest = min(rested_v)
    return tuple(
        _above(v, lowest, q, curve, difference_uncertainty_v) for v, q in zip(rested_v, capacity_ah, strict=True)
    )


def _above(volts: float, lowest_v: float, capacity_ah: float, curve: Curve, uncertainty_v: float) -> Imbalance:
    if not curve.lowest_v <= lowest_v <= volts <= curve.highest_v:
        return Imbalance(
            None, None, None, f"cannot tell: outside the curve ({curve.lowest_v:.3f} to {curve.highest_v:.3f} V)"
        )
    slope = curve.slope_mv_per_percent((curve.soc(lowest_v) + curve.soc(volts)) / 2)
    if slope < FLAT_MV_PER_PERCENT:
        return Imbalance(None, None, None, f"cannot tell: the curve is flat here ({slope:.2g} mV per %)")
    told = charge_of_difference_ah(volts - lowest_v, slope, capacity_ah)
    half = charge_of_difference_ah(uncertainty_v, slope, capacity_ah)
    note = "within the meter's resolution" if volts - lowest_v <= uncertainty_v else ""
    return Imbalance(told, max(0.0, told - half), told + half, note)


def balancing_time_h(charge_ah: float, bleed_a: float, duty: float = 1.0) -> float:
    """Time to bleed a charge: t = q / (I d), d the share of time the bleed is on [h].

    Balancing pauses while the board measures, so d is below 1. Source: ti-sluaa81a.
    """
    if not bleed_a > 0 or not 0 < duty <= 1:
        raise ValueError(f"bleed {bleed_a} A at duty {duty}; current above zero and duty up to 1 are needed")
    return charge_ah / (bleed_a * duty)
