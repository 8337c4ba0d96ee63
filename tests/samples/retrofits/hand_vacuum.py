"""Sample: a 12 V stick vacuum with three groups of two new cells, cleared with conditions."""

from __future__ import annotations

from pathlib import Path

from buildtrack.model.checklist import Checklist
from buildtrack.storage.template import start_new
from tests.samples.retrofits.fill import BENCH, Answer, Story, fill
from tests.samples.retrofits.packs import Battery, Group, discharge_answers
from tests.samples.retrofits.shared import BOARD, charge_rows, new_cells, taps
from tests.samples.scribe import NOTICE, Scribe, at

STEM, CHECKLIST = "stick-vacuum-cleared", "hand-vacuum"
CELLS = {"c01": (2.471, 0.0208), "c02": (2.468, 0.0211), "c03": (2.474, 0.0206), "c04": (2.465, 0.0214), "c05": (2.470, 0.0209),
         "c06": (2.469, 0.0210), "c07": (2.463, 0.0216)}
PAIRS = {"g1": ("c03", "c04"), "g2": ("c01", "c02"), "g3": ("c05", "c06")}
WAIVED = (
    ("alarm-silent", "nobody hears a buzzer over the fan; the alarm's lamp sits in the handle, in sight of the thumb"),
)


def battery() -> Battery:
    found = []
    for cells in PAIRS.values():
        capacity = sum(CELLS[c][0] for c in cells) * 0.945  # what is left at this current
        found.append(Group(capacity, 1.0 / sum(1.0 / CELLS[c][1] for c in cells) + 0.0012))
    return Battery("nmc", tuple(found))


def write(folder: Path, checklist: Checklist) -> Scribe:
    """Enter the whole build."""
    build = start_new(checklist, "12 V stick vacuum, hall cupboard", "bench 1, Fenmoor Lane tool library", at("2026-03-02 18:00"),
                      "sample-vacuum")
    s = Scribe(build, checklist, "bench 1")
    s.titled(notice=NOTICE, currency="EUR")
    fill(s, story())
    for check, reason in WAIVED:
        s.waive(check, reason)
    return s


def story() -> Story:
    pack = battery()
    run, _, _ = discharge_answers(pack, 6.0, 2.79, 3.34, 5)
    left = tuple(0.02 for _ in pack.groups)
    answers: dict[str, Answer] = {
        **BENCH, **BOARD, **run,
        "tool": "12 V stick vacuum with brush, nine years old", "may_be_modified": "yes", "renew_possible": "no", "gate_decision": "rebuild",
        "rated_voltage": "12 V", "used_by_others": "others", "reason": "the pack is dead and not sold any more; the motor is good",
        "new_pack_price": "49", "planned_cost": "34", "target_duration": "30 min",
        "old_label": "NiMH 12 V 2.0 Ah", "old_chemistry": "nimh", "old_cells": "10", "old_capacity": "2.0 Ah", "old_mass": "598 g",
        "old_charger_here": "yes", "charger_open_voltage": "19.6 V", "nickel_charger_current": "0.20 A", "charger_control": "none",
        "old_charger_fate": "made unusable", "opening_voltage": "9.12 V", "opened_state": "clean",
        "old_cell_voltages": {f"n{i}": {"voltage": f"{v} V", "state": "sound"} for i, v in
                              enumerate(("0.95", "0.96", "0.94", "0.02", "0.95", "0.97", "0.96", "0.94", "0.95", "0.96"), 1)},
        "housing_length": "75.0 mm", "housing_width": "56.0 mm", "housing_height": "80.0 mm",
        "current_method": "shunt", "current_range": "50 A", "load_source": "bench supply",
        "working_current": ("5.92 A", "6.04 A", "5.97 A", "6.10 A", "5.95 A"), "heaviest_current": ("7.31 A", "7.42 A", "7.35 A"),
        "start_peak_current": "19.4 A", "duty_job": "two rooms, about a quarter of an hour without a stop",
        "duty": {"s1": {"current": "6.0 A", "seconds": "780 s"}, "s2": {"current": "7.4 A", "seconds": "120 s"}}, "longest_run": "900 s",
        "useful_voltage": "8.4 V",
        "cells_source": "new", "capacity_test": "full, 30 min rest, 2.50 A to 2.50 V at 21 °C, four-bay tester",
        "cell_sheet": "sheet of the marking read on all seven: 2500 mAh, 20 A continuous, 2.5 V",
        "candidates": new_cells(CELLS, 2500, 20, "nmc", 3.512, "4.20 V", "2.5 V", "2.50 V", 2.5, "5.20", ("c07",)),
        "series_count": "3", "parallel_count": "2",
        "groups": {g: {"cells": " ".join(c), "joining_lowest": "3.512 V", "joining_highest": "3.514 V", "joined_on": "2026-03-07"}
                   for g, c in PAIRS.items()},
        "cell_diameter": "18.4 mm", "cell_length": "65.1 mm", "clearance": "2.5 mm",
        "insulating_rings": "6",
        "conductors": {"w1": {"run": "pack plus to fuse and switch", "size": "2.5 mm²", "length": "180 mm", "parallel": "1", "bundle": "1"},
                       "w2": {"run": "board to motor", "size": "2.5 mm²", "length": "210 mm", "parallel": "1", "bundle": "1"}},
        "strips": {f"t{n}": {"run": run_, "material": "nickel", "width": "8.0 mm", "thickness": "0.15 mm", "length": "20 mm", "parallel": "2"}
                   for n, run_ in enumerate(("pack plus", "g1 to g2", "g2 to g3", "pack minus"), 1)},
        "joints": {"j1": {"joint": "strip at pack plus", "kind": "weld", "drop": "1.3 mV", "current": "3.00 A"},
                   "j2": {"joint": "link g1 to g2", "kind": "weld", "drop": "1.2 mV", "current": "3.00 A"},
                   "j3": {"joint": "link g2 to g3", "kind": "weld", "drop": "1.4 mV", "current": "3.00 A"},
                   "j4": {"joint": "lead at fuse holder", "kind": "crimp", "drop": "1.6 mV", "current": "3.00 A"}},
        "fuse_rating": "15 A", "board_series": "3", "board_continuous": "20 A", "board_trip_low": "45 A", "board_trip_high": "60 A",
        "board_trip_delay": "10 ms", "board_overcharge": "4.22 V", "board_overcharge_tolerance": "25 mV", "board_cutoff": "2.80 V",
        "board_cutoff_tolerance": "50 mV", "board_release": "3.00 V", "board_balance_start": "4.18 V", "board_balance_tolerance": "25 mV",
        "board_balance_current": "60 mA", "board_resistance": "6 mΩ", "charge_policy": "4.20 V", "taps": taps(pack, 3.513),
        "board_idle_current": "21 µA",
        "alarm_scope": "each group", "alarm_setting": "3.35 V", "alarm_resolution": "10 mV",
        "alarm_channels": {"g1": {"shown": "3.51 V", "meter": "3.513 V", "sounded": "3.35 V"},
                           "g2": {"shown": "3.51 V", "meter": "3.513 V", "sounded": "3.36 V"},
                           "g3": {"shown": "3.52 V", "meter": "3.513 V", "sounded": "3.34 V"}},
        "alarm_heard": "no", "alarm_current": "1.80 mA", "alarm_switched_off": "yes", "alarm_meaning": "release the switch, charge the same day",
        "first_charger_voltage": ("12.54 V", "12.55 V", "12.54 V"),
        "first_charge_groups": charge_rows(pack, 0.5, (0.06, 0.06, 0.06), (4.178, 4.179, 4.177), before=True),
        "tester_stop": "8.1 V",
        "charger_kind": "cc/cv charger", "charger_voltage": ("12.54 V", "12.55 V", "12.54 V"), "charger_current": "1.50 A",
        "charge_temperature": "21 °C", "charge_groups": charge_rows(pack, 1.5, left, (4.178, 4.179, 4.177), (4.146, 4.147, 4.145)),
        "end_current": "0.21 A", "charge_time": "4.1 h", "warmest_charging": "26 °C", "charge_ended_by": "charger", "balancing_seen": "yes",
        "soak_minutes": "10 min", "soak_warmest": "43 °C", "soak_trips": "0", "measured_duration": "43 min",
        "short_circuit_protection": "yes", "mass_after": "451 g",
        "costs": {"k1": {"what": "seven cells, one lot", "kind": "cells", "amount": "36.40"},
                  "k2": {"what": "board", "kind": "board", "amount": "6.40"}, "k3": {"what": "fuse and holder", "kind": "fuse", "amount": "2.50"},
                  "k4": {"what": "charger 12.6 V", "kind": "charger", "amount": "9.80"},
                  "k5": {"what": "wire and sleeve", "kind": "wire", "amount": "3.10"}},
        "handed_over_on": "2026-03-12", "user_limits": "At full suction ten minutes at a time. Charge attended, with its own charger only. Never on the old dock.",
        "top_up_interval": "90 d", "lending_rule": "goes out with its charger",
    }
    return Story(
        answers,
        days={"old_label": "2026-03-03 18:00", "current_method": "2026-03-04 18:00", "cells_source": "2026-03-06 18:00",
              "joining_method": "2026-03-07 14:00", "series_links": "2026-03-08 14:20", "taps": "2026-03-08 16:00",
              "alarm_scope": "2026-03-08 17:00", "first_charger_voltage": "2026-03-09 09:00", "test_point": "2026-03-10 09:30",
              "recharged_within_day": "2026-03-10 11:00", "charger_kind": "2026-03-10 11:10", "end_current": "2026-03-10 15:40",
              "soak_minutes": "2026-03-11 17:00", "storage_level_agreed": "2026-03-12 18:00"},
        after={"groups_joined": (("groups", {g: {"voltage_after": "3.513 V"} for g in PAIRS}),),
               "series_links": (("groups", {g: {"voltage_next_day": "3.513 V"} for g in PAIRS}),)},
        left_out={"old_order_photo": "the old pack was taken apart before this record was begun", "label_photo": "invented example",
                  "wiring_photo": "invented example"},
    )
