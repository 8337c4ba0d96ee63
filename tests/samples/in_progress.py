"""Sample: 14.4 V grass shears, begun; the cells lie in their fourteen days of rest."""

from __future__ import annotations

from pathlib import Path

from buildtrack.model.checklist import Checklist
from buildtrack.storage.template import start_new
from tests.samples.parts import enter_plan
from tests.samples.scribe import NOTICE, Scribe, at
from tests.samples.truth import volts

STEM = "grass-shears-in-progress"


def write(folder: Path, checklist: Checklist) -> Scribe:
    """Enter what is known so far; nothing is attached yet."""
    build = start_new(checklist, "14.4 V grass shears", "bench 1, Fenmoor Lane tool library", at("2026-11-09 17:00"),
                      "sample-in-progress")
    scribe = Scribe(build, checklist, "bench 1")
    scribe.titled(notice=NOTICE, currency="EUR")
    enter_plan(scribe, tool="14.4 V cordless grass shears, blade 8 cm, shelf 2", kind="garden", rated="14.4 V",
               prices=("66", "45", "98"), cost="30")
    _old_pack(scribe)
    _load(scribe)
    _cells(scribe)
    return scribe


def _old_pack(s: Scribe) -> None:
    s.go_to("2026-11-10 17:20")
    s.put("old_label", "NiCd 14.4 V 1.5 Ah")
    s.put("old_chemistry", "nicd")
    s.put("old_cells", "12")
    s.put("old_capacity", "1.5 Ah")
    s.put("old_terminals", "two")
    s.put("old_mass", "731 g", "scale")
    s.put("old_pack_takes_charge", "no")
    s.put("old_pack_fault", "pack")
    s.put("old_charger_here", "yes")
    s.put("charger_open_voltage", "23.6 V", "m1-60v")
    s.put("nickel_charger_current", "0.25 A", "m1-10a")
    s.put("charger_control", "none")
    s.put("old_charger_fate", "made unusable")
    s.put("opening_voltage", "3.41 V", "m1-60v")
    s.put("opened_state", "clean")
    s.leave_out("old_order_photo", "the pack was opened before this record was begun")
    old = ("0.31", "0.28", "0.33", "0.00", "0.30", "0.29", "0.32", "0.27", "0.35", "0.31", "0.34", "0.31")
    s.rows("old_cell_voltages", {f"n{i}": {"voltage": f"{v} V", "state": "sound"} for i, v in enumerate(old, 1)},
           {"voltage": "m1-6v"})
    s.yes("polarity_marked", "contact_block")
    s.put("contact_state", "good")
    s.put("housing_length", "98.0 mm", "caliper")
    s.put("housing_width", "60.0 mm", "caliper")
    s.put("housing_height", "78.0 mm", "caliper")
    s.put("parts_kept", "housing and contact block")
    s.yes("old_cells_boxed")


def _load(s: Scribe) -> None:
    s.go_to("2026-11-11 17:30")
    s.put("current_method", "clamp")
    s.put("current_range", "60 A")
    s.put("load_source", "bench supply")
    s.put("supply_limit", "10 A")
    s.put("free_current", ("2.1 A", "2.2 A", "2.1 A"), "shunt-50a")
    s.put("working_current", ("3.6 A", "3.9 A", "4.1 A", "3.8 A", "4.0 A"), "shunt-50a", note="wet lawn edge")
    s.put("heaviest_current", ("5.9 A", "6.3 A", "6.1 A"), "shunt-50a", note="privet, 6 mm twigs")
    s.put("working_voltage", "14.1 V", "m1-60v")
    s.put("winding_method", "supply")
    s.rows("shaft_positions", {"p1": {"voltage": "1.284 V", "current": "2.50 A"}, "p2": {"voltage": "1.251 V", "current": "2.50 A"},
                               "p3": {"voltage": "1.322 V", "current": "2.51 A"}, "p4": {"voltage": "1.297 V", "current": "2.50 A"}},
           {"voltage": "m1-6v", "current": "m1-10a"})
    s.put("series_resistor_fitted", "yes", note="the supply tripped on starting without it")
    s.rows("series_resistors", {"r1": {"resistance": "1.0 Ω", "power": "25 W"}, "r2": {"resistance": "1.0 Ω", "power": "25 W"}})
    s.put("duty_job", "ten minutes along a lawn edge, cutting three quarters of the time")
    s.rows("duty", {"s1": {"current": "20 A", "end_current": "4 A", "seconds": "0.2 s"}, "s2": {"current": "3.9 A", "seconds": "14 s"},
                    "s3": {"current": "6.1 A", "seconds": "1 s"}, "s4": {"current": "0 A", "seconds": "4.8 s"}},
           {"current": "shunt-50a"})
    s.put("longest_run", "180 s")
    s.put("useful_voltage", "10.2 V", "m1-60v")
    s.put("current_limiter", "none")


def _cells(s: Scribe) -> None:
    s.go_to("2026-11-14 10:00")
    s.put("cells_source", "salvaged")
    s.yes("donor_opened", "cell_ids")
    s.rows("donors", {"a": {"what": "laptop pack, 9 cells", "year": "2020", "highest": "3.66 V", "lowest": "3.64 V"}},
           {"highest": "m1-6v", "lowest": "m1-6v"})
    s.yes("sleeves_mended")
    s.put("capacity_test", "full at 4.20 V, 30 min rest, 1.00 A to 3.00 V, four-bay tester")
    s.put("cell_sheet", "marking read on all nine; 2600 mAh, 3C, 2.75 V by the maker's sheet for this marking")
    arrival = (3.658, 3.655, 3.656, 3.649, 3.652, 3.650, 3.641, 3.644, 3.648)
    names = [f"c{i:02d}" for i in range(1, 10)]
    s.rows("candidates", {n: {"source": "donor a", "marking": "grey sleeve, 2600", "chemistry": "nmc",
                              "visual": "torn wrapper" if n == "c05" else "sound", "arrival_voltage": volts(v)}
                          for n, v in zip(names, arrival, strict=True)}, {"arrival_voltage": "m1-6v"})
    s.rows("candidates", {n: {"rated_capacity": "2600 mAh", "rated_c_rate": "3 C", "charge_limit": "4.20 V",
                              "min_voltage": "2.75 V"} for n in names},
           value_class=dict.fromkeys(("rated_capacity", "rated_c_rate", "charge_limit", "min_voltage"), "taken over"))
    s.go_to("2026-11-17 20:00")
    s.yes("first_charge_cells")
    s.rows("candidates", {n: {"warmest": "26 °C", "charged_on": "2026-11-17"} for n in names}, {"warmest": "thermometer"})
    s.go_to("2026-11-19 18:00")
    s.rows("candidates", {n: {"rest_1_on": "2026-11-19", "rest_1_voltage": volts(4.171 - 0.0003 * i)}
                          for i, n in enumerate(names)}, {"rest_1_voltage": "m1-6v"})
