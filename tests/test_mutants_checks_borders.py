"""Borders, figures in sentences and corners of the rules, each with what it has to be by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta

import pytest

from buildtrack.checks.engine import Assessment, assess
from buildtrack.checks.ruling import Result
from buildtrack.model.build import Build, Entry, LeftOut, Reading, Waiver
from buildtrack.workings.registry import sheet_of
from tests import back, front_cases
from tests.front import build, cells, checklist, group, groups, library, rule
from tests.make import NOW, Given


def given(**answers: Given) -> Build:
    return build(answers)


def first(**columns: str) -> Build:
    return build({"candidates": cells(c01=columns)})


def assessed(judged: Build, *checks: str) -> Assessment:
    own = replace(checklist(), checks=tuple(library(c) for c in checks))
    return assess(judged, own, sheet_of(judged, own, NOW.date()), NOW)


def changed(policy: str, text: str, answers: Mapping[str, Given]) -> Build:
    return replace(build(answers), policy=front_cases.with_policy(**{policy: text}).policy)


# --- figures that stand in sentences: three or four digits, by hand ---

SHOWN: list[tuple[str, Build, str, str]] = [
    # 1500 / 2200 = 0.681818
    ("capacity-kept-poor", first(capacity="1500 mAh"), "rows", "68.2 %"),
    ("leak-watched", changed("drop_ok", "12.345 mV", {"candidates": cells(c01={"rest_2_voltage": "4.07 V"})}), "limit", "12.3 mV"),
    ("leaky-cell-rejected",
     changed("drop_reject", "123.4 mV", {"candidates": cells(c01={"rest_2_voltage": "3.90 V"})}), "limit", "123 mV"),
    # 0.93456 A by the meter, 1.00 A by the tester
    ("tester-current-off", given(tester_shown_current="1.00 A", meter_shown_current="0.93456 A"), "value", "0.9346"),
    # 17.11 of 24 for the cheapest pack that can be bought: 0.712917
    ("money-gate-planned", given(planned_cost="17.11"), "value", "71.3 %"),
    ("duty-too-light", given(duty=[{"id": "s1", "current": "6.543 A", "seconds": "4 s"}]), "value", "6.54 A"),
    ("joined-not-ideally", given(groups=[group("g1", "c01 c06", "3.7010 V", "3.7167 V"), *groups()[1:]]), "rows", "15.7 mV"),
]


@pytest.mark.parametrize(("check", "judged", "fact", "words"), SHOWN, ids=[s[0] for s in SHOWN])
def test_a_figure_in_a_sentence_has_the_digits_it_is_good_for(check: str, judged: Build, fact: str, words: str) -> None:
    ruling = rule(check, judged)
    assert ruling.outcome == "fail"
    shown = ruling.facts[fact]
    assert words in shown or shown == words


def test_ten_bad_cells_are_told_by_eight_and_a_count() -> None:
    names = [f"x{n:02d}" for n in range(1, 11)]
    rows = [{**cells()[0], "id": name, "arrival_voltage": "1.0 V"} for name in names]
    ruling = rule("cell-below-never", given(candidates=rows))
    assert ruling.outcome == "fail" and ruling.facts["count"] == "10"
    assert ruling.facts["rows"].count("(") == 8 and ruling.facts["rows"].endswith(" and 2 more")


# --- borders ---


@pytest.mark.parametrize(("degrees", "outcome"), [("14.9 °C", "fail"), ("15 °C", "pass"), ("30 °C", "pass"), ("30.1 °C", "fail")])
def test_room_temperature_reaches_from_15_to_30_degrees_both_included(degrees: str, outcome: str) -> None:
    assert rule("rest-not-at-room-temperature", first(rest_temperature=degrees)).outcome == outcome


def test_new_cells_of_one_lot_lie_within_ten_millivolts() -> None:
    # 5 mV to either side is a span of 10 mV (common practice, no source)
    for volts, outcome in (("3.560 V", "pass"), ("3.562 V", "fail")):
        lot = cells(**{**front_cases.LOT, "c01": {**front_cases.LOT["c01"], "arrival_voltage": volts}})
        assert rule("new-lot-wide", build({**front_cases.NEW, "candidates": lot})).outcome == outcome, volts


def test_a_rest_whose_charge_has_no_date_cannot_be_judged() -> None:
    ruling = rule("rest-from-the-charger", first(charged_on=""))
    assert ruling.outcome == "unknown" and ruling.needs == ("candidates.charged_on",)


def column(name: str, *texts: str) -> list[dict[str, str]]:
    """So many candidates, one of their columns as told."""
    return [{**cells()[0], "id": f"x{n}", name: text} for n, text in enumerate(texts, 1)]


@pytest.mark.parametrize(("count", "outcome"), [(4, "pass"), (5, "fail")])
def test_five_equal_readings_of_four_digits_look_copied_and_four_do_not(count: int, outcome: str) -> None:
    rows = column("arrival_voltage", *["3.701 V"] * count)
    for row in rows:
        row["capacity"] = f"19{row['id'][1:]}8 mAh"
        row["rest_1_voltage"], row["rest_2_voltage"] = f"4.1{row['id'][1:]}4 V", f"4.1{row['id'][1:]}1 V"
    assert rule("readings-look-copied", given(candidates=rows)).outcome == outcome
    three = [{**row, "arrival_voltage": "3.70 V"} for row in rows]
    assert rule("readings-look-copied", given(candidates=three)).outcome == "pass"


FIVES = ("1950 mAh", "1935 mAh", "1900 mAh", "1885 mAh", "1865 mAh", "1850 mAh")


@pytest.mark.parametrize(("count", "outcome"), [(5, "pass"), (6, "fail")])
def test_six_readings_that_end_in_0_or_5_look_rounded_and_five_do_not(count: int, outcome: str) -> None:
    judged = given(candidates=column("capacity", *FIVES[:count]))
    assert rule("readings-look-rounded", judged).outcome == outcome


@pytest.mark.parametrize(("steps", "outcome"), [("1 mAh", "fail"), ("5 mAh", "pass")])
def test_a_meter_that_shows_only_fives_rounds_by_itself(steps: str, outcome: str) -> None:
    meter = [{"id": "m1", "meter": "own", "quantity": "capacity", "range": "9999 mAh", "resolution": steps, "accuracy": "1 %"}]
    judged = build({"instruments": meter, "candidates": column("capacity", *FIVES)}, instrument="own")
    assert rule("readings-look-rounded", judged).outcome == outcome


def test_a_guess_for_something_that_is_not_asked_stands_under_no_hold_point() -> None:
    lamp = build({"tool_kind": "light", "cells_source": "new", "series_count": "1"})
    states = assessed(lamp).status.items
    idle = [i for i in checklist().all_items() if i.hold and i.kind != "table" and states[i.id].state == "not needed"]
    asked = [i for i in checklist().all_items() if i.hold and i.kind != "table" and states[i.id].state != "not needed"]
    assert idle and asked
    for items, outcome in ((idle, "pass"), (asked, "fail")):
        guesses = {i.id: Entry((Reading("1", NOW, value_class="guessed"),)) for i in items[:1]}
        judged = replace(lamp, entries={**lamp.entries, **guesses})
        assert rule("guess-under-a-hold-point", judged).outcome == outcome, items[0].id


def test_many_readings_of_two_steps_at_one_time_are_no_wonder_and_of_three_they_are() -> None:
    whole = build()
    steps = {i.id: i.step for i in checklist().all_items()}
    two = replace(whole, entries={n: e for n, e in whole.entries.items() if steps[n] in ("cells", "load") or "kind" in n
                                  or n in ("series_count", "cells_source")})
    assert rule("readings-typed-in-one-go", two).outcome == "pass"
    assert rule("readings-typed-in-one-go", whole).outcome == "fail"


# --- groups the day after joining ---


def test_a_joined_group_without_its_reading_of_the_next_day_is_not_passed() -> None:
    lacking = [groups()[0], groups()[1], {k: v for k, v in groups()[2].items() if k != "voltage_next_day"}]
    ruling = rule("group-falls-after-joining", given(groups=lacking))
    assert ruling.outcome == "unknown" and "groups.voltage_next_day" in ruling.needs


def test_two_groups_are_enough_to_be_compared_and_what_is_wrong_is_told_before_the_third_is_read() -> None:
    # of falls of 1 mV and 21 mV the middle is 11 mV: the second fell 10 mV more, 5 mV are usual
    fallen = [groups()[0], group("g2", "c02, c05", next_day="3.681 V"),
              {k: v for k, v in groups()[2].items() if k != "voltage_next_day"}]
    ruling = rule("group-falls-after-joining", given(groups=fallen))
    assert ruling.outcome == "fail" and ruling.facts["rows"] == "g2 fell 10 mV more"


# --- the board and the times ---


def test_the_taps_count_from_the_moment_the_board_was_really_connected() -> None:
    """A 'no' noted earlier is no connection: taps read between it and the 'yes' were read first."""
    made = back.made()
    early, late = NOW - timedelta(hours=2), NOW + timedelta(hours=2)
    answers = Entry((Reading("no", early), Reading("yes", late)))
    judged = replace(made.build, entries={**made.build.entries, "board_connected": answers})
    assert back.rule("taps-after-board", back.Made(judged, {})).outcome == "pass"
    at_once = Entry((Reading("yes", early),))
    judged = replace(made.build, entries={**made.build.entries, "board_connected": at_once})
    assert back.rule("taps-after-board", back.Made(judged, {})).outcome == "fail"


# --- the engine ---


def by_severity(*results: tuple[str, str, str]) -> list[str]:
    made = tuple(Result(name, severity, outcome, "s", "", "t", "m", "", (), (), "") for name, severity, outcome in results)
    found = replace(assessed(build()), results=made).findings
    return [r.check for r in found]


def test_findings_stand_stops_first_and_failed_before_unsure_before_unknown() -> None:
    assert by_severity(("a", "note", "fail"), ("b", "caution", "fail"), ("c", "stop", "unknown"), ("d", "stop", "unsure"),
                       ("e", "stop", "fail"), ("f", "caution", "pass"), ("g", "note", "unknown")) == ["e", "d", "c", "b", "a", "g"]


def test_a_finding_about_a_column_names_its_table() -> None:
    found = assessed(first(arrival_voltage="1.0 V"), "cell-below-never", "modification-not-allowed").results
    assert [r.item for r in found] == ["candidates", "may_be_modified"]


def test_a_waiver_stands_only_as_long_as_the_check_says_what_was_accepted() -> None:
    judged = first(capacity="1500 mAh")
    said = assessed(judged, "capacity-kept-poor").results[0].message
    for finding, stands in ((said, True), ("", True), (said.replace("68", "69"), False)):
        accepted = replace(judged, waivers=(Waiver("capacity-kept-poor", "for a lamp", finding=finding),))
        assert (assessed(accepted, "capacity-kept-poor").results[0].waiver is not None) == stands, finding
    empty = replace(judged, waivers=(Waiver("capacity-kept-poor", "  ", finding=said),))
    assert assessed(empty, "capacity-kept-poor").results[0].waiver is None


def test_a_caution_that_waits_for_a_table_left_out_with_a_reason_is_no_longer_open() -> None:
    joints = next(i for i in checklist().all_items() if i.id == "joints")
    assert joints.need == "expected"
    bare = replace(back.build(), entries={n: e for n, e in back.build().entries.items() if n != "joints"})
    out = replace(bare, entries={**bare.entries, "joints": Entry(left_out=LeftOut("no current source", NOW))})
    assert not [r for r in assessed(out, "joint-high").reasons if "not settled" in r and "oint" in r]
