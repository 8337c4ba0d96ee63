"""Checks of when readings were taken: their borders, and that they see at once what an edit changes."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from buildtrack.judging import Judged, judge, judge_again
from buildtrack.model import edit
from buildtrack.model.build import Build, Cell, Entry, Reading
from tests.front import build, checklist, rule
from tests.make import NOW
from tests.sample_edits import sample

HOUR = timedelta(hours=1)


def with_readings(**answers: tuple[Reading, ...]) -> Build:
    """The sound build with some items answered otherwise, and nothing else read from an instrument."""
    made = build()
    kept = {n: e for n, e in made.entries.items() if checklist().items[n].kind in ("choice", "tick", "text")}
    return replace(made, entries={**kept, **{n: Entry(readings) for n, readings in answers.items()}})


@pytest.mark.parametrize(("count", "value_class", "outcome"), [
    (30, "measured", "fail"), (29, "measured", "pass"), (30, "taken over", "pass")])
def test_thirty_readings_of_three_steps_in_one_minute_look_typed_in_one_go(count: int, value_class: str, outcome: str) -> None:
    last = Reading("7.0 A", NOW + timedelta(seconds=59), value_class=value_class)
    many = (*(Reading("7.0 A", NOW + timedelta(seconds=n)) for n in range(count - 3)), last)
    judged = with_readings(working_current=many, rated_voltage=(Reading("12 V", NOW),),
                           cell_diameter=(Reading("18.4 mm", NOW),))
    ruling = rule("readings-typed-in-one-go", judged)
    assert ruling.outcome == outcome
    if outcome == "fail":
        assert "30 readings of 3 steps at 2026-11-25 12:00" in ruling.facts["rows"]


def answered(hours: dict[str, float], taken_over: str = "") -> Build:
    """The sound build, everything answered at one time but some items so many hours later."""
    made = build()
    moved = {n: Entry(tuple(replace(r, taken=NOW + h * HOUR, value_class="taken over" if n == taken_over else "measured")
                            for r in made.entry(n).readings)) for n, h in hours.items()}
    return replace(made, entries={**made.entries, **moved})


def test_the_latest_of_the_hold_points_before_counts() -> None:
    """Way out an hour before all else, the plan for a vent two hours after it: the load was read between the two."""
    later = answered({"vent_plan": 2.0, "way_out": -1.0})
    ruling = rule("readings-out-of-order", later)
    assert ruling.outcome == "fail"
    assert f"before {checklist().items['vent_plan'].label}" in ruling.facts["rows"]
    assert f"before {checklist().items['way_out'].label}" not in ruling.facts["rows"]
    assert rule("readings-out-of-order", answered({"way_out": -1.0})).outcome == "pass"


def test_a_hold_point_that_was_taken_over_was_not_answered_at_a_moment() -> None:
    late = {"vent_plan": 2.0}
    assert "before" in rule("readings-out-of-order", answered(late)).facts["rows"]
    assert "before" not in rule("readings-out-of-order", answered(late, taken_over="vent_plan")).facts.get("rows", "")


def outcome(judged: Judged, check: str) -> str:
    return next(r.outcome for r in judged.assessment.results if r.check == check)


def test_a_reading_of_the_future_is_seen_when_it_is_entered_and_gone_when_it_is_withdrawn() -> None:
    made, of, folder = sample("garden-screwdriver-cleared")
    now = made.history[-1].at
    assert now is not None
    item, check = of.items["board_idle_current"], "readings-out-of-order"
    first = judge(made, of, folder, now)
    ahead = edit.add_reading(made, item, Reading("19 µA", now + HOUR), edit.Hand(now))
    second = judge_again(first, ahead, now)
    back = edit.withdraw_reading(ahead, item, len(ahead.entry(item.id).readings) - 1, "wrong clock", edit.Hand(now))
    third = judge_again(second, back, now)
    an_hour_later = judge_again(second, ahead, now + HOUR)
    assert [outcome(j, check) for j in (first, second, third, an_hour_later)] == ["pass", "fail", "pass", "pass"]


def test_a_range_that_is_corrected_in_the_list_counts_for_the_readings_taken_with_it() -> None:
    made, of, folder = sample("garden-screwdriver-cleared")
    now = made.history[-1].at
    assert now is not None
    first, meters, hand = judge(made, of, folder, now), of.items["instruments"], edit.Hand(now)
    small = edit.set_cell(made, meters, "m1-6v", "range", Cell("4.21 V", now), hand, "misread")
    second = judge_again(first, small, now)
    third = judge_again(second, edit.set_cell(small, meters, "m1-6v", "range", Cell("6 V", now), hand, "misread"), now)
    assert [outcome(j, "reading-beyond-range") for j in (first, second, third)] == ["pass", "fail", "pass"]
