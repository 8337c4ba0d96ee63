"""Workings of the step `load`: what the tool really draws, and what it would draw when it is held still."""

from __future__ import annotations

from buildtrack.physics import circuit, motor
from buildtrack.physics import duty as cycle
from buildtrack.physics.duty import Segment
from buildtrack.workings.graph import Working
from buildtrack.workings.values import Record, Table

STEP = "load"
CONDUCTOR_TAU_S = 60.0
"""Thermal time constant of strips, wires, contacts and fuses: chosen, no source.

A bare nickel link of 8 × 0.3 mm comes to 3.95 J/(cm³ K) × 2.4 mm² / (15 W/(m² K) × 16.6 mm) = 38 s; insulated wire and
contacts take a minute or two.
"""
PAUSE_SHARE = 0.05
"""A current up to so much of the duty's peak is a pause (common practice, no source)."""
MOTOR = "V = I R + E with E = 0 (motor makers' formulas)"
RMS = "definition of a time average (motor maker's note on rms current)"


def wire_shunt_resistance(wire_shunt_drop: float, wire_shunt_current: float) -> float:
    """Resistance of a length of wire used as a shunt."""
    return circuit.joint_resistance_ohm(wire_shunt_drop, wire_shunt_current)


def _position_ohm(row: Record) -> float | None:
    voltage, current = row.number("voltage"), row.number("current")
    if voltage is None or current is None:
        return None
    return motor.winding_resistance_ohm(voltage, current)


def _positions(shaft_positions: Table) -> list[float]:
    found = [_position_ohm(row) for row in shaft_positions]
    return [value for value in found if value is not None]


def locked_rotor_resistance(winding_method: str, shaft_positions: Table | None = None,
                            winding_resistance: float | None = None,
                            lead_resistance: float = 0.0) -> float | None:
    """Resistance of the held motor and the tool's leads to it: the lowest of the shaft positions, read at the motor."""
    if winding_method == "supply":
        found = _positions(shaft_positions) if shaft_positions is not None else []
    else:
        found = [] if winding_resistance is None else [winding_resistance]
    return motor.lowest_winding_resistance_ohm(found) + lead_resistance if found else None


def winding_spread(shaft_positions: Table) -> float | None:
    """Highest over lowest winding resistance of the shaft positions."""
    found = _positions(shaft_positions)
    return max(found) / min(found) if len(found) >= 2 else None


def stall_current_old(old_full_voltage: float, locked_rotor_resistance: float,
                      old_pack_resistance: float = 0.0) -> float:
    """Current of the held motor on the old pack, full."""
    return motor.stall_current_a(old_full_voltage, locked_rotor_resistance, old_pack_resistance)


def stall_current_source(old_full_voltage: float, locked_rotor_resistance: float, load_source: str = "old pack",
                         old_pack_resistance: float = 0.0, supply_open_voltage: float | None = None,
                         supply_resistance: float = 0.0) -> float:
    """Current of the held motor on what fed it in the burst: a worn pack gives less than the source that was used."""
    if load_source == "old pack":
        return stall_current_old(old_full_voltage, locked_rotor_resistance, old_pack_resistance)
    open_voltage = old_full_voltage if supply_open_voltage is None else supply_open_voltage
    return motor.stall_current_a(open_voltage, locked_rotor_resistance, supply_resistance)


def stall_agreement(stall_burst_current: float, stall_current_source: float) -> float:
    """Measured stall burst over the computed stall current of the same source."""
    if not stall_current_source > 0:
        raise ValueError(f"The computed stall current is {stall_current_source:g} A; it must be above 0 A.")
    return stall_burst_current / stall_current_source


def _resistors(series_resistors: Table) -> list[Record]:
    return [row for row in series_resistors if row.number("resistance") is not None]


def start_resistor(series_resistors: Table) -> float | None:
    """Value of the tool's start resistors, which lie in parallel."""
    values = [row.number("resistance") or 0.0 for row in _resistors(series_resistors)]
    return circuit.parallel_resistance_ohm(values) if values else None


def start_resistor_rating(series_resistors: Table, start_resistor: float) -> float | None:
    """Power all start resistors may turn into heat together before the first of them is at its rating."""
    rows = [row for row in _resistors(series_resistors) if row.number("power") is not None]
    if not rows or len(rows) != len(_resistors(series_resistors)):
        return None
    # Each part takes R_all / R_part of the heat, so the part with the least P × R governs.
    return min((row.number("power") or 0.0) * (row.number("resistance") or 0.0) for row in rows) / start_resistor


def start_inrush(pack_full_voltage: float, locked_rotor_resistance: float, start_resistor: float = 0.0,
                 pack_resistance: float = 0.0) -> float:
    """Current in the first instant of a start on the new pack, full, through the start resistor."""
    return motor.stall_current_a(pack_full_voltage, locked_rotor_resistance, pack_resistance, start_resistor)


def start_resistor_power(start_inrush: float, start_resistor: float) -> float:
    """Peak heat in the start resistors together."""
    return motor.resistor_peak_power_w(start_inrush, start_resistor)


def segments_of(table: Table) -> list[Segment]:
    """The rows of the duty cycle as segments; a row without an end current is steady."""
    found = []
    for row in table:
        current, seconds = row.number("current"), row.number("seconds")
        if current is not None and seconds is not None:
            end = row.number("end_current")
            found.append(Segment(current, current if end is None else end, seconds))
    return found


def duty_time(duty: Table) -> float | None:
    """Length of one duty cycle, rests included."""
    segments = segments_of(duty)
    return cycle.cycle_time_s(segments) if segments else None


def duty_mean_current(duty: Table) -> float | None:
    """Mean current of the duty cycle; it sets the run time."""
    segments = segments_of(duty)
    return cycle.mean_current_a(segments) if segments else None


def duty_rms_current(duty: Table) -> float | None:
    """Root-mean-square current of the duty cycle; it sets the heating of cells, wires and fuse."""
    segments = segments_of(duty)
    return cycle.rms_current_a(segments) if segments else None


def lasting_current(duty_rms_current: float, working_current: float | None = None,
                    longest_run: float | None = None) -> float:
    """Current strips, wires, contacts and fuse must carry for long: the rms of the duty, or more in a longer run."""
    if working_current is None or longest_run is None:
        return duty_rms_current
    return cycle.heating_current_a(duty_rms_current, working_current, longest_run, CONDUCTOR_TAU_S)


def duty_stretch(duty: Table) -> float | None:
    """Longest time under load without a pause in the duty cycle; None where it never pauses."""
    segments = segments_of(duty)
    return cycle.longest_loaded_s(segments, PAUSE_SHARE * cycle.peak_current_a(segments)) if segments else None


def duty_peak_current(duty: Table) -> float | None:
    """Highest current of the duty cycle; it sets sag and trips."""
    segments = segments_of(duty)
    return cycle.peak_current_a(segments) if segments else None


def duty_charge(duty: Table) -> float | None:
    """Charge that one duty cycle takes."""
    segments = segments_of(duty)
    return cycle.cycle_charge_ah(segments) if segments else None


def duty_power(duty_mean_current: float, pack_nominal_voltage: float) -> float:
    """Mean power of the duty cycle on the new pack."""
    return duty_mean_current * pack_nominal_voltage


def working_power(working_voltage: float, working_current: float) -> float:
    """Power of the tool at work, as measured."""
    return circuit.power_w(working_voltage, working_current)


def working_peak(duty_peak_current: float, heaviest_current: float = 0.0) -> float:
    """Highest current of the work itself: the heaviest reading or the peak of the duty cycle."""
    return max(heaviest_current, duty_peak_current)


def current_range_share(working_current: float, current_range: float, heaviest_current: float = 0.0,
                        free_current: float = 0.0, start_peak_current: float = 0.0, stall_burst_current: float = 0.0,
                        duty_peak_current: float = 0.0) -> float:
    """Share of the instrument's range that the largest current uses that was read with it."""
    largest = max(working_current, heaviest_current, free_current, start_peak_current, stall_burst_current,
                  duty_peak_current)
    return circuit.share_of_range(largest, current_range)


def supply_resistance(supply_open_voltage: float, supply_loaded_voltage: float, supply_loaded_current: float) -> float:
    """Resistance of the supply that fed the tool, leads included."""
    if not supply_loaded_current > 0:
        raise ValueError(f"The load was {supply_loaded_current:g} A; it must be above 0 A.")
    return (supply_open_voltage - supply_loaded_voltage) / supply_loaded_current


WORKINGS = (
    Working(wire_shunt_resistance, STEP, "Wire shunt", "mΩ", "wire_shunt_drop / wire_shunt_current", "Ohm's law",
            "R_sh", digits=4),
    Working(locked_rotor_resistance, STEP, "Resistance of the held motor and its leads", "mΩ",
            "lowest of V / I over the shaft positions, or of the ohmmeter's readings, + R_leads of the tool",
            f"{MOTOR}; lowest position: common practice, no source", "R_m", expression=False, tables=True,
            note="brush contact only adds resistance, so the lowest position counts; it was read at the motor, and "
                 "every ampere passes the tool's leads as well"),
    Working(winding_spread, STEP, "Shaft positions differ by a factor of", "", "highest R / lowest R", "definition",
            expression=False),
    Working(stall_current_old, STEP, "Stall current, old pack full", "A",
            "old_full_voltage / (locked_rotor_resistance + old_pack_resistance)", MOTOR, "I_stall",
            note="the old pack's resistance counts as 0 where it was not measured: the upper bound"),
    Working(stall_current_source, STEP, "Stall current, source of the burst", "A",
            "V_source / (locked_rotor_resistance + R_source): old pack, or the source without load and its resistance",
            MOTOR, "I_burst", expression=False,
            note="a source's resistance that was not measured counts as 0, its voltage as that of the old pack"),
    Working(stall_agreement, STEP, "Measured over computed stall", "%", "stall_burst_current / stall_current_source",
            "definition"),
    Working(start_resistor, STEP, "Start resistor", "Ω", "1 / sum(1 / R)",
            "OpenStax University Physics 10.2 (parallel)", "R_s", expression=False, tables=True),
    Working(start_resistor_rating, STEP, "Start resistor, rated", "W", "least of P × R over the parts / start resistor",
            "OpenStax University Physics 10.2 (parallel)", expression=False),
    Working(start_inrush, STEP, "Start current, new pack full", "A",
            "pack_full_voltage / (locked_rotor_resistance + pack_resistance + start_resistor)", MOTOR,
            note="upper bound: wires, board and the motor's inductance left out; what is not known counts as 0"),
    Working(start_resistor_power, STEP, "Start resistor, peak power", "W", "start_inrush**2 * start_resistor",
            "OpenStax University Physics 9.5"),
    Working(duty_time, STEP, "Duty cycle, length", "s", "sum of the seconds", RMS, "T", expression=False),
    Working(duty_mean_current, STEP, "Duty cycle, mean current", "A", "sum((a + b) / 2 × t) / T", RMS, "I_mean",
            expression=False, tables=True),
    Working(duty_rms_current, STEP, "Duty cycle, rms current", "A", "root of sum((a² + a b + b²) / 3 × t) / T", RMS,
            "I_rms", expression=False, tables=True),
    Working(lasting_current, STEP, "Lasting current for strips, wires and fuse", "A",
            "√(I_rms² + (working_current² - I_rms²) × (1 - exp(-longest_run / 60 s))), at least I_rms",
            "first-order warming, heat as I² R; time constant of 60 s: chosen, no source", "I_last", expression=False,
            note="a run that is long against a minute counts with its own current, however long the duty pauses"),
    Working(duty_stretch, STEP, "Duty cycle, longest without a pause", "s", "longest run of rows under load",
            "definition", expression=False,
            note="a current up to 5 % of the duty's peak is a pause (common practice, no source)"),
    Working(duty_peak_current, STEP, "Duty cycle, peak current", "A", "highest current of all rows", RMS, "I_peak",
            expression=False, tables=True),
    Working(duty_charge, STEP, "Duty cycle, charge", "mAh", "mean current × T", "OpenStax University Physics 9.1",
            "Q_cycle", expression=False),
    Working(duty_power, STEP, "Duty cycle, mean power", "W", "duty_mean_current * pack_nominal_voltage",
            "OpenStax University Physics 9.5"),
    Working(working_power, STEP, "Power at work", "W", "working_voltage * working_current",
            "OpenStax University Physics 9.5"),
    Working(working_peak, STEP, "Highest working current", "A", "max(heaviest_current, duty_peak_current)",
            "definition"),
    Working(current_range_share, STEP, "Share of the meter's range used", "%",
            "max(working_current, heaviest_current, free_current, start_peak_current, stall_burst_current, "
            "duty_peak_current) / current_range", "definition",
            note="every current of this step counts as read in that range, the peak of the duty cycle too"),
    Working(supply_resistance, STEP, "Supply, resistance", "mΩ",
            "(supply_open_voltage - supply_loaded_voltage) / supply_loaded_current",
            "OpenStax University Physics 10.1 (terminal voltage)"),
)
