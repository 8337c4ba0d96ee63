"""A repeating duty of current segments: mean for run time, root mean square for heat, peak for trips."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple


class Segment(NamedTuple):
    """A piece of a duty: the current goes straight from start to end in the time."""

    start_a: float
    end_a: float
    time_s: float


@dataclass(frozen=True, slots=True)
class Duty:
    """The figures of one cycle."""

    time_s: float
    mean_a: float
    rms_a: float
    peak_a: float
    i2t_a2s: float
    charge_ah: float


def steady(current_a: float, time_s: float) -> Segment:
    """A segment of constant current."""
    return Segment(current_a, current_a, time_s)


def cycle_time_s(segments: Sequence[Segment]) -> float:
    """Length of one cycle, rests included.

    T = sum(t)
    Units: s. Range: at least one segment, no negative time, sum above 0.
    Source: motor-rms-note (definition).
    """
    if not segments:
        raise ValueError("The duty has no segments; at least one is needed.")
    for _, _, time_s in segments:
        if time_s < 0:
            raise ValueError(f"A segment lasts {time_s:g} s; a time must not be negative.")
    total_s = math.fsum(time_s for _, _, time_s in segments)
    if not total_s > 0:
        raise ValueError("The duty lasts 0 s; it must last longer.")
    return total_s


def mean_current_a(segments: Sequence[Segment]) -> float:
    """Mean current of one cycle; it sets the run time.

    I_mean = sum((a + b) / 2 * t) / T
    Units: A, s.
    Source: motor-rms-note (definition of a time average).
    """
    return math.fsum((start + end) / 2 * time for start, end, time in segments) / cycle_time_s(segments)


def cycle_i2t_a2s(segments: Sequence[Segment]) -> float:
    """I2t of one cycle; a straight ramp counts (a2 + ab + b2) / 3.

    I2t = sum((a ** 2 + a * b + b ** 2) / 3 * t)
    Units: A, s, A2s.
    Source: fuse-pulse-guide (trapezoid).
    """
    cycle_time_s(segments)
    return math.fsum((start**2 + start * end + end**2) / 3 * time for start, end, time in segments)


def rms_current_a(segments: Sequence[Segment]) -> float:
    """Root-mean-square current of one cycle; it sets the heating of cells, wires and fuse.

    I_rms = sqrt(I2t / T)
    Units: A, s. Assumes the cycle is short against the thermal time constants.
    Source: motor-rms-note (root of sum(I2 t) / sum(t)).
    """
    return math.sqrt(cycle_i2t_a2s(segments) / cycle_time_s(segments))


def heating_current_a(rms_a: float, run_a: float, run_s: float, tau_s: float) -> float:
    """The lasting current that would warm a part as much as the longest run does at its end, from the duty's warmth on.

    I = sqrt(I_rms ** 2 + (I_run ** 2 - I_rms ** 2) * (1 - exp(-t / tau))); I_rms where the run draws no more
    Units: A, s. Range: no negative current or time, time constant above 0.
    Source: common-practice (first-order warming, heat as I2 R; the time constant is the caller's).
    """
    if min(rms_a, run_a, run_s) < 0 or not tau_s > 0:
        raise ValueError(f"{rms_a:g} A rms, a run of {run_a:g} A for {run_s:g} s and a time constant of {tau_s:g} s: "
                         "none may be negative, and the time constant must be above 0 s.")
    gained = 1.0 - math.exp(-run_s / tau_s)
    return math.sqrt(rms_a**2 + max(run_a**2 - rms_a**2, 0.0) * gained)


def longest_loaded_s(segments: Sequence[Segment], bare_a: float) -> float | None:
    """Longest time under load without a pause as the cycle repeats; None where it never pauses.

    A segment whose higher end lies at or below `bare_a` is a pause.
    Units: s, A.
    Source: motor-rms-note (the cycle repeats).
    """
    cycle_time_s(segments)
    pauses = [k for k, (start, end, time_s) in enumerate(segments) if max(start, end) <= bare_a and time_s > 0]
    if not pauses:
        return None
    longest = stretch = 0.0
    for start, end, time_s in (*segments[pauses[0]:], *segments[:pauses[0]]):
        stretch = 0.0 if max(start, end) <= bare_a and time_s > 0 else stretch + time_s
        longest = max(longest, stretch)
    return longest


def peak_current_a(segments: Sequence[Segment]) -> float:
    """Highest current of one cycle; it sets sag and trips.

    I_peak = max(a, b)
    Units: A.
    Source: motor-rms-note (definition).
    """
    cycle_time_s(segments)
    return max(max(start, end) for start, end, _ in segments)


def cycle_charge_ah(segments: Sequence[Segment]) -> float:
    """Charge one cycle takes.

    Q = I_mean * T / 3600
    Units: A, s, Ah.
    Source: openstax-university-physics (section 9.1).
    """
    return mean_current_a(segments) * cycle_time_s(segments) / 3600


def cycle_energy_wh(segments: Sequence[Segment], voltage_v: float, source_ohm: float = 0.0) -> float:
    """Energy one cycle delivers at the terminals of a source of steady resting voltage.

    E = (V * I_mean * T - R * I2t) / 3600
    Units: V, A, s, ohm, Wh.
    Source: openstax-university-physics (section 10.1, terminal voltage).
    """
    delivered_j = voltage_v * mean_current_a(segments) * cycle_time_s(segments) - source_ohm * cycle_i2t_a2s(segments)
    return delivered_j / 3600


def mean_power_w(segments: Sequence[Segment], voltage_v: float, source_ohm: float = 0.0) -> float:
    """Mean power one cycle delivers at the terminals.

    P = V * I_mean - R * I_rms ** 2
    Units: V, A, ohm, W.
    Source: openstax-university-physics (section 10.1, terminal voltage).
    """
    return voltage_v * mean_current_a(segments) - source_ohm * rms_current_a(segments) ** 2


def rms_of_pulse_train_a(peak_a: float, on_share: float) -> float:
    """Root-mean-square current of equal rectangular pulses.

    I_rms = I_peak * sqrt(D)
    Units: A. Range: share of the time switched on from 0 to 1.
    Source: motor-rms-note (special case of the definition).
    """
    if not 0 <= on_share <= 1:
        raise ValueError(f"A share of {on_share:g} is outside the allowed range 0 to 1.")
    return peak_a * math.sqrt(on_share)


def duty(segments: Sequence[Segment]) -> Duty:
    """All figures of one cycle together.

    Units: A, s, A2s, Ah.
    Source: motor-rms-note (definitions).
    """
    return Duty(
        cycle_time_s(segments),
        mean_current_a(segments),
        rms_current_a(segments),
        peak_current_a(segments),
        cycle_i2t_a2s(segments),
        cycle_charge_ah(segments),
    )
