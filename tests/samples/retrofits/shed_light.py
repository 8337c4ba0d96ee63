"""Sample: a private shed light with two iron phosphate cells in place of 6 V of lead, cleared with conditions."""

from __future__ import annotations

from pathlib import Path

from buildtrack.model.checklist import Checklist
from buildtrack.storage.template import start_new
from tests.samples.retrofits.fill import BENCH, Answer, Story, fill
from tests.samples.retrofits.packs import Battery, Group, discharge_answers
from tests.samples.retrofits.shared import BOARD, charge_rows, new_cells, taps
from tests.samples.scribe import NOTICE, Scribe, at

STEM, CHECKLIST = "shed-light-cleared", "shed-light-lfp"
CELLS = {"c01": (3.214, 0.0192), "c02": (3.208, 0.0194), "c03": (3.196, 0.0197)}
PAIRS = {"g1": ("c01",), "g2": ("c02",)}
WAIVED = (
    ("alarm-each-group", "nobody is in the shed to hear one; the board's cutoff of 2.80 V ends the light, proven in the test"),
)


def battery() -> Battery:
    return Battery("lfp", tuple(Group(CELLS[c[0]][0] * 0.955, CELLS[c[0]][1] + 0.002) for c in PAIRS.values()))


def write(folder: Path, checklist: Checklist) -> Scribe:
    """Enter the whole build."""
    build = start_new(checklist, "Emergency light of a private garden shed", "bench 1, Fenmoor Lane tool library", at("2026-02-07 10:00"), "sample-shed")
    s = Scribe(build, checklist, "bench 1")
    s.titled(notice=NOTICE, currency="EUR")
    fill(s, story())
    for check, reason in WAIVED:
        s.waive(check, reason)
    return s


def story() -> Story:
    pack = battery()
    run, _, _ = discharge_answers(pack, 0.8, 2.79, None, 15, 19.0)
    left = (0.02, 0.02)
    answers: dict[str, Answer] = {
        **BENCH, **{k: v for k, v in BOARD.items() if k != "charge_socket_polarity"}, **run,
        "tool": "Lamp with a 6 V lead battery, comes on when the mains fails, in a private garden shed", "may_be_modified": "yes",
        "renew_possible": "yes", "renew_price": "14", "gate_decision": "rebuild", "target_duration": "180 min", "rated_voltage": "6 V",
        "reason": "the third lead battery in six years has sulphated in the cold shed",
        "old_chemistry": "lead", "old_full_voltage": "7.2 V", "old_empty_voltage": "5.25 V", "old_capacity": "4.5 Ah", "old_mass": "790 g",
        "old_charger_here": "yes", "charger_open_voltage": "6.86 V", "charger_control": "none", "old_charger_fate": "rebuilt",
        "housing_length": "128 mm", "housing_width": "70 mm", "housing_height": "100 mm",
        "current_method": "meter", "current_range": "10 A", "working_current": ("0.79 A", "0.80 A", "0.80 A"),
        "duty": {"s1": {"current": "0.8 A", "seconds": "10800 s"}}, "useful_voltage": "5.0 V",
        "cells_source": "new", "capacity_test": "full at 3.65 V, 30 min rest, 1.00 A to 2.50 V at 21 °C",
        "cell_sheet": "sheet of the marking: 26650, 3200 mAh, 9.6 A continuous, 2.5 V",
        "candidates": new_cells(CELLS, 3200, 9.6, "lfp", 3.297, "3.65 V", "2.5 V", "2.50 V", 1.0, "7.40", ("c03",)),
        "series_count": "2", "parallel_count": "1",
        "groups": {g: {"cells": c[0], "joining_lowest": "3.297 V", "joining_highest": "3.297 V", "joined_on": "2026-02-14"} for g, c in PAIRS.items()},
        "cell_diameter": "26.2 mm", "cell_length": "65.6 mm", "clearance": "6.0 mm", "insulating_rings": "2",
        "conductors": {"w1": {"run": "plus to fuse and lamp", "size": "0.75 mm²", "length": "250 mm", "parallel": "1", "bundle": "2"},
                       "w2": {"run": "board to lamp", "size": "0.75 mm²", "length": "250 mm", "parallel": "1", "bundle": "2"}},
        "strips": {f"t{n}": {"run": run_, "material": "nickel", "width": "8.0 mm", "thickness": "0.15 mm", "length": "26 mm", "parallel": "1"}
                   for n, run_ in enumerate(("plus", "g1 to g2", "minus"), 1)},
        "fuse_rating": "3 A", "board_series": "2", "board_continuous": "8 A", "board_trip_low": "15 A", "board_trip_high": "25 A",
        "board_overcharge": "3.65 V", "board_overcharge_tolerance": "25 mV", "board_cutoff": "2.80 V", "board_cutoff_tolerance": "25 mV",
        "board_release": "2.85 V", "board_balance_start": "3.40 V", "board_balance_tolerance": "25 mV", "board_balance_current": "60 mA",
        "board_resistance": "12 mΩ", "charge_policy": "3.43 V", "taps": taps(pack, 3.297), "board_idle_current": "14 µA",
        "alarm_scope": "none",
        "first_charger_voltage": ("6.84 V", "6.84 V", "6.83 V"),
        "first_charge_groups": charge_rows(pack, 0.5, (0.56, 0.56), (3.419, 3.418), before=True), "tester_stop": "4.8 V",
        "charger_kind": "cc/cv charger", "charger_voltage": ("6.84 V", "6.84 V", "6.83 V"), "charger_current": "0.80 A",
        "charge_temperature": "19 °C", "charge_groups": charge_rows(pack, 0.8, left, (3.419, 3.418), (3.347, 3.346)),
        "end_current": "0.09 A", "charge_time": "4.6 h", "warmest_charging": "21 °C", "charge_ended_by": "charger",
        "float_groups": {"g1": {"first_day": "3.421 V", "last_day": "3.419 V"}, "g2": {"first_day": "3.418 V", "last_day": "3.417 V"}},
        "measured_duration": "221 min", "short_circuit_protection": "yes", "mass_after": "255 g",
        "costs": {"k1": {"what": "three cells", "kind": "cells", "amount": "22.20"}, "k2": {"what": "board", "kind": "board", "amount": "5.10"},
                  "k3": {"what": "fuse and holder", "kind": "fuse", "amount": "2.50"}, "k4": {"what": "charge module set to 6.84 V", "kind": "charger", "amount": "4.90"}},
        "handed_over_on": "2026-02-28", "user_limits": "Not below 0 °C: the charge lead has a switch that opens at 3 °C. Button test each month.", "top_up_interval": "90 d",
    }
    return Story(
        answers,
        days={"old_chemistry": "2026-02-08 10:00", "cells_source": "2026-02-13 18:00", "joining_method": "2026-02-14 10:00",
              "series_links": "2026-02-15 10:20", "taps": "2026-02-15 12:00", "alarm_scope": "2026-02-15 14:00",
              "test_point": "2026-02-17 09:00", "recharged_within_day": "2026-02-17 13:20", "charger_kind": "2026-02-17 13:30",
              "end_current": "2026-02-17 18:20", "float_groups": "2026-02-25 18:00", "measured_duration": "2026-02-28 14:00",
              "monthly_test": "2026-03-01 10:00"},
        after={"groups_joined": (("groups", {g: {"voltage_after": "3.297 V"} for g in PAIRS}),),
               "series_links": (("groups", {g: {"voltage_next_day": "3.297 V"} for g in PAIRS}),)},
        left_out={"label_photo": "invented example", "rejects_handed_in": "nothing was rejected"},
    )
