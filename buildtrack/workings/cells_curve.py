"""Slope of the resting-voltage curve at a cell's voltage, as far as it is known."""

from __future__ import annotations

TOP_SLOPE_V = 0.9
"""Near 4.1 V an NMC cell falls about 9 mV per 1 % of charge (common practice, no source)."""
TOP_FROM_V = 4.0


def slope_v_per_share(chemistry: str, first_v: float, second_v: float) -> float | None:
    """Voltage per whole charge between two resting voltages; None where the curve cannot tell."""
    if chemistry == "lfp" or min(first_v, second_v) < TOP_FROM_V:
        return None
    return TOP_SLOPE_V
