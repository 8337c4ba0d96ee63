"""What flows when cells of unequal voltage are joined in parallel, and how long until they agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

from buildtrack.physics.sharing import group_currents_a


@dataclass(frozen=True, slots=True)
class Joining:
    """Course of an equalisation: first current, time until agreed, charge moved, heat in all and in the link."""

    inrush_a: float
    agreed_after_s: float
    charge_ah: float
    heat_wh: float
    link_heat_wh: float
    time_constant_s: float


@dataclass(frozen=True, slots=True)
class GroupJoining:
    """Several cells joined at once: first currents (discharge positive), voltage they meet at, time until agreed."""

    currents_a: tuple[float, ...]
    meeting_v: float
    agreed_after_s: float


def inrush_current_a(first_v: float, second_v: float, resistance_ohm: float) -> float:
    """First current when two cells are joined: I = (U1 - U2) / (R1 + R2 + R_link) [A].

    `resistance_ohm` is the sum of the whole loop. Source: Ohm's law.
    """
    if not resistance_ohm > 0:
        raise ValueError(f"loop resistance {resistance_ohm} ohm; it must be above zero")
    return (first_v - second_v) / resistance_ohm


def time_to_agree_s(
    difference_v: float, resistance_ohm: float, slope_sum_v_per_ah: float, within_v: float = 0.010
) -> float:
    """Time until two joined cells lie within `within_v`: t = tau ln(|dU| / within), tau = R / (b1 + b2) [s].

    `slope_sum_v_per_ah` is the sum of both cells' slopes of the open-circuit curve per ampere-hour.
    Assumes straight curves between the two states; a real cell also relaxes, so take it as the least time.
    Source: derived (one exponential); the 10 mV default is common practice among pack makers.
    """
    if not slope_sum_v_per_ah > 0:
        raise ValueError(f"slope {slope_sum_v_per_ah} V/Ah; on a flat curve the time cannot be told")
    if not within_v > 0 or not resistance_ohm > 0:
        raise ValueError("resistance and the wanted agreement must be above zero")
    difference_v = abs(difference_v)
    if difference_v <= within_v:
        return 0.0
    return 3600 * resistance_ohm / slope_sum_v_per_ah * log(difference_v / within_v)


def join_two(
    first: tuple[float, float, float],
    second: tuple[float, float, float],
    link_ohm: float = 0.0,
    within_v: float = 0.010,
) -> Joining:
    """Join two cells, each (open-circuit V, resistance ohm, slope V/Ah), through a link resistor.

    Charge = |dU| / (b1 + b2) (1 - exp(-t / tau)); heat = dU^2 / (2 (b1 + b2)) (1 - exp(-2 t / tau)); the link takes
    R_link / R of it. Figures up to the moment they agree. Source: derived from Ohm's law and straight curves.
    """
    (u1, r1, b1), (u2, r2, b2) = first, second
    loop_ohm, slope = r1 + r2 + link_ohm, b1 + b2
    time_s = time_to_agree_s(u1 - u2, loop_ohm, slope, within_v)
    tau_s = 3600 * loop_ohm / slope
    gone = 1 - exp(-time_s / tau_s)
    heat_wh = (u1 - u2) ** 2 / (2 * slope) * (1 - (1 - gone) ** 2)
    return Joining(
        inrush_a=abs(inrush_current_a(u1, u2, loop_ohm)),
        agreed_after_s=time_s,
        charge_ah=abs(u1 - u2) / slope * gone,
        heat_wh=heat_wh,
        link_heat_wh=heat_wh * link_ohm / loop_ohm,
        time_constant_s=tau_s,
    )


def join_group(cells: Sequence[tuple[float, float, float]], within_v: float = 0.010) -> GroupJoining:
    """Join n cells at once, each (open-circuit V, resistance ohm, slope V/Ah), until all lie within `within_v`.

    dE_i/dt = -b_i (E_i - V) / R_i, V the conductance-weighted mean; solved by fourth-order Runge-Kutta at a twentieth
    of the fastest time constant, the last step by straight interpolation.
    Meeting voltage = sum(E_i / b_i) / sum(1 / b_i). Assumes straight curves. Source: Kirchhoff's laws.
    """
    if len(cells) < 2 or any(r <= 0 or b <= 0 for _, r, b in cells):
        raise ValueError("at least two cells, each with resistance and slope above zero, are needed")
    emf = [cell[0] for cell in cells]
    resistance = [cell[1] for cell in cells]
    currents = group_currents_a(emf, resistance, 0.0)[1]
    weight = [1 / cell[2] for cell in cells]
    meeting_v = sum(e * w for e, w in zip(emf, weight, strict=True)) / sum(weight)
    return GroupJoining(currents, meeting_v, _settle(emf, resistance, [cell[2] / 3600 for cell in cells], within_v))


def _settle(emf: list[float], resistance: list[float], slope_v_per_as: list[float], within_v: float) -> float:
    step_s = 0.05 * min(r / b for r, b in zip(resistance, slope_v_per_as, strict=True))

    def rate(values: Sequence[float]) -> list[float]:
        currents = group_currents_a(values, resistance, 0.0)[1]
        return [-b * i for b, i in zip(slope_v_per_as, currents, strict=True)]

    def moved(values: Sequence[float], rates: Sequence[float], span: float) -> list[float]:
        return [v + span * r for v, r in zip(values, rates, strict=True)]

    time_s, spread = 0.0, max(emf) - min(emf)
    while spread > within_v:
        if time_s > 1_000_000 * step_s:
            raise ValueError("the cells differ too much in resistance or slope for the time to be computed")
        k1 = rate(emf)
        k2 = rate(moved(emf, k1, step_s / 2))
        k3 = rate(moved(emf, k2, step_s / 2))
        k4 = rate(moved(emf, k3, step_s))
        mean = [(a + 2 * b + 2 * c + d) / 6 for a, b, c, d in zip(k1, k2, k3, k4, strict=True)]
        emf = moved(emf, mean, step_s)
        before, spread = spread, max(emf) - min(emf)
        if spread <= within_v:
            return time_s + step_s * (before - within_v) / (before - spread)
        time_s += step_s
    return time_s
