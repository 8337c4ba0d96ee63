"""Workings of the step `wire`: conductors, loop resistance, stall current, fuse, board."""

from __future__ import annotations

from buildtrack.physics import fuse_pulses, fuses, motor
from buildtrack.workings.graph import Working
from buildtrack.workings.values import Table
from buildtrack.workings.wire_board import CUTOFF_TOLERANCE_V, OVERCHARGE_TOLERANCE_V, board_report
from buildtrack.workings.wire_chain import chain
from buildtrack.workings.wire_fuse import fuse_at_stall, fuse_path_resistance, fuse_window
from buildtrack.workings.wire_runs import JointReport, RunReport, StripReport, joint_report, run_report, strip_report

STEP = "wire"
NEAR = 0.9
"""A start peak above so much of a supply's current limit may be the limit itself (common practice, no source)."""


def holder_path_resistance(series_count: float, parallel_count: float, holder_resistance: float) -> float:
    """Resistance of spring holders in the main path: one position per cell."""
    return series_count * holder_resistance / parallel_count


def wire_resistance(run_report: RunReport, strip_report: StripReport | None = None,
                    joint_report: JointReport | None = None, holder_path_resistance: float = 0.0) -> float:
    """Resistance of all runs, strips, measured joints and holders in the main path."""
    strips = strip_report.total_ohm if strip_report is not None else 0.0
    joints = joint_report.total_ohm if joint_report is not None else 0.0
    return run_report.total_ohm + strips + joints + holder_path_resistance


def rest_resistance(wire_resistance: float, board_resistance: float = 0.0, fuse_path_resistance: float = 0.0) -> float:
    """Resistance of everything between the cells and the tool's motor."""
    return wire_resistance + board_resistance + fuse_path_resistance


def loop_resistance(pack_resistance: float, rest_resistance: float) -> float:
    """Resistance the tool sees behind its terminals."""
    return pack_resistance + rest_resistance


def stall_current(pack_full_voltage: float, locked_rotor_resistance: float, loop_resistance: float) -> float:
    """Current of the held motor on the full new pack."""
    return motor.stall_current_a(pack_full_voltage, locked_rotor_resistance, loop_resistance)


def stall_pack_voltage(pack_full_voltage: float, stall_current: float, loop_resistance: float) -> float:
    """Voltage left at the tool in a stall."""
    return motor.stall_terminal_voltage_v(pack_full_voltage, stall_current, loop_resistance)


def start_carried(start_peak_current: float, pack_full_voltage: float, loop_resistance: float,
                  old_full_voltage: float, load_source: str = "old pack", old_pack_resistance: float | None = None,
                  supply_open_voltage: float | None = None, supply_resistance: float | None = None,
                  supply_limit: float | None = None, locked_rotor_resistance: float = 0.0,
                  old_pack_rested_voltage: float | None = None) -> float | None:
    """The measured start on the new pack, full: a worn pack or a supply lets less through than the new pack does.

    None where the resistance of what fed the tool is not known, or a supply was near its own limit.
    """
    # The rested voltage is nearer to that of the day than a full pack's, and it leaves less to the tool.
    voltage = old_full_voltage if old_pack_rested_voltage is None else min(old_pack_rested_voltage, old_full_voltage)
    resistance = old_pack_resistance
    if load_source != "old pack":
        voltage = old_full_voltage if supply_open_voltage is None else supply_open_voltage
        resistance = supply_resistance
    held_back = load_source != "old pack" and supply_limit is not None and start_peak_current > NEAR * supply_limit
    if resistance is None or held_back or not start_peak_current > 0:
        return None
    if not max(voltage / start_peak_current - resistance, locked_rotor_resistance) > 0:
        return None  # the readings contradict each other, and nothing else is known of the motor
    return motor.start_on_another_source_a(start_peak_current, voltage, resistance, pack_full_voltage, loop_resistance,
                                           locked_rotor_resistance)


def start_peak(stall_current: float | None = None, start_peak_current: float | None = None,
               start_carried: float | None = None) -> float | None:
    """Current a start begins with on the new pack: never less than measured.

    A measured peak is carried over to the new pack; where that cannot be done, or nothing was measured, the stall
    current counts, which no start exceeds.
    """
    bound = start_carried if start_carried is not None and start_peak_current is not None else stall_current
    known = [value for value in (start_peak_current, bound) if value is not None]
    return max(known, default=None)


def start_i2t(start_peak: float, start_peak_time: float, working_current: float | None = None) -> float:
    """I²t of one start: the current falls straight from its peak to the working current."""
    base = 0.0 if working_current is None else min(working_current, start_peak)
    return fuse_pulses.pulse_i2t_a2s(start_peak, start_peak_time, "trapezoid", base)


def drop_working(duty_rms_current: float, wire_resistance: float) -> float:
    """Voltage lost in wires, strips and joints at the rms current."""
    return duty_rms_current * wire_resistance


def drop_stall(stall_current: float, wire_resistance: float) -> float:
    """Voltage lost in wires, strips and joints in a stall."""
    return stall_current * wire_resistance


def _require_voltage(pack_v: float) -> None:
    if not pack_v > 0:
        raise ValueError(f"the pack has {pack_v:g} V; it must be above 0 V")


def wire_share_working(drop_working: float, pack_nominal_voltage: float) -> float:
    """Share of the nominal voltage that the wires take at work."""
    _require_voltage(pack_nominal_voltage)
    return drop_working / pack_nominal_voltage


def wire_share_stall(drop_stall: float, pack_full_voltage: float) -> float:
    """Share of the full voltage that the wires take in a stall."""
    _require_voltage(pack_full_voltage)
    return drop_stall / pack_full_voltage


def weakest_conductor(run_report: RunReport) -> float | None:
    """Least current that any run may carry."""
    rated = [r.allowed_a for r in run_report.runs if r.allowed_a is not None]
    return min(rated) if rated else None


def fuse_lowest(lasting_current: float, fuse_share: float) -> float:
    """Lowest fuse rating that carries the work for ever."""
    return fuses.minimum_rating_a(lasting_current, fuse_share)


def cells_in_pack(series_count: float, parallel_count: float) -> float:
    """Cells in the pack."""
    return series_count * parallel_count


def _stated(candidates: Table | None, column: str) -> list[float]:
    """What the sheets of the kept cells state."""
    kept = [r for r in candidates or () if r.text("decision") == "keep"]
    return [v for r in kept if (v := r.number(column)) is not None]


def group_minimum(cell_minimum: float, candidates: Table | None = None) -> float:
    """Lowest voltage a group may reach: the highest minimum stated for a kept cell, else the usual one."""
    return max(_stated(candidates, "min_voltage"), default=cell_minimum)


def group_charge_limit(cell_full: float, candidates: Table | None = None) -> float:
    """Highest charge voltage per group: the lowest limit stated for a kept cell, else the usual one."""
    return min(_stated(candidates, "charge_limit"), default=cell_full)


def charge_voltage_target(series_count: float, cell_full: float, charge_policy: float | None = None) -> float:
    """Voltage the charger is to hold: groups in series times the chosen voltage per group."""
    return series_count * (cell_full if charge_policy is None else charge_policy)


def board_cut_highest(board_overcharge: float, board_overcharge_tolerance: float = OVERCHARGE_TOLERANCE_V) -> float:
    """Voltage per group at which the board ends a charge at the latest."""
    return board_overcharge + board_overcharge_tolerance


def board_cutoff_highest(board_cutoff: float, board_cutoff_tolerance: float = CUTOFF_TOLERANCE_V) -> float:
    """Voltage per group at which the board ends a discharge at the earliest."""
    return board_cutoff + board_cutoff_tolerance


def board_cutoff_lowest(board_cutoff: float, board_cutoff_tolerance: float = CUTOFF_TOLERANCE_V) -> float:
    """Voltage per group at which the board ends a discharge at the latest."""
    return board_cutoff - board_cutoff_tolerance


WORKINGS = (
    Working(run_report, STEP, "Runs of wire", "", "per run: R = r20 × L × (1 + 0.00393 (t - 20)) / n; "
            "it may carry n × table × bundle × √((70 - t) / 40), the last above 30 °C",
            "IEC 60228 Tables 2 and 3; IEC 60028; chassis wiring column of the electronic tables handbook; "
            "IEC 60364-5-52 (PVC in warm places)",
            expression=False, note="each row is one run, one way; there and back are two rows"),
    Working(strip_report, STEP, "Strips", "",
            "per strip: R = ρ × L / (w × d × n), as often as the current passes such a link",
            "OpenStax University Physics section 9.3; CRC Handbook (nickel)", expression=False,
            note="no published table says what a strip may carry: 5 A/mm² of nickel, 3.5 of plated steel, 10 of copper "
                 "are taken (common practice, no source)"),
    Working(joint_report, STEP, "Joints", "", "per joint: R = V / I, against the limit and the median of the others",
            "Ohm's law; limit 2 mV at 3 A: common practice, no source", expression=False),
    Working(holder_path_resistance, STEP, "Holders in the main path", "mΩ",
            "series_count * holder_resistance / parallel_count", "resistances in series and parallel"),
    Working(wire_resistance, STEP, "Wires, strips and joints", "mΩ", "sum of runs, strips, measured joints, holders",
            "resistances in series add", "R_wire", expression=False),
    Working(fuse_path_resistance, STEP, "Resistance of the fuse", "mΩ", "as given, else printed drop / rating",
            "blade maker's sheet; IEC 60127-2 sheet 5 (typical drops)", "R_fuse", expression=False),
    Working(rest_resistance, STEP, "Everything outside the cells", "mΩ",
            "wire_resistance + board_resistance + fuse_path_resistance", "resistances in series add", "R_rest",
            note="board and fuse count as 0 where not known, so that the stall current is never told too low"),
    Working(loop_resistance, STEP, "Loop resistance", "mΩ", "pack_resistance + rest_resistance",
            "resistances in series add", "R_loop"),
    Working(stall_current, STEP, "Stall current, new pack full", "A",
            "pack_full_voltage / (locked_rotor_resistance + loop_resistance)",
            "V = I R + E with E = 0 (motor makers' formulas)", "I_stall"),
    Working(stall_pack_voltage, STEP, "Voltage at the tool in a stall", "V",
            "pack_full_voltage - stall_current * loop_resistance",
            "OpenStax University Physics 10.1 (terminal voltage)"),
    Working(start_carried, STEP, "Start as measured, on the new pack", "A",
            "pack_full_voltage / (max(V / start_peak_current - R, locked_rotor_resistance) + loop_resistance), V and R "
            "of what fed the tool", "V = I R + E with E = 0 (motor makers' formulas)", expression=False,
            note="the tool's own resistance in a start follows from the peak and from what fed it; it is never below "
                 "that of the held motor"),
    Working(start_peak, STEP, "Peak of a start, as reckoned with", "A",
            "the larger of measured and carried over to the new pack; else the stall current", "definition", "I_start",
            expression=False, note="the stall current is the upper bound of any start; it counts where the resistance "
                                   "of what fed the tool is not known"),
    Working(start_i2t, STEP, "Start pulse", "A²s", "(peak² + peak × working + working²) / 3 × time",
            "trapezoid of a fuse maker's table of pulse shapes", "I²t", expression=False,
            note="without the working current it is reckoned down to nothing"),
    Working(drop_working, STEP, "Drop in the wires at work", "mV", "duty_rms_current * wire_resistance", "Ohm's law"),
    Working(drop_stall, STEP, "Drop in the wires in a stall", "mV", "stall_current * wire_resistance", "Ohm's law"),
    Working(wire_share_working, STEP, "Share of the voltage lost in wires at work", "%",
            "drop_working / pack_nominal_voltage", "definition"),
    Working(wire_share_stall, STEP, "Share of the voltage lost in wires in a stall", "%",
            "drop_stall / pack_full_voltage", "definition"),
    Working(weakest_conductor, STEP, "Weakest conductor carries", "A", "least allowed current of all runs",
            "chassis wiring column of the electronic tables handbook; SAE AS50881 for bundles; "
            "IEC 60364-5-52 in warm places", expression=False),
    Working(chain, STEP, "The chain", "", "V = I × R, P = I_rms² × R, headroom = rating / I_last; the least governs",
            "OpenStax University Physics 9.5 and 10.2", expression=False),
    Working(fuse_lowest, STEP, "Fuse at least", "A", "lasting_current / fuse_share", "EDN fuse checklist (75 %)"),
    Working(fuse_window, STEP, "Fuse window", "", "I_last / share <= rating <= weakest conductor",
            "EDN fuse checklist (75 %); ISO 8820-3, IEC 60127-2, UL 248-14 (ratings)", expression=False),
    Working(fuse_at_stall, STEP, "The fuse in a stall", "", "the gates of the fuse's standard at I_stall / rating",
            "ISO 8820-3, IEC 60127-2, UL 248-14", expression=False),
    Working(board_report, STEP, "Board against load", "", "the board's sheet beside the pack's figures",
            "definition", expression=False),
    Working(cells_in_pack, STEP, "Cells in the pack", "", "series_count * parallel_count", "definition"),
    Working(group_minimum, STEP, "A group may fall to", "V", "highest minimum stated for a kept cell, else the usual",
            "sheets of the cells", expression=False, digits=3),
    Working(group_charge_limit, STEP, "A group may be charged to", "V",
            "lowest limit stated for a kept cell, else the usual", "sheets of the cells", expression=False, digits=3),
    Working(charge_voltage_target, STEP, "Charge voltage to hold", "V", "groups × voltage per group",
            "voltages in series add", "V_charge", expression=False, digits=4),
    Working(board_cut_highest, STEP, "Board ends the charge at the latest at", "V",
            "board_overcharge + board_overcharge_tolerance", "worst edge of the board's tolerance", digits=4,
            note="without a tolerance 50 mV are taken, as in the sheet of the DW01A"),
    Working(board_cutoff_highest, STEP, "Board opens at the earliest at", "V",
            "board_cutoff + board_cutoff_tolerance", "worst edge of the board's tolerance", digits=4,
            note="without a tolerance 100 mV are taken, as in the sheet of the DW01A"),
    Working(board_cutoff_lowest, STEP, "Board opens at the latest at", "V",
            "board_cutoff - board_cutoff_tolerance", "worst edge of the board's tolerance", digits=4,
            note="without a tolerance 100 mV are taken, as in the sheet of the DW01A"),
)
