"""Sources, loads and resistances: the plain circuit relations behind the bench measurements."""

from __future__ import annotations

import math
from collections.abc import Sequence


def power_w(voltage_v: float, current_a: float) -> float:
    """Electric power.

    P = V * I
    Units: V, A, W.
    Source: openstax-university-physics (section 9.5).
    """
    return voltage_v * current_a


def parallel_resistance_ohm(resistances_ohm: Sequence[float]) -> float:
    """Resistance of parts in parallel.

    R = 1 / (1/R1 + 1/R2 + ...)
    Units: ohm. Range: at least one part, every resistance above 0.
    Source: openstax-university-physics (section 10.2).
    """
    if not resistances_ohm:
        raise ValueError("No resistance was given; at least one is needed.")
    for resistance_ohm in resistances_ohm:
        _require_above_zero(resistance_ohm)
    return 1.0 / math.fsum(1.0 / resistance_ohm for resistance_ohm in resistances_ohm)


def dc_resistance_ohm(voltage_1_v: float, current_1_a: float, voltage_2_v: float, current_2_a: float) -> float:
    """Direct-current internal resistance of a cell from two loads.

    R = (U1 - U2) / (I2 - I1)
    Units: V, A, ohm. The standard's loads are 0.2 It for 10 s, then 1.0 It for 1 s.
    Range: the second current above the first.
    Source: iec-61960-3 (direct-current resistance).
    """
    if not current_2_a > current_1_a:
        raise ValueError(f"The second load is {current_2_a:g} A; it must be above the first of {current_1_a:g} A.")
    return (voltage_1_v - voltage_2_v) / (current_2_a - current_1_a)


def joint_resistance_ohm(drop_v: float, current_a: float) -> float:
    """Resistance of a joint from the voltage across it at a known current.

    R = V / I
    Units: V, A, ohm. Range: current above 0.
    Source: openstax-college-physics (section 20.2).
    """
    if not current_a > 0:
        raise ValueError(f"The test current is {current_a:g} A; it must be above 0 A.")
    return drop_v / current_a


def drop_v(current_a: float, resistance_ohm: float) -> float:
    """Voltage lost across a resistance.

    V = I * R
    Units: A, ohm, V.
    Source: openstax-college-physics (section 20.2).
    """
    return current_a * resistance_ohm


def share_of_range(reading: float, full_scale: float) -> float:
    """Share of a meter's range that a reading uses.

    share = |reading| / range
    Units: both the same. Range: full scale above 0. Above about 0.9 a reading is doubtful.
    Source: common-practice (no publication).
    """
    if not full_scale > 0:
        raise ValueError(f"The range is {full_scale:g}; it must be above 0.")
    return abs(reading) / full_scale


def _require_above_zero(resistance_ohm: float) -> None:
    if not resistance_ohm > 0:
        raise ValueError(f"The resistance is {resistance_ohm:g} ohm; it must be above 0 ohm.")
