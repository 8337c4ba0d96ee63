"""Slope of the resting-voltage curve at a cell's voltage: the maker's own curve, else the published one."""

from __future__ import annotations

from functools import lru_cache

from buildtrack.physics.chemistries import chemistry
from buildtrack.physics.ocv import Curve
from buildtrack.physics.ocv_library import generic_curve

ASSUMED = "nmc"
"""Curve taken where the chemistry is unknown or has no published curve: our own choice, the usual salvaged cell."""


@lru_cache(maxsize=32)
def curve_for(name: str) -> Curve:
    """The published curve that stands for a chemistry of the checklist."""
    return generic_curve(name if chemistry(name) is not None else ASSUMED)


def slope_v_per_share(name: str, first_v: float, second_v: float, own: Curve | None = None) -> float | None:
    """Voltage per whole charge around two resting voltages; None where the curve is too flat or does not reach.

    own: the maker's own curve of such a cell, where there is one; else the published curve of chemistry `name` counts.
    """
    curve = own or curve_for(name)
    middle = (first_v + second_v) / 2
    if middle < curve.lowest_v:
        return None
    state = curve.soc(min(middle, curve.highest_v))
    # 1 mV per 1 % is 0.1 V per whole charge.
    return None if curve.is_flat(state) else curve.slope_mv_per_percent(state) / 10
