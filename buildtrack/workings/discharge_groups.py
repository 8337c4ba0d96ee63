"""What the test says of each group: resistance from load steps, charge left behind when the test ended."""

from __future__ import annotations

import statistics
from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics.discharge import resistances_from_steps, stranded_charge
from buildtrack.workings.cells_curve import curve_for
from buildtrack.workings.cells_report import CellReport
from buildtrack.workings.discharge_log import LogData
from buildtrack.workings.discharge_test import TestReport
from buildtrack.workings.pack_groups import Group, GroupReport
from buildtrack.workings.taps import whole_groups
from buildtrack.workings.values import Table

SAG, STEPS = "the sag readings", "load steps of the log"


@dataclass(frozen=True, slots=True)
class GroupResistance:
    """Measured resistance of one group beside that of its cells in parallel."""

    group: str
    measured_ohm: float | None
    cells_ohm: float | None
    by: str
    readings: int

    @property
    def ratio(self) -> float | None:
        """Measured over computed; None where one of the two is missing."""
        if self.measured_ohm is None or not self.cells_ohm:
            return None
        return self.measured_ohm / self.cells_ohm


@dataclass(frozen=True, slots=True)
class GroupResistances:
    """Every group."""

    groups: tuple[GroupResistance, ...]

    @property
    def summary(self) -> str:
        """The whole in one line."""
        known = [g for g in self.groups if g.ratio is not None]
        if not known:
            return "measured, but the cells' own resistances are missing"
        worst = max(known, key=lambda g: g.ratio or 0.0)
        return (f"{len(known)} groups by {known[0].by}; highest against its cells: {worst.group}, "
                f"{units.show(worst.measured_ohm or 0.0, 'mΩ', digits=3)} of "
                f"{units.show(worst.cells_ohm or 0.0, 'mΩ', digits=3)} ({(worst.ratio or 0.0) * 100:.0f} %)")

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("group", "measured", "cells in parallel", "measured / cells", "by", "readings")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per group."""
        return tuple((g.group, _ohms(g.measured_ohm), _ohms(g.cells_ohm),
                      "-" if g.ratio is None else f"{g.ratio * 100:.0f} %", g.by, str(g.readings))
                     for g in self.groups)


def _ohms(value: float | None) -> str:
    return "-" if value is None else units.show(value, "mΩ", digits=3)


def group_resistances(series_count: float, discharge_log_data: LogData | None = None, sag: Table | None = None,
                      group_report: GroupReport | None = None) -> GroupResistances | None:
    """Resistance of each group: median over the load steps of the log, else over the sag readings.

    With the cells' own values beside it a cell that is not connected shows: two cells in parallel have half.
    """
    count = whole_groups(series_count)
    measured, by = _by_steps(discharge_log_data, count), STEPS
    if not any(n for _, n in measured):
        measured, by = _by_sag(sag, count), SAG
    if not any(n for _, n in measured):
        return None
    cells = {g.id: g.resistance_ohm for g in group_report.groups} if group_report is not None else {}
    return GroupResistances(tuple(
        GroupResistance(f"g{k + 1}", value, cells.get(f"g{k + 1}"), by, readings)
        for k, (value, readings) in enumerate(measured)))


def _by_steps(data: LogData | None, count: int) -> list[tuple[float | None, int]]:
    """Per group: median over the load steps, and how many."""
    if data is None or len(data.log.mapping.groups) != count:
        return []
    _, groups = resistances_from_steps(data.log.steps)
    return [(g.resistance_ohm, g.steps) if g is not None else (None, 0) for g in groups]


def _by_sag(sag: Table | None, count: int) -> list[tuple[float | None, int]]:
    """Per group: median over the sag readings, and how many."""
    found: list[list[float]] = [[] for _ in range(count)]
    names = {f"g{n + 1}": n for n in range(count)}
    for row in sag or ():
        current, before, under = row.number("current"), row.number("before"), row.number("under_load")
        n = names.get(_group_name(row.text("group")))
        if n is not None and current and before is not None and under is not None and before > under:
            found[n].append((before - under) / current)
    return [(statistics.median(values) if values else None, len(values)) for values in found]


def _group_name(text: str) -> str:
    plain = text.strip().casefold().removeprefix("group").strip()
    return plain if plain.startswith("g") else f"g{plain}"


@dataclass(frozen=True, slots=True)
class Stranded:
    """Charge left in one group when the test ended."""

    group: str
    by_capacity_ah: float | None
    """Charge of its cells less what was delivered."""
    rested_v: float | None
    by_voltage_ah: tuple[float, float] | None
    """Lowest and highest charge that fits the rested voltage; None without one."""
    note: str


@dataclass(frozen=True, slots=True)
class StrandedReport:
    """What stayed in the groups."""

    groups: tuple[Stranded, ...]

    @property
    def summary(self) -> str:
        """The whole in one line."""
        told = [f"{g.group} {units.show(g.by_capacity_ah, 'mAh', digits=2)}" for g in self.groups
                if g.by_capacity_ah is not None]
        return f"left by their cells' capacities: {', '.join(told)}" if told else "left by the rested voltages only"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("group", "left by capacity", "rested an hour", "left by the voltage")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per group."""
        return tuple((g.group, "-" if g.by_capacity_ah is None else units.show(g.by_capacity_ah, "mAh", digits=2),
                      "-" if g.rested_v is None else f"{g.rested_v:.3f} V", _range(g)) for g in self.groups)


def _range(stranded: Stranded) -> str:
    if stranded.by_voltage_ah is None:
        return stranded.note or "-"
    low, high = stranded.by_voltage_ah
    told = f"{units.show(low, 'mAh', digits=2)} to {units.show(high, 'mAh', digits=2)}"
    return f"{told} ({stranded.note})" if stranded.note else told


VOLTAGE_DOUBT_V = 0.010
"""Doubt of a voltage rested for one hour only (common practice, no source)."""


def stranded_report(group_report: GroupReport, cell_report: CellReport, test_report: TestReport,
                    delivered_capacity_tested: float) -> StrandedReport | None:
    """Charge left in each group at the end: its cells' capacity less what was delivered, and by its rested voltage."""
    turns = {g.id: g for g in test_report.groups}
    found = [_stranded(g, cell_report, delivered_capacity_tested, turns[g.id].rebound_60min_v)
             for g in group_report.groups if g.id in turns]
    return StrandedReport(tuple(found)) if found else None


def _stranded(group: Group, cells: CellReport, delivered_ah: float, rested_v: float | None) -> Stranded:
    left = None if group.capacity_ah is None else group.capacity_ah - delivered_ah
    if rested_v is None or group.capacity_ah is None:
        return Stranded(group.id, left, rested_v, None, "")
    cell = cells.cell(group.cells[0])
    curve = curve_for(cell.chemistry if cell is not None else "")
    told = stranded_charge((rested_v,), (group.capacity_ah,), curve, VOLTAGE_DOUBT_V)[0]
    return Stranded(group.id, left, rested_v, (told.low_ah, told.high_ah), told.note)
