"""Screening of salvaged cells: what two resting voltages, a capacity and a resistance say about one cell."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from buildtrack.data import load

Arrival = Literal["good", "slow start", "suspicious", "stop", "never"]
RestClass = Literal["ok", "watch", "single cell only", "reject"]
CapacityClass = Literal["good", "fair", "gadgets", "recycle"]


@dataclass(frozen=True, slots=True)
class CellFacts:
    """What is known about one cell; None where it was not measured."""

    arrival_v: float | None = None
    looks_sound: bool | None = None
    heated_up: bool | None = None
    rest_drop_mv: float | None = None
    rest_days: float | None = None
    rest_end_v: float | None = None
    capacity_kept: float | None = None
    resistance_ohm: float | None = None
    median_resistance_ohm: float | None = None


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


def self_discharge_mv_per_day(first_v: float, second_v: float, days: float) -> float:
    """Fall of the resting voltage per day, after the first day or two of relaxation.

    rate = (V1 - V2) * 1000 / days
    Units: V, days, mV per day. Both readings with the same meter and range, at the same temperature.
    Range: days above 0.
    Source: common-practice (definition).
    """
    _require_above_zero("rest", days, "days")
    return (first_v - second_v) * 1000 / days


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


def arrival_class(arrival_v: float) -> Arrival:
    """What the voltage on arrival allows.

    from 3.3 V good; from 3.0 V slow start; from 2.5 V suspicious; from 2.0 V stop by default; below never
    Units: V. Range: any reading.
    Source: common-practice (limits in the policy table). Source: deep-discharge-note (1.5 V for a week: never).
    """
    policy = load("thresholds")["policy"]
    if arrival_v >= policy["arrival_good_v"]:
        return "good"
    if arrival_v >= policy["arrival_slow_start_v"]:
        return "slow start"
    if arrival_v >= policy["arrival_stop_v"]:
        return "suspicious"
    return "stop" if arrival_v >= policy["arrival_never_v"] else "never"


def rest_class(drop_mv: float, days: float) -> RestClass:
    """What the fall over a rest near 4.1 V allows, scaled to 14 days.

    per 14 days: up to 10 mV ok; up to 20 watch; up to 50 single cell only; above reject
    Units: mV, days. Range: days above 0.
    Source: common-practice (limits in the policy table).
    """
    _require_above_zero("rest", days, "days")
    policy = load("thresholds")["policy"]
    scaled_mv = round(drop_mv / days * policy["rest_drop_period_days"], 9)
    if scaled_mv <= policy["rest_drop_ok_mv"]:
        return "ok"
    if scaled_mv <= policy["rest_drop_watch_mv"]:
        return "watch"
    return "single cell only" if scaled_mv <= policy["rest_drop_single_mv"] else "reject"


def capacity_class(kept_share: float) -> CapacityClass:
    """What the kept capacity allows.

    from 80 % good; from 70 % fair; from 60 % single-cell gadgets; below recycle
    Range: share not negative.
    Source: common-practice (limits in the policy table).
    """
    if kept_share < 0:
        raise ValueError(f"A share of {kept_share:g} is not allowed: it must not be negative.")
    policy = load("thresholds")["policy"]
    kept = round(kept_share, 9)
    if kept >= policy["capacity_good_share"]:
        return "good"
    if kept >= policy["capacity_fair_share"]:
        return "fair"
    return "gadgets" if kept >= policy["capacity_gadget_share"] else "recycle"


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


def outliers(values: Sequence[float], deviations: float = 3.5) -> tuple[int, ...]:
    """Positions of values that stand apart from the rest, judged by the median.

    |x - median| > deviations * 1.4826 * median(|x - median|)
    Units: any, all the same. When more than half the values are equal, every other value stands apart.
    Range: at least three values, deviations above 0.
    Source: modified-z-score (limit 3.5).
    """
    if len(values) < 3:
        raise ValueError(f"{len(values)} values were given; at least three are needed to call one an outlier.")
    _require_above_zero("number of deviations", deviations, "")
    middle = statistics.median(values)
    distances = [abs(value - middle) for value in values]
    scale = statistics.median(distances) / 0.6745
    return tuple(index for index, distance in enumerate(distances) if distance > deviations * scale + 1e-12)


def reject_codes(facts: CellFacts) -> tuple[str, ...]:
    """Why a cell may not go into a pack; empty when nothing measured speaks against it.

    Codes: look, arrival, heater, leak, capacity, resistance. What was not measured gives no code.
    Source: common-practice (limits in the policy table).
    """
    policy = load("thresholds")["policy"]
    leaks = _leaks(facts)
    if facts.rest_end_v is not None and facts.rest_end_v < policy["rest_lowest_v"]:
        leaks = True
    refused = {
        "look": facts.looks_sound is False,
        "arrival": facts.arrival_v is not None and arrival_class(facts.arrival_v) in ("stop", "never"),
        "heater": facts.heated_up is True,
        "leak": leaks,
        "capacity": facts.capacity_kept is not None and capacity_class(facts.capacity_kept) in ("gadgets", "recycle"),
        "resistance": _resistance_refused(facts),
    }
    return tuple(code for code, hit in refused.items() if hit)


def _leaks(facts: CellFacts) -> bool:
    if facts.rest_drop_mv is None or facts.rest_days is None:
        return False
    return rest_class(facts.rest_drop_mv, facts.rest_days) in ("single cell only", "reject")


def _resistance_refused(facts: CellFacts) -> bool:
    if facts.resistance_ohm is None:
        return False
    policy = load("thresholds")["policy"]
    if facts.resistance_ohm > policy["resistance_reject_ohm"]:
        return True
    if facts.median_resistance_ohm is None or not facts.median_resistance_ohm > 0:
        return False
    # Nine digits, so that 108 of a median of 72 milliohm counts as the printed 1.5.
    ratio = round(facts.resistance_ohm / facts.median_resistance_ohm, 9)
    return ratio > float(policy["resistance_suspicious_ratio"])


def group_self_discharge_difference_mah(leaks_mah_per_day: Sequence[float], days: float) -> float:
    """Charge by which the groups drift apart over a rest.

    dQ = (max - min) * days
    Units: mAh per day, days, mAh. Range: at least one group, days not negative.
    Source: common-practice (definition).
    """
    if not leaks_mah_per_day:
        raise ValueError("No leak was given; at least one is needed.")
    if not (days >= 0 and math.isfinite(days)):
        raise ValueError(f"{days:g} days is not allowed: it must not be negative.")
    return (max(leaks_mah_per_day) - min(leaks_mah_per_day)) * days


def _require_above_zero(what: str, value: float, unit: str) -> None:
    if not value > 0:
        raise ValueError(f"The {what} is {value:g} {unit}; it must be above 0 {unit}.".replace("  ", " "))
