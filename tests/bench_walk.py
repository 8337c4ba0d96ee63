"""Walking through the screens in a test: builds in memory, a clock that stands, the screen as plain text."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

from textual import events
from textual.pilot import Pilot
from textual.screen import Screen

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.surroundings import Surroundings
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist
from buildtrack.storage.checklist_file import find_checklist, read_checklist
from buildtrack.storage.template import start_new

NOW = datetime(2026, 11, 25, 14, 3, 22, tzinfo=UTC)
SMALL = Path(__file__).parent / "data" / "small_checklist.toml"
GOLDEN = Path(__file__).parent / "golden"
T = TypeVar("T")


@dataclass
class Clock:
    """A clock that moves only when told."""

    now: datetime = NOW

    def __call__(self) -> datetime:
        return self.now


@dataclass(frozen=True)
class Kept:
    """What came of a commit in memory."""

    saved: bool
    reason: str = ""
    changed_outside: bool = False


@dataclass
class MemorySession:
    """A build file that is only in memory; `refuse` makes its disk full."""

    build: Build
    checklist: Checklist
    path: Path
    read_only_reason: str = ""
    notes: Sequence[str] = ()
    refuse: str = ""
    commits: list[Build] = field(default_factory=list)
    closed: bool = False
    typed: Mapping[tuple[str, ...], str] = field(default_factory=dict)

    def keep_typed(self, texts: Mapping[tuple[str, ...], str]) -> str:
        self.typed = dict(texts)
        return ""

    def commit(self, build: Build) -> Kept:
        if self.refuse:
            return Kept(False, self.refuse)
        self.build = build
        self.commits.append(build)
        return Kept(True)

    def is_changed_outside(self) -> bool:
        return False

    def writer_left(self) -> bool:
        return False

    def as_it_is(self) -> Build:
        return self.build

    def differences(self) -> list[str]:
        return []

    def reload(self) -> None:
        """In memory nobody else writes."""

    def keep_both(self) -> Path:
        raise ValueError("in memory there is no other file")

    def close(self) -> None:
        self.closed = True


def small_checklist() -> Checklist:
    return read_checklist(SMALL)


def main_checklist() -> Checklist:
    return find_checklist("nickel-tool-pack")


def new_build(checklist: Checklist, title: str = "Hedge trimmer, 12 V") -> Build:
    return start_new(checklist, title, "R. Maker", NOW, "20261125-test")


@dataclass
class Walk:
    """One run of the program in a test."""

    app: BuildtrackApp
    pilot: Pilot[int]
    session: MemorySession

    @property
    def build(self) -> Build:
        assert self.app.desk is not None
        return self.app.desk.build

    @property
    def screen(self) -> Screen[object]:
        return self.app.screen

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)
        await self.settle()

    async def type(self, text: str) -> None:
        """Type a text, then Enter."""
        await self.pilot.press(*[_key(c) for c in text], "enter")
        await self.settle()

    async def burst(self, *typed: str) -> None:
        """Send texts and keys as a fast hand or a terminal does: all at once, without waiting for the screen."""
        for text in typed:
            for key in [text] if text in ("enter", "escape", "up", "down") else [_key(c) for c in text]:
                character = "\r" if key == "enter" else CHARACTERS.get(key, key if len(key) == 1 else None)
                self.app.post_message(events.Key(key, character))
        begun = asyncio.Event()
        self.app.call_later(begun.set)
        await begun.wait()
        await self.settle()

    async def settle(self) -> None:
        """Wait until every key is worked off, workers have ended and their messages have arrived.

        A program that is being left answers nothing any more: then there is nothing to wait for.
        """
        while self.app.keys_waiting and self.app.is_running:
            await self.pilot.pause()
        for _ in range(3):  # a save may be begun after the next drawing, by what is begun after the one before it
            drawn = asyncio.Event()
            self.app.call_after_refresh(drawn.set)
            for _ in range(40):  # a program that has been left draws no more
                await self.pilot.pause()
                if drawn.is_set() or not self.app.is_running:
                    break
            await self.app.workers.wait_for_complete()
        while self.app.is_running and self._at_work:
            await self.app.workers.wait_for_complete()
            await self.pilot.pause()

    @property
    def _at_work(self) -> bool:
        app = self.app
        return app.judging or app.saving.running or any(not w.is_finished for w in app.workers)

    def text(self) -> str:
        return screen_text(self.app)


KEYS = {" ": "space", ".": "full_stop", ",": "comma", "-": "minus", "+": "plus", "/": "slash"}
CHARACTERS = {key: character for character, key in KEYS.items()}


def _key(character: str) -> str:
    return KEYS.get(character, character)


def screen_text(app: BuildtrackApp) -> str:
    """What is on the screen, as plain text, one line a row."""
    width, height = app.size
    lines = app.screen._compositor.render_strips()
    return "\n".join("".join(s.text for s in line).rstrip() for line in lines[:height]) + "\n"


def walk(
    steps: Callable[[Walk], Awaitable[T]],
    build: Build,
    checklist: Checklist,
    *,
    size: tuple[int, int] = (80, 24),
    place: str = "bench",
    path: Path = Path("/nowhere/build.toml"),
    clock: Clock | None = None,
    session: MemorySession | None = None,
    keymap: Mapping[str, str] | None = None,
    theme: str = "",
    around: Callable[[Surroundings], Surroundings] = lambda s: s,
) -> T:
    """Run the program in memory at one size and walk through it."""
    held = session or MemorySession(build, checklist, path)

    def opener(path: Path, *, read_only: bool = False, summary: object = None) -> MemorySession:
        return held

    surroundings = around(Surroundings(clock=clock or Clock(), opener=opener, keymap=keymap or {}, theme=theme))

    async def go() -> T:
        app = BuildtrackApp(surroundings, held.path, place=place)
        async with app.run_test(size=size) as pilot:
            await pilot.pause()
            walked = Walk(app, pilot, held)
            await walked.settle()
            return await steps(walked)

    return asyncio.run(go())
