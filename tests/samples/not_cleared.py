"""Sample: a 9.6 V drill pack, finished and not cleared: swapped taps found late, one weak group, an alarm set too low."""

from __future__ import annotations

from pathlib import Path

from buildtrack.model.checklist import Checklist
from buildtrack.storage.template import start_new
from tests.samples.parts import enter_plan, last_row_mah, write_log
from tests.samples.scribe import NOTICE, Scribe, at
from tests.samples.truth import TrueGroup, discharge, ocv, volts

STEM = "drill-not-cleared"
CELLS = {"c01": (2.104, 0.0521), "c02": (2.088, 0.0534), "c03": (1.902, 0.0688), "c04": (1.815, 0.0731)}
GROUPS = {"g1": ("c01", "c02"), "g2": ("c03", "c04")}
CUTOFF = 2.76


def write(folder: Path, checklist: Checklist) -> Scribe:
    """Enter the whole build with its faults, and write its log beside it."""
    build = start_new(checklist, "9.6 V drill", "bench 3, Fenmoor Lane tool library", at("2026-05-04 17:00"),
                      "sample-not-cleared")
    scribe = Scribe(build, checklist, "bench 3")
    scribe.titled(notice=NOTICE, currency="EUR")
    enter_plan(scribe, tool="9.6 V cordless drill, one gear, shelf 4", kind="drill", rated="9.6 V", prices=("49", "33", "69"),
               cost="22")
    _old_pack(scribe)
    _load(scribe)
    _cells(scribe)
    _wire(scribe)
    _alarm(scribe)
    _discharge(scribe, folder)
    _charge(scribe)
    return scribe


def _old_pack(s: Scribe) -> None:
    s.go_to("2026-05-05 17:30")
    s.put("old_label", "NiCd 9.6 V 1.3 Ah")
    s.put("old_chemistry", "nicd")
    s.put("old_cells", "8")
    s.put("old_capacity", "1.3 Ah")
    s.put("old_terminals", "two")
    s.put("old_mass", "498 g", "scale")
    s.put("old_pack_takes_charge", "no")
    s.put("old_pack_fault", "pack")
    s.put("old_charger_here", "yes")
    s.put("charger_open_voltage", "15.2 V", "m1-60v")
    s.put("nickel_charger_current", "0.30 A", "m1-10a")
    s.put("charger_control", "timer")
    s.put("old_charger_fate", "kept for nickel tools")
    s.put("opening_voltage", "4.87 V", "m1-60v")
    s.put("opened_state", "clean")
    s.leave_out("old_order_photo", "forgotten")
    s.rows("old_cell_voltages", {f"n{i}": {"voltage": f"{v} V", "state": "sound"} for i, v in
                                 enumerate(("0.62", "0.61", "0.60", "0.63", "0.58", "0.61", "0.62", "0.60"), 1)},
           {"voltage": "m1-6v"})
    s.yes("polarity_marked", "contact_block")
    s.put("contact_state", "good")
    s.put("housing_length", "74.0 mm", "caliper")
    s.put("housing_width", "46.0 mm", "caliper")
    s.put("housing_height", "80.0 mm", "caliper")
    s.put("parts_kept", "housing and contact block")
    s.yes("old_cells_boxed")


def _load(s: Scribe) -> None:
    s.go_to("2026-05-06 17:30")
    s.put("current_method", "shunt")
    s.put("current_range", "50 A")
    s.put("load_source", "bench supply")
    s.put("supply_limit", "30 A")
    s.put("shunt_resistance", "1.50 mΩ", value_class="taken over", note="its plate")
    s.put("free_current", ("1.9 A", "2.0 A", "1.9 A"), "shunt-50a")
    s.put("working_current", ("5.1 A", "5.6 A", "5.3 A", "5.8 A", "5.4 A"), "shunt-50a", note="6 mm holes in spruce")
    s.put("heaviest_current", ("8.9 A", "9.3 A", "9.1 A"), "shunt-50a")
    s.put("winding_method", "supply")
    s.rows("shaft_positions", {"p1": {"voltage": "0.842 V", "current": "3.00 A"}, "p2": {"voltage": "0.811 V", "current": "3.01 A"},
                               "p3": {"voltage": "0.874 V", "current": "3.00 A"}, "p4": {"voltage": "0.833 V", "current": "2.99 A"}},
           {"voltage": "m1-6v", "current": "m1-10a"})
    s.put("series_resistor_fitted", "no")
    s.put("duty_job", "a 6 mm hole every quarter of a minute")
    s.rows("duty", {"s1": {"current": "22 A", "end_current": "6 A", "seconds": "0.15 s"}, "s2": {"current": "5.5 A", "seconds": "6 s"},
                    "s3": {"current": "0 A", "seconds": "8.85 s"}}, {"current": "shunt-50a"})
    s.put("longest_run", "25 s")
    s.put("useful_voltage", "6.4 V", "m1-60v")
    s.put("current_limiter", "none")


def _cells(s: Scribe) -> None:
    s.go_to("2026-05-08 16:00")
    s.put("cells_source", "salvaged")
    s.yes("donor_opened", "cell_ids")
    s.rows("donors", {"a": {"what": "laptop pack, 4 cells", "year": "2019", "highest": "3.61 V", "lowest": "3.52 V",
                            "suspects": "c03 and c04: the lower group"}}, {"highest": "m1-6v", "lowest": "m1-6v"})
    s.yes("sleeves_mended")
    s.put("capacity_test", "full at 4.20 V, 30 min rest, 1.00 A to 2.80 V, four-bay tester")
    s.put("cell_sheet", "2200 mAh, 2C, 2.75 V by the maker's sheet for this marking")
    arrival = {"c01": 3.612, "c02": 3.611, "c03": 3.523, "c04": 3.521}
    s.rows("candidates", {n: {"source": "donor a", "marking": "blue sleeve, 2200", "chemistry": "nmc", "visual": "sound",
                              "arrival_voltage": volts(v)} for n, v in arrival.items()}, {"arrival_voltage": "m1-6v"})
    s.rows("candidates", {n: {"rated_capacity": "2200 mAh", "rated_c_rate": "2 C", "charge_limit": "4.20 V", "min_voltage": "2.75 V"}
                          for n in CELLS},
           value_class=dict.fromkeys(("rated_capacity", "rated_c_rate", "charge_limit", "min_voltage"), "taken over"))
    s.go_to("2026-05-09 21:00")
    s.yes("first_charge_cells")
    s.rows("candidates", {n: {"warmest": "27 °C", "charged_on": "2026-05-09"} for n in CELLS}, {"warmest": "thermometer"})
    s.go_to("2026-05-11 18:00")
    s.rows("candidates", {n: {"rest_1_on": "2026-05-11", "rest_1_voltage": volts(4.170 - 0.001 * i)} for i, n in enumerate(CELLS)},
           {"rest_1_voltage": "m1-6v"})
    s.go_to("2026-05-25 18:00")
    s.rows("candidates", {n: {"rest_2_on": "2026-05-25", "rest_2_voltage": volts(4.170 - 0.001 * i - 0.005 - 0.001 * i),
                              "rest_temperature": "21 °C"} for i, n in enumerate(CELLS)},
           {"rest_2_voltage": "m1-6v", "rest_temperature": "thermometer"})
    s.yes("rest_method")
    s.rows("candidates", {n: {"capacity": f"{c * 1000:.0f} mAh", "capacity_current": "1.00 A", "capacity_end_voltage": "2.80 V",
                              "dc_voltage_1": volts(4.105 - 0.44 * r), "dc_current_1": "0.440 A",
                              "dc_voltage_2": volts(4.105 - 2.2 * r), "dc_current_2": "2.200 A", "resistance_method": "dc",
                              "resistance_temperature": "21 °C", "decision": "keep"} for n, (c, r) in CELLS.items()},
           {"capacity": "tester", "dc_voltage_1": "m1-6v", "dc_voltage_2": "m1-6v", "dc_current_1": "tester-a",
            "dc_current_2": "tester-a"})
    s.yes("rejects_set_aside")
    s.put("series_count", "2")
    s.put("parallel_count", "2")
    s.rows("groups", {g: {"cells": " ".join(cells)} for g, cells in GROUPS.items()})
    s.put("cell_diameter", "18.4 mm", "caliper")
    s.put("cell_length", "65.2 mm", "caliper")
    s.yes("dummy_fit")
    s.put("clearance", "2.5 mm", "caliper")
    s.put("board_space", "5.0 mm", "caliper")
    s.yes("sharp_edges")
    s.put("cell_support", "spacers")
    s.yes("orientation_plan", "board_place")


def _wire(s: Scribe) -> None:
    s.go_to("2026-05-27 18:00")
    s.put("joining_method", "spot weld")
    s.yes("test_welds")
    s.rows("groups", {"g1": {"joining_lowest": "3.801 V", "joining_highest": "3.803 V", "joined_on": "2026-05-27"},
                      "g2": {"joining_lowest": "3.798 V", "joining_highest": "3.804 V", "joined_on": "2026-05-27"}},
           {"joining_lowest": "m1-6v", "joining_highest": "m1-6v"})
    s.put("insulating_rings", "4")
    s.yes("group_insulation", "groups_joined")
    s.rows("groups", {"g1": {"voltage_after": "3.802 V"}, "g2": {"voltage_after": "3.801 V"}}, {"voltage_after": "m1-6v"})
    s.go_to("2026-05-28 18:00")
    s.rows("groups", {"g1": {"voltage_next_day": "3.801 V"}, "g2": {"voltage_next_day": "3.800 V"}},
           {"voltage_next_day": "m1-6v"})
    s.yes("series_links")
    s.rows("conductors", {"w1": {"run": "pack plus to fuse", "size": "1.5 mm²", "length": "80 mm"},
                          "w2": {"run": "fuse to tool contact plus", "size": "1.5 mm²", "length": "90 mm"},
                          "w3": {"run": "pack minus to board", "size": "1.5 mm²", "length": "50 mm"},
                          "w4": {"run": "board to tool contact minus", "size": "1.5 mm²", "length": "90 mm"}})
    s.rows("strips", {f"t{i}": {"run": run, "material": "nickel", "width": "8.0 mm", "thickness": "0.15 mm", "length": "20 mm",
                                "parallel": "2"} for i, run in enumerate(("pack plus", "g1 to g2", "pack minus"), 1)})
    s.rows("joints", {"j1": {"joint": "strip at pack plus", "kind": "weld", "drop": "1.3 mV", "current": "3.00 A"},
                      "j2": {"joint": "link g1 to g2", "kind": "weld", "drop": "1.5 mV", "current": "3.00 A"},
                      "j3": {"joint": "strip at pack minus", "kind": "weld", "drop": "1.2 mV", "current": "3.00 A"}},
           {"drop": "m1-600mv", "current": "m1-10a"})
    s.yes("leads_pulled")
    s.put("fuse_family", "blade")
    s.put("fuse_rating", "15 A")
    s.put("fuse_voltage", "32 V")
    s.put("fuse_position", "first at pack plus")
    s.put("board_values_from", "seller")
    s.yes("board_for_chemistry")
    sheet = {"board_series": "2", "board_continuous": "15 A", "board_trip_low": "40 A", "board_trip_high": "60 A",
             "board_trip_delay": "100 ms", "board_overcharge": "4.25 V", "board_overcharge_tolerance": "50 mV",
             "board_cutoff": "2.80 V", "board_cutoff_tolerance": "100 mV", "board_release": "3.00 V",
             "board_balance_start": "4.20 V", "board_balance_tolerance": "25 mV", "board_balance_current": "60 mA",
             "board_resistance": "8 mΩ"}
    for item, text in sheet.items():
        s.put(item, text, value_class="taken over", note="the seller's page")
    s.put("board_idle_current", "22 µA", "m1-600ua")
    s.put("board_port", "common")
    s.put("board_wired_as", "as its sheet says")
    s.put("charge_policy", "4.20 V")
    s.put("thermal_sensor", "none")
    s.put("balance_access", "connector")
    s.go_to("2026-05-28 19:30")
    s.rows("taps", {"B0": {"voltage": "0.000 V"}, "B1": {"voltage": "7.60 V"}, "B2": {"voltage": "3.801 V"}}, {"voltage": "m1"})
    s.put("case_insulation", "open")
    s.yes("tap_order", "board_connected")
    s.put("tool_polarity", "right")
    s.put("charge_socket_polarity", "right")
    s.put("board_state", "asleep")
    s.put("board_woken", "yes", note="after B1 and B2 had been exchanged; the taps were not measured again")
    s.yes("fuse_last")


def _alarm(s: Scribe) -> None:
    s.go_to("2026-05-29 18:00")
    s.put("alarm_scope", "each group")
    s.put("alarm_setting", "2.80 V", accepted="the tool should run as long as it can")
    s.put("alarm_resolution", "100 mV")
    s.rows("alarm_channels", {"g1": {"shown": "3.80 V", "meter": "3.800 V", "sounded": "2.81 V"},
                              "g2": {"shown": "3.80 V", "meter": "3.799 V", "sounded": "2.79 V"}},
           {"meter": "m1-6v", "sounded": "m1-6v"})
    s.put("alarm_heard", "no")
    s.put("alarm_current", "3.1 mA", "m1-60ma")
    s.put("alarm_switched_off", "no")
    s.put("alarm_meaning", "the pack is nearly empty")


def _discharge(s: Scribe, folder: Path) -> None:
    s.go_to("2026-05-30 09:00")
    s.put("first_charger_voltage", ("8.38 V", "8.38 V", "8.38 V"), "m1-60v")
    s.yes("first_charger_checked")
    stages = {"before": (3.800, 3.799), "after_5min": (3.861, 3.872), "after_15min": (3.880, 3.893),
              "after_30min": (3.902, 3.917), "at_end": (4.171, 4.232)}
    s.rows("first_charge_groups", {g: {c: volts(v[i]) for c, v in stages.items()} for i, g in enumerate(GROUPS)},
           dict.fromkeys(stages, "m1-6v"))
    s.yes("first_charge_watched")
    s.go_to("2026-05-31 10:00")
    groups = [TrueGroup(sum(CELLS[c][0] for c in cells) * factor, 1.0 / sum(1.0 / CELLS[c][1] for c in cells) + 0.001, soc)
              for cells, factor, soc in zip(GROUPS.values(), (0.955, 0.90), (0.985, 1.0), strict=True)]
    samples = discharge(groups, 2.5, CUTOFF, 15.0, 21.0, seed=11)
    log = write_log(folder / f"{STEM}_files" / "discharge-2026-05-31.csv", samples, "31.05.2026 10:08:00")
    s.put("test_point", "P+ and P-")
    s.put("test_load", "electronic load with logger, 2.50 A, at the tool contacts")
    s.put("test_current", "2.50 A", "m1-10a")
    s.put("tester_stop", "5.1 V")
    s.put("rest_before_test", "12 h")
    s.put("test_temperature", "21 °C", "thermometer")
    s.put("log_kind", "file")
    s.go_to("2026-05-31 12:00")
    s.attach("discharge_log", log, folder)
    last = samples[-1]
    sounded = next((x for x in samples if min(x.groups_v) <= 2.80), last)
    s.put("alarm_after", f"{sounded.seconds / 60:.1f} min", note="hardly before the board opened")
    s.put("cutoff_after", f"{(last.seconds + 15) / 60:.1f} min")
    s.put("ended_by", "board")
    s.put("pack_after_cutoff", "0.28 V", "m1-6v")
    drawn = 2.5 * last.seconds / 3600.0
    s.rows("event_groups", {g: {"at_start": volts(ocv(x.soc) - 0.004), "at_alarm": volts(sounded.groups_v[i]),
                                "before_cutoff": volts(last.groups_v[i]), "rebound_10min": volts(x.voltage(drawn, 0.0) + 0.204),
                                "rebound_60min": volts(x.voltage(drawn, 0.0) + 0.251)}
                            for i, (g, x) in enumerate(zip(GROUPS, groups, strict=True))},
           dict.fromkeys(("at_start", "at_alarm", "before_cutoff", "rebound_10min", "rebound_60min"), "m1-6v"))
    s.put("delivered_capacity", f"{last_row_mah(samples):.0f} mAh", "tester")
    s.put("release_behaviour", "by itself after rest")
    s.put("warmest_cell", f"{last.warmest_degc:.0f} °C", "thermometer")
    s.put("board_temperature", "33 °C", "thermometer")
    s.yes("recharged_within_day")


def _charge(s: Scribe) -> None:
    s.go_to("2026-05-31 14:00")
    s.put("charger_kind", "cc/cv charger")
    s.put("charger_voltage", ("8.38 V", "8.38 V", "8.38 V"), "m1-60v")
    s.put("charger_current", "1.00 A", "m1-10a")
    s.put("charge_temperature", "21 °C", "thermometer")
    s.yes("charge_attended")
    stages = {"after_5min": (3.551, 3.502), "after_15min": (3.608, 3.571), "after_30min": (3.642, 3.618), "at_end": (4.170, 4.234)}
    s.rows("charge_groups", {g: {c: volts(v[i]) for c, v in stages.items()} for i, g in enumerate(GROUPS)},
           dict.fromkeys(stages, "m1-6v"))
    s.put("end_current", "0.17 A", "m1-10a")
    s.put("charge_time", "4.9 h")
    s.put("warmest_charging", "27 °C", "thermometer")
    s.put("charge_ended_by", "charger")
    s.put("balancing_seen", "yes")
    s.put("full_trips", "0")
    s.put("low_trips", "2", note="with the trigger pulled fast")
    s.yes("real_job_done")
    s.put("real_job_warmest", "33 °C", "thermometer")
    s.put("stall_ended_by", "nothing")
    s.put("short_circuit_protection", "yes")
    s.put("drop_test", "not done")
    s.put("mass_after", "336 g", "scale")
    s.rows("costs", {"k1": {"what": "protection board 2S", "kind": "board", "amount": "4.20"},
                     "k2": {"what": "8.4 V charger", "kind": "charger", "amount": "8.90"},
                     "k3": {"what": "fuse, wire, strip", "kind": "wire", "amount": "6.30"}})
    s.put("hours", "7 h")
    s.put("user_limits", "none written yet")
    s.go_to("2026-06-06 10:00")
    s.yes("label_fixed", "old_charger_blocked", "user_told", "not_certified")
    s.yes("nickel_handed_in")
    s.put("nickel_mass", "446 g", "scale")
    s.yes("rejects_handed_in", "transport_rule")
    for item in ("label_photo", "wiring_photo"):
        s.leave_out(item, "no camera at hand")
    s.put("will_publish", "no")
    s.yes("storage_level_agreed", "storage_unplugged")
    s.put("top_up_interval", "20 d")
    s.yes("fault_rule")
