"""Another build opens at its own place: no table, no question and no text of the one before comes with it."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.pictures import Pictures
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.surroundings import Surroundings
from tests.bench_walk import Clock, MemorySession, Walk
from tests.test_bench_entry import CHECKLIST, SIZES
from tests.test_bench_guidance import READY
from tests.test_bench_table_typing import ONE
from tests.test_bench_typing_ahead import table

FIRST, SECOND = Path("/nowhere/first.toml"), Path("/nowhere/second.toml")


def between_two(steps: Callable[[Walk], Awaitable[None]], size: tuple[int, int] = (80, 24)) -> None:
    """Walk with two builds that can be opened by turns."""
    sessions = {path: MemorySession(build, CHECKLIST, path) for path, build in ((FIRST, READY), (SECOND, ONE))}

    def opener(path: Path, *, read_only: bool = False, summary: object = None) -> MemorySession:
        return sessions[path]

    async def go() -> None:
        app = BuildtrackApp(Surroundings(clock=Clock(), opener=opener), FIRST)
        async with app.run_test(size=size) as pilot:
            walked = Walk(app, pilot, sessions[FIRST])
            await pilot.pause()
            await walked.settle()
            await steps(walked)

    asyncio.run(go())


async def opened(w: Walk, path: Path) -> None:
    """Open a build as the shelf does."""
    w.app.open_build(path)
    await w.settle()
    assert w.app.desk is not None and w.app.desk.session.path == path


@SIZES
@pytest.mark.parametrize("by_the_shelf", [True, False])
def test_a_table_and_what_was_typed_there_stay_with_their_build(size: tuple[int, int], by_the_shelf: bool) -> None:
    async def steps(w: Walk) -> None:
        await table(w, "groups")
        await w.press("enter", "3", "full_stop", "9")
        if by_the_shelf:
            await w.press("f6")
        await opened(w, SECOND)
        assert isinstance(w.screen, BenchScreen) and w.app.desk is not None
        assert not w.app.desk.drafts.kept() and not w.app.texts_typed()
        await table(w, "groups")
        assert isinstance(w.screen, TableScreen) and not w.screen.field.value
        await w.press("escape", "escape")
        await opened(w, FIRST)
        assert list(w.app.desk.drafts.kept().values()) == ["3.9"], "it is there when its build is opened again"

    between_two(steps, size)


def test_pictures_of_one_build_do_not_lie_over_the_next() -> None:
    async def steps(w: Walk) -> None:
        await w.press("f3")
        assert isinstance(w.screen, Pictures)
        await opened(w, SECOND)
        assert isinstance(w.screen, BenchScreen) and len(w.app.screen_stack) == 1
        assert w.build.entries == ONE.entries

    between_two(steps)
