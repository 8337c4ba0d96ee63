"""A constant power drawn from a string: the current rises as the voltage falls, until a limit or the pack gives out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import sqrt

from buildtrack.physics.forecast_loads import Moment, power_current_a
from buildtrack.physics.forecast_string import String

PANELS = 640
"""Simpson panels over the whole discharge, at least; every straight piece gets two or more."""


@dataclass(frozen=True, slots=True)
class PowerCourse:
    """Time over charge under constant power at panel ends; `gives_out` if E^2 < 4 R P ends it."""

    power_w: float
    charge_ah: tuple[float, ...]
    time_s: tuple[float, ...]
    current_a: tuple[float, ...]
    heat_wh: tuple[float, ...]
    gives_out: bool

    def at_charge(self, string: String, charge_ah: float) -> Moment:
        """The moment at which a charge has been drawn: Simpson over the rest of its panel."""
        k = max(i for i, q in enumerate(self.charge_ah) if q <= charge_ah or i == 0)
        current = current_at(string, self.power_w, charge_ah)
        seconds, _ = _simpson(string, self.power_w, self.charge_ah[k], charge_ah)
        return Moment(self.time_s[k] + seconds, charge_ah, current, None)

    def heat_at(self, string: String, charge_ah: float) -> float:
        """Heat until a charge has been drawn [Wh]."""
        k = max(i for i, q in enumerate(self.charge_ah) if q <= charge_ah or i == 0)
        return self.heat_wh[k] + _simpson(string, self.power_w, self.charge_ah[k], charge_ah)[1]


def current_at(string: String, power_w: float, charge_ah: float) -> float:
    """Current at a charge drawn [A]."""
    emf, ohm = string.at(string.string_emf_v, charge_ah), string.at(string.string_ohm, charge_ah)
    return power_current_a(power_w, emf, ohm)


def _reserve(string: String, power_w: float, charge_ah: float) -> float:
    """E^2 - 4 R P: below zero the power cannot be delivered [V^2]."""
    emf, ohm = string.at(string.string_emf_v, charge_ah), string.at(string.string_ohm, charge_ah)
    return emf * emf - 4 * ohm * power_w


def power_course(string: String, power_w: float) -> PowerCourse:
    """Integrate dt = dq / I over the charge, Simpson on the panels of every straight piece.

    t = integral of dq / I(q), I = (E - sqrt(E^2 - 4 R P)) / (2 R), E and R of the whole string. Ends where the first
    group is empty or where E^2 = 4 R P. Source: Kirchhoff's laws.
    """
    if not power_w > 0:
        raise ValueError(f"power {power_w} W; above zero is needed")
    if _reserve(string, power_w, 0.0) < 0:
        power_current_a(power_w, string.string_emf_v[0], string.string_ohm[0])
    end, gives_out = _deliverable_end(string, power_w)
    charge, time, heat = [0.0], [0.0], [0.0]
    panels = max(2, PANELS // len(string.charge_ah))
    for left, right in zip(string.charge_ah, string.charge_ah[1:], strict=False):
        if left >= end:
            break
        right = min(right, end)
        for panel in range(panels):
            a, b = left + (right - left) * panel / panels, left + (right - left) * (panel + 1) / panels
            seconds, warmth = _simpson(string, power_w, a, b)
            charge.append(b)
            time.append(time[-1] + seconds)
            heat.append(heat[-1] + warmth)
    current = tuple(_safe_current(string, power_w, q) for q in charge)
    return PowerCourse(power_w, tuple(charge), tuple(time), current, tuple(heat), gives_out)


def _safe_current(string: String, power_w: float, charge_ah: float) -> float:
    """Current, with a reserve that rounding took just below zero counted as zero."""
    emf, ohm = string.at(string.string_emf_v, charge_ah), string.at(string.string_ohm, charge_ah)
    return 2 * power_w / (emf + sqrt(max(0.0, emf * emf - 4 * ohm * power_w)))


def _simpson(string: String, power_w: float, low: float, high: float) -> tuple[float, float]:
    """Time [s] and heat [Wh] between two charges: integrals of 1/I and of I R."""
    if high <= low:
        return 0.0, 0.0
    points = (low, (low + high) / 2, high)
    currents = [_safe_current(string, power_w, q) for q in points]
    times = [1 / i for i in currents]
    heats = [i * string.at(string.string_ohm, q) for i, q in zip(currents, points, strict=True)]
    span = (high - low) / 6
    return 3600 * span * (times[0] + 4 * times[1] + times[2]), span * (heats[0] + 4 * heats[1] + heats[2])


def _deliverable_end(string: String, power_w: float) -> tuple[float, bool]:
    for left, right in zip(string.charge_ah, string.charge_ah[1:], strict=False):
        if _reserve(string, power_w, right) < 0:
            return _bisect(lambda q: _reserve(string, power_w, q), left, right), True
    return string.end_ah, False


def _bisect(function: Callable[[float], float], low: float, high: float) -> float:
    """Root of a function that is above zero at `low` and not above at `high`."""
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if function(middle) > 0:
            low = middle
        else:
            high = middle
    return high


def power_moment(string: String, course: PowerCourse, limits_v: Sequence[float]) -> Moment | None:
    """First moment at which a group's terminal voltage is at or below its limit; None if it never is."""

    def above(g: int, charge_ah: float) -> float:
        current = _safe_current(string, course.power_w, charge_ah)
        return string.at(string.emf_v[g], charge_ah) - current * string.at(string.ohm[g], charge_ah) - limits_v[g]

    best: tuple[float, int] | None = None
    for g in range(len(string.groups)):
        previous = 0.0
        for charge_ah in course.charge_ah:
            if best is not None and previous >= best[0]:
                break
            if above(g, charge_ah) <= 0:
                root = charge_ah if charge_ah == 0.0 else _bisect(lambda q, g=g: above(g, q), previous, charge_ah)  # type: ignore[misc]
                if best is None or root < best[0]:
                    best = (root, g)
                break
            previous = charge_ah
    if best is None:
        return None
    moment = course.at_charge(string, best[0])
    return Moment(moment.time_s, moment.charge_ah, moment.current_a, best[1])
