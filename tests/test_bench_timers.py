"""Count-downs: one that runs is seen in every place of an open build, and none moves away under the mark."""

from __future__ import annotations

from datetime import timedelta

import pytest

from buildtrack.bench.screens.count_down import PRESETS, CountDown
from buildtrack.bench.widgets.head import KeyLine
from buildtrack.bench.widgets.lines import LineList
from tests.bench_walk import NOW, Clock, Walk, small_checklist, walk
from tests.test_bench_entry import LOAD, PLAN, build_with

CHECKLIST = small_checklist()
BUILD = build_with(**PLAN, **LOAD)
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])


def bottom(w: Walk) -> str:
    """The line of keys."""
    return w.text().splitlines()[-1]


@SIZES
def test_the_count_down_that_ends_next_is_seen_on_the_bench_beside_the_keys(size: tuple[int, int]) -> None:
    clock = Clock()

    async def steps(w: Walk) -> None:
        assert "left" not in bottom(w), "none runs"
        w.app.timers.start("rest", 23 * 3600 + 10 * 60)
        w.app.timers.start("log interval 1 min", 60, repeat=True)
        clock.now = NOW + timedelta(seconds=18)
        w.app._tick()
        await w.settle()
        assert "F4 log interval 1 min: 0:42 left" in bottom(w)
        assert "Enter answer" in bottom(w) and bottom(w).rstrip().endswith("F1 help"), "the keys stay"
        await w.press("f4")
        assert isinstance(w.screen, CountDown)
        w.app.timers.stop("log interval 1 min")
        await w.press("escape")
        assert "F4 rest: 23 h 09 min left" in bottom(w)

    walk(steps, BUILD, CHECKLIST, size=size, clock=clock)


def test_a_count_down_that_runs_is_seen_while_a_text_is_typed_and_in_a_review() -> None:
    async def steps(w: Walk) -> None:
        w.app.timers.start("rest", 3600)
        await w.press("1")
        assert "take it" in bottom(w) and "F4 rest: 1 h 00 min left" in bottom(w)
        await w.press("escape", "f5")
        assert "F4 rest: 1 h 00 min left" in bottom(w)

    walk(steps, BUILD, CHECKLIST)


def test_a_click_on_the_count_down_leads_to_them_all() -> None:
    async def steps(w: Walk) -> None:
        w.app.timers.start("rest", 3600)
        w.app._tick()
        await w.settle()
        await w.pilot.click(KeyLine, offset=(bottom(w).index("rest"), 0))
        await w.settle()
        assert isinstance(w.screen, CountDown)

    walk(steps, BUILD, CHECKLIST)


def test_a_count_down_that_is_started_stays_where_it_is_under_the_mark() -> None:
    clock = Clock()

    async def steps(w: Walk) -> None:
        await w.press("f4", "down", "down", "down")
        before = w.screen.query_one(LineList)
        assert before.current_key == f"timer:{PRESETS[2][0]}"
        place = before.current
        await w.press("enter")
        assert [t.name for t in w.app.timers.running] == [PRESETS[2][0]]
        assert (before.current, before.current_key) == (place, f"timer:{PRESETS[2][0]}")
        await w.press("up", "enter")
        assert before.current == place - 1 and len(w.app.timers.running) == 2
        clock.now = NOW + timedelta(seconds=31)
        assert w.app.timers.rang() == [PRESETS[1][0]]
        w.screen._show()  # type: ignore[attr-defined]
        assert before.current == place - 1, "one that has ended stays where it is as well"
        await w.press("down", "enter")
        assert not w.app.timers.running, "Enter on a running one stops it"

    walk(steps, BUILD, CHECKLIST, clock=clock)


def test_a_length_of_ones_own_is_marked_once_it_runs() -> None:
    async def steps(w: Walk) -> None:
        await w.press("f4", "end", "enter")
        await w.type("90 s")
        assert w.screen.query_one(LineList).current_key == "timer:timer of 90 s"
        assert [t.name for t in w.app.timers.running] == ["timer of 90 s"]

    walk(steps, BUILD, CHECKLIST)
