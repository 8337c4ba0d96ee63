"""A hand-held radio that is rebuilt all the way: not shipped, it proves that this checklist can be worked to its end."""

from __future__ import annotations

from pathlib import Path

from buildtrack.model.checklist import Checklist
from buildtrack.storage.template import start_new
from tests.samples.retrofits.fill import BENCH, Answer, Story, fill
from tests.samples.retrofits.packs import Battery, Group, discharge_answers
from tests.samples.retrofits.shared import BOARD, charge_rows, new_cells, taps
from tests.samples.scribe import NOTICE, Scribe, at

CHECKLIST = "hand-held-radio"
CELLS = {"c01": (2.571, 0.0391), "c02": (2.566, 0.0394), "c03": (2.560, 0.0398)}
PAIRS = {"g1": ("c01",), "g2": ("c02",)}
WAIVED = (
    ("alarm-each-group", "the radio warns at 6.9 V; the board opens at 2.80 V per group, proven in the test"),
)


def write(folder: Path, checklist: Checklist) -> Scribe:
    """Enter the whole build."""
    build = start_new(checklist, "7.2 V hand-held radio, rebuilt", "bench 2, Fenmoor Lane tool library", at("2026-04-11 10:00"), "radio-whole")
    s = Scribe(build, checklist, "bench 2")
    s.titled(notice=NOTICE, currency="EUR")
    fill(s, story())
    for check, reason in WAIVED:
        s.waive(check, reason)
    return s


def story() -> Story:
    pack = Battery("nmc", tuple(Group(CELLS[c[0]][0] * 0.955, CELLS[c[0]][1] + 0.002) for c in PAIRS.values()))
    run, _, _ = discharge_answers(pack, 0.5, 2.82, None, 30)
    answers: dict[str, Answer] = {
        **BENCH, **BOARD, **run,
        "tool": "Private two-way radio, 2 W, one of a pair", "may_be_modified": "yes", "depended_on": "no", "renew_possible": "no",
        "gate_decision": "rebuild", "target_duration": "480 min", "rated_voltage": "7.2 V", "reason": "the old pack lasts ten minutes",
        "new_pack_price": "58", "planned_cost": "31",
        "old_label": "NiMH 7.2 V 1.2 Ah", "old_chemistry": "nimh", "old_cells": "6", "old_capacity": "1.2 Ah", "old_mass": "210 g",
        "old_charger_here": "yes", "charger_open_voltage": "12.4 V", "nickel_charger_current": "0.20 A", "charger_control": "timer",
        "old_charger_fate": "made unusable", "thermal_switch": "kept", "opening_voltage": "5.71 V", "opened_state": "clean",
        "old_cell_voltages": {f"n{i}": {"voltage": f"{v} V", "state": "sound"} for i, v in enumerate(("0.95", "0.96", "0.94", "0.95", "0.96", "0.95"), 1)},
        "housing_length": "82.0 mm", "housing_width": "56.0 mm", "housing_height": "28.0 mm",
        "pack_contacts": "two for the radio at the top, two for the charger on the back, one to the thermistor",
        "standby_current": "52 mA", "current_method": "meter", "current_range": "10 A", "load_source": "bench supply",
        "working_current": ("0.91 A", "0.93 A", "0.92 A", "0.92 A", "0.91 A"), "duty_job": "an hour of the garden party",
        "duty": {"s1": {"current": "0.05 A", "seconds": "3200 s"}, "s2": {"current": "0.14 A", "seconds": "220 s"},
                 "s3": {"current": "0.93 A", "seconds": "180 s"}}, "useful_voltage": "6.4 V",
        "cells_source": "new", "capacity_test": "full, 30 min rest, 0.50 A to 2.75 V at 21 °C", "cell_sheet": "sheet of the marking: 2600 mAh, 5 A, 2.75 V",
        "candidates": new_cells(CELLS, 2600, 5, "nmc", 3.602, "4.20 V", "2.75 V", "2.75 V", 0.5, "5.40", ("c03",)),
        "series_count": "2", "parallel_count": "1",
        "groups": {g: {"cells": c[0], "joining_lowest": "3.602 V", "joining_highest": "3.602 V", "joined_on": "2026-04-18"} for g, c in PAIRS.items()},
        "cell_diameter": "18.4 mm", "cell_length": "65.1 mm", "clearance": "2.0 mm", "insulating_rings": "2",
        "conductors": {"w1": {"run": "plus to fuse and radio contact", "size": "0.75 mm²", "length": "60 mm", "parallel": "1", "bundle": "1"},
                       "w2": {"run": "board to radio contact", "size": "0.75 mm²", "length": "60 mm", "parallel": "1", "bundle": "1"}},
        "strips": {f"t{n}": {"run": run_, "material": "nickel", "width": "8.0 mm", "thickness": "0.15 mm", "length": "20 mm", "parallel": "1"}
                   for n, run_ in enumerate(("plus", "g1 to g2", "minus"), 1)},
        "joints": {"j1": {"joint": "strip at plus", "kind": "weld", "drop": "1.2 mV", "current": "3.00 A"},
                   "j2": {"joint": "link g1 to g2", "kind": "weld", "drop": "1.3 mV", "current": "3.00 A"}},
        "fuse_rating": "3 A", "board_series": "2", "board_continuous": "5 A", "board_trip_low": "9 A", "board_trip_high": "14 A",
        "board_trip_delay": "10 ms", "board_overcharge": "4.22 V", "board_overcharge_tolerance": "25 mV", "board_cutoff": "2.80 V",
        "board_cutoff_tolerance": "50 mV", "board_release": "3.00 V", "board_balance_start": "4.18 V", "board_balance_tolerance": "25 mV",
        "board_balance_current": "50 mA", "board_resistance": "16 mΩ", "charge_policy": "4.20 V", "taps": taps(pack, 3.602), "board_idle_current": "12 µA",
        "alarm_scope": "none", "alarm_meaning": "the radio beeps: change to the other one of the pair",
        "first_charger_voltage": ("8.36 V", "8.36 V", "8.35 V"),
        "first_charge_groups": charge_rows(pack, 0.3, (0.16, 0.16), (4.178, 4.177), before=True), "tester_stop": "4.9 V",
        "charger_kind": "cc/cv charger", "charger_voltage": ("8.36 V", "8.36 V", "8.35 V"), "charger_current": "0.60 A", "charge_temperature": "21 °C",
        "charge_groups": charge_rows(pack, 0.6, (0.03, 0.03), (4.178, 4.177), (4.146, 4.145)), "end_current": "0.10 A", "charge_time": "5.0 h",
        "warmest_charging": "23 °C", "charge_ended_by": "charger", "balancing_seen": "yes", "transmit_trips": "0", "noise_heard": "no",
        "measured_duration": "1320 min", "short_circuit_protection": "yes", "mass_after": "142 g",
        "costs": {"k1": {"what": "three cells", "kind": "cells", "amount": "16.20"}, "k2": {"what": "board", "kind": "board", "amount": "4.20"},
                  "k3": {"what": "fuse", "kind": "fuse", "amount": "0.90"}, "k4": {"what": "charger 8.4 V", "kind": "charger", "amount": "8.90"}},
        "user_limits": "Leisure only. Own charger only, attended; the drop-in charger is out of use.", "handed_over_on": "2026-04-26", "top_up_interval": "90 d",
    }
    return Story(
        answers,
        days={"old_label": "2026-04-12 10:00", "standby_current": "2026-04-13 10:00", "cells_source": "2026-04-17 18:00",
              "joining_method": "2026-04-18 10:00", "series_links": "2026-04-19 10:20", "taps": "2026-04-19 12:00",
              "alarm_scope": "2026-04-19 13:00", "test_point": "2026-04-21 09:00", "recharged_within_day": "2026-04-21 14:30",
              "charger_kind": "2026-04-21 14:40", "end_current": "2026-04-21 19:50", "transmit_trips": "2026-04-25 10:00",
              "storage_level_agreed": "2026-04-26 10:00"},
        after={"groups_joined": (("groups", {g: {"voltage_after": "3.602 V"} for g in PAIRS}),),
               "series_links": (("groups", {g: {"voltage_next_day": "3.602 V"} for g in PAIRS}),)},
        left_out={"old_order_photo": "invented example", "label_photo": "invented example", "rejects_handed_in": "nothing was rejected"},
    )
