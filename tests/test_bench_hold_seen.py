"""A hold point is answered only by keys that were pressed after it was seen; what was typed before is said, and waits."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from textual import events

from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.turns import as_typed
from buildtrack.model.checklist import Checklist
from buildtrack.storage.checklist_file import read_checklist
from tests.bench_walk import SMALL, Walk, new_build, small_checklist, walk
from tests.test_bench_entry import CELLS, LOAD, PLAN, answered, build_with

READY = build_with(**PLAN, **LOAD, series_count=answered("3"))
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])
BEFORE = "Typed before this hold point was seen: read it, then "
MORE = '''
[[steps.items]]
id = "bench_cleared"
kind = "tick"
label = "Nothing that burns lies beside the pack"
hold = true

[[steps.items]]
id = "meter_proven"
kind = "choice"
label = "The meter was tried on a known source"
hold = true
options = [["yes", "Yes"], ["no", "No"]]

[[steps.items]]
id = "joined_how"
kind = "choice"
label = "How the cells are joined"
hold = true
options = [["spot", "Spot welded"], ["screw", "Screwed"], ["solder", "Soldered"]]
'''
"""Three hold points above the one that is there."""
HELD = ("bench_cleared", "meter_proven", "joined_how", "charging_site")


def holding(folder: Path) -> Checklist:
    path = folder / "small.toml"
    text, before = SMALL.read_text(encoding="utf-8"), '\n[[steps.items]]\nid = "charging_site"'
    path.write_text(text.replace(before, MORE + before), encoding="utf-8")
    return read_checklist(path)


def bench(w: Walk) -> BenchScreen:
    assert isinstance(w.screen, BenchScreen)
    return w.screen


async def at(w: Walk, name: str) -> BenchScreen:
    bench(w).jump(name)
    await w.settle()
    return bench(w)


def texts(w: Walk, *names: str) -> list[list[str]]:
    return [[r.text for r in w.build.entry(n).standing] for n in names]


@SIZES
def test_a_burst_answers_the_hold_point_that_is_seen_and_none_of_those_behind_it(
    size: tuple[int, int], tmp_path: Path
) -> None:
    checklist = holding(tmp_path)

    async def steps(w: Walk) -> None:
        screen = await at(w, "bench_cleared")
        await w.burst("y", "enter", "y", "enter", "y", "enter", "1", "enter")
        assert texts(w, *HELD) == [["yes"], [], [], []]
        assert screen.item_id == "meter_proven" and screen.card.options.current_key == ""
        assert screen.card.told == BEFORE + "y Enter or n Enter."
        assert "Typed before this hold point was seen" in w.text()
        await w.press("y", "enter")
        assert texts(w, *HELD) == [["yes"], ["yes"], [], []], "pressed after it was seen"

    walk(steps, new_build(checklist), checklist, size=size)


def test_an_answer_marked_by_an_arrow_is_not_taken_by_an_enter_from_before(tmp_path: Path) -> None:
    checklist = holding(tmp_path)

    async def steps(w: Walk) -> None:
        await at(w, "bench_cleared")
        await w.burst("y", "enter", "enter", "down", "enter")
        assert texts(w, *HELD) == [["yes"], [], [], []] and bench(w).card.options.current_key == ""
        assert BEFORE in bench(w).card.told

    walk(steps, new_build(checklist), checklist)


def test_a_number_of_which_a_part_was_typed_before_marks_no_answer(tmp_path: Path) -> None:
    checklist = holding(tmp_path)

    async def steps(w: Walk) -> None:
        await at(w, "meter_proven")
        await w.burst("y", "enter", "1")
        assert bench(w).item_id == "joined_how" and BEFORE + "Esc, its number and Enter" in bench(w).card.told
        await w.press("2", "enter", "enter")
        assert texts(w, "joined_how") == [[]], "it may be the rest of 12"
        await w.press("escape", "2", "enter")
        assert texts(w, "joined_how") == [["screw"]]

    walk(steps, new_build(checklist), checklist)


@SIZES
def test_a_reading_typed_ahead_at_a_hold_point_waits_in_its_field_for_an_enter(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.burst("1.0", "enter", "1.1", "enter", "1.2", "enter", "5.5", "enter")
        assert texts(w, "free_current", "working_current") == [["1.0", "1.1", "1.2"], []]
        assert bench(w).card.field.value == "5.5"
        assert bench(w).card.told == BEFORE + "Enter takes 5.5." and "Typed before this hold" in w.text()
        await w.press("enter")
        await w.burst("6", "enter")
        assert texts(w, "working_current") == [["5.5", "6"]], "the second one is of a hold point that is seen"

    walk(steps, build_with(**PLAN), small_checklist(), size=size)


def test_a_key_pressed_before_and_handed_on_late_answers_nothing(tmp_path: Path) -> None:
    checklist = holding(tmp_path)

    async def steps(w: Walk) -> None:
        early = [events.Key("y", "y"), events.Key("enter", "\r")]
        await at(w, "bench_cleared")
        for key in early:
            w.app.post_message(key)
        await w.burst()
        assert texts(w, "bench_cleared") == [[]] and BEFORE in bench(w).card.told
        await w.burst("y", "enter")
        assert texts(w, "bench_cleared") == [["yes"]]

    walk(steps, new_build(checklist), checklist)


def test_a_click_is_made_by_who_sees_the_hold_point(tmp_path: Path) -> None:
    checklist = holding(tmp_path)

    async def steps(w: Walk) -> None:
        await at(w, "bench_cleared")
        await w.burst("y", "enter", "y", "enter")
        assert texts(w, "meter_proven") == [[]]
        await w.pilot.click("#card-options", offset=(4, 0))
        await w.settle()
        assert texts(w, "meter_proven") == [["yes"]]

    walk(steps, new_build(checklist), checklist)


def test_pasted_lines_that_reach_a_hold_point_not_seen_wait_in_its_field() -> None:
    async def steps(w: Walk) -> None:
        await at(w, "free_current")
        w.app.post_message(events.Paste("1.0\n1.1\n1.2\n5.5\n"))
        await w.burst()
        assert texts(w, "free_current", "working_current") == [["1.0", "1.1", "1.2"], []]
        assert "hold point" in bench(w).said
        assert (await at(w, "working_current")).card.field.value == "5.5"
        await w.press("enter", "enter")
        assert texts(w, "working_current") == [["5.5"]]

    walk(steps, build_with(**PLAN), small_checklist())


@SIZES
def test_what_is_typed_before_a_table_of_a_hold_point_is_seen_waits_in_its_field(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await at(w, "candidates")
        await w.burst("enter", "a", "laptop", "enter")
        screen = w.screen
        assert isinstance(screen, TableScreen) and screen.field.value == "laptop"
        assert [r.text("source") for r in w.build.entry("candidates").rows] == [""]
        assert screen.told == BEFORE + "Enter takes laptop."
        await w.press("enter")
        await w.burst("1", "enter", "3.91", "enter")
        row = w.build.entry("candidates").rows[0]
        assert [row.text(n) for n in ("source", "visual", "arrival_voltage")] == ["laptop", "sound", "3.91"]

    walk(steps, READY, small_checklist(), size=size)


def test_a_table_that_is_no_hold_point_takes_what_is_typed_ahead(tmp_path: Path) -> None:
    checklist = small_checklist()
    groups = checklist.items["groups"]
    assert not groups.hold

    async def steps(w: Walk) -> None:
        await at(w, "groups")
        await w.burst("enter", "3.9", "enter")
        assert w.build.entry("groups").rows[0].text("joining_highest") == "3.9"

    walk(steps, replace(READY, entries={**READY.entries, "candidates": CELLS}), checklist)


def test_escape_and_the_letter_behind_it_were_pressed_when_both_came() -> None:
    event = events.Key("alt+y", "y")
    assert [key.time for key in as_typed(event)] == [event.time, event.time]
