"""Balance of the groups: how much charge apart, how long the board needs, and whether it can ever end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

from buildtrack.physics.ocv import FLAT_MV_PER_PERCENT, Curve


@dataclass(frozen=True, slots=True)
class Imbalance:
    """Charge a group is above the lowest one, as told and as a range; None with a note when it cannot be told [Ah]."""

    charge_ah: float | None
    low_ah: float | None
    high_ah: float | None
    note: str
    slope_mv_per_percent: float | None = None
    """Slope of the curve it was told by."""


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
    return Imbalance(told, max(0.0, told - half), told + half, note, slope)


def bleed_current_a(group_v: float, resistor_ohm: float, switch_ohm: float = 0.0, resistors: int = 1) -> float:
    """Balance current I = U / (n R + R_switch); n = 2 when a filter resistor sits in both tap lines [A].

    Source: ti-slvae87a.
    """
    total = resistors * resistor_ohm + switch_ohm
    if not total > 0:
        raise ValueError(f"bleed path of {total} ohm; above zero is needed")
    return group_v / total


def bleed_heat_w(group_v: float, bleed_a: float) -> float:
    """Heat of one bleeding group: P = U I [W]. Source: arithmetic."""
    return group_v * bleed_a


def balancing_time_h(charge_ah: float, bleed_a: float, duty: float = 1.0) -> float:
    """Time to bleed a charge: t = q / (I d), d the share of time the bleed is on [h].

    Balancing pauses while the board measures, so d is below 1. Source: ti-sluaa81a.
    """
    if not bleed_a > 0 or not 0 < duty <= 1:
        raise ValueError(f"bleed {bleed_a} A at duty {duty}; current above zero and duty up to 1 are needed")
    return charge_ah / (bleed_a * duty)


def bleed_time_exact_h(from_v: float, to_v: float, path_ohm: float, slope_v_per_ah: float) -> float:
    """Time to bleed between two voltages with the current falling: t = R / b ln(U1 / U2) [h].

    `slope_v_per_ah` is dU/dQ of the group. Source: arithmetic.
    """
    if not from_v > to_v > 0 or not path_ohm > 0 or not slope_v_per_ah > 0:
        raise ValueError("from above to, and path and slope above zero are needed")
    return path_ohm / slope_v_per_ah * log(from_v / to_v)


def charge_between_ah(from_v: float, to_v: float, slope_v_per_ah: float) -> float:
    """Charge between two voltages on a straight piece: q = (U1 - U2) / b [Ah]. Source: arithmetic."""
    if not slope_v_per_ah > 0:
        raise ValueError(f"slope {slope_v_per_ah} V/Ah; above zero is needed")
    return (from_v - to_v) / slope_v_per_ah


def maintenance_current_a(leak_a: Sequence[float], share_of_time: float) -> float:
    """Balance current needed to hold unequal leaks: I = (max - min leak) / share of time balancing [A].

    Source: andrea-bms.
    """
    if not 0 < share_of_time <= 1:
        raise ValueError(f"share of time {share_of_time}; above 0 and up to 1 is needed")
    return (max(leak_a) - min(leak_a)) / share_of_time


def leading_group_v(charger_v: float, series: int, lagging_v: float, tolerance: float = 0.0) -> float:
    """Voltage of the leading group when all others lag: U = U_chg (1 + e) - (S - 1) U_lag [V].

    Source: Kirchhoff's voltage law.
    """
    if series < 1:
        raise ValueError(f"{series} groups; at least 1 is needed")
    return charger_v * (1 + tolerance) - (series - 1) * lagging_v


def lagging_groups_v(charger_v: float, series: int, leading_v: float) -> float:
    """Mean voltage of the other groups when one leads: U = (U_chg - U_lead) / (S - 1) [V].

    Source: Kirchhoff's voltage law.
    """
    if series < 2:
        raise ValueError(f"{series} groups; at least 2 are needed")
    return (charger_v - leading_v) / (series - 1)
