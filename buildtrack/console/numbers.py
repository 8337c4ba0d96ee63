"""`buildtrack log`, `cells`, `forecast`: the computation without a build, or without a screen."""

from __future__ import annotations

import argparse
import json
from dataclasses import fields, replace
from typing import Any

from buildtrack import units
from buildtrack.console.common import load, plain, wrapped
from buildtrack.console.show import print_table
from buildtrack.physics.grouping import Grouping, best_grouping
from buildtrack.physics.logs import LogSummary, Mapping, describe, guess_mapping, read_log, sniff
from buildtrack.storage.cell_list import CellList, read_cells
from buildtrack.workings.discharge_forecast import ForecastReport
from buildtrack.workings.explain import explain, plain_data
from buildtrack.workings.values import Known

_COLUMNS = ("time", "date", "current", "voltage", "capacity", "energy", "state")
_LISTS = ("groups", "temperatures")


def log(options: argparse.Namespace) -> int:
    """Say what is in a discharge log."""
    summary = read_log(options.csv, _mapping(options))
    if options.json:
        print(json.dumps(log_data(summary), ensure_ascii=False, indent=2))
    else:
        _print_log(summary, describe(summary.mapping, sniff(options.csv).header))
    return 0


def _mapping(options: argparse.Namespace) -> Mapping | None:
    """The mapping with what was set by hand; None where nothing was."""
    if not options.map:
        return None
    sniffed = sniff(options.csv)
    mapping, _ = guess_mapping(sniffed, options.csv.name, complete=False)
    changes: dict[str, Any] = {}
    for pair in options.map:
        what, mark, column = pair.partition("=")
        if not mark:
            raise ValueError(f"--map {units.clip(pair)}: write it as WHAT=COLUMN, for instance current=3")
        if what in _COLUMNS:
            changes[what] = _column(column, sniffed.header)
        elif what in _LISTS:
            changes[what] = tuple(_column(c, sniffed.header) for c in column.split("+"))
        else:
            raise ValueError(f"--map {units.clip(what)}: can set {', '.join((*_COLUMNS, *_LISTS))}")
    return replace(mapping, **changes)


def _column(text: str, header: tuple[str, ...] | list[str]) -> int:
    if text.isascii() and text.isdigit() and int(text) >= 1:
        return int(text) - 1
    names = [h.strip() for h in header]
    if text.strip() in names:
        return names.index(text.strip())
    there = ", ".join(names) or "numbers from 1"
    raise ValueError(f"--map: there is no column '{units.clip(text)}'; there are: {there}")


def log_data(summary: LogSummary) -> dict[str, Any]:
    """A log's figures as JSON: the promised keys first, everything else behind them."""
    told: dict[str, Any] = {
        "rows": summary.rows, "duration_s": summary.duration_s, "charge_Ah": summary.charge_ah,
        "energy_Wh": summary.energy_wh, "mean_V": summary.mean_v, "gaps": plain_data(summary.gaps)}
    skipped = {"rows", "duration_s", "charge_ah", "energy_wh", "mean_v", "gaps", "outline"}
    told.update({f.name: plain_data(getattr(summary, f.name)) for f in fields(summary) if f.name not in skipped})
    return told


def _print_log(s: LogSummary, mapping: tuple[str, ...]) -> None:
    print(f"{plain(s.file)}: {s.rows} rows, {s.used} used, {s.ignored} passed over")
    print("columns as understood:")
    for line in (*mapping, *s.assumptions):
        print(wrapped(plain(line), "    ", "  - "))
    print(f"duration {s.duration_s / 60:.1f} min, sampled every {s.interval_median_s:g} s "
          f"(longest {s.interval_longest_s:g} s)")
    mean = f", mean {s.mean_v:.3f} V" if s.mean_v is not None else ""
    print(f"discharged {s.discharged_ah:.4f} Ah, charged {s.charged_ah:.4f} Ah, net {s.charge_ah:.4f} Ah; "
          f"{s.energy_wh:.3f} Wh{mean}")
    print(f"the end: {s.end_kind}; lowest pack voltage {s.lowest_v:.3f} V")
    for number, (volts, seconds) in enumerate(s.group_lowest, 1):
        print(f"  group {number}: lowest {volts:.3f} V at {seconds / 60:.1f} min")
    if s.gaps:
        print(f"{len(s.gaps)} gap{'s' * (len(s.gaps) > 1)}: {s.gap_charge_ah:.4f} Ah of the charge lies there")
    for warning in s.warnings:
        place = f"line {warning.line}: " if warning.line else ""
        print(wrapped(place + plain(warning.text), "    ", "  ! "))


def cells(options: argparse.Namespace) -> int:
    """Group the cells of a list."""
    listed = read_cells(options.csv)
    found = _grouped(listed, options.series, options.parallel)
    names = [c.id for c in listed.cells]
    if options.json:
        print(json.dumps(cells_data(found, names, listed), ensure_ascii=False, indent=2))
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
        print(json.dumps(forecast_data(value.value), ensure_ascii=False, indent=2))
        return 0
    print(wrapped(told.shown))
    head, rows = getattr(value.value, "head", None), getattr(value.value, "lines", None)
    if head and rows:
        print_table(head, rows)
    print(wrapped(f"Source: {told.source}"))
    return 0
