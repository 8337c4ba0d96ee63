"""A stop that fails holds what follows the step it rests on, and never the way to mend it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.checks.engine import assess
from buildtrack.checks.review import answers
from buildtrack.judging import Judged, judge, judge_again
from buildtrack.model import edit
from buildtrack.model.build import Build, Ended, Entry, Reading
from buildtrack.model.checklist import Checklist, Item
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from buildtrack.workings.graph import Sheet
from buildtrack.workings.inputs import build_inputs
from buildtrack.workings.status import Status, why_held
from tests.make import NOW, Given, build_with, judged
from tests.small import small

HOT = {"allowed": "yes", "part_temperature": "70"}
SAMPLES = ("garden-screwdriver-cleared", "drill-not-cleared", "path-light-cleared", "shed-light-cleared")


def small_status(given: Mapping[str, Given]) -> Status:
    return judged(given, small()).status


def test_a_stop_that_fails_holds_the_step_after_its_own() -> None:
    assert small_status({"allowed": "yes", "part_temperature": "20"}).step("do").state == "open"
    held = small_status(HOT).step("do")
    assert (held.state, held.stopped_by, held.held_by) == ("held", ("too-hot",), ())


def test_a_caution_holds_nothing() -> None:
    assert small_status({"allowed": "yes", "part_temperature": "50"}).step("do").state == "open"


def test_a_stop_that_is_not_judged_yet_holds_nothing() -> None:
    assert small_status({"allowed": "yes"}).step("do").state == "open"


def test_what_is_held_is_told_with_the_title_of_the_stop() -> None:
    build = build_with(HOT, small())
    said = why_held(small().items["checked"], build, small(), small_status(HOT))
    assert said == "this step is held until the stop 'The part is too hot' is mended"


def test_what_is_held_by_a_hold_point_and_a_stop_is_told_with_both() -> None:
    given: dict[str, Given] = {"part_temperature": "70"}
    said = why_held(small().items["checked"], build_with(given, small()), small(), small_status(given))
    assert "until 'May it be changed' is settled, and until the stop 'The part is too hot' is mended" in said


def test_the_next_thing_to_do_is_never_in_a_held_step() -> None:
    assert small_status({"allowed": "yes", "part_temperature": "20"}).next_item == "checked"
    assert small_status(HOT).next_item == ""


def test_an_answer_in_a_held_step_may_still_be_corrected() -> None:
    given: dict[str, Given] = {**HOT, "checked": ["3.3", "3.3", "3.3"]}
    build, status = build_with(given, small()), small_status(given)
    assert why_held(small().items["checked"], build, small(), status) == ""
    assert why_held(small().items["done"], build, small(), status) != ""


def test_a_project_that_was_ended_early_is_held_by_no_stop() -> None:
    build = replace(build_with(HOT, small()), ended=Ended("too old", NOW))
    sheet = Sheet((), build_inputs(build, small(), NOW.date()))
    assert assess(build, small(), sheet, NOW).status.step("do").stopped_by == ()


# -- the real checklists -----------------------------------------------------------------------------------------------


class Sample(NamedTuple):
    build: Build
    checklist: Checklist

    def judged(self, build: Build) -> Judged:
        return judge(build, self.checklist, shipped_samples(), NOW)


@cache
def sample(name: str) -> Sample:
    build = read_build(shipped_samples() / f"{name}.toml").build
    return Sample(build, find_checklist(build.checklist.id))


def answered(build: Build, item: Item, text: str) -> Build:
    return edit.add_reading(build, item, Reading(text, NOW), edit.Hand(NOW, "somebody"))


def test_swapped_taps_hold_the_alarm_and_all_that_follows_but_not_the_wiring() -> None:
    drill = sample("drill-not-cleared")
    status = drill.judged(drill.build).assessment.status
    assert {s.step for s in status.steps if "taps-wrong" in s.stopped_by} == {"alarm", "discharge", "charge", "aftercare"}


def test_a_guess_holds_only_what_follows_the_step_it_was_made_in() -> None:
    screwdriver = sample("garden-screwdriver-cleared")
    entry = screwdriver.build.entry("board_cutoff")
    guessed = replace(entry, readings=tuple(replace(r, value_class="guessed") for r in entry.readings))
    build = replace(screwdriver.build, entries={**screwdriver.build.entries, "board_cutoff": guessed})
    steps = screwdriver.judged(build).assessment.status.steps
    by_guess = [s.step for s in steps if "guess-under-a-hold-point" in s.stopped_by]
    assert by_guess == ["alarm", "discharge", "charge", "aftercare"]


CHOICES = [(name, item.id, value) for name in SAMPLES for item in sample(name).checklist.all_items()
           if item.kind in ("choice", "tick") for value in ([o.id for o in item.options] or ["yes", "no"])]


@pytest.mark.parametrize("name", SAMPLES)
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_whatever_stop_fails_something_it_rests_on_can_be_entered(name: str, data: st.DataObject) -> None:
    """No lock: of all that holds, the first stop can be mended by an entry that nothing holds."""
    found = sample(name)
    build = found.build
    for _, item, value in data.draw(st.lists(st.sampled_from([c for c in CHOICES if c[0] == name]), max_size=3)):
        build = answered(build, found.checklist.items[item], value)
    for item in data.draw(st.lists(st.sampled_from(list(found.build.entries)), max_size=3)):
        build = replace(build, entries={**build.entries, item: Entry()})  # as if it had not been answered yet
    assessment = found.judged(build).assessment
    order = [s.id for s in found.checklist.steps]
    stops = [r for r in assessment.results if r.holds_after]
    if not stops:
        return
    first = min(stops, key=lambda r: order.index(r.holds_after))
    open_ = [i for i in found.checklist.all_items() if order.index(i.step) <= order.index(first.holds_after)]
    held = [i.id for i in open_ if "stop" in why_held(i, build, found.checklist, assessment.status)]
    assert not held, f"{first.check} holds the way to its own mending: {held}"
    hold = assessment.status.step(first.holds_after)
    assert first.check not in hold.stopped_by


def test_the_mending_of_a_stop_opens_what_it_held_also_where_only_the_edit_is_judged() -> None:
    screwdriver = sample("garden-screwdriver-cleared")
    rings = screwdriver.checklist.items["insulating_rings"]
    count = screwdriver.build.entry("insulating_rings").standing[-1].text
    before = screwdriver.judged(screwdriver.build)
    broken = judge_again(before, answered(screwdriver.build, rings, "3"), NOW)
    assert broken.assessment.status.step("alarm").stopped_by == ("rings-missing",)
    mended = judge_again(broken, answered(broken.build, rings, count), NOW)
    assert mended.assessment.status.step("alarm").state == before.assessment.status.step("alarm").state == "done"


def test_the_review_says_that_the_work_went_on_past_a_stop() -> None:
    drill = sample("drill-not-cleared")
    found = drill.judged(drill.build).assessment
    told = next(a for a in answers(drill.build, drill.checklist, found) if a.question.id == "q39")
    assert told.state == "finding"
    assert ("Configure alarm: entered although a stop holds it", "Balance taps are wrong") in [
        (e.label, e.shown) for e in told.evidence]


def test_the_review_names_what_was_accepted_as_unusual_and_by_whom() -> None:
    drill = sample("drill-not-cleared")
    found = drill.judged(drill.build).assessment
    told = next(a for a in answers(drill.build, drill.checklist, found) if a.question.id == "q40")
    shown = {e.label: e.shown for e in told.evidence}
    assert shown["Accepted as unusual: Alarm setting per group 2.80 V"] == "bench 3: the tool should run as long as it can"


def test_of_a_short_table_the_review_shows_what_was_read() -> None:
    drill = sample("drill-not-cleared")
    found = drill.judged(drill.build).assessment
    told = next(a for a in answers(drill.build, drill.checklist, found) if a.question.id == "q23")
    assert any(e.shown == "3 of 3 taps: B0 0.000 V, B1 7.60 V, B2 3.801 V" for e in told.evidence)


@pytest.mark.parametrize("name", ["garden-screwdriver-cleared", "path-light-cleared", "shed-light-cleared"])
def test_what_is_seen_of_a_pack_in_use_is_never_held(name: str) -> None:
    """A charger found too high a year later, or a question that a newer checklist asks, refuses no re-check."""
    found = sample(name)
    order = [s.id for s in found.checklist.steps]
    rechecks = found.checklist.items["rechecks"]
    build = replace(found.build, entries={k: e for k, e in found.build.entries.items() if k != "rechecks"})
    stop = next(i for i in found.checklist.all_items() if i.hold and i.kind == "tick" and build.entry(i.id).standing)
    broken = answered(build, stop, "no")
    status = found.judged(broken).assessment.status
    assert status.step(rechecks.step).state == "held"
    assert why_held(rechecks, broken, found.checklist, status) == ""
    begun = replace(build, entries={})
    status = found.judged(begun).assessment.status
    assert order.index(rechecks.step) > 0
    assert why_held(rechecks, begun, found.checklist, status) != "", "of a pack that is not built there is nothing to see"
