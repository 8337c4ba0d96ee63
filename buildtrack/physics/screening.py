"""Screening of salvaged cells: what two resting voltages, a capacity and a resistance say about one cell."""

from __future__ import annotations

from buildtrack.data import load


def capacity_kept_share(measured_ah: float, rated_ah: float) -> float:
    """Measured capacity over the rated one (state of health).

    share = Q_measured / Q_rated
    Units: Ah. Range: rated capacity above 0, measured one not negative.
    Source: end-of-life-practice (definition). Source: cell-sheet-2500 (2.450 of 2.500 Ah at 10 A).
    """
    if not rated_ah > 0:
        raise ValueError(f"The rated capacity is {rated_ah:g} Ah; it must be above 0 Ah.")
    if measured_ah < 0:
        raise ValueError(f"The measured capacity is {measured_ah:g} Ah; it must not be negative.")
    return measured_ah / rated_ah


def self_discharge_percent_per_month(drop_mv: float, days: float, slope_mv_per_percent: float) -> float:
    """Charge lost per 30 days as a percentage of full.

    rate = drop / slope / days * 30
    Units: mV, days, mV per 1 % of charge (from the curve near the cell's voltage), % per month.
    Range: days and slope above 0.
    Source: arithmetic (slope of the resting-voltage curve).
    """
    _require_above_zero("rest", days, "days")
    _require_above_zero("slope", slope_mv_per_percent, "mV per %")
    return drop_mv / slope_mv_per_percent / days * 30


def leak_mah_per_day(drop_mv: float, days: float, slope_mv_per_percent: float, capacity_ah: float) -> float:
    """Charge lost per day.

    leak = drop / slope / days * Q / 100
    Units: mV, days, mV per 1 % of charge, Ah, mAh per day. Range: days, slope and capacity above 0.
    Source: arithmetic (slope of the resting-voltage curve).
    """
    _require_above_zero("capacity", capacity_ah, "Ah")
    percent_per_day = self_discharge_percent_per_month(drop_mv, days, slope_mv_per_percent) / 30
    return percent_per_day / 100 * capacity_ah * 1000


def smallest_visible_leak_mah_per_day(
    resolution_mv: float, days: float, slope_mv_per_percent: float, capacity_ah: float
) -> float:
    """Smallest leak that a meter's last digit can show over a rest.

    leak = resolution / slope / days * Q / 100
    Units: mV, days, mV per 1 % of charge, Ah, mAh per day. Range: all above 0.
    Source: arithmetic (one step of the last digit).
    """
    _require_above_zero("resolution", resolution_mv, "mV")
    return leak_mah_per_day(resolution_mv, days, slope_mv_per_percent, capacity_ah)


def days_to_see_leak(
    leak_mah_per_day: float, resolution_mv: float, slope_mv_per_percent: float, capacity_ah: float, steps: float = 3.0
) -> float:
    """Rest in which a leak moves the meter by a number of its last digits.

    t = steps * resolution / slope * Q / 100 / leak
    Units: mAh per day, mV, mV per 1 % of charge, Ah, days. Range: all above 0.
    Source: arithmetic (steps of the last digit).
    """
    _require_above_zero("leak", leak_mah_per_day, "mAh per day")
    one_day_leak = smallest_visible_leak_mah_per_day(resolution_mv, 1.0, slope_mv_per_percent, capacity_ah)
    return steps * one_day_leak / leak_mah_per_day


def allowance_a(
    measured_ah: float, rated_current_a: float | None, rated_rate_per_h: float | None, kept_share: float | None = None
) -> float:
    """Current a used cell may give for long.

    I = min(I_rated, rate * Q_measured); with a rated current alone I_rated * kept share;
    with neither, 1 per hour of the measured capacity, 3 A at most
    Units: Ah, A, 1/h. Range: measured capacity and any rating above 0.
    Source: common-practice (an aged cell is not asked for more per ampere-hour than a new one).
    """
    _require_above_zero("measured capacity", measured_ah, "Ah")
    if rated_current_a is None and rated_rate_per_h is None:
        policy = load("thresholds")["policy"]
        return min(float(policy["unknown_cell_highest_a"]), float(policy["unknown_cell_rate_per_h"]) * measured_ah)
    bounds = []
    if rated_current_a is not None:
        _require_above_zero("rated current", rated_current_a, "A")
        bounds.append(rated_current_a)
        if rated_rate_per_h is None and kept_share is not None:
            bounds.append(rated_current_a * kept_share)
    if rated_rate_per_h is not None:
        _require_above_zero("rated C-rate", rated_rate_per_h, "per hour")
        bounds.append(rated_rate_per_h * measured_ah)
    return min(bounds)


def _require_above_zero(what: str, value: float, unit: str) -> None:
    if not value > 0:
        raise ValueError(f"The {what} is {value:g} {unit}; it must be above 0 {unit}.".replace("  ", " "))
