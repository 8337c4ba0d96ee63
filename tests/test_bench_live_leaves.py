"""The key of the bench leads out of the log that is followed and out of a table; the same log is attached once."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.bench.followed import recall
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.live import LiveLog
from buildtrack.bench.screens.table import TableScreen
from tests.bench_walk import Clock, Walk
from tests.test_bench_attach_again import SIZES
from tests.test_bench_live import add, follow, own_state, run
from tests.test_bench_typing_ahead import table
from tests.test_log_follow import HEADER, row

__all__ = ["own_state"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    add(tmp_path / "test.csv", HEADER + "".join(row(k) for k in range(600)))
    return tmp_path


@SIZES
def test_f7_leads_from_the_followed_log_to_the_bench_as_the_bottom_line_says(
    folder: Path, size: tuple[int, int]
) -> None:
    async def steps(w: Walk) -> None:
        await follow(w)
        assert any("F7" in row and "bench" in row for row in w.text().splitlines()[-2:]) or size[0] < 100
        await w.press("f7")
        assert isinstance(w.screen, BenchScreen) and w.screen.item_id == "discharge_log"

    run(steps, folder, size)


def test_f7_from_another_place_still_comes_back_to_the_log_that_is_followed(folder: Path) -> None:
    async def steps(w: Walk) -> None:
        await follow(w)
        await w.press("f5", "f7")
        assert isinstance(w.screen, LiveLog)
        await w.press("f7")
        assert isinstance(w.screen, BenchScreen)

    run(steps, folder)


def test_f7_leads_from_a_table_to_the_bench_and_what_is_typed_there_waits(folder: Path) -> None:
    async def steps(w: Walk) -> None:
        await table(w, "candidates")
        await w.press("home", "4", "f7")
        assert isinstance(w.screen, BenchScreen)
        assert [text for place, text in w.screen.desk.drafts.kept().items() if place[0] == "candidates"] == ["4"]
        await table(w, "candidates")
        await w.press("f7")
        assert isinstance(w.screen, BenchScreen), "also with nothing typed"
        assert not isinstance(w.screen, TableScreen)

    run(steps, folder)


@SIZES
def test_the_log_that_is_attached_is_not_entered_a_second_time(folder: Path, size: tuple[int, int]) -> None:
    clock = Clock()

    async def steps(w: Walk) -> None:
        await follow(w)
        await w.press("f")
        if not w.build.entry("discharge_log").readings:
            await w.press("down", "enter")  # it is still growing, says the clock of the test
        assert len(w.build.entry("discharge_log").readings) == 1
        before = w.build
        await w.press("f")
        if not isinstance(w.screen, LiveLog):
            await w.press("down", "enter")
        assert w.build is before, "nothing is entered, nor does the history grow"
        assert "test.csv is attached already, with the same content." in w.text()
        assert recall(folder / "build.toml", "discharge_log") is None
        add(folder / "test.csv", row(600))
        w.screen.look()  # type: ignore[attr-defined]
        await w.settle()
        await w.press("f")
        if not isinstance(w.screen, LiveLog):
            await w.press("down", "enter")
        if not isinstance(w.screen, LiveLog):
            await w.press("down", "enter")  # and whether it replaces the shorter one
        assert len(w.build.entry("discharge_log").readings) == 2, "a log that has grown is another one"

    run(steps, folder, size, clock=clock)
