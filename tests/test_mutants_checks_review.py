"""What the reviewer's questions show as evidence, word by word, and what a verdict is told under."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buildtrack.checks.engine import Assessment, assess
from buildtrack.checks.review import answer, questions
from buildtrack.checks.review_since import changed_since_review
from buildtrack.checks.review_told import Evidence
from buildtrack.model.build import Build, Event
from buildtrack.workings.registry import sheet_of
from tests import back
from tests.front import build, cells, checklist
from tests.make import NOW

WHEN = "2026-11-25 12:00"
"""The time that every reading of these builds carries."""


def assessed(judged: Build) -> Assessment:
    own = replace(checklist(), checks=())
    return assess(judged, own, sheet_of(judged, own, NOW.date()), NOW)


def evidence(question: str, judged: Build) -> dict[str, Evidence]:
    asked = next(q for q in questions() if q.id == question)
    return {e.key or e.label: e for e in answer(asked, judged, checklist(), assessed(judged)).evidence}


@pytest.mark.parametrize(("item", "typed", "shown"), [
    ("tool", "Driver 12", f"Driver 12, {WHEN}"), ("rated_voltage", "12.5", f"12.5 V, {WHEN}"),
    ("rated_voltage", "12 V", f"12 V, {WHEN}"), ("old_cells", "10", f"10, {WHEN}"), ("old_chemistry", "nicd", "")])
def test_an_answer_is_shown_with_its_unit_its_label_and_its_time(item: str, typed: str, shown: str) -> None:
    told = evidence("q01", build({item: typed}))[f"item:{item}"]
    option = next((o.label for o in checklist().items[item].options if o.id == typed), None)
    assert told.shown == (f"{option}, {WHEN}" if option else shown) and told.known


def test_rejected_cells_count_for_where_they_came_from_and_not_for_what_was_measured() -> None:
    rows = [*cells(), {"id": "c08", "source": "donor B", "decision": "reject", "reason": "leaks"}]
    judged = build({"candidates": rows})
    asked = next(q for q in questions() if q.id == "q07")
    assert "candidates.source" in asked.evidence and "candidates.arrival_voltage" in asked.evidence
    column = {e.label.partition(": ")[2]: e.shown for e in answer(asked, judged, checklist(), assessed(judged)).evidence
              if e.key == "item:candidates"}
    names = {c.id: c.label for c in checklist().items["candidates"].columns}
    # six kept, one spare, one rejected
    assert column[names["source"]].startswith("8 of 8 cells: c01 ")
    assert column[names["arrival_voltage"]].startswith("7 of 7 cells: c01 3.71 V, c02 3.7 V")


def test_the_order_of_work_is_told_by_the_hold_points_that_are_asked() -> None:
    judged = back.build()
    status = assessed(judged).status
    holds = [i for i in checklist().all_items() if i.hold and status.items[i.id].state != "not needed"]
    settled = sum(status.items[i.id].settled for i in holds)
    assert evidence("q39", judged)["Hold points settled"].shown == f"{settled} of {len(holds)}"
    assert 0 < settled <= len(holds) < len(list(checklist().all_items()))


def test_the_verdict_is_evidence_of_its_own() -> None:
    told = evidence("q46", back.build())
    assert told["Verdict by rule"].known and told["Verdict by rule"].shown == assessed(back.build()).verdict
    assert told["Conditions"].known


def test_a_tick_answered_no_is_a_condition_and_a_half_done_item_is_none() -> None:
    tick = next(i for i in checklist().all_items() if i.kind == "tick" and i.need == "expected" and not i.hold and not i.only_if)
    found = assessed(build({tick.id: "no"})).conditions
    assert f"answered no: {tick.label}" in found
    # three readings are asked of this one: it is partly done, which is open and no condition
    partly = assessed(build({"working_current": ["7.0 A"]}))
    assert partly.status.items["working_current"].state == "partly"
    label = checklist().items["working_current"].label
    assert not [c for c in partly.conditions if label in c]


def test_what_changed_since_the_last_review_leaves_the_review_itself_out() -> None:
    events = tuple(Event(NOW, what) for what in ("entered", "reviewed", "changed", "reviewed", "entered", "changed"))
    assert [e.what for e in changed_since_review(replace(build(), history=events))] == ["entered", "changed"]
    assert changed_since_review(replace(build(), history=events[:1])) == events[:1]
    assert changed_since_review(replace(build(), history=events[:2])) == ()
