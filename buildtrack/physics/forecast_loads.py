"""What is drawn from the pack: a constant current, a repeating duty cycle, or a constant power."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, inf, sqrt

from buildtrack.physics.forecast_string import String

MOST_PIECES = 2_000_000


@dataclass(frozen=True, slots=True)
class Duty:
    """Repeating duty cycle: (seconds, amperes) one after the other, discharge positive, rest 0 A."""

    segments: tuple[tuple[float, float], ...]

    @property
    def period_s(self) -> float:
        """Length of one cycle [s]."""
        return sum(seconds for seconds, _ in self.segments)

    @property
    def charge_ah(self) -> float:
        """Charge of one cycle [Ah]."""
        return sum(seconds * amperes for seconds, amperes in self.segments) / 3600

    @property
    def peak_a(self) -> float:
        """Largest current of the cycle [A]."""
        return max(amperes for _, amperes in self.segments)

    @property
    def mean_while_drawing_a(self) -> float:
        """Charge-weighted mean current: sum(I^2 t) / sum(I t) [A]."""
        return sum(t * i * i for t, i in self.segments) / (3600 * self.charge_ah)


def constant_current(current_a: float) -> Duty:
    """A constant current as a cycle without end [A]."""
    return checked_duty(((3600.0, current_a),))


def checked_duty(segments: Sequence[tuple[float, float]]) -> Duty:
    """A duty cycle from (seconds, amperes) pairs; refuses what never empties a pack."""
    for number, (seconds, amperes) in enumerate(segments, 1):
        if not 0 < seconds < inf or not 0 <= amperes < inf:
            raise ValueError(
                f"piece {number} of the cycle: {seconds} s at {amperes} A; time above 0, current 0 or more"
            )
    duty = Duty(tuple(segments))
    if not duty.segments or duty.charge_ah <= 0:
        raise ValueError("the cycle draws nothing; at least one piece with a current above zero is needed")
    return duty


@dataclass(frozen=True, slots=True)
class Moment:
    """A solved moment: time, charge drawn, current then, and the group concerned (None for the whole pack)."""

    time_s: float
    charge_ah: float
    current_a: float
    group: int | None


def duty_moment(string: String, duty: Duty, limits_v: Sequence[float]) -> Moment | None:
    """First moment at which a group's terminal voltage is at or below its limit under the cycle; None if it never is.

    For each current the crossing charge is solved once; the cycle that reaches it follows by division.
    """
    best: Moment | None = None
    crossings: dict[float, tuple[float, int] | None] = {}
    for begin_s, begin_ah, seconds, amperes in _pieces(duty):
        if amperes not in crossings:
            crossings[amperes] = string.crossing(amperes, limits_v)
        crossing = crossings[amperes]
        if crossing is None:
            continue
        cycle, charge = _first_reach(crossing[0], begin_ah, begin_ah + seconds * amperes / 3600, duty.charge_ah)
        if charge > string.end_ah:
            continue
        into_s = (charge - (cycle * duty.charge_ah + begin_ah)) * 3600 / amperes if amperes > 0 else 0.0
        time_s = cycle * duty.period_s + begin_s + min(max(into_s, 0.0), seconds)
        if best is None or (time_s, charge) < (best.time_s, best.charge_ah):
            best = Moment(time_s, charge, amperes, crossing[1])
    return best


def _pieces(duty: Duty) -> list[tuple[float, float, float, float]]:
    """(start s, start Ah, seconds, amperes) of every piece within a cycle."""
    found, begin_s, begin_ah = [], 0.0, 0.0
    for seconds, amperes in duty.segments:
        found.append((begin_s, begin_ah, seconds, amperes))
        begin_s, begin_ah = begin_s + seconds, begin_ah + seconds * amperes / 3600
    return found


def _first_reach(crossing_ah: float, begin_ah: float, end_ah: float, per_cycle_ah: float) -> tuple[int, float]:
    """First cycle whose piece ends at or beyond the crossing, and the charge there (the piece may begin beyond it)."""
    cycle = max(0, ceil((crossing_ah - end_ah) / per_cycle_ah - 1e-12))
    return cycle, max(crossing_ah, cycle * per_cycle_ah + begin_ah)


def duty_end(string: String, duty: Duty) -> Moment:
    """The moment the first group is empty under the cycle."""
    cycles = int(string.end_ah / duty.charge_ah)
    left = string.end_ah - cycles * duty.charge_ah
    if left <= 1e-12 * string.end_ah and cycles > 0:
        cycles, left = cycles - 1, left + duty.charge_ah
    for begin_s, begin_ah, seconds, amperes in _pieces(duty):
        drawn = seconds * amperes / 3600
        if amperes > 0 and begin_ah + drawn >= left * (1 - 1e-12):
            time_s = cycles * duty.period_s + begin_s + (left - begin_ah) * 3600 / amperes
            return Moment(time_s, string.end_ah, amperes, string.empty_first)
    raise ArithmeticError("the cycle ends before the charge is used up")  # no cycle with charge gets here


def duty_charge_at(duty: Duty, time_s: float) -> tuple[float, float]:
    """Charge drawn and current at a time under the cycle [Ah, A]; at a change of current the new one."""
    cycle = int(time_s // duty.period_s)
    into_s = time_s - cycle * duty.period_s
    for begin_s, begin_ah, seconds, amperes in _pieces(duty):
        if into_s < begin_s + seconds:
            return cycle * duty.charge_ah + begin_ah + (into_s - begin_s) * amperes / 3600, amperes
    return (cycle + 1) * duty.charge_ah, duty.segments[-1][1]


def duty_heat_wh(string: String, duty: Duty, end: Moment) -> float:
    """Heat in all resistances up to a moment: sum of I * integral of R dq over the pieces [Wh]."""
    if string.steady_ohm is not None:
        return string.steady_ohm * _square_hours(duty, end)
    per_cycle = sum(1 for _, amperes in duty.segments if amperes > 0)
    if end.charge_ah / duty.charge_ah * per_cycle > MOST_PIECES:
        raise ValueError("the cycle draws so little that it repeats millions of times; use its mean current")
    heat, cycle, pieces = 0.0, 0, _pieces(duty)
    while True:
        for _, begin_ah, seconds, amperes in pieces:
            low = cycle * duty.charge_ah + begin_ah
            high = min(low + seconds * amperes / 3600, end.charge_ah)
            if high > low:
                heat += amperes * (_ohm_ah(string, high) - _ohm_ah(string, low))
        cycle += 1
        if cycle * duty.charge_ah >= end.charge_ah:
            return heat


def _ohm_ah(string: String, charge_ah: float) -> float:
    return string.integral(string.ohm_ah, string.string_ohm, charge_ah)


def _square_hours(duty: Duty, end: Moment) -> float:
    """Integral of I^2 dt up to the moment [A^2 h]."""
    cycle = sum(t * i * i for t, i in duty.segments) / 3600
    cycles = int(end.time_s // duty.period_s)
    into_s, total = end.time_s - cycles * duty.period_s, cycles * cycle
    for begin_s, _, seconds, amperes in _pieces(duty):
        total += amperes**2 * min(max(into_s - begin_s, 0.0), seconds) / 3600
    return total


def power_current_a(power_w: float, emf_v: float, ohm: float) -> float:
    """Current at which a source delivers a power: I = (E - sqrt(E^2 - 4 R P)) / (2 R) [A]; refused when it cannot."""
    under = emf_v * emf_v - 4 * ohm * power_w
    if under < 0:
        raise ValueError(f"{power_w:g} W cannot be delivered from {emf_v:.3f} V over {1000 * ohm:.1f} mohm")
    return 2 * power_w / (emf_v + sqrt(under))
