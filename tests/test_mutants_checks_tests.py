"""Borders and corners of the rules over the tests of a pack, each with what it has to be by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.checks.engine import rule_on
from buildtrack.checks.ruling import Context
from buildtrack.physics import logs
from buildtrack.storage.checklist_file import check_library
from buildtrack.workings.discharge_difference import ForecastDifference
from buildtrack.workings.discharge_log import LogData
from buildtrack.workings.inputs import LOG_DATA
from buildtrack.workings.registry import sheet_of
from buildtrack.workings.status import status_of
from buildtrack.workings.values import Known, Value
from tests import back, front
from tests.back import Made, made, rule
from tests.make import NOW, Given

FILE: dict[str, Given | None] = {"log_kind": "file", "discharge_log": "log.csv"}


def test_groups_that_were_not_read_at_the_alarm_say_nothing_about_it() -> None:
    silent = [{k: v for k, v in row.items() if k != "at_alarm"} for row in back.turns()]
    assert rule("alarm-off-in-test", made({"event_groups": silent})).outcome == "pass"
    assert rule("alarm-off-in-test", made({"event_groups": None})).outcome == "unknown"


def test_the_last_current_of_a_charge_is_told_to_three_digits() -> None:
    # 0.05 x 3.789 Ah = 189 mA is the end current; more than twice that is not tapered
    ruling = rule("charge-end-seen", made({"end_current": "412.34 mA"}))
    assert ruling.outcome == "fail" and ruling.facts["value"] == "412 mA"


def test_trips_without_a_known_stall_are_told_without_its_reason() -> None:
    found = made({"low_trips": "2", "winding_method": None, "shaft_positions": None, "heaviest_current": None})
    ruling = rule("trips-when-low", found)
    assert ruling.outcome == "fail" and ruling.facts["value"].startswith("2 of ten starts tripped")


@pytest.mark.parametrize("name", ["cutoff_after", "test_current"])
def test_a_label_that_rests_on_one_guess_is_not_measured(name: str) -> None:
    found = made()
    entry = found.build.entry(name)
    guess = replace(entry, readings=tuple(replace(r, value_class="guessed") for r in entry.readings))
    judged = Made(replace(found.build, entries={**found.build.entries, name: guess}), {})
    assert rule("label-measured", judged).outcome == "fail"
    assert rule("label-measured", found).outcome == "pass"


def test_a_group_may_come_back_to_what_it_had_at_the_start_and_no_higher() -> None:
    for later, outcome in (("4.150 V", "pass"), ("4.151 V", "fail")):
        judged = made({"event_groups": back.turns(later=("3.3 V", later, "3.2 V"))})
        assert rule("rebound-odd", judged).outcome == outcome, later


# --- gaps of a log ---


def log_with_gap(folder: Path, lead: int, first: int, last: int, seconds: int = 6600) -> dict[str, Value]:
    """10 s rows: `lead` s without load, then `seconds` at 2 A, and nothing between two moments (s after the load came on)."""
    lines = ["time_s,current_A,voltage_V"]
    for second in range(-lead, seconds + 1, 10):
        if not first < second < last:
            lines.append(f"{second + lead},{2.0 if second >= 0 else 0.0},{12.4 - 3.0 * max(second, 0) / seconds:.3f}")
    lines.append(f"{seconds + 30 + lead},0,0.3")
    path = folder / f"log-{lead}-{first}.csv"
    path.write_text("\n".join(lines) + "\n")
    return {LOG_DATA: Known(LogData(path.name, path.stat().st_size, logs.read_log(path)))}


@pytest.mark.parametrize(("lead", "first", "last", "outcome"), [
    # one per cent of the charge is 66 s; ten times the interval makes a gap, so the shortest of 110 s is too much
    (20, 3000, 3150, "fail"),
    # a gap in the pause before the load comes on holds nothing, however long
    (4000, -3000, -1000, "pass"),
    # the last tenth begins 5940 s after the load came on, however long the pause before it was
    (4000, 6000, 6130, "fail")])
def test_gaps_count_under_load_only_and_from_when_it_came_on(
        tmp_path: Path, lead: int, first: int, last: int, outcome: str) -> None:
    ruling = rule("log-gaps", made(FILE, log_with_gap(tmp_path, lead, first, last)))
    assert ruling.outcome == outcome, ruling.facts
    if first > 5940:
        assert "near the end" in ruling.facts["value"]


def test_a_gap_in_the_middle_that_holds_less_than_one_per_cent_is_let_pass(tmp_path: Path) -> None:
    # 150 s of 20,000 s are 0.75 %
    ruling = rule("log-gaps", made(FILE, log_with_gap(tmp_path, 20, 9000, 9150, 20_000)))
    assert ruling.outcome == "pass" and ruling.facts["value"].startswith("1 gaps under load")


def test_a_log_with_fewer_groups_than_the_pack_has_is_told(tmp_path: Path) -> None:
    one_group = {"series_count": "1", **FILE}
    assert rule("log-without-groups", made(FILE, back.log(tmp_path, groups=False))).outcome == "fail"
    assert rule("log-without-groups", made(FILE, back.log(tmp_path))).outcome == "pass"
    assert rule("log-without-groups", made(one_group, back.log(tmp_path, groups=False))).outcome == "pass"


# --- forecast, cutoff, joints, groups ---


@pytest.mark.parametrize(("tested_ah", "verdict", "outcome"), [
    (3.60, "agrees", "pass"), (3.60, "capacity short", "pass"), (3.60, "log suspicious", "fail"),
    (3.39, "capacity short", "fail"), (3.81, "log suspicious", "fail"), (3.39, "agrees", "pass")])
def test_a_test_within_the_forecasts_band_agrees_unless_its_log_is_suspicious(
        tested_ah: float, verdict: str, outcome: str) -> None:
    found = made({"board_cutoff_tolerance": "40 mV"})
    sheet = sheet_of(found.build, front.checklist(), NOW.date())
    sheet.values = {**sheet.values, "delivered_capacity_tested": Known(tested_ah),
                    "forecast_difference": Known(ForecastDifference(3.70, tested_ah, 3.40, 3.80, verdict, "by hand"))}
    library = check_library()["forecast-apart"]
    context = Context(found.build, front.checklist(), sheet, status_of(found.build, front.checklist(), sheet, NOW), library, NOW)
    assert rule_on(library, context).outcome == outcome


def test_a_cutoff_without_a_stated_tolerance_has_none() -> None:
    # stated 2.80 V; 200 mV early is more than the board's leads explain, with a tolerance of 40 mV or without one
    early = {"event_groups": back.turns(end=("3.1 V", "3.1 V", "3.00 V"))}
    assert rule("cutoff-off", made({**early, "board_cutoff_tolerance": None})).outcome == "fail"
    late = {"event_groups": back.turns(end=("2.90 V", "2.90 V", "2.79 V")), "board_cutoff_tolerance": None}
    assert rule("cutoff-off", made(late)).outcome == "fail"


def test_a_joint_and_the_unevenness_of_groups_are_told_to_two_digits() -> None:
    # 2.345 mV at 3 A is 0.78167 mΩ
    high = rule("joint-high", made({"joints": back.joints("1.0 mV", "1.0 mV", "2.345 mV")}))
    assert high.outcome == "fail" and "j3 0.78 mΩ" in high.facts["rows"]
    # 60 and 76 mΩ are 33.53 mΩ together, 71 and 77 mΩ 36.94 mΩ: 10.17 % more
    uneven = front.rule("groups-uneven-in-resistance", front.build({"candidates": front.cells(c01={"resistance": "60 mΩ"})}))
    assert uneven.outcome == "fail" and uneven.facts["value"] == "10 %"


@pytest.mark.parametrize(("shown", "apart"), [("3.72 Ah", False), ("3.60 Ah", False), ("3.75 Ah", True), ("3.58 Ah", True)])
def test_the_loads_display_may_part_from_the_log_by_two_per_cent(tmp_path: Path, shown: str, apart: bool) -> None:
    # 2 A for 6600 s are 3.667 Ah, and half a step of 10 s before; 2 % are 73 mAh
    judged = made({**FILE, "delivered_capacity": shown}, back.log(tmp_path))
    told = rule("log-against-notes", judged).facts.get("rows", "")
    assert ("by the load's display" in told) == apart, told
