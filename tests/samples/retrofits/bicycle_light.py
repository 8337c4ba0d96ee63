"""Sample: a bicycle light battery of two groups, not cleared: under the shower the board began to pulse."""

from __future__ import annotations

from pathlib import Path

from buildtrack.model.checklist import Checklist
from buildtrack.storage.template import start_new
from tests.samples.retrofits.fill import BENCH, Answer, Story, fill
from tests.samples.retrofits.packs import Battery, Group, discharge_answers
from tests.samples.retrofits.shared import BOARD, charge_rows, new_cells, taps
from tests.samples.scribe import NOTICE, Scribe, at

STEM, CHECKLIST = "bottle-light-not-cleared", "bicycle-light"
CELLS = {"c01": (3.352, 0.0421), "c02": (3.341, 0.0428), "c03": (3.347, 0.0424), "c04": (3.344, 0.0426), "c05": (3.330, 0.0433)}
PAIRS = {"g1": ("c01", "c02"), "g2": ("c03", "c04")}


def battery() -> Battery:
    return Battery("nmc", tuple(Group(sum(CELLS[c][0] for c in cells) * 0.955, 1.0 / sum(1.0 / CELLS[c][1] for c in cells) + 0.002)
                                for cells in PAIRS.values()))


def write(folder: Path, checklist: Checklist) -> Scribe:
    """Enter the whole build."""
    build = start_new(checklist, "Bottle battery of a bicycle light", "bench 3, Fenmoor Lane tool library", at("2026-09-05 10:00"), "sample-bottle")
    s = Scribe(build, checklist, "bench 3")
    s.titled(notice=NOTICE, currency="EUR")
    fill(s, story())
    return s


def story() -> Story:
    pack = battery()
    run, _, _ = discharge_answers(pack, 1.4, 2.82, 3.20, 20, 20.0)
    left = (0.03, 0.03)
    answers: dict[str, Answer] = {
        **BENCH, **BOARD, **run,
        "tool": "Bicycle light for 6 V, 7 W, with its battery in the bottle cage", "may_be_modified": "yes", "renew_possible": "no",
        "gate_decision": "rebuild", "target_duration": "240 min", "rated_voltage": "7.2 V",
        "reason": "the nickel battery lasts half an hour and is not made any more", "new_pack_price": "65",
        "old_chemistry": "nimh", "old_full_voltage": "8.7 V", "old_empty_voltage": "6.0 V", "old_capacity": "3.5 Ah", "old_mass": "455 g",
        "old_charger_here": "yes", "charger_open_voltage": "13.2 V", "charger_control": "timer", "old_charger_fate": "made unusable",
        "housing_length": "128 mm", "housing_width": "66 mm", "housing_height": "66 mm",
        "current_method": "meter", "current_range": "10 A", "load_source": "bench supply", "working_current": ("1.39 A", "1.41 A", "1.40 A"),
        "duty": {"s1": {"current": "1.4 A", "seconds": "1800 s"}}, "longest_run": "9000 s", "useful_voltage": "6.2 V",
        "cells_source": "new", "capacity_test": "full, 30 min rest, 1.00 A to 2.75 V at 21 °C",
        "cell_sheet": "sheet of the marking: 3400 mAh, 6 A continuous, 2.5 V",
        "candidates": new_cells(CELLS, 3400, 6, "nmc", 3.602, "4.20 V", "2.5 V", "2.75 V", 1.0, "6.10", ("c05",)),
        "series_count": "2", "parallel_count": "2",
        "groups": {g: {"cells": " ".join(c), "joining_lowest": "3.602 V", "joining_highest": "3.604 V", "joined_on": "2026-09-12"}
                   for g, c in PAIRS.items()},
        "cell_diameter": "18.5 mm", "cell_length": "65.2 mm", "clearance": "4.0 mm", "insulating_rings": "4",
        "conductors": {"w1": {"run": "pack plus to fuse and plug", "size": "0.75 mm²", "length": "600 mm", "parallel": "1", "bundle": "2"},
                       "w2": {"run": "board to plug", "size": "0.75 mm²", "length": "600 mm", "parallel": "1", "bundle": "2"}},
        "strips": {f"t{n}": {"run": run_, "material": "nickel", "width": "8.0 mm", "thickness": "0.15 mm", "length": "20 mm", "parallel": "1"}
                   for n, run_ in enumerate(("pack plus", "g1 to g2", "pack minus"), 1)},
        "joints": {"j1": {"joint": "strip at pack plus", "kind": "weld", "drop": "1.2 mV", "current": "3.00 A"},
                   "j2": {"joint": "link g1 to g2", "kind": "weld", "drop": "1.3 mV", "current": "3.00 A"},
                   "j3": {"joint": "lead at board", "kind": "solder", "drop": "0.8 mV", "current": "3.00 A"}},
        "fuse_rating": "4 A", "board_series": "2", "board_continuous": "8 A", "board_trip_low": "15 A", "board_trip_high": "22 A",
        "board_overcharge": "4.22 V", "board_overcharge_tolerance": "25 mV", "board_cutoff": "2.80 V", "board_cutoff_tolerance": "50 mV",
        "board_release": "3.00 V", "board_balance_start": "4.18 V", "board_balance_current": "50 mA", "board_resistance": "14 mΩ",
        "charge_policy": "4.20 V", "sealing": "bottle with a gasket and a cable gland, no drip hole", "taps": taps(pack, 3.603),
        "board_idle_current": "12 µA",
        "alarm_scope": "each group", "alarm_setting": "3.20 V", "alarm_resolution": "10 mV",
        "alarm_channels": {"g1": {"shown": "3.60 V", "meter": "3.603 V", "sounded": "3.20 V"},
                           "g2": {"shown": "3.60 V", "meter": "3.603 V", "sounded": "3.21 V"}},
        "alarm_heard": "yes", "alarm_current": "0.90 mA", "alarm_switched_off": "yes",
        "alarm_meaning": "the lamp on the bar turns red: low setting, home by the lit road",
        "first_charger_voltage": ("8.36 V", "8.36 V", "8.35 V"),
        "first_charge_groups": charge_rows(pack, 0.7, (0.16, 0.16), (4.178, 4.177), before=True), "tester_stop": "5.1 V",
        "charger_kind": "cc/cv charger", "charger_voltage": ("8.36 V", "8.36 V", "8.35 V"), "charger_current": "1.50 A",
        "charge_temperature": "20 °C", "charge_groups": charge_rows(pack, 1.5, left, (4.178, 4.177), (4.146, 4.145)),
        "end_current": "0.30 A", "charge_time": "5.4 h", "warmest_charging": "24 °C", "charge_ended_by": "charger", "balancing_seen": "yes",
        "shower_test": "changed", "shake_test": "not done", "cable_pull": "held", "measured_duration": "266 min",
        "short_circuit_protection": "yes", "mass_after": "318 g",
        "costs": {"k1": {"what": "five cells", "kind": "cells", "amount": "30.50"}, "k2": {"what": "board", "kind": "board", "amount": "4.20"},
                  "k3": {"what": "fuse and holder", "kind": "fuse", "amount": "2.50"}, "k4": {"what": "charger 8.4 V", "kind": "charger", "amount": "8.90"}},
        "user_limits": "Not used until the shower test is passed. A second light on the bar in any case.", "top_up_interval": "90 d",
    }
    return Story(
        answers,
        days={"old_chemistry": "2026-09-06 10:00", "cells_source": "2026-09-11 18:00", "joining_method": "2026-09-12 10:00",
              "series_links": "2026-09-13 10:20", "taps": "2026-09-13 12:00", "alarm_scope": "2026-09-13 13:00",
              "first_charger_voltage": "2026-09-14 09:00", "test_point": "2026-09-15 09:00", "recharged_within_day": "2026-09-15 14:10",
              "charger_kind": "2026-09-15 14:20", "end_current": "2026-09-15 20:00", "shower_test": "2026-09-19 15:00",
              "storage_level_agreed": "2026-09-20 10:00"},
        after={"groups_joined": (("groups", {g: {"voltage_after": "3.603 V"} for g in PAIRS}),),
               "series_links": (("groups", {g: {"voltage_next_day": "3.603 V"} for g in PAIRS}),)},
        left_out={"real_job_done": "not ridden with after the shower test", "label_photo": "invented example",
                  "rejects_handed_in": "nothing was rejected"},
        notes={"shower_test": "after four minutes the lamp went off and on every second; water stood on the board"},
    )
