"""Findings, conditions and the verdict follow by rule from what was entered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import pytest

from buildtrack.checks import engine
from buildtrack.checks.engine import Assessment, assess
from buildtrack.model import edit
from buildtrack.model.build import Build, Waiver
from buildtrack.model.checklist import Checklist
from buildtrack.workings.graph import Sheet
from buildtrack.workings.inputs import build_inputs
from tests.make import NOW, Given, build_with
from tests.small import small

HAND = edit.Hand(NOW, "tester")
GOOD: Mapping[str, Given] = {"allowed": "yes", "part_temperature": "30", "checked": ["3.30", "3.31", "3.32"], "done": "yes"}
METER = [{"id": "t1", "meter": "t1", "kind": "thermometer", "quantity": "temperature", "range": "200 °C",
          "resolution": "1 °C", "accuracy": "2 °C"}]


def judge(build: Build, checklist: Checklist) -> Assessment:
    sheet = Sheet((), build_inputs(build, checklist, date(2026, 11, 25)))
    return assess(build, checklist, sheet, NOW)


def verdict(given: Mapping[str, Given], *waived: str) -> str:
    build = replace(build_with(given, small()), waivers=tuple(Waiver(w, "because") for w in waived))
    return judge(build, small()).verdict


def test_a_build_without_fault_is_cleared() -> None:
    assert verdict(GOOD) == "cleared"


def test_an_empty_build_is_incomplete() -> None:
    assert verdict({}) == "incomplete"


def test_an_accepted_caution_clears_with_conditions() -> None:
    warm = {**GOOD, "part_temperature": "50"}
    assert verdict(warm) == "not cleared"
    assert verdict(warm, "warm") == "cleared with conditions"


def test_an_open_caution_of_a_build_that_is_not_finished_leaves_it_incomplete_and_is_named() -> None:
    begun = {k: v for k, v in {**GOOD, "part_temperature": "50"}.items() if k == "part_temperature"}
    judged = judge(build_with(begun, small()), small())
    assert judged.verdict == "incomplete" and any(r.startswith("caution neither mended") for r in judged.reasons)
    assert verdict({"part_temperature": "70"}) == "not cleared", "a stop is one from the first moment"


def test_no_waiver_of_a_stop_clears() -> None:
    """Even a waiver of a stop written into the file by hand changes nothing."""
    hot = {**GOOD, "part_temperature": "70"}
    assert verdict(hot, "warm", "too-hot") == "not cleared"
    with pytest.raises(edit.EditError, match="only a caution"):
        edit.waive(build_with(hot, small()), small(), "too-hot", "I am sure", HAND)


def test_a_waiver_without_reason_is_refused() -> None:
    with pytest.raises(edit.EditError, match="needs a reason"):
        edit.waive(build_with(GOOD, small()), small(), "warm", "  ", HAND)


def test_an_expected_item_left_out_with_a_reason_becomes_a_condition() -> None:
    checklist = small()
    given = {k: v for k, v in GOOD.items() if k != "part_temperature"}
    build = edit.leave_out(build_with(given, checklist), checklist.items["part_temperature"], "no thermometer", HAND)
    judged = judge(build, checklist)
    assert any("no thermometer" in c for c in judged.conditions)
    stop_open = [r for r in judged.reasons if "too hot" in r]
    assert stop_open and judged.verdict == "incomplete", "a stop that cannot be judged does not clear"


def test_a_must_item_cannot_be_left_out() -> None:
    with pytest.raises(edit.EditError, match="must be answered"):
        edit.leave_out(build_with({}, small()), small().items["allowed"], "do not know", HAND)


@pytest.mark.parametrize(("typed", "outcome"), [("57", "pass"), ("58.5", "unsure"), ("61", "unsure"), ("63", "fail")])
def test_the_limit_is_judged_with_a_guard_band_of_the_meters_error(typed: str, outcome: str) -> None:
    """A thermometer of ±2 °C with 1 °C steps: ± sqrt(2² + 0.5²) = 2.06 °C around the limit of 60 °C."""
    build = build_with({**GOOD, "part_temperature": typed}, small(), "t1")
    checklist = _with_instruments(small())
    build = replace(build, entries={**build.entries, **build_with({"instruments": METER}, checklist).entries})
    results = {r.check: r for r in judge(build, checklist).results}
    assert results["too-hot"].outcome == outcome
    if outcome == "unsure":
        assert "cannot tell with this meter" in results["too-hot"].message


def _with_instruments(checklist: Checklist) -> Checklist:
    from buildtrack.model.checklist import Column, Item

    names = ("meter", "kind", "quantity", "range", "resolution", "accuracy")
    table = Item("instruments", "look", "table", "Instruments", need="optional", role="instruments",
                 columns=tuple(Column(n, n) for n in names))
    first = checklist.steps[0]
    return replace(checklist, steps=(replace(first, items=(*first.items, table)), *checklist.steps[1:]))


def test_rows_that_were_rejected_do_not_count() -> None:
    rows = [{"id": "p1", "warmth": "80", "decision": "reject"}, {"id": "p2", "warmth": "44", "decision": "keep"}]
    results = {r.check: r for r in judge(build_with({**GOOD, "parts": rows}, small()), small()).results}
    assert results["kept-warm"].outcome == "pass"


def test_the_finding_names_the_rows() -> None:
    rows = [{"id": "p1", "warmth": "46", "decision": "keep"}, {"id": "p2", "warmth": "44", "decision": "keep"}]
    results = {r.check: r for r in judge(build_with({**GOOD, "parts": rows}, small()), small()).results}
    assert results["kept-warm"].outcome == "fail"
    assert results["kept-warm"].message.startswith("p1 (46.00 °C) above")


def test_a_kept_row_without_its_reading_is_unknown_and_named() -> None:
    rows = [{"id": "p1", "decision": "keep"}]
    results = {r.check: r for r in judge(build_with({**GOOD, "parts": rows}, small()), small()).results}
    assert results["kept-warm"].outcome == "unknown"
    assert "Parts: Warmth" in results["kept-warm"].message


def test_an_ended_project_has_its_own_verdict() -> None:
    build = edit.end_early(build_with(GOOD, small()), "a new pack is cheaper", HAND)
    judged = judge(build, small())
    assert (judged.verdict, judged.reasons[0]) == ("ended early", "a new pack is cheaper")


def test_a_policy_value_changed_with_a_reason_counts() -> None:
    build = build_with({**GOOD, "part_temperature": "50"}, small())
    with pytest.raises(edit.EditError, match="needs a reason"):
        edit.set_policy(build, "warmest", "55 °C", "", HAND)
    assert judge(edit.set_policy(build, "warmest", "55 °C", "metal part", HAND), small()).verdict == "cleared"


def test_text_of_a_build_never_acts_as_a_message_pattern() -> None:
    from buildtrack.checks.ruling import fill

    assert fill("it is {value}", {"value": "{limit} {0.__class__} %s"}) == "it is {limit} {0.__class__} %s"


def test_the_verdicts_are_the_five_words() -> None:
    assert set(engine.VERDICTS) == {"incomplete", "not cleared", "cleared with conditions", "cleared", "ended early"}
