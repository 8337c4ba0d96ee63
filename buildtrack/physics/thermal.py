"""Warming of a cell: heat, surface, steady rise, time constant, and the rise with no cooling at all."""

from __future__ import annotations

import math

JOULES_PER_KILOCALORIE = 4186.0


def cell_heat_w(current_a: float, resistance_ohm: float) -> float:
    """Heat a current makes inside a cell.

    P = I ** 2 * R
    Units: A (root mean square), ohm (direct-current value), W. Leaves out the reversible heat.
    Source: openstax-university-physics (section 9.5).
    """
    return current_a**2 * resistance_ohm


def cylinder_surface_m2(diameter_m: float = 0.018, length_m: float = 0.065) -> float:
    """Whole surface of a cylinder, both ends included.

    A = pi * d * L + pi * d ** 2 / 2
    Units: m, m2. Range: both above 0. The default is an 18650 cell.
    Source: simses-cell-classes (18 x 65 mm).
    """
    _require_above_zero("diameter", diameter_m)
    _require_above_zero("length", length_m)
    return math.pi * diameter_m * length_m + math.pi * diameter_m**2 / 2


def steady_rise_k(heat_w: float, surface_m2: float, heat_transfer_w_per_m2k: float = 15.0) -> float:
    """Rise above the surroundings after a long time.

    dT = P / (h * A)
    Units: W, m2, W/(m2 K), K. Assumes a free cell in air: cells inside a pack get warmer.
    Source: simses-cell-classes (h = 15 W/(m2 K)).
    """
    _require_above_zero("surface", surface_m2)
    _require_above_zero("heat transfer", heat_transfer_w_per_m2k)
    return heat_w / (heat_transfer_w_per_m2k * surface_m2)


def time_constant_s(
    mass_g: float, surface_m2: float, specific_heat_j_per_kgk: float = 965.0, heat_transfer_w_per_m2k: float = 15.0
) -> float:
    """Time in which a cell covers 63 % of its rise.

    tau = m * c / (h * A)
    Units: g, m2, J/(kg K), W/(m2 K), s. Range: all above 0.
    Source: simses-cell-classes (c = 965 J/(kg K), h = 15 W/(m2 K)).
    """
    _require_above_zero("mass", mass_g)
    _require_above_zero("surface", surface_m2)
    _require_above_zero("specific heat", specific_heat_j_per_kgk)
    _require_above_zero("heat transfer", heat_transfer_w_per_m2k)
    return mass_g / 1000 * specific_heat_j_per_kgk / (heat_transfer_w_per_m2k * surface_m2)


def rise_k(steady_k: float, time_constant_s: float, time_s: float) -> float:
    """Rise above the surroundings after a time of steady heat.

    dT = dT_steady * (1 - exp(-t / tau))
    Units: K, s. Range: time not negative, time constant above 0.
    Source: arithmetic (one heat capacity cooled in proportion to its rise).
    """
    _require_above_zero("time constant", time_constant_s)
    if time_s < 0:
        raise ValueError(f"The time is {time_s:g} s; it must not be negative.")
    return -steady_k * math.expm1(-time_s / time_constant_s)


def adiabatic_rise_k(energy_j: float, mass_g: float, specific_heat_j_per_kgk: float = 965.0) -> float:
    """Rise when no heat leaves: the upper bound of any rise.

    dT = E / (m * c)
    Units: J, g, J/(kg K), K. Range: mass and specific heat above 0.
    Source: openstax-college-physics (section 14.2). Source: simses-cell-classes (c = 965 J/(kg K)).
    """
    _require_above_zero("mass", mass_g)
    _require_above_zero("specific heat", specific_heat_j_per_kgk)
    return energy_j / (mass_g / 1000 * specific_heat_j_per_kgk)


def adiabatic_rate_k_per_min(heat_w: float, mass_g: float, specific_heat_j_per_kgk: float = 965.0) -> float:
    """Rise per minute when no heat leaves.

    dT/dt = P * 60 / (m * c)
    Units: W, g, J/(kg K), K/min. Range: mass and specific heat above 0.
    Source: openstax-college-physics (section 14.2). Source: simses-cell-classes (c = 965 J/(kg K)).
    """
    return adiabatic_rise_k(heat_w * 60.0, mass_g, specific_heat_j_per_kgk)


def specific_heat_from_kilocalories(kilocalories_per_kg_degc: float) -> float:
    """Specific heat in SI units.

    c = 4186 * c_kcal
    Units: kcal/(kg degC), J/(kg K).
    Source: openstax-college-physics (section 14.1, 1 kcal is 4186 J).
    """
    return JOULES_PER_KILOCALORIE * kilocalories_per_kg_degc


def _require_above_zero(what: str, value: float) -> None:
    if not value > 0:
        raise ValueError(f"The {what} is {value:g}; it must be above 0.")
