"""An invented build of a 12 V screwdriver, sound in every step up to the wiring, and one check judged at a time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from buildtrack.checks import rules_cells, rules_general, rules_pack
from buildtrack.checks.compare import compare
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist, CheckRule
from buildtrack.storage.checklist_file import check_library, read_checklist
from buildtrack.workings.asked import applies
from buildtrack.workings.graph import Sheet
from buildtrack.workings.registry import sheet_of
from buildtrack.workings.status import status_of
from tests.make import NOW, Given, build_with

RULES = {**rules_general.RULES, **rules_cells.RULES, **rules_pack.RULES}
NOT_ASKED = Ruling("not asked")

# Invented cells: arrival V, fall in 12 days in mV, capacity mAh, resistance mΩ.
CELLS = {"c01": (3.71, 4, 1948, 68), "c02": (3.70, 5, 1935, 71), "c03": (3.70, 6, 1902, 70), "c04": (3.69, 5, 1887, 74),
         "c05": (3.42, 8, 1864, 77), "c06": (3.43, 8, 1851, 76)}


@cache
def checklist() -> Checklist:
    """The main checklist."""
    return read_checklist(Path(__file__).resolve().parent.parent / "checklists" / "nickel-tool-pack.toml")


def cell(name: str, **other: str) -> dict[str, str]:
    """The row of one invented candidate; further columns replace its own."""
    arrival, fall, capacity, resistance = CELLS[name]
    row = {
        "id": name, "source": "donor A", "marking": "invented 2200", "chemistry": "nmc", "rated_capacity": "2200 mAh",
        "rated_c_rate": "2 C", "charge_limit": "4.20 V", "visual": "sound", "arrival_voltage": f"{arrival} V",
        "charged_on": "2026-10-01", "rest_1_on": "2026-10-03", "rest_1_voltage": f"{4.1 + capacity % 7 / 1000:.3f} V",
        "rest_2_on": "2026-10-15", "rest_2_voltage": f"{4.1 + capacity % 7 / 1000 - fall / 1000:.3f} V",
        "rest_temperature": "21 °C", "capacity": f"{capacity} mAh", "capacity_current": "2.0 A",
        "capacity_end_voltage": "2.80 V", "resistance": f"{resistance} mΩ", "resistance_method": "dc",
        "warmest": "27 °C", "mass": "44 g", "price": "1.00", "decision": "keep"}
    row.update(other)
    return {column: text for column, text in row.items() if text}


def cells(**changed: Mapping[str, str]) -> list[dict[str, str]]:
    """All candidates, some with other columns, and a spare one."""
    rows = [cell(name, **changed.get(name, {})) for name in CELLS]
    return [*rows, {**cell("c04"), "id": "c07", "decision": "spare", **changed.get("c07", {})}]


def group(name: str, members: str, low: str = "3.701 V", high: str = "3.704 V", after: str = "3.702 V",
          next_day: str = "3.701 V") -> dict[str, str]:
    """The row of one group."""
    return {"id": name, "cells": members, "joining_lowest": low, "joining_highest": high, "voltage_after": after,
            "voltage_next_day": next_day}


def groups(first: str = "c01 c06", second: str = "c02, c05", third: str = "C03+c04") -> list[dict[str, str]]:
    """The three groups of the sound build."""
    return [group("g1", first), group("g2", second), group("g3", third)]


SOUND: dict[str, Given] = {
    "tool": "invented screwdriver", "tool_kind": "screwdriver", "rated_voltage": "12 V", "may_be_modified": "yes",
    "new_pack_price": "35", "copy_pack_price": "24", "planned_cost": "16", "worth_going_on": "go on",
    "instruments": [
        {"id": "m1", "meter": "hand meter", "kind": "multimeter", "quantity": "voltage", "range": "40 V",
         "resolution": "1 mV", "accuracy": "0.5 % + 3 digits"},
        {"id": "m2", "meter": "hand meter", "kind": "multimeter", "quantity": "current", "range": "40 A",
         "resolution": "0.01 A", "accuracy": "1 % + 3 digits"}],
    "meter_check": [{"id": "k1", "meter": "hand meter", "reading": "4.012 V"},
                    {"id": "k2", "meter": "tester", "reading": "4.006 V"}],
    "tester_shown_current": "1.00 A", "meter_shown_current": "0.99 A", "bench_temperature": "21 °C",
    "charging_site": "yes", "smoke_alarm": "yes", "way_out": "yes", "vent_plan": "yes", "never_unattended": "yes",
    "old_chemistry": "nicd", "old_cells": "10", "old_capacity": "1.3 Ah", "old_charger_here": "yes",
    "charger_open_voltage": "21 V", "nickel_charger_current": "0.4 A", "old_charger_fate": "made unusable",
    "old_pack_full_voltage": "13.9 V", "old_pack_rested_voltage": "13.1 V", "opening_voltage": "10.2 V",
    "old_cell_voltages": [{"id": "n1", "voltage": "1.02 V", "state": "sound"},
                          {"id": "n2", "voltage": "1.00 V", "state": "sound"}],
    "housing_length": "140 mm", "housing_width": "80 mm", "housing_height": "48 mm",
    "current_range": "40 A", "load_source": "old pack", "free_current": ["1.3 A", "1.4 A", "1.3 A"],
    "working_current": ["6.8 A", "7.1 A", "7.0 A", "6.9 A", "7.2 A"],
    "heaviest_current": ["11.5 A", "12.0 A", "11.8 A"],
    "winding_method": "supply",
    "shaft_positions": [{"id": "p1", "voltage": "0.93 V", "current": "3.00 A"},
                        {"id": "p2", "voltage": "1.20 V", "current": "3.00 A"}],
    "duty": [{"id": "s1", "current": "28 A", "end_current": "7 A", "seconds": "0.15 s"},
             {"id": "s2", "current": "7 A", "seconds": "4 s"}, {"id": "s3", "current": "0 A", "seconds": "6 s"}],
    "useful_voltage": "9.0 V", "current_limiter": "clutch", "limiter_current": "7.0 A",
    "cells_source": "salvaged", "candidates": cells(), "series_count": "3", "parallel_count": "2", "groups": groups(),
    "cell_diameter": "18.4 mm", "cell_length": "65.2 mm", "clearance": "2 mm",
    "conductors": [{"id": "w1", "run": "plus", "size": "2.5 mm²", "length": "250 mm"},
                   {"id": "w2", "run": "minus", "size": "2.5 mm²", "length": "250 mm"}],
}


def build(changed: Mapping[str, Given | None] | None = None, instrument: str = "") -> Build:
    """The sound build with some items answered otherwise; None takes an answer away."""
    given = {**SOUND, **(changed or {})}
    return build_with({name: value for name, value in given.items() if value is not None}, checklist(), instrument)


def sheet(changed: Mapping[str, Given | None] | None = None) -> Sheet:
    """The sheet of such a build."""
    return sheet_of(build(changed), checklist(), NOW.date())


def value(name: str, changed: Mapping[str, Given | None] | None = None) -> Any:
    """A known value of such a build."""
    found = sheet(changed).value(name)
    assert hasattr(found, "value"), found
    return found.value


def library(check: str) -> CheckRule:
    """A check of the library."""
    return check_library()[check]


def rule(check: str, judged: Build) -> Ruling:
    """What one check says of a build; `not asked` where it does not apply."""
    found = library(check)
    own = replace(checklist(), checks=(found,))
    its_sheet = sheet_of(judged, own, NOW.date())
    if not applies(found.only_if, judged, its_sheet):
        return NOT_ASKED
    context = Context(judged, own, its_sheet, status_of(judged, own, its_sheet, NOW), found, NOW)
    return compare(context) if found.value else RULES[found.rule](context)
