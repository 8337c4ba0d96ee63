"""However bad a pack is, what a check says of it fits a panel and a page."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buildtrack.checks.engine import assess
from buildtrack.checks.ruling import Result
from buildtrack.model.build import Build, PolicyChange
from buildtrack.workings.registry import sheet_of
from tests import back
from tests.front import cell, checklist
from tests.make import NOW, Given, build_with

LONGEST = 600
"""Letters of a message: about eight lines of a panel of 80 columns."""
GROUPS = [f"g{n}" for n in range(1, 11)]
BAD_CELL = {"arrival_voltage": "1.0 V", "rest_2_voltage": "3.1 V", "capacity": "900 mAh", "resistance": "300 mΩ",
            "warmest": "70 °C", "visual": "swollen", "charge_limit": "4.35 V", "rest_temperature": "5 °C"}


def bad_rows(columns: tuple[str, ...], text: str) -> list[dict[str, str]]:
    return [{"id": g, **dict.fromkeys(columns, text)} for g in GROUPS]


def worst() -> Build:
    """Ten groups of four cells, everything in them far beyond its limit, and every limit that can be changed changed."""
    charge = ("before", "after_5min", "after_15min", "after_30min", "at_end")
    names = [f"c{n:02d}" for n in range(1, 41)]
    given: dict[str, Given] = {
        **back.SOUND, "series_count": "10", "parallel_count": "4",
        "candidates": [{**cell("c01"), **BAD_CELL, "id": n} for n in names],
        "groups": [{"id": g, "cells": " ".join(names[4 * k:4 * k + 4]), "joining_lowest": "3.0 V", "joining_highest": "4.0 V",
                    "voltage_after": "3.9 V", "voltage_next_day": "3.0 V"} for k, g in enumerate(GROUPS)],
        "first_charge_groups": bad_rows(charge, "4.90 V"), "charge_groups": bad_rows((*charge[1:], "rested"), "4.80 V"),
        "event_groups": bad_rows(("at_start", "at_alarm", "before_cutoff", "rebound_10min", "rebound_60min"), "1.0 V"),
        "alarm_channels": bad_rows(("shown", "meter", "sounded"), "2.1 V"),
        "joints": [{"id": f"j{n}", "joint": "a weld of the link between two groups " * 5, "kind": "weld", "drop": "90 mV",
                    "current": "3 A"} for n in range(40)],
    }
    made = build_with(given, checklist(), "hand meter")
    changes = {p.id: PolicyChange(p.text.replace("0", "1") + " ", "a reason") for p in checklist().policies}
    return replace(made, policy=changes)


def results(build: Build) -> tuple[Result, ...]:
    return assess(build, checklist(), sheet_of(build, checklist(), NOW.date()), NOW).results


@pytest.mark.parametrize("build", [worst(), replace(worst(), policy={}), replace(worst(), entries={})],
                         ids=["worst", "usual limits", "empty"])
def test_no_message_is_longer_than_a_panel_holds(build: Build) -> None:
    assert {r.check: len(r.message) for r in results(build) if len(r.message) > LONGEST} == {}


def test_each_group_that_was_charged_too_high_is_named_once_with_its_highest_reading() -> None:
    rows = [{"id": "g1", "after_5min": "4.30 V", "at_end": "4.40 V"}, {"id": "g2", "at_end": "4.10 V"}]
    ruling = back.rule("group-over-charged", back.made({"charge_groups": rows}))
    assert ruling.outcome == "fail" and ruling.facts["rows"] == "g1 4.400 V"


def test_more_changed_limits_than_a_line_holds_are_counted() -> None:
    found = {r.check: r for r in results(worst())}
    told = found["limits-changed"].message
    assert " more" in told and len(told) < LONGEST
