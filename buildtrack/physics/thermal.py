"""Warming of a cell: heat, surface and steady rise."""

from __future__ import annotations

import math


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


def _require_above_zero(what: str, value: float) -> None:
    if not value > 0:
        raise ValueError(f"The {what} is {value:g}; it must be above 0.")
