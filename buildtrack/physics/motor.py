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


def start_on_another_source_a(peak_a: float, from_v: float, from_ohm: float, to_v: float, to_ohm: float,
                              least_ohm: float = 0.0) -> float:
    """Start current on one source, worked out from the peak that was measured on another.

    R_tool = max(V_from / I_peak - R_from, R_least); I = V_to / (R_tool + R_to)
    Units: A, V (resting), ohm. `least_ohm` is the held motor: a tool never has less, so the result is never above the
    stall current. Range: peak above 0; without `least_ohm` the first source must leave something for the tool.
    Source: motor-formulas (V = I R + E with E = 0).
    """
    if not peak_a > 0:
        raise ValueError(f"The start peak is {peak_a:g} A; it must be above 0 A.")
    tool_ohm = max(from_v / peak_a - from_ohm, least_ohm)
    if not tool_ohm > 0:
        raise ValueError(f"A start of {peak_a:g} A leaves the tool {tool_ohm:g} ohm: {from_v:g} V behind {from_ohm:g} "
                         "ohm cannot give it.")
    return stall_current_a(to_v, tool_ohm, to_ohm)


def stall_terminal_voltage_v(voltage_v: float, stall_a: float, source_ohm: float) -> float:
    """Voltage at the source's terminals during a stall.

    V = V_resting - I_stall * R_source
    Units: V, A, ohm.
    Source: openstax-university-physics (section 10.1).
    """
    return voltage_v - stall_a * source_ohm


def back_emf_v(voltage_v: float, current_a: float, resistance_ohm: float) -> float:
    """Voltage a turning motor makes against its supply.

    E = V - I * R
    Units: V, A, ohm.
    Source: motor-formulas (V = I R + E).
    """
    return voltage_v - current_a * resistance_ohm


def running_current_a(voltage_v: float, back_emf_v: float, resistance_ohm: float) -> float:
    """Current of a turning motor.

    I = (V - E) / R
    Units: V, ohm, A. Range: resistance above 0.
    Source: motor-formulas (V = I R + E).
    """
    if not resistance_ohm > 0:
        raise ValueError(f"The winding is {resistance_ohm:g} ohm; it must be above 0 ohm.")
    return (voltage_v - back_emf_v) / resistance_ohm


def motor_resistance_from_running_ohm(
    emf_v: float, back_emf_v: float, current_a: float, source_ohm: float = 0.0
) -> float:
    """Winding resistance of a running motor on a source with its own resistance.

    R = (E_source - E_back) / I - R_source
    Units: V, A, ohm. Range: current above 0.
    Source: openstax-college-physics (section 23.6 problems).
    """
    if not current_a > 0:
        raise ValueError(f"The running current is {current_a:g} A; it must be above 0 A.")
    return (emf_v - back_emf_v) / current_a - source_ohm


def resistance_from_loss_ohm(power_in_w: float, power_out_w: float, current_a: float) -> float:
    """Winding resistance that explains the power a motor loses.

    R = (P_in - P_out) / I ** 2
    Units: W, A, ohm. Counts every loss as winding heat. Range: current above 0.
    Source: openstax-university-physics (section 9.5).
    """
    if not current_a > 0:
        raise ValueError(f"The current is {current_a:g} A; it must be above 0 A.")
    return (power_in_w - power_out_w) / current_a**2


def mechanical_power_w(back_emf_v: float, current_a: float) -> float:
    """Power a motor turns into motion (before friction).

    P = E * I
    Units: V, A, W.
    Source: openstax-university-physics (section 13.6, series-wound motor).
    """
    return back_emf_v * current_a


def lifting_power_w(force_n: float, height_m: float, time_s: float) -> float:
    """Mean power of lifting a weight.

    P = F * h / t
    Units: N, m, s, W. Range: time above 0.
    Source: openstax-university-physics (section 9.5).
    """
    if not time_s > 0:
        raise ValueError(f"The time is {time_s:g} s; it must be above 0 s.")
    return force_n * height_m / time_s


def series_resistor_for_limit_ohm(voltage_v: float, limit_a: float, motor_ohm: float, other_ohm: float = 0.0) -> float:
    """Series resistor that holds a start or stall to a limit; 0 when none is needed.

    R_s = max(0, V / I_limit - R_motor - R_other)
    Units: V, A, ohm. Range: limit above 0.
    Source: motor-formulas (V = I R + E with E = 0).
    """
    if not limit_a > 0:
        raise ValueError(f"The limit is {limit_a:g} A; it must be above 0 A.")
    return max(0.0, voltage_v / limit_a - motor_ohm - other_ohm)


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


def current_at_torque_a(torque: float, stall_torque: float, free_a: float, stall_a: float) -> float:
    """Current of a motor that gives a torque.

    I = I_free + (I_stall - I_free) * T / T_stall
    Units: both torques the same, A. Range: torque from 0 to the stall torque.
    Source: motor-formulas (current at torque).
    """
    _require_torque(torque, stall_torque)
    return free_a + (stall_a - free_a) * torque / stall_torque


def speed_at_torque(torque: float, stall_torque: float, free_speed: float) -> float:
    """Speed of a motor that gives a torque.

    n = n_free * (1 - T / T_stall)
    Units: those of the free speed. Range: torque from 0 to the stall torque.
    Source: motor-formulas (speed at torque).
    """
    _require_torque(torque, stall_torque)
    return free_speed * (1.0 - torque / stall_torque)


def _require_torque(torque: float, stall_torque: float) -> None:
    if not stall_torque > 0:
        raise ValueError(f"The stall torque is {stall_torque:g}; it must be above 0.")
    if not 0 <= torque <= stall_torque:
        raise ValueError(f"A torque of {torque:g} is outside the allowed range 0 to {stall_torque:g}.")
