"""A repeating duty of current segments: mean for run time, root mean square for heat, peak for trips."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple


class Segment(NamedTuple):
    """A piece of a duty: the current goes straight from start to end in the time."""

    start_a: float
    end_a: float
    time_s: float


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
