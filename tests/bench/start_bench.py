"""First frame of the program, key to display, and the shelf: beside a bare Textual app in the same run."""

from __future__ import annotations

import asyncio
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median, quantiles
from time import perf_counter
from typing import TypeVar

from textual import events
from textual.app import App, ComposeResult
from textual.keys import _character_to_key
from textual.widgets import Input, Static

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.shelf import ShelfScreen
from buildtrack.bench.shelf_list import list_builds
from buildtrack.bench.starting import checklists, new_build
from buildtrack.bench.surroundings import Surroundings, now_utc
from buildtrack.storage.places import shipped_samples

SAMPLE = "garden-screwdriver-cleared"
ROUNDS = 5
SHELF = 1000
FULL = 50
"""Each so many builds on the shelf is a whole one."""
STATED = "stated, not held"
T = TypeVar("T")

BARE = """
from time import perf_counter
START = perf_counter()
from textual.app import App
from textual.widgets import Static
class Bare(App):
    def compose(self):
        yield Static("ready")
    def on_mount(self):
        self.call_after_refresh(self.exit)
app = Bare()
app.run(headless=True, size=(120, 40))
print(perf_counter() - START)
"""
"""An app of one line of text, from its first import to the frame that shows it."""

OURS = """
import sys
from time import perf_counter
START = perf_counter()
from pathlib import Path
from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.surroundings import Surroundings
plainly = BuildtrackApp.switch_mode
def switch_mode(self, mode):
    found = plainly(self, mode)
    if mode == sys.argv[2]:
        self.call_after_refresh(self.call_after_refresh, self.exit)
    return found
BuildtrackApp.switch_mode = switch_mode
BuildtrackApp(Surroundings(), Path(sys.argv[1])).run(headless=True, size=(120, 40))
print(perf_counter() - START)
"""
"""The program on a build file, from its first import to the first frame of one of its places."""


def seconds_of(program: str, *arguments: str) -> float:
    """What a fresh process says it took; both programs find their modules compiled, as every start but the first does."""
    around = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    around["PYTHONPYCACHEPREFIX"] = str(Path(tempfile.gettempdir()) / f"compiled-{os.getpid()}")
    done = subprocess.run([sys.executable, "-c", program, *arguments], capture_output=True, text=True, check=False,
                          env=around)
    if done.returncode:
        raise AssertionError(done.stderr[-400:] or done.stdout[-400:])
    return float(done.stdout.split()[-1])


@contextmanager
def own_folder() -> Iterator[Path]:
    """The sample among copies of all samples, and state of its own."""
    before = os.environ.get("BUILDTRACK_STATE")
    with tempfile.TemporaryDirectory() as name:
        os.environ["BUILDTRACK_STATE"] = f"{name}/state"
        shutil.copytree(shipped_samples(), Path(name) / "builds")
        try:
            yield Path(name) / "builds" / f"{SAMPLE}.toml"
        finally:
            os.environ.pop("BUILDTRACK_STATE")
            if before is not None:
                os.environ["BUILDTRACK_STATE"] = before


def first_frames(path: Path) -> tuple[float, float, float]:
    """First frame against the bare app's, frame of the judged bench against it, and seconds of the latter."""
    seconds_of(BARE), seconds_of(OURS, str(path), "bench")  # compiles
    rounds = [(seconds_of(BARE), seconds_of(OURS, str(path), "opening"), seconds_of(OURS, str(path), "bench"))
              for _ in range(ROUNDS)]
    return (median(first / bare for bare, first, _ in rounds), median(last / bare for bare, _, last in rounds),
            median(last for _, _, last in rounds))


async def shown(app: BuildtrackApp, key: str) -> float:
    """Seconds from a key arriving until the frame that came of it is drawn."""
    drawn = asyncio.Event()
    start = perf_counter()
    app.post_message(events.Key(_character_to_key(key) if len(key) == 1 else key, key if len(key) == 1 else None))
    await asyncio.sleep(0)
    while app.keys_waiting:  # keys are handed on one at a time
        await asyncio.sleep(0)
    app.screen.call_after_refresh(drawn.set)
    await drawn.wait()
    return perf_counter() - start


class BareForm(App[None]):
    """A line to type in under as many lines of text as the screen is high: what any program with Textual pays."""

    def compose(self) -> ComposeResult:
        """Forty lines, one to type in."""
        yield from (Static(f"line {number}") for number in range(38))
        yield Input()


async def bare_keys() -> list[float]:
    """Seconds of every character typed into the bare form."""
    app, found = BareForm(), []
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        for character in "3.785 V" * 12:
            drawn = asyncio.Event()
            start = perf_counter()
            app.post_message(events.Key(_character_to_key(character), character))
            await asyncio.sleep(0)
            app.screen.call_after_refresh(drawn.set)
            await drawn.wait()
            found.append(perf_counter() - start)
            await asyncio.sleep(0.02)
        typed = app.screen.query_one(Input).value
    if len(typed) != len(found):
        raise AssertionError(f"{len(typed)} of {len(found)} characters arrived in the bare form")
    return found


async def calm(app: BuildtrackApp) -> None:
    """Wait until what an entry set going has ended: a person moves no faster."""
    await asyncio.sleep(0.1)
    while app.judging or app.saving.running:
        await asyncio.sleep(0.02)


async def while_open(path: Path, act: Callable[[BuildtrackApp], Awaitable[T]]) -> T:
    """Open the program on a build file and do something in it."""
    app = BuildtrackApp(Surroundings(), path)
    async with app.run_test(size=(120, 40)) as pilot:
        while not (isinstance(app.screen, BenchScreen) and app.screen.item_id):
            await app.workers.wait_for_complete()
            await pilot.pause()
        return await act(app)


async def keys_on_the_largest_step(app: BuildtrackApp) -> tuple[list[float], list[float]]:
    """Enter readings on the step of most items; seconds of every character, and of every Enter that takes one."""
    screen = app.screen
    assert isinstance(screen, BenchScreen)
    desk = screen.desk
    step = max(desk.checklist.steps, key=lambda s: len(screen.asked_items(s)))
    readings = [i for i in screen.asked_items(step) if i.kind == "reading" and desk.build.entry(i.id).standing]
    typed: list[float] = []
    taken: list[float] = []
    before = len(desk.build.history)
    for item in readings:
        text = desk.build.entry(item.id).standing[-1].text
        screen.go_to(step.id, item.id)
        await calm(app)
        for character in text:
            typed.append(await shown(app, character))
            await asyncio.sleep(0.02)
        taken.append(await shown(app, "enter"))
        await calm(app)
    if len(desk.build.history) < before + len(readings):
        raise AssertionError(f"{len(desk.build.history) - before} of {len(readings)} readings that were typed arrived")
    return typed, taken


def fill_shelf(place: Path, samples: Path) -> None:
    """A thousand builds: every sample and a beginning of every checklist in turn, each under a title of its own.

    One in fifty is a whole sample of up to 240 kB; reading more of those the first time would take minutes and the
    second look reads none of them.
    """
    place.mkdir()
    full = [path.read_text(encoding="utf-8") for path in sorted(samples.glob("*.toml"))]
    begun = []
    for name, _ in checklists():
        begun.append(new_build(place, name, f"begun {name}", now_utc()).read_text(encoding="utf-8"))
    for path in place.glob("*.toml"):
        path.unlink()
    for number in range(SHELF):
        text = full[number // FULL % len(full)] if number % FULL == 0 else begun[number % len(begun)]
        text = re.sub(r'(?m)^title = ".*"$', f'title = "Build {number * 7919 % SHELF}"', text, count=1)
        (place / f"build{number}.toml").write_text(text, encoding="utf-8")


async def shelf_seconds(path: Path) -> tuple[float, float]:
    """Listing a thousand builds the second time, the first having read them; and until the shelf shows them."""
    place = path.parent / "shelf"
    fill_shelf(place, shipped_samples())
    list_builds(place)
    start = perf_counter()
    rows = list_builds(place)
    listed = perf_counter() - start
    if len(rows) != SHELF or len({r.title for r in rows}) != SHELF:
        raise AssertionError(f"{len({r.title for r in rows})} of {SHELF} builds are listed")
    app = BuildtrackApp(Surroundings(), None, folder=place)
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        start = perf_counter()
        app.go_to_place("shelf")
        while not (isinstance(app.screen, ShelfScreen) and app.screen.listed):
            await asyncio.sleep(0.002)
        drawn = asyncio.Event()
        app.screen.call_after_refresh(drawn.set)
        await drawn.wait()
        return listed, perf_counter() - start


def measure() -> list[tuple[str, float, str, str]]:
    """Ratios to the bare app, milliseconds to the display, seconds of the shelf."""
    with own_folder() as path:
        first, bench, seconds = first_frames(path)
        bare = asyncio.run(bare_keys())
        typed, taken = asyncio.run(while_open(path, keys_on_the_largest_step))
        shelf, seen = asyncio.run(shelf_seconds(path))
    keys = [*typed, *taken]
    return [
        ("start: first frame on the finished sample, against a bare app", first, "x", "under 1.6"),
        ("start: the bench itself, judged, against a bare app", bench, "x", STATED),
        ("start: the bench itself, judged", seconds, "s", STATED),
        (f"start: key to display, 95th of {len(keys)} keys, largest step", quantiles(keys, n=20)[-1] * 1e3, "ms",
         "under 25"),
        ("start: the same in a bare form of one line to type in", quantiles(bare, n=20)[-1] * 1e3, "ms", STATED),
        ("start: the same, typed characters alone", quantiles(typed, n=20)[-1] * 1e3, "ms", STATED),
        ("start: the same, median of typed characters", median(typed) * 1e3, "ms", STATED),
        ("start: the same, median of the Enter that takes a reading", median(taken) * 1e3, "ms", STATED),
        (f"start: shelf of {SHELF:,} builds listed, second time", shelf, "s", STATED),
        ("start: the same, from the key to the list on the screen", seen, "s", "under 1"),
    ]
