"""Where the work stands: held steps, ageing, staleness, readings outside what is plausible."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta

import pytest

from buildtrack.model import edit
from buildtrack.model.build import Build, Entry, Reading
from buildtrack.workings.graph import Sheet
from buildtrack.workings.inputs import build_inputs
from buildtrack.workings.status import Status, status_of
from tests.make import NOW, Given, build_with
from tests.small import small


def status(build: Build, moment: timedelta = timedelta(0)) -> Status:
    sheet = Sheet((), build_inputs(build, small(), date(2026, 11, 25)))
    return status_of(build, small(), sheet, NOW + moment)


def state(given: Mapping[str, Given], item: str) -> str:
    return status(build_with(given, small())).items[item].state


def test_a_step_is_held_by_an_unsettled_hold_point_before_it() -> None:
    assert status(build_with({}, small())).step("do").held_by == ("allowed",)
    assert status(build_with({"allowed": "yes"}, small())).step("do").state == "open"


def test_fewer_readings_than_asked_are_partly() -> None:
    assert state({"checked": ["3.3", "3.3"]}, "checked") == "partly"
    assert state({"checked": ["3.3", "3.3", "3.3"]}, "checked") == "done"


@pytest.mark.parametrize(("typed", "word"), [("30", "done"), ("95", "outside"), ("400", "misfit"), ("3 V", "misfit")])
def test_a_reading_is_held_against_what_is_plausible_and_possible(typed: str, word: str) -> None:
    assert state({"part_temperature": typed}, "part_temperature") == word


def test_an_unusual_value_that_was_accepted_is_done() -> None:
    build = build_with({}, small())
    accepted = Reading("95", NOW, accepted="it is an oven")
    build = replace(build, entries={"part_temperature": Entry((accepted,))})
    assert status(build).items["part_temperature"].state == "done"


def test_an_item_whose_condition_does_not_hold_is_not_asked() -> None:
    assert state({"allowed": "yes"}, "extra") == "not needed"
    assert state({"allowed": "no"}, "extra") == "open"


def test_a_measurement_ages_until_it_is_relied_on() -> None:
    build = build_with({"checked": ["3.3", "3.3", "3.3"]}, small())
    assert status(build, timedelta(minutes=59)).items["checked"].state == "done"
    assert status(build, timedelta(minutes=61)).items["checked"].state == "expired"
    relied = edit.add_reading(build, small().items["done"], Reading("yes", NOW + timedelta(minutes=30)),
                              edit.Hand(NOW + timedelta(minutes=30)))
    assert status(relied, timedelta(days=90)).items["checked"].state == "done", "it was fresh when it was relied on"


def test_a_later_change_below_makes_a_measurement_stale() -> None:
    build = build_with({"part_temperature": "30", "checked": ["3.3", "3.3", "3.3"]}, small())
    item = small().items["part_temperature"]
    later = edit.Hand(NOW + timedelta(minutes=5))
    changed = edit.add_reading(build, item, Reading("35", later.at), later)
    found = status(changed, timedelta(minutes=6)).items["checked"]
    assert found.state == "stale" and "Temperature of the part" in found.why


def test_the_first_entry_below_makes_nothing_stale() -> None:
    build = build_with({"checked": ["3.3", "3.3", "3.3"]}, small())
    later = edit.Hand(NOW + timedelta(minutes=5))
    entered = edit.add_reading(build, small().items["part_temperature"], Reading("35", later.at), later)
    assert status(entered, timedelta(minutes=6)).items["checked"].state == "done"


def test_the_next_thing_to_do_is_the_first_unsettled_item() -> None:
    assert status(build_with({}, small())).next_item == "allowed"
    assert status(build_with({"allowed": "yes", "part_temperature": "30"}, small())).next_item == "checked"


def test_undo_keeps_the_whole_history() -> None:
    item = small().items["part_temperature"]
    before = build_with({"allowed": "yes"}, small())
    after = edit.add_reading(before, item, Reading("35", NOW), edit.Hand(NOW))
    undone = edit.undo(after, before, edit.Hand(NOW))
    assert undone.entries == before.entries
    assert [e.what for e in undone.history] == ["entered", "undone"]


def test_a_deleted_row_stays_readable_in_the_history() -> None:
    build = build_with({"parts": [{"id": "p1", "warmth": "46"}]}, small())
    build = edit.delete_row(build, small().items["parts"], "p1", "typed twice", edit.Hand(NOW))
    assert build.entry("parts").rows == ()
    assert build.history[-1].before == "warmth = 46" and build.history[-1].reason == "typed twice"


def test_a_row_name_stands_once() -> None:
    build = build_with({"parts": [{"id": "p1"}]}, small())
    with pytest.raises(edit.EditError, match="already a part called p1"):
        edit.add_row(build, small().items["parts"], "p1", edit.Hand(NOW))
