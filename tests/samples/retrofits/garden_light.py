"""Sample: a solar path light with one iron phosphate cell, cleared with conditions."""

from __future__ import annotations

from pathlib import Path

from buildtrack.model.checklist import Checklist
from buildtrack.storage.template import start_new
from tests.samples.retrofits.fill import BENCH, Answer, Story, fill
from tests.samples.scribe import NOTICE, Scribe, at

STEM, CHECKLIST = "path-light-cleared", "garden-light-lfp"
CAPACITY_AH, LAMP_A, DIMMED_A = 0.588, 0.062, 0.031
WAIVED: tuple[tuple[str, str], ...] = ()


def night() -> tuple[float, float]:
    """Minutes at full and dimmed that the cell lasts: five hours full, then dimmed until 97 % of the charge is gone."""
    full = 300.0
    return full, (CAPACITY_AH * 0.97 - LAMP_A * full / 60) / DIMMED_A * 60


def write(folder: Path, checklist: Checklist) -> Scribe:
    """Enter the whole build."""
    build = start_new(checklist, "Solar path light, back garden", "bench 3, Fenmoor Lane tool library", at("2026-05-02 10:00"), "sample-path-light")
    s = Scribe(build, checklist, "bench 3")
    s.titled(notice=NOTICE, currency="EUR")
    fill(s, story())
    for check, reason in WAIVED:
        s.waive(check, reason)
    return s


def story() -> Story:
    full, dimmed = night()
    cell = {"chemistry": "lfp", "visual": "sound", "rated_capacity": "600 mAh", "rated_current": "0.6 A", "charge_limit": "3.65 V",
            "min_voltage": "2.5 V", "price": "3.40", "capacity_current": "0.20 A", "capacity_end_voltage": "2.50 V", "marking": "14500, 3.2 V"}
    answers: dict[str, Answer] = {
        **BENCH,
        "tool": "Solar path light with three nickel cells in a holder, one of one, beside the back door of a private garden",
        "may_be_modified": "yes", "renew_possible": "yes", "renew_price": "6", "gate_decision": "rebuild",
        "old_chemistry": "nimh", "old_cells": "3", "old_capacity": "0.6 Ah", "target_duration": "420 min", "lamp_starts": "yes",
        "working_current": ("0.062 A", "0.062 A", "0.061 A"),
        "duty": {"s1": {"current": "0.062 A", "seconds": "18000 s"}, "s2": {"current": "0.031 A", "seconds": "14400 s"}},
        "cells_source": "new",
        "candidates": {"c01": {**cell, "arrival_voltage": "3.296 V", "capacity": "588 mAh", "decision": "keep"},
                       "c02": {**cell, "arrival_voltage": "3.295 V", "capacity": "571 mAh", "decision": "spare", "reason": "kept for the next light"}},
        "parallel_count": "1", "groups": {"g1": {"cells": "c01"}},
        "joining_method": "holder", "fuse_family": "cartridge time-lag", "fuse_rating": "1 A", "fuse_voltage": "250 V",
        "fuse_position": "first at pack plus", "board_series": "1", "board_continuous": "2 A", "board_overcharge": "3.65 V", "board_cutoff": "2.50 V",
        "tool_polarity": "right", "board_idle_current": "4.2 µA",
        "charger_voltage": ("3.58 V", "3.59 V", "3.58 V"), "charger_current": "0.085 A", "charge_temperature": "24 °C",
        "full_sun_voltage": ("3.571 V", "3.566 V"), "frost_rule": "taken in", "measured_duration": f"{full + dimmed:.0f} min",
        "sealing": "gasket of the lid renewed, drain hole freed, board lacquered", "shower_test": "dry",
        "costs": {"k1": {"what": "two cells", "kind": "cells", "amount": "6.80"}, "k2": {"what": "one-cell board", "kind": "board", "amount": "1.90"},
                  "k3": {"what": "fuse and holder", "kind": "fuse", "amount": "0.90"}},
        "handed_over_on": "2026-05-12", "user_limits": "In from the first frost. Only this cell. Not for the stairs.",
    }
    return Story(
        answers,
        days={"cells_source": "2026-05-09 10:00", "joining_method": "2026-05-10 10:00", "charger_voltage": "2026-05-11 12:10",
              "full_sun_voltage": "2026-05-11 18:30", "measured_duration": "2026-05-12 07:40", "sealing": "2026-05-12 17:00"},
        left_out={},
        notes={"measured_duration": "from dusk until it went out; dimmed by itself after five hours"},
    )
