"""The ladder of thresholds with their tolerances, the alarm's setting, and what is left when it sounds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

ConflictKind = Literal["contradiction", "overlap"]


class Rung(NamedTuple):
    """One threshold per cell; the tolerances are given as positive numbers."""

    name: str
    voltage_v: float
    minus_v: float = 0.0
    plus_v: float = 0.0


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two thresholds that are not safely in order."""

    upper: str
    lower: str
    kind: ConflictKind
    """contradiction: out of order as stated; overlap: in order as stated, but the tolerances meet."""
    margin_v: float
    """Lowest edge of the upper minus highest edge of the lower; 0 or less."""


@dataclass(frozen=True, slots=True)
class AlarmAdvice:
    """A recommended alarm setting."""

    exact_v: float
    setting_v: float
    governed_by: Literal["resting target", "board cutoff", "cell minimum"]


@dataclass(frozen=True, slots=True)
class TripCurrents:
    """Currents at which an over-current threshold acts."""

    lowest_a: float
    nominal_a: float
    highest_a: float


def margin_v(upper: Rung, lower: Rung) -> float:
    """Distance that is left between two thresholds at the worst of both tolerances.

    margin = (V_upper - minus) - (V_lower + plus)
    Units: V.
    Source: ladder-from-parts (worst-case edges).
    """
    return (upper.voltage_v - upper.minus_v) - (lower.voltage_v + lower.plus_v)


def ladder_conflicts(rungs: Sequence[Rung]) -> tuple[Conflict, ...]:
    """Every pair of thresholds that is not safely in the order given, highest first.

    In order when (V_upper - minus) > (V_lower + plus)
    Units: V per cell. Range: tolerances not negative; leave out thresholds that are not known.
    Source: ladder-from-parts (required order of charge end, cuts and cell limits).
    """
    for rung in rungs:
        if rung.minus_v < 0 or rung.plus_v < 0:
            raise ValueError(f"The tolerance of {rung.name} is negative; give it as a positive number.")
    found = []
    for index, upper in enumerate(rungs):
        for lower in rungs[index + 1 :]:
            margin = round(margin_v(upper, lower), 9)
            if margin <= 0:
                kind: ConflictKind = "contradiction" if upper.voltage_v <= lower.voltage_v else "overlap"
                found.append(Conflict(upper.name, lower.name, kind, margin))
    return tuple(found)


def resting_voltage_v(loaded_v: float, current_a: float, resistance_ohm: float) -> float:
    """Resting voltage behind a loaded reading.

    V_rest = V_load + I * R
    Units: V, A, ohm. Leaves out slow recovery, so it is a lower estimate.
    Source: openstax-university-physics (section 10.1, terminal voltage).
    """
    return loaded_v + current_a * resistance_ohm


def loaded_voltage_v(resting_v: float, current_a: float, resistance_ohm: float) -> float:
    """Loaded voltage of a group that would rest at a voltage.

    V_load = V_rest - I * R
    Units: V, A, ohm.
    Source: openstax-university-physics (section 10.1, terminal voltage).
    """
    return resting_v - current_a * resistance_ohm


def recommended_alarm(
    resting_target_v: float,
    rms_current_a: float,
    worst_resistance_ohm: float,
    cutoff_v: float,
    cutoff_tolerance_v: float,
    cell_minimum_v: float,
    above_cutoff_v: float = 0.3,
    step_v: float = 0.1,
) -> AlarmAdvice:
    """Alarm setting per group that sounds at a resting target under working current, safely above the cutoff.

    V = max(V_target - I_rms * R_worst, V_cutoff + tolerance + 0.3, V_minimum), set to the device's next step:
    the nearest one, but never below the two floors
    Units: V per group, A, ohm. Range: step above 0.
    Source: common-practice (0.3 V above the highest cutoff).
    """
    if not step_v > 0:
        raise ValueError(f"A step of {step_v:g} V is not allowed: above 0 V.")
    wanted_v = loaded_voltage_v(resting_target_v, rms_current_a, worst_resistance_ohm)
    above_board_v = cutoff_v + cutoff_tolerance_v + above_cutoff_v
    floor_v = max(above_board_v, cell_minimum_v)
    exact_v = max(wanted_v, floor_v)
    setting_v = round(exact_v / step_v) * step_v
    if setting_v < floor_v - 1e-9:
        setting_v = math.ceil(floor_v / step_v - 1e-9) * step_v
    if wanted_v >= floor_v:
        return AlarmAdvice(exact_v, round(setting_v, 9), "resting target")
    governed_by: Literal["board cutoff", "cell minimum"] = (
        "board cutoff" if above_board_v >= cell_minimum_v else "cell minimum"
    )
    return AlarmAdvice(exact_v, round(setting_v, 9), governed_by)


def charge_between_ah(alarm_ah: float, cutoff_ah: float) -> float:
    """Charge left when the alarm sounds.

    Q = Q_cutoff - Q_alarm
    Units: Ah drawn since full at the alarm and at the cutoff. Range: cutoff not before the alarm.
    Source: common-practice (definition).
    """
    if cutoff_ah < alarm_ah:
        raise ValueError(f"The cutoff at {cutoff_ah:g} Ah came before the alarm at {alarm_ah:g} Ah.")
    return cutoff_ah - alarm_ah


def minutes_left(charge_ah: float, mean_current_a: float) -> float:
    """Minutes of work that a charge lasts.

    t = Q / I_mean * 60
    Units: Ah, A, min. Range: current above 0, charge not negative.
    Source: openstax-university-physics (section 9.1, I = Q / t).
    """
    if not mean_current_a > 0:
        raise ValueError(f"The mean current is {mean_current_a:g} A; it must be above 0 A.")
    if charge_ah < 0:
        raise ValueError(f"The charge is {charge_ah:g} Ah; it must not be negative.")
    return charge_ah / mean_current_a * 60


def is_sag_trip(
    group_v: float, current_a: float, mean_current_a: float, cutoff_v: float, margin: float = 0.1, ratio: float = 3.0
) -> bool:
    """Whether a board opened because of sag under a heavy load, not because the pack was empty.

    sag = V_group < V_cutoff + margin and I > ratio * I_mean
    Units: V, A. Range: mean current above 0.
    Source: common-practice (diagnosis rule).
    """
    if not mean_current_a > 0:
        raise ValueError(f"The mean current is {mean_current_a:g} A; it must be above 0 A.")
    return group_v < cutoff_v + margin and current_a > ratio * mean_current_a


def over_current_trip_a(threshold_v: float, tolerance_v: float, sense_ohm: float) -> TripCurrents:
    """Currents at which a board's over-current detector acts.

    I = V_threshold / R_sense, with the tolerance either way
    Units: V, ohm (sense resistor, or the two switched transistors in series), A. Range: sense resistance above 0.
    Source: dw01a-sheet (150 ± 30 mV).
    """
    if not sense_ohm > 0:
        raise ValueError(f"The sense resistance is {sense_ohm:g} ohm; it must be above 0 ohm.")
    if not 0 <= tolerance_v < threshold_v:
        raise ValueError(f"A tolerance of {tolerance_v:g} V is outside 0 to below the threshold's {threshold_v:g} V.")
    return TripCurrents(
        (threshold_v - tolerance_v) / sense_ohm, threshold_v / sense_ohm, (threshold_v + tolerance_v) / sense_ohm
    )
