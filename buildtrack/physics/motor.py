"""A tool's direct-current motor: stall, start, running and what a series resistor does to them."""

from __future__ import annotations

from collections.abc import Sequence


def winding_resistance_ohm(voltage_v: float, current_a: float, lead_ohm: float = 0.0) -> float:
    """Resistance of a winding from a locked-rotor test at a low current.

    R = V / I - R_leads
    Units: V, A, ohm. Assumes the rotor stands still. Range: current above 0, result above 0.
    Source: motor-formulas (V = I R + E with E = 0).
    """
    if not current_a > 0:
        raise ValueError(f"The test current is {current_a:g} A; it must be above 0 A.")
    resistance_ohm = voltage_v / current_a - lead_ohm
    if not resistance_ohm > 0:
        raise ValueError(f"The winding comes out as {resistance_ohm:g} ohm; the leads cannot have {lead_ohm:g} ohm.")
    return resistance_ohm


def lowest_winding_resistance_ohm(readings_ohm: Sequence[float]) -> float:
    """The winding resistance to reckon with: the lowest of several rotor positions.

    R = min(readings)
    Units: ohm. Range: at least one reading, all above 0. Brush contact only ever adds resistance.
    Source: common-practice (no publication).
    """
    if not readings_ohm:
        raise ValueError("No winding resistance was given; at least one is needed.")
    if min(readings_ohm) <= 0:
        raise ValueError(f"A winding of {min(readings_ohm):g} ohm is not possible; it must be above 0 ohm.")
    return min(readings_ohm)


def stall_current_a(voltage_v: float, motor_ohm: float, source_ohm: float = 0.0, other_ohm: float = 0.0) -> float:
    """Current of a motor that is held still, also its first instant at start.

    I = V / (R_motor + R_source + R_other)
    Units: V (resting), ohm, A. Leaves out inductance, so it is the upper bound of a start. Range: sum above 0.
    Source: motor-formulas (V = I R + E with E = 0).
    """
    total_ohm = motor_ohm + source_ohm + other_ohm
    if not total_ohm > 0:
        raise ValueError(f"The path has {total_ohm:g} ohm in all; it must be above 0 ohm.")
    return voltage_v / total_ohm


def stall_terminal_voltage_v(voltage_v: float, stall_a: float, source_ohm: float) -> float:
    """Voltage at the source's terminals during a stall.

    V = V_resting - I_stall * R_source
    Units: V, A, ohm.
    Source: openstax-university-physics (section 10.1).
    """
    return voltage_v - stall_a * source_ohm


def resistor_peak_power_w(current_a: float, resistor_ohm: float) -> float:
    """Peak heat in a series resistor during a start or stall.

    P = I ** 2 * R_s
    Units: A, ohm, W. A resistor stands several times its rating only for a short time: see its sheet.
    Source: openstax-university-physics (section 9.5).
    """
    return current_a**2 * resistor_ohm


def scaled_to_voltage(value: float, specified_v: float, new_v: float) -> float:
    """A stall current, stall torque or no-load speed at another supply voltage.

    value_new = value * V_new / V_specified
    Units: those of the value. Assumes an unchanged winding temperature. Range: specified voltage above 0.
    Source: motor-formulas (values scale with voltage).
    """
    if not specified_v > 0:
        raise ValueError(f"The specified voltage is {specified_v:g} V; it must be above 0 V.")
    return value * new_v / specified_v
