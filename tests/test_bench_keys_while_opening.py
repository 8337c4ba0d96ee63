"""What is pressed while a build is being opened waits for it: it is done once the build stands, and never elsewhere."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from textual import events

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.shelf import ShelfScreen
from buildtrack.bench.surroundings import Surroundings
from tests.bench_walk import Clock, MemorySession, Walk, small_checklist
from tests.test_bench_entry import PLAN, build_with

FIRST, SECOND, BROKEN = (Path(f"/nowhere/{name}.toml") for name in ("first", "second", "broken"))


@dataclass
class Slow:
    """An opener that holds a build back until it is told to let it through."""

    gate: threading.Event = field(default_factory=threading.Event)
    sessions: dict[str, MemorySession] = field(default_factory=dict)

    def __call__(self, path: Path, *, read_only: bool = False, summary: object = None) -> MemorySession:
        assert self.gate.wait(20), "the test forgot to let the build through"
        if path == BROKEN:
            raise ValueError("broken.toml: line 3 is no build file")
        return self.sessions.setdefault(path.name, MemorySession(build_with(**PLAN), small_checklist(), path))


def keys(app: BuildtrackApp, *pressed: str) -> None:
    """Press keys as a terminal sends them; the program is not waited for."""
    characters = {"full_stop": ".", "enter": "\r"}
    for key in pressed:
        app.post_message(events.Key(key, characters.get(key, key if len(key) == 1 else None)))


async def posted(app: BuildtrackApp) -> None:
    """Wait until the keys that were pressed have come to the program."""
    begun = asyncio.Event()
    app.call_later(begun.set)
    await begun.wait()


def run(steps: Callable[[Walk, Slow], Awaitable[None]], path: Path = FIRST, size: tuple[int, int] = (80, 24)) -> None:
    async def go() -> None:
        slow = Slow()
        app = BuildtrackApp(Surroundings(clock=Clock(), opener=slow), path)
        async with app.run_test(size=size) as pilot:
            await pilot.pause()
            assert app.current_mode == "opening"
            try:
                await steps(Walk(app, pilot, MemorySession(build_with(), small_checklist(), path)), slow)
            finally:
                slow.gate.set()

    asyncio.run(go())


def texts(w: Walk, item: str) -> list[str]:
    return [r.text for r in w.build.entry(item).standing]


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_a_key_to_the_shelf_pressed_while_a_build_is_opened_goes_there_once_it_stands(size: tuple[int, int]) -> None:
    async def steps(w: Walk, slow: Slow) -> None:
        keys(w.app, "f6")
        await posted(w.app)
        assert w.app.current_mode == "opening"
        slow.gate.set()
        await w.settle()
        assert isinstance(w.screen, ShelfScreen) and w.app.desk is not None
        await w.press("f7")
        assert isinstance(w.screen, BenchScreen)

    run(steps, size=size)


def test_readings_typed_while_a_build_is_opened_arrive_in_it_in_their_order() -> None:
    async def steps(w: Walk, slow: Slow) -> None:
        keys(w.app, "1", "full_stop", "0", "enter", "1", "full_stop")
        await posted(w.app)
        slow.gate.set()
        keys(w.app, "1", "enter")
        await w.settle()
        assert texts(w, "free_current") == ["1.0", "1.1"]

    run(steps)


def test_what_is_typed_while_another_build_is_opened_reaches_that_one_and_not_the_place_on_the_screen() -> None:
    async def steps(w: Walk, slow: Slow) -> None:
        slow.gate.set()
        await w.settle()
        await w.press("f6")
        slow.gate.clear()
        w.app.open_build(SECOND)
        keys(w.app, "2", "enter")
        await posted(w.app)
        assert isinstance(w.screen, ShelfScreen)
        slow.gate.set()
        await w.settle()
        assert slow.sessions["first.toml"].build.entry("free_current").standing == ()
        assert w.app.path == SECOND and texts(w, "free_current") == ["2"]

    run(steps)


def test_a_build_that_cannot_be_opened_takes_no_text_but_the_way_to_the_shelf_is_gone() -> None:
    async def steps(w: Walk, slow: Slow) -> None:
        keys(w.app, "2", "enter", "f6")
        await posted(w.app)
        slow.gate.set()
        await w.settle()
        assert isinstance(w.screen, ShelfScreen) and w.app.desk is None, w.text()

    run(steps, BROKEN)


def test_a_build_that_cannot_be_opened_says_why_and_that_the_text_was_not_used() -> None:
    async def steps(w: Walk, slow: Slow) -> None:
        keys(w.app, "2", "enter")
        await posted(w.app)
        slow.gate.set()
        await w.settle()
        shown = " ".join(w.text().split())
        assert "line 3 is no build file" in shown and "What was typed meanwhile was not used: 2" in shown
        assert w.app.current_mode == "welcome"

    run(steps, BROKEN)


def test_the_program_can_be_left_while_a_build_is_opened() -> None:
    async def steps(w: Walk, slow: Slow) -> None:
        keys(w.app, "ctrl+q")
        await posted(w.app)
        slow.gate.set()
        await w.settle()
        assert not w.app.is_running

    run(steps)


def test_an_opening_that_fails_unforeseen_says_so_and_keeps_no_key_back() -> None:
    async def steps(w: Walk, slow: Slow) -> None:
        slow.sessions = None  # type: ignore[assignment]
        slow.gate.set()
        await w.settle()
        assert w.app.current_mode == "welcome" and "AttributeError" in w.text()
        await w.press("f6")
        assert isinstance(w.screen, ShelfScreen)

    run(steps)
