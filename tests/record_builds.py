"""Builds for the tests of the record: invented readings of a small pack, three groups of two cells."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from buildtrack.judging import Judged, judge
from buildtrack.model.build import (
    Build,
    Cell,
    Entry,
    Event,
    LeftOut,
    PolicyChange,
    Reading,
    Review,
    Row,
    Waiver,
)
from buildtrack.model.checklist import Checklist
from buildtrack.storage.checklist_file import find_checklist
from tests.make import Given, build_with

START = datetime(2026, 10, 1, 17, 0, 0, tzinfo=UTC)
NOW = datetime(2026, 11, 25, 12, 0, 0, tzinfo=UTC)

INSTRUMENTS = [
    {"id": "m1", "meter": "blue meter", "kind": "multimeter", "quantity": "voltage", "range": "6 V",
     "resolution": "1 mV", "accuracy": "0.5 % + 3 digits"},
    {"id": "m2", "meter": "blue meter", "kind": "multimeter", "quantity": "voltage", "range": "60 V",
     "resolution": "10 mV", "accuracy": "0.5 % + 3 digits"},
    {"id": "m3", "meter": "blue meter", "kind": "multimeter", "quantity": "current", "range": "10 A",
     "resolution": "10 mA", "accuracy": "1.5 % + 5 digits"},
    {"id": "m4", "meter": "four-bay tester", "kind": "tester", "quantity": "capacity", "range": "10 Ah",
     "resolution": "1 mAh", "accuracy": "2 %"},
]
CELLS = (  # capacity [mAh], resistance [mΩ], first rest [V]
    (2480, 52, 4.172), (2455, 55, 4.170), (2440, 49, 4.171), (2431, 58, 4.169), (2420, 51, 4.173), (2402, 54, 4.170),
    (2395, 60, 4.168), (1710, 118, 4.120),
)


def _candidates() -> list[dict[str, str]]:
    rows = []
    for number, (capacity, resistance, rest) in enumerate(CELLS, 1):
        last = number == len(CELLS)
        rows.append({
            "id": f"c{number:02}", "source": "laptop pack A", "marking": "grey 18650, no print", "chemistry": "nmc",
            "visual": "sound", "arrival_voltage": f"{3.52 + number * 0.011:.3f} V", "rated_capacity": "2600 mAh",
            "rated_current": "5.2 A", "charge_limit": "4.20 V", "min_voltage": "2.75 V", "charged_on": "2026-10-03",
            "rest_1_on": "2026-10-05", "rest_1_voltage": f"{rest:.3f} V", "rest_2_on": "2026-10-19",
            "rest_2_voltage": f"{rest - (0.031 if last else 0.003):.3f} V", "rest_temperature": "20 °C",
            "capacity": f"{capacity} mAh", "capacity_current": "1.0 A", "capacity_end_voltage": "2.80 V",
            "resistance": f"{resistance} mΩ", "resistance_method": "dc", "warmest": "29 °C",
            "decision": "reject" if last else "spare" if number == 7 else "keep",
            "reason": "falls too fast" if last else ""})
    return [{k: v for k, v in row.items() if v} for row in rows]


ANSWERS: dict[str, Given] = {
    "tool": "garden shears GS-1 (invented)", "tool_kind": "garden", "rated_voltage": "12 V", "may_be_modified": "yes",
    "record_detail": "full", "used_by_others": "others", "reason": "the old pack holds for two minutes",
    "new_pack_price": "48", "planned_cost": "21", "worth_going_on": "go on", "bench_temperature": "21 °C",
    "charging_site": "yes", "instruments": INSTRUMENTS,
    "old_chemistry": "nicd", "old_cells": "10", "old_capacity": "1.3 Ah", "old_mass": "540 g",
    "old_charger_here": "yes", "charger_open_voltage": "17.8 V", "old_charger_fate": "made unusable",
    "housing_length": "78 mm", "housing_width": "62 mm", "housing_height": "70 mm",
    "current_method": "shunt", "current_range": "10 A", "free_current": ["1.21 A", "1.18 A", "1.20 A"],
    "working_current": ["4.10 A", "4.35 A", "4.22 A", "4.41 A", "4.18 A"],
    "heaviest_current": ["6.8 A", "7.1 A", "6.9 A"], "winding_method": "ohmmeter",
    "winding_resistance": ["412 mΩ", "405 mΩ", "418 mΩ", "409 mΩ"], "duty_job": "cutting a box hedge",
    "duty": [{"id": "s1", "current": "7.0 A", "seconds": "1 s"}, {"id": "s2", "current": "4.2 A", "seconds": "12 s"},
             {"id": "s3", "current": "0 A", "seconds": "7 s"}],
    "longest_run": "40 s", "useful_voltage": "9.0 V", "current_limiter": "none",
    "cells_source": "salvaged", "candidates": _candidates(), "series_count": "3", "parallel_count": "2",
    "groups": [{"id": "g1", "cells": "c01 c06", "joining_lowest": "3.655 V", "joining_highest": "3.659 V",
                "joined_on": "2026-10-21"},
               {"id": "g2", "cells": "c02 c05", "joining_lowest": "3.654 V", "joining_highest": "3.660 V",
                "joined_on": "2026-10-21"},
               {"id": "g3", "cells": "c03 c04", "joining_lowest": "3.656 V", "joining_highest": "3.658 V",
                "joined_on": "2026-10-21"}],
    "cell_diameter": "18.4 mm", "cell_length": "65.2 mm", "clearance": "1.0 mm", "board_space": "6 mm",
    "joining_method": "spot weld",
    "conductors": [{"id": "w1", "run": "pack plus to fuse", "size": "1.5 mm²", "length": "60 mm", "parallel": "1"},
                   {"id": "w2", "run": "fuse to switch", "size": "1.5 mm²", "length": "110 mm", "parallel": "1"},
                   {"id": "w3", "run": "switch to contact plus", "size": "1.5 mm²", "length": "80 mm", "parallel": "1"},
                   {"id": "w4", "run": "pack minus to board", "size": "1.5 mm²", "length": "50 mm", "parallel": "1"},
                   {"id": "w5", "run": "board to contact minus", "size": "1.5 mm²", "length": "95 mm", "parallel": "1"},
                   {"id": "w6", "run": "tap leads", "size": "0.14 mm²", "length": "120 mm", "parallel": "1"}],
    "strips": [{"id": "t1", "run": "series links", "material": "nickel", "width": "8 mm", "thickness": "0.15 mm",
                "length": "20 mm", "parallel": "2"}],
    "fuse_family": "blade", "fuse_rating": "10 A", "fuse_voltage": "32 V", "fuse_position": "first at pack plus",
    "switch_rating": "15 A", "connector_rating": "20 A", "board_series": "3", "board_continuous": "12 A",
    "board_trip_low": "25 A", "board_trip_high": "40 A", "board_trip_delay": "10 ms", "board_overcharge": "4.25 V",
    "board_overcharge_tolerance": "0.025 V", "board_cutoff": "2.80 V", "board_cutoff_tolerance": "0.08 V",
    "board_release": "3.0 V", "board_balance_start": "4.18 V", "board_balance_tolerance": "0.02 V",
    "board_balance_current": "60 mA", "board_resistance": "12 mΩ", "board_port": "common",
    "board_wired_as": "as its sheet says", "charge_policy": "4.15 V",
    "taps": [{"id": "B0", "voltage": "0.00 V"}, {"id": "B1", "voltage": "3.66 V"}, {"id": "B2", "voltage": "7.32 V"},
             {"id": "B3", "voltage": "10.97 V"}],
    "board_connected": "yes", "tool_polarity": "right", "case_insulation": "open",
    "alarm_scope": "each group", "alarm_setting": "3.30 V", "alarm_resolution": "0.01 V",
    "alarm_channels": [{"id": "g1", "shown": "3.66 V", "meter": "3.657 V", "sounded": "3.31 V"},
                       {"id": "g2", "shown": "3.65 V", "meter": "3.657 V", "sounded": "3.30 V"},
                       {"id": "g3", "shown": "3.66 V", "meter": "3.656 V", "sounded": "3.30 V"}],
    "alarm_heard": "yes", "alarm_current": "6 mA", "alarm_switched_off": "yes",
    "first_charger_voltage": ["12.45 V", "12.45 V", "12.45 V"], "first_charger_checked": "yes",
    "test_point": "P+ and P-", "test_current": "2.4 A", "rest_before_test": "2 h", "log_kind": "by hand",
    "discharge_points": [
        {"id": f"d{k + 1}", "minute": f"{m}", "current": "2.40 A", "pack": f"{3 * v - 0.06:.2f} V", "g1": f"{v + 0.004:.3f} V",
         "g2": f"{v:.3f} V", "g3": f"{v - 0.006 - 0.0012 * k * k:.3f} V", "warmest": f"{21 + 0.9 * k:.0f} °C"}
        for k, (m, v) in enumerate(((0, 4.02), (15, 3.87), (30, 3.77), (45, 3.68), (60, 3.61), (75, 3.54), (90, 3.45),
                                    (100, 3.37), (106, 3.29), (110, 3.18), (113, 3.03)))],
    "alarm_after": "105 min", "cutoff_after": "114 min", "ended_by": "board", "pack_after_cutoff": "0.02 V",
    "event_groups": [
        {"id": "g1", "at_start": "4.148 V", "at_alarm": "3.32 V", "before_cutoff": "3.04 V", "rebound_10min": "3.31 V"},
        {"id": "g2", "at_start": "4.146 V", "at_alarm": "3.31 V", "before_cutoff": "3.01 V", "rebound_10min": "3.30 V"},
        {"id": "g3", "at_start": "4.147 V", "at_alarm": "3.30 V", "before_cutoff": "2.81 V", "rebound_10min": "3.22 V"}],
    "warmest_cell": "31 °C",
    "charger_kind": "cc/cv charger", "charger_voltage": ["12.45 V", "12.44 V", "12.45 V"], "charger_current": "1.5 A",
    "charge_temperature": "20 °C", "charge_attended": "yes",
    "charge_groups": [
        {"id": "g1", "after_5min": "3.62 V", "after_15min": "3.71 V", "after_30min": "3.78 V", "at_end": "4.151 V",
         "rested": "4.146 V"},
        {"id": "g2", "after_5min": "3.61 V", "after_15min": "3.70 V", "after_30min": "3.77 V", "at_end": "4.149 V",
         "rested": "4.144 V"},
        {"id": "g3", "after_5min": "3.60 V", "after_15min": "3.69 V", "after_30min": "3.76 V", "at_end": "4.147 V",
         "rested": "4.141 V"}],
    "end_current": "70 mA", "charge_time": "4.1 h", "charge_ended_by": "charger", "full_trips": "0", "low_trips": "0",
    "stall_ended_by": "not tried", "short_circuit_protection": "yes", "mass_after": "402 g",
    "costs": [{"id": "k1", "what": "protection board", "kind": "board", "amount": "9.50"},
              {"id": "k2", "what": "=2+3 nickel strip", "kind": "consumables", "amount": "4.20"},
              {"id": "k3", "what": "fuse and holder", "kind": "fuse", "amount": "2.80"}],
    "user_limits": "Do not hold the trigger when the blades are stuck. Charge attended, with the new charger only.",
    "label_fixed": "yes", "not_certified": "yes",
}

_METER_OF = {"V": "m1", "A": "m3", "mAh": "m4"}


def _stamped(name: str, entry: Entry, checklist: Checklist, hour: int) -> Entry:
    """The entry with instruments and times as if measured one after another."""
    item = checklist.items[name]
    at = START + timedelta(hours=hour)
    meter = "blue meter" if item.unit in ("V", "A") else ""
    readings = tuple(replace(r, taken=at + timedelta(minutes=n), instrument=meter) for n, r in enumerate(entry.readings))
    rows = []
    for n, row in enumerate(entry.rows):
        cells = {}
        for column, cell in row.cells.items():
            found = item.column(column)
            with_ = _METER_OF.get(found.unit, "") if found else ""
            cells[column] = Cell(cell.text, at + timedelta(minutes=3 * n), with_)
        rows.append(Row(row.id, cells))
    return Entry(readings, tuple(rows))


def _answers(checklist: Checklist) -> Mapping[str, Given]:
    """The answers above, and yes to every tick that is not answered."""
    found = {name: given for name, given in ANSWERS.items() if name in checklist.items}
    for item in checklist.all_items():
        if item.kind == "tick" and item.id not in found:
            found[item.id] = "yes"
    return found


def full_build(checklist: Checklist) -> Build:
    """A build of the main checklist, answered nearly to the end."""
    build = build_with(_answers(checklist), checklist)
    entries = {name: _stamped(name, entry, checklist, hour)
               for hour, (name, entry) in enumerate(build.entries.items())}
    entries["old_order_photo"] = Entry(left_out=LeftOut("the camera was not at hand", START, "Kim"))
    entries["alarm_setting"] = Entry((
        Reading("3.10 V", START, "", "first try", withdrawn="below what the alarm can show"),
        Reading("3.30 V", START + timedelta(days=2), "", "")))
    entries["fuse_rating"] = Entry((Reading("10 A", START, "", "from the print on the fuse", "taken over"),))
    entries["board_resistance"] = Entry((Reading("12 mΩ", START, "", "", "guessed"),))
    history = tuple(Event(START + timedelta(hours=n), "entered", checklist.items[i].step, i, after="x")
                    for n, i in enumerate(entries))
    history += (Event(START + timedelta(days=2), "changed", "alarm", "alarm_setting", before="3.10 V", after="3.30 V",
                      by="Kim", reason="margin too small"),)
    return replace(
        build, id="shears-gs1", title="Garden shears GS-1", maker="Kim (invented)", currency="EUR",
        notice="Invented for a test: no such tool, no such cells.", entries=entries, history=history, created=START,
        policy={"group_resistance_ratio": PolicyChange("160 %", "cells of one batch", START, "Kim")},
        waivers=(Waiver("forecast-apart", "the tester reads low", "Kim", START),),
        reviews=(Review("Robin (invented)", "agree with remarks", "Mind the third group.", START + timedelta(days=40), "0" * 64),))


def full_judged(folder: Path) -> Judged:
    """The build above, judged."""
    checklist = find_checklist("nickel-tool-pack")
    return judge(full_build(checklist), checklist, folder, NOW)
