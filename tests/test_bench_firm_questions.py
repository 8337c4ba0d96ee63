"""A question of which an answer throws something away: its digits only mark, and Enter takes what is marked."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.widgets.lines import LineList
from tests.bench_walk import MemorySession, Walk, small_checklist, walk
from tests.test_bench_entry import PLAN, build_with

CHECKLIST = small_checklist()
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])


def marked(w: Walk) -> str:
    """The answer that Enter would take."""
    assert isinstance(w.screen, AskOne)
    return w.screen.query_one(LineList).current_key.partition(":")[2]


def session() -> MemorySession:
    return MemorySession(build_with(**PLAN), CHECKLIST, Path("/nowhere/build.toml"))


@SIZES
def test_a_digit_leaves_nothing_that_is_typed_behind_and_says_that_enter_takes_it(size: tuple[int, int]) -> None:
    held = session()

    async def steps(w: Walk) -> None:
        await w.burst("14.4")
        await w.press("ctrl+q")
        assert marked(w) == "stay" and "The number marks, Enter takes it" in w.text()
        await w.press("2")
        assert marked(w) == "leave" and w.app.is_running and not held.closed
        await w.press("1")
        assert marked(w) == "stay"
        await w.press("2", "escape")
        assert isinstance(w.screen, BenchScreen) and w.screen.card.field.value == "14.4", "Esc stays, whatever is marked"
        await w.press("ctrl+q", "2", "enter")
        assert not w.app.is_running

    walk(steps, held.build, CHECKLIST, session=held, size=size)
    assert held.closed and not held.typed, "it was left without the text"


def test_a_digit_that_names_no_answer_marks_none() -> None:
    async def steps(w: Walk) -> None:
        await w.burst("14.4")
        await w.press("ctrl+q", "2")
        for key in ("3", "9", "0"):
            await w.press(key)
            assert marked(w) == "leave" and w.app.is_running

    walk(steps, build_with(**PLAN), CHECKLIST)


@SIZES
def test_what_could_not_be_saved_is_left_by_enter_alone(size: tuple[int, int]) -> None:
    held = session()
    held.refuse = "the disk is full"

    async def steps(w: Walk) -> None:
        await w.type("1.2")
        await w.press("ctrl+q")
        assert marked(w) == "again" and "the disk is full" in w.text()
        await w.press("3")
        assert marked(w) == "leave" and w.app.is_running and not held.closed
        await w.press("2", "enter")
        assert isinstance(w.screen, BenchScreen) and w.app.is_running
        await w.press("ctrl+q", "3", "enter")
        assert not w.app.is_running

    walk(steps, held.build, CHECKLIST, session=held, size=size)
    assert held.closed and not held.commits


def test_trying_again_saves_where_the_disk_has_room_by_then() -> None:
    held = session()
    held.refuse = "the disk is full"

    async def steps(w: Walk) -> None:
        await w.type("1.2")
        await w.press("ctrl+q")
        held.refuse = ""
        await w.press("1")
        assert not held.commits, "only marked"
        await w.press("enter")
        for _ in range(500):  # it leaves by a timer of its own
            await w.pilot.pause()
            if not w.app.is_running:
                return
        pytest.fail("it does not leave")

    walk(steps, held.build, CHECKLIST, session=held)
    assert held.closed and held.commits[-1].entry("free_current").standing[-1].text == "1.2"


def test_an_ordinary_question_takes_its_digit_at_once() -> None:
    async def steps(w: Walk) -> None:
        await w.press("g")
        assert isinstance(w.screen, AskOne) and "Enter or the number: take it" in w.text()
        await w.press("3")
        assert isinstance(w.screen, BenchScreen) and w.screen.step_id == CHECKLIST.steps[2].id

    walk(steps, build_with(**PLAN), CHECKLIST)
