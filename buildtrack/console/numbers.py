"""`buildtrack cells`, `forecast`: the computation without a build, or without a screen."""

from __future__ import annotations

import argparse
from dataclasses import fields
from typing import Any

from buildtrack.console.common import load, plain, print_json, wrapped
from buildtrack.console.show import print_table
from buildtrack.physics.grouping import Grouping, best_grouping
from buildtrack.storage.cell_list import CellList, read_cells
from buildtrack.workings.discharge_forecast import ForecastReport
from buildtrack.workings.explain import explain, plain_data
from buildtrack.workings.values import Known


def cells(options: argparse.Namespace) -> int:
    """Group the cells of a list."""
    listed = read_cells(options.csv)
    found = _grouped(listed, options.series, options.parallel)
    names = [c.id for c in listed.cells]
    if options.json:
        print_json(cells_data(found, names, listed))
    else:
        _print_cells(found, names, listed)
    return 0


def _without_resistance(listed: CellList) -> str:
    """A line for the reader where one missing resistance leaves all of them out of the grouping."""
    missing = [c.id for c in listed.cells if not c.resistance_ohm]
    if not missing or len(missing) == len(listed.cells):
        return ""
    named = ", ".join(missing[:6]) + (" ..." if len(missing) > 6 else "")
    return f"resistances are left out of the grouping: {named} without one"


def _grouped(listed: CellList, series: int, parallel: int) -> Grouping:
    short = series * parallel - len(listed.cells)
    if short > 0 and listed.passed_over:
        raise ValueError(f"{len(listed.cells)} cells could be read, {series} groups of {parallel} need "
                         f"{series * parallel}; passed over: {'; '.join(listed.passed_over[:4])}")
    labels = [c.keep_apart for c in listed.cells]
    mixed = len(set(labels)) > 1
    resistances = [c.resistance_ohm for c in listed.cells]
    return best_grouping(
        [c.capacity_ah * 1000 for c in listed.cells], series, parallel,
        resistances_ohm=resistances if all(resistances) else None,
        keep_apart=labels if mixed else None, apart_in="group")


def cells_data(found: Grouping, names: list[str], listed: CellList) -> dict[str, Any]:
    """A grouping as JSON."""
    return {
        "groups": [[names[i] for i in group] for group in found.groups], "group_mAh": list(found.group_capacity_mah),
        "smallest_mAh": found.smallest_mah, "optimum_mAh": found.optimum_mah, "bound_mAh": found.bound_mah,
        "proven": found.proven, "reason": found.reason, "spread_mAh": found.spread_mah,
        "group_resistance_ohm": list(found.group_resistance_ohm) if found.group_resistance_ohm else None,
        "left_over": [names[i] for i in found.left_over], "columns": dict(listed.mapping),
        "passed_over": list(listed.passed_over), "left_out": _without_resistance(listed) or None}


def _print_cells(found: Grouping, names: list[str], listed: CellList) -> None:
    print("columns as understood: " + ", ".join(f"{what} = {plain(how)}" for what, how in listed.mapping.items()))
    resistances = found.group_resistance_ohm or ()
    rows = tuple((f"g{g + 1}", " ".join(plain(names[i]) for i in group), f"{found.group_capacity_mah[g]} mAh",
                  f"{resistances[g] * 1000:.1f} mΩ" if resistances else "") for g, group in enumerate(found.groups))
    print_table(("group", "cells", "capacity", "resistance"), rows)
    print(wrapped(found.sentence))
    print(wrapped("The last milliampere-hour is not physical: a tester's 1 % is more than the difference between good "
                  "groupings."))
    if found.left_over:
        print(wrapped("left over: " + " ".join(plain(names[i]) for i in found.left_over), "    ", ""))
    for line in (*(f"passed over: {text}" for text in listed.passed_over), _without_resistance(listed)):
        if line:
            print(wrapped(plain(line), "    ", "  ! "))


def forecast_data(report: ForecastReport) -> dict[str, Any]:
    """A forecast as JSON: the promised keys first, everything else behind them."""
    told: dict[str, Any] = {
        "alarm_s": report.alarm_s, "cutoff_s": report.cutoff_s, "delivered_Ah": report.delivered_ah,
        "delivered_Wh": report.delivered_wh, "ended_by_group": report.ended_by_group, "left_Ah": list(report.left_ah),
        "groups": [{"group": g.group, "ocv_V": g.ocv_v, "terminal_V": g.terminal_v, "left_Ah": g.left_ah}
                   for g in report.groups]}
    skipped = {"alarm_s", "cutoff_s", "delivered_ah", "delivered_wh", "ended_by_group", "left_ah", "groups", "solution"}
    told.update({f.name: plain_data(getattr(report, f.name)) for f in fields(report) if f.name not in skipped})
    return told


def forecast(options: argparse.Namespace) -> int:
    """What the computed pack should do in the discharge test."""
    judged = load(options.file)
    sheet = judged.assessment.sheet
    told = explain("forecast", sheet, judged.checklist)
    value = sheet.value("forecast")
    if not isinstance(value, Known):
        raise ValueError(f"{options.file}: no forecast yet: {told.shown}")
    if options.json:
        print_json(forecast_data(value.value))
        return 0
    print(wrapped(told.shown))
    head, rows = getattr(value.value, "head", None), getattr(value.value, "lines", None)
    if head and rows:
        print_table(head, rows)
    print(wrapped(f"Source: {told.source}"))
    return 0
