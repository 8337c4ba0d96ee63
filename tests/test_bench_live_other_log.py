"""Another log than the attached one is followed: whose marks are shown, what a mark asks, how it is left."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from buildtrack.bench.followed import Followed, recall, remember
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.attaching import AskYes
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.live import LiveLog
from tests.bench_walk import Clock, Walk
from tests.test_bench_live import add, follow, own_state, run, told
from tests.test_log_follow import HEADER, row

__all__ = ["own_state"]


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    """Two logs: the first is marked and attached, the second is followed then."""
    for name, count in (("a.csv", 600), ("b.csv", 300)):
        add(tmp_path / name, HEADER + "".join(row(k) for k in range(count)))
    return tmp_path


async def attach_first_then_follow_second(w: Walk) -> LiveLog:
    """Mark alarm and end in a.csv, attach it, and follow b.csv."""
    await follow(w, "a.csv")
    await w.press("m", "e", "escape")
    assert isinstance(w.screen, AskYes)
    await w.press("y")
    assert isinstance(w.screen, BenchScreen) and w.build.entry("discharge_log").standing[-1].text == "a.csv"
    screen = await follow(w, "a.csv")
    await w.press("l")
    await w.type("b.csv")
    return screen


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_marks_of_another_log_are_not_shown_as_those_of_the_one_followed(logs: Path, size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await attach_first_then_follow_second(w)
        shown = told(w)
        assert "✓" not in shown and "alarm not marked: m" in shown
        assert "alarm at 9.98 min is of a.csv" in shown and "end at 9.98 min is of a.csv" in shown

    run(steps, logs, size)


def test_a_mark_in_a_log_that_is_not_the_attached_one_asks_and_says_so(logs: Path) -> None:
    async def steps(w: Walk) -> None:
        await attach_first_then_follow_second(w)
        await w.press("m")
        assert isinstance(w.screen, AskOne)
        text = " ".join(w.text().split())
        assert "The alarm is marked already, in a.csv" in text and "a.csv is the log of the test; b.csv" in text
        await w.press("escape")
        assert w.build.entry("alarm_after").standing[-1].text == "9.98 min"
        await w.press("m", "2")
        assert w.build.entry("alarm_after").standing[-1].text == "4.98 min"
        assert "✓ alarm marked at 4.98 min" in told(w) and "end at 9.98 min is of a.csv" in told(w)
        await w.press("escape")
        assert isinstance(w.screen, BenchScreen), "the end of another log is no end of this one: nothing is asked"

    run(steps, logs)


def test_esc_twice_leaves_without_attaching_and_nothing_but_y_attaches(logs: Path) -> None:
    async def steps(w: Walk) -> None:
        await follow(w, "b.csv")
        await w.press("e", "escape")
        assert isinstance(w.screen, AskYes) and "b.csv is still growing" in w.text()
        await w.press("1", "2", "enter")
        assert isinstance(w.screen, AskYes), "a stray key answers nothing"
        await w.press("escape")
        assert isinstance(w.screen, BenchScreen) and not w.build.entry("discharge_log").standing
        await follow(w, "b.csv")
        await w.press("escape", "n")
        assert isinstance(w.screen, BenchScreen) and not w.build.entry("discharge_log").standing
        await follow(w, "b.csv")
        await w.press("escape", "y")
        assert isinstance(w.screen, BenchScreen) and w.build.entry("discharge_log").standing[-1].text == "b.csv"

    run(steps, logs, clock=Clock())


def test_a_copy_of_a_build_file_does_not_follow_what_was_named_in_the_other(tmp_path: Path) -> None:
    first, copy = tmp_path / "d2.toml", tmp_path / "d3.toml"
    first.write_text("", encoding="utf-8")
    shutil.copy(first, copy)
    remember(first, "discharge_log", Followed("b.csv", "current=3"))
    assert recall(first, "discharge_log") == Followed("b.csv", "current=3")
    assert recall(copy, "discharge_log") is None
    remember(first, "discharge_log", None)
    assert recall(first, "discharge_log") is None


def test_what_stands_in_a_question_is_typed_over_and_an_arrow_keeps_it(logs: Path) -> None:
    async def steps(w: Walk) -> None:
        screen = await follow(w, "a.csv")
        await w.press("l")
        assert isinstance(w.screen, AskText) and "typing replaces it" in w.text()
        await w.type("b.csv")
        assert screen.followed is not None and screen.followed.path == "b.csv"
        await w.press("l", "right")
        await w.type("x")
        assert screen.followed.path == "b.csvx"

    run(steps, logs)


def test_a_log_restarted_with_its_columns_in_another_order_rings_no_alarm_and_says_why(tmp_path: Path) -> None:
    log = tmp_path / "test.csv"
    add(log, HEADER + "".join(row(k) for k in range(300)))

    async def steps(w: Walk) -> None:
        screen = await follow(w, "test.csv")
        add(log, "time_s,voltage_V,zelle_a,current_A\n300,600,2.0,4\n")
        screen.look()
        await w.settle()
        shown = told(w)
        assert "line 302: another header" in shown and "1 row not counted" in shown
        assert "600.000 V" not in shown and "reached" not in shown and not screen.said

    run(steps, tmp_path)
