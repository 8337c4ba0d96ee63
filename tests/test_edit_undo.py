"""Undo and redo name what they take back and bring back, however many edits lie between, and change no times."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from buildtrack.model import edit
from buildtrack.model.build import Build, Cell, Reading
from buildtrack.workings.status import last_changes
from tests.make import build_with
from tests.small import small

NOW = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)
ITEM = small().items["part_temperature"]
PARTS = small().items["parts"]


def hand(minute: int) -> edit.Hand:
    return edit.Hand(NOW + timedelta(minutes=minute))


def entered(build: Build, text: str, minute: int) -> Build:
    return edit.add_reading(build, ITEM, Reading(text, NOW + timedelta(minutes=minute)), hand(minute))


def told(build: Build) -> list[tuple[str, str, str]]:
    return [(e.what, e.before, e.after) for e in build.history]


def test_two_undone_edits_are_named_one_after_the_other_and_brought_back_in_order() -> None:
    start = build_with({}, small())
    first = entered(start, "31", 1)
    second = entered(first, "32", 2)
    once = edit.undo(second, first, hand(3))
    twice = edit.undo(once, start, hand(4))
    assert told(twice)[len(told(second)) :] == [("undone", "32", "31"), ("undone", "31", "")]
    assert twice.entries == start.entries
    again = edit.redo(twice, once, hand(5))
    both = edit.redo(again, second, hand(6))
    assert told(both)[len(told(twice)) :] == [("redone", "", "31"), ("redone", "31", "32")]
    assert both.entries == second.entries and both.history[: len(twice.history)] == twice.history


def test_an_edit_brought_back_is_undone_once_more_by_its_own_name() -> None:
    start = build_with({}, small())
    first = entered(start, "31", 1)
    back = edit.redo(edit.undo(first, start, hand(2)), first, hand(3))
    undone = edit.undo(back, edit.undo(first, start, hand(2)), hand(4))
    assert told(undone)[-1] == ("undone", "31", "") and undone.entries == start.entries


def test_every_field_of_one_edit_is_named_when_it_is_undone() -> None:
    start = build_with({"parts": [{"id": "p1"}, {"id": "p2"}]}, small())
    filled = edit.set_cell(start, PARTS, "p1", "warmth", Cell("40"), hand(1))
    filled = edit.set_cell(filled, PARTS, "p2", "warmth", Cell("41"), hand(1))
    undone = edit.undo(filled, start, hand(2))
    assert [(e.row, e.before) for e in undone.history if e.what == "undone"] == [("p2", "41"), ("p1", "40")]


def test_a_change_counts_until_it_is_undone_and_again_when_it_is_brought_back() -> None:
    first = entered(build_with({}, small()), "31", 1)
    changed = entered(first, "32", 2)
    assert last_changes(changed.history) == {ITEM.id: hand(2).at}
    undone = edit.undo(changed, first, hand(3))
    assert last_changes(undone.history) == {}
    assert last_changes(edit.redo(undone, changed, hand(4)).history) == {ITEM.id: hand(4).at}


def test_a_first_answer_that_is_undone_and_brought_back_is_no_change() -> None:
    start = build_with({}, small())
    first = entered(start, "31", 1)
    assert last_changes(edit.redo(edit.undo(first, start, hand(2)), first, hand(3)).history) == {}


def test_undoing_what_is_no_change_of_an_answer_takes_no_change_back() -> None:
    first = entered(build_with({}, small()), "31", 1)
    changed = entered(first, "32", 2)
    left_out = edit.leave_out(changed, ITEM, "no meter", hand(3)) if ITEM.need != "must" else edit.take_up_again(
        changed, ITEM, hand(3))
    assert last_changes(edit.undo(left_out, changed, hand(4)).history) == {ITEM.id: hand(2).at}
