"""Workings of the step `cells` about the pack that the cells make: groups, voltages, currents, energy."""

from __future__ import annotations

import math
from collections.abc import Iterator

from buildtrack.physics import designation as words
from buildtrack.physics import thermal, transport
from buildtrack.workings.cells_report import CellReport
from buildtrack.workings.graph import Working
from buildtrack.workings.pack_best import best_grouping, grouping_gain
from buildtrack.workings.pack_groups import GroupReport, assignment_report, group_report, lumped
from buildtrack.workings.pack_joining import joining_current_report
from buildtrack.workings.pack_layout import layout
from buildtrack.workings.pack_options import pack_options
from buildtrack.workings.values import WithSpread

STEP = "cells"
COMMON = "common practice, no source"
KIRCHHOFF = "Kirchhoff's laws"


def pack_full_voltage(series_count: float, cell_full: float) -> float:
    """Voltage of the full pack."""
    return series_count * cell_full


def pack_nominal_voltage(series_count: float, cell_nominal: float) -> float:
    """Nominal voltage of the pack."""
    return series_count * cell_nominal


def pack_empty_voltage(series_count: float, cell_empty: float) -> float:
    """Voltage of the empty pack."""
    return series_count * cell_empty


def full_voltage_excess(pack_full_voltage: float, old_full_voltage: float) -> float:
    """How far the full pack exceeds the highest voltage of the old one; below 0 it stays within."""
    return pack_full_voltage / old_full_voltage - 1


def nominal_voltage_change(pack_nominal_voltage: float, old_nominal_voltage: float) -> float:
    """How much faster (above 0) or slower (below 0) the tool will turn on average."""
    return pack_nominal_voltage / old_nominal_voltage - 1


def useful_group_voltage(useful_voltage: float, series_count: float) -> float:
    """Voltage per group at which the tool stops being useful."""
    if series_count < 1:
        raise ValueError(f"{series_count:g} groups in series is not allowed: a whole number from 1.")
    return useful_voltage / series_count


def _sums(group_report: GroupReport) -> list[float] | None:
    found = [g.capacity_ah for g in group_report.groups if g.capacity_ah is not None]
    return found if len(found) == len(group_report.groups) else None


def smallest_group_capacity(group_report: GroupReport) -> WithSpread | None:
    """Capacity of the smallest group: what the string delivers."""
    sums = _sums(group_report)
    if sums is None:
        return None
    smallest = group_report.groups[sums.index(min(sums))]
    return WithSpread(min(sums), lumped(smallest.capacity_errors, f"the cells of {smallest.id}"))


def group_capacity_spread(group_report: GroupReport) -> float | None:
    """Largest minus smallest group, over the smallest."""
    sums = _sums(group_report)
    return (max(sums) - min(sums)) / min(sums) if sums else None


def group_leak_spread(group_report: GroupReport) -> float | None:
    """Largest minus smallest self-discharge of a group, per day."""
    leaks = [g.leak_ah_per_day for g in group_report.groups if g.leak_ah_per_day is not None]
    return max(leaks) - min(leaks) if len(leaks) == len(group_report.groups) else None


def pack_resistance(group_report: GroupReport) -> WithSpread | None:
    """Resistance of all groups in series, cells only."""
    found = [g.resistance_ohm for g in group_report.groups if g.resistance_ohm is not None]
    if len(found) != len(group_report.groups):
        return None
    errors: dict[str, float] = {}
    for group in group_report.groups:
        for source, limit in group.resistance_errors.items():
            errors[source] = errors.get(source, 0.0) + limit
    return WithSpread(math.fsum(found), lumped(errors, "the cells"))


def pack_allowance(group_report: GroupReport) -> float | None:
    """Current the pack may give for long: that of the group whose most loaded cell reaches its allowance first."""
    found = [g.allowance_a for g in group_report.groups if g.allowance_a is not None]
    return min(found) if len(found) == len(group_report.groups) else None


def current_headroom(duty_rms_current: float, pack_allowance: float) -> float:
    """Share of the pack's allowance that the work uses."""
    return duty_rms_current / pack_allowance


def _largest_share(group_report: GroupReport) -> float:
    return max(g.largest_share for g in group_report.groups)


def _shares(group_report: GroupReport) -> Iterator[tuple[str, float]]:
    """Every cell of the pack with its share of the current; equal ones where a resistance of the group is missing."""
    for group in group_report.groups:
        yield from zip(group.cells, group.shares or (1 / len(group.cells),) * len(group.cells), strict=True)


def cell_current_working(duty_rms_current: float, group_report: GroupReport) -> float:
    """Rms current of the most loaded cell at work."""
    return duty_rms_current * _largest_share(group_report)


def cell_heat(duty_rms_current: float, group_report: GroupReport, cell_report: CellReport,
              median_resistance: float | None = None) -> float | None:
    """Heat in the warmest cell of the pack at work, each with its own share and resistance.

    The median of the lot stands in where a cell's own resistance was not measured; equal shares are assumed then.
    """
    found = []
    for name, share in _shares(group_report):
        cell = cell_report.cell(name)
        own = cell.resistance_ohm if cell is not None else None
        if (resistance := median_resistance if own is None else own) is None:
            return None
        found.append(thermal.cell_heat_w(share * duty_rms_current, resistance))
    return max(found)


def cell_steady_rise(cell_heat: float, cell_diameter: float = 0.018, cell_length: float = 0.065) -> float:
    """Rise of that cell above the air after a long time of work, free in air."""
    return thermal.steady_rise_k(cell_heat, thermal.cylinder_surface_m2(cell_diameter, cell_length))


def cell_current_stall(stall_current: float, group_report: GroupReport) -> float:
    """Current of the most loaded cell in a stall."""
    return stall_current * _largest_share(group_report)


def cell_c_rate_stall(stall_current: float, group_report: GroupReport, cell_report: CellReport) -> float | None:
    """Largest current over capacity that a stall asks of a cell."""
    rates = []
    for name, share in _shares(group_report):
        cell = cell_report.cell(name)
        if cell is None or cell.capacity_ah is None:
            return None
        rates.append(share * stall_current / cell.capacity_ah)
    return max(rates)


def nominal_energy(pack_nominal_voltage: float, smallest_group_capacity: float) -> float:
    """Energy of the pack by its nominal voltage and its smallest group as measured."""
    return transport.nominal_energy_wh(pack_nominal_voltage, smallest_group_capacity)


def transport_energy(nominal_energy: float, pack_nominal_voltage: float, group_report: GroupReport) -> float:
    """Energy that counts for transport: by rated capacities where they are stated, never below the measured one."""
    rated = [g.rated_ah for g in group_report.groups if g.rated_ah is not None]
    return max([nominal_energy, *(transport.nominal_energy_wh(pack_nominal_voltage, ah) for ah in rated)])


def transport_class(transport_energy: float) -> str:
    """Class of the pack by its energy, and what an aircraft passenger may do with it."""
    rule = transport.passenger_rule(transport_energy)
    passenger = {"free": "within the passenger limit", "with approval": "passengers need the airline's approval",
                 "no": "no passenger may carry it"}[rule]
    return (f"{transport.battery_class(transport_energy).name}; {passenger}; a home-built pack is of no tested type: "
            "not by post, not by air")


def designation(group_report: GroupReport, cell_report: CellReport, parallel_count: float, cell_diameter: float,
                cell_length: float) -> str:
    """Designation of the battery by the standard for lithium cells and batteries."""
    kinds = {c.chemistry for g in group_report.groups for n in g.cells if (c := cell_report.cell(n)) is not None}
    if len(kinds) != 1 or kinds & {"", "unknown"}:
        raise ValueError("A designation needs cells of one known chemistry.")
    letter = words.electrode_letter(next(iter(kinds)).upper())
    cell = words.cell_designation(letter, cell_diameter * 1000, cell_length * 1000)
    return words.battery_designation(len(group_report.groups), cell, int(parallel_count))


WORKINGS = (
    Working(pack_full_voltage, STEP, "Pack, full", "V", "series_count * cell_full", "voltages in series add", "V_full",
            digits=4),
    Working(pack_nominal_voltage, STEP, "Pack, nominal", "V", "series_count * cell_nominal", "voltages in series add",
            "V_nom", digits=4),
    Working(pack_empty_voltage, STEP, "Pack, empty", "V", "series_count * cell_empty", "voltages in series add",
            digits=4),
    Working(full_voltage_excess, STEP, "Full pack over the old one", "%", "pack_full_voltage / old_full_voltage - 1",
            "IEC 61951-1 (1.45 V per nickel cell); comparison: common practice, no source",
            note="above 0 the tool sees more than it has ever seen"),
    Working(nominal_voltage_change, STEP, "Speed against the old pack", "%",
            "pack_nominal_voltage / old_nominal_voltage - 1", "speed follows voltage (motor makers' formulas)"),
    Working(useful_group_voltage, STEP, "Tool useful down to, per group", "V", "useful_voltage / series_count",
            "voltages in series add"),
    Working(assignment_report, STEP, "Cells in groups", "", "every cell known, kept and used once; S groups of P",
            "definition", expression=False),
    Working(group_report, STEP, "Every group", "",
            "Q = sum Q_i; R = 1 / sum(1 / R_i); share_i = R / R_i; allowance = least of I_i / share_i",
            f"{KIRCHHOFF}; limited by the most loaded cell: {COMMON}", expression=False,
            note="shares by direct-current resistance; they drift towards the capacities as a load goes on"),
    Working(smallest_group_capacity, STEP, "Smallest group", "mAh", "least sum of capacities", "a series string "
            "delivers what its smallest group holds (charge conservation)", "Q_min", expression=False, digits=4),
    Working(group_capacity_spread, STEP, "Groups apart in capacity", "%", "(largest - smallest) / smallest",
            "definition", expression=False, digits=2),
    Working(group_leak_spread, STEP, "Groups apart in self-discharge, per day", "mAh", "largest - smallest",
            "definition", expression=False, digits=2),
    Working(pack_resistance, STEP, "Resistance of the cells in the pack", "mΩ", "sum of the group resistances",
            KIRCHHOFF, "R_pack", expression=False),
    Working(pack_allowance, STEP, "Allowance of the pack", "A", "least allowance of a group", KIRCHHOFF,
            "I_allowed", expression=False),
    Working(current_headroom, STEP, "Allowance used at work", "%", "duty_rms_current / pack_allowance", "definition"),
    Working(cell_current_working, STEP, "Most loaded cell at work", "A", "I_rms × largest share", KIRCHHOFF,
            expression=False),
    Working(cell_heat, STEP, "Heat in the warmest cell at work", "W",
            "largest of (share × I_rms)² × R of the cell over the cells of the pack", "OpenStax University Physics 9.5",
            expression=False,
            note="the reversible heat is left out; for a cell that was not measured the median of the lot counts"),
    Working(cell_steady_rise, STEP, "Warmest cell at work, warmer than the air by", "K",
            "P / (15 W/(m² K) × surface of the cell)", "heat transfer of a free cell (simses 1.3.12, cell classes)",
            expression=False, digits=2, note="after hours of work, one cell free in air: inside a pack it gets warmer"),
    Working(cell_current_stall, STEP, "Most loaded cell in a stall", "A", "I_stall × largest share", KIRCHHOFF,
            expression=False),
    Working(cell_c_rate_stall, STEP, "Most loaded cell in a stall, rate", "C", "largest share × I_stall / Q",
            "IEC 61960-3 (It = C / 1 h)", expression=False),
    Working(best_grouping, STEP, "Best grouping of the kept cells", "",
            "largest smallest group of those no check has to stop; then the narrowest spread; then, within 0.5 %, "
            "even resistances",
            "balanced number partitioning, own search with a proof by refuting every higher target",
            expression=False, note="the last milliampere-hour is not physical: see its ±"),
    Working(grouping_gain, STEP, "Smallest group could be larger by", "%", "best smallest group / smallest group - 1",
            "definition", expression=False, digits=2),
    Working(pack_options, STEP, "What these cells could be", "",
            "every S × P: S × V_full within the old full voltage, allowance above I_rms, cells within the housing",
            "full voltages compared: common practice, no source; currents by Kirchhoff's laws; plane geometry",
            expression=False,
            note="groups are made for capacity alone; "
                 "headroom is the allowance over the current of the work, below 1 × the option is refused; "
                 "the board's room is not taken off: measure it; cells that were not weighed are taken as 45 g"),
    Working(layout, STEP, "Cells in the housing", "",
            "rows of n with n × d + (n - 1) × gap within the width; staggered rows (d + gap) × √3 / 2 apart",
            "plane geometry; 1 mm on each side and 0.5 mm between cells: common practice, no source",
            expression=False, note="simple patterns, not a proof of the densest packing; ribs and posts are not known"),
    Working(joining_current_report, STEP, "Joining the cells of each group", "",
            "I = dV / (R_i + R_others); time to agree = (R1 + R2) / (b1 + b2) × ln(dV / 10 mV)",
            f"{KIRCHHOFF}; straight piece of the resting-voltage curve", expression=False),
    Working(nominal_energy, STEP, "Energy, nominal", "Wh", "pack_nominal_voltage * smallest_group_capacity",
            "UN Manual of Tests and Criteria 38.3 (nominal voltage × capacity)", "E"),
    Working(transport_energy, STEP, "Energy for transport", "Wh",
            "the larger of nominal voltage × measured and × rated capacity",
            "49 CFR 173.185 (nominal voltage × rated capacity)", expression=False),
    Working(transport_class, STEP, "Transport class", "", "100 Wh, 300 Wh; passengers 100 Wh, 160 Wh",
            "49 CFR 173.185(c); passenger rule for lithium batteries", expression=False),
    Working(designation, STEP, "Designation", "",
            "groups, I for lithium-ion, letter of the electrode (N: nickel), R for round, diameter and height rounded "
            "up to whole mm, cells in parallel",
            "IEC 61960-3, clause 5.1", expression=False),
)
