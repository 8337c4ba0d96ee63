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
from dataclasses import dataclass, field, replace
from pathlib import Path
from statistics import median, quantiles
from time import perf_counter
from typing import Any, TypeVar

from textual import events
from textual.app import App, ComposeResult
from textual.keys import _character_to_key
from textual.widgets import Input, Static

from buildtrack.bench import app as app_module
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


class Frames:
    """When the frames since the last key were drawn."""

    def __init__(self) -> None:
        self.at: list[float] = []

    def drawn(self) -> None:
        """A frame is drawn."""
        self.at.append(perf_counter())


class Watched(BuildtrackApp):
    """The program with its frames noted."""

    CSS_PATH = str(Path(app_module.__file__).with_name("app.tcss"))

    def __init__(self, path: Path) -> None:
        super().__init__(Surroundings(), path)
        self.frames = Frames()

    def post_display_hook(self) -> None:
        """Note a frame; what Textual holds back while a key is on its way is none."""
        if not self._batch_count:
            self.frames.drawn()


class BareForm(App[None]):
    """A line to type in under as many lines of text as the screen is high: what any program with Textual pays."""

    def __init__(self) -> None:
        super().__init__()
        self.frames = Frames()

    def compose(self) -> ComposeResult:
        """Forty lines, one to type in."""
        yield from (Static(f"line {number}") for number in range(38))
        yield Input()

    def post_display_hook(self) -> None:
        """Note a frame."""
        self.frames.drawn()


async def refreshed(app: App[Any]) -> None:
    """Wait until nothing is left to be drawn."""
    drawn = asyncio.Event()
    app.screen.call_after_refresh(drawn.set)
    await drawn.wait()


async def seen(app: Watched, key: str) -> tuple[float, float]:
    """Seconds from a key arriving to the first frame that came of it, and to the last: then all of it stands.

    All but one: what is judged anew comes later, in a thread.
    """
    app.frames.at.clear()
    start = perf_counter()
    app.post_message(events.Key(_character_to_key(key) if len(key) == 1 else key, key if len(key) == 1 else None))
    await asyncio.sleep(0)
    while app.keys_waiting:
        await asyncio.sleep(0.001)
    first = app.frames.at[0]
    while isinstance(app.screen, BenchScreen) and not app.screen.panel_stands:
        await asyncio.sleep(0.001)
    await refreshed(app)
    return first - start, app.frames.at[-1] - start


async def bare_keys() -> list[float]:
    """Seconds of every character typed into the bare form."""
    app, found = BareForm(), []
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        for character in "3.785 V" * 12:
            app.frames.at.clear()
            start = perf_counter()
            app.post_message(events.Key(_character_to_key(character), character))
            await asyncio.sleep(0)
            await refreshed(app)
            found.append(app.frames.at[-1] - start)
            await asyncio.sleep(0.02)
        typed = app.screen.query_one(Input).value
    if len(typed) != len(found):
        raise AssertionError(f"{len(typed)} of {len(found)} characters arrived in the bare form")
    return found


async def calm(app: BuildtrackApp) -> None:
    """Wait until what an entry set going has ended: a person moves no faster."""
    await asyncio.sleep(0.1)
    while app.judging or app.saving.running or (app.desk is not None and app.desk.pending):
        await asyncio.sleep(0.02)


@dataclass
class Keys:
    """Seconds of keys: from each to its first frame, and until all of it stands."""

    typed: list[tuple[float, float]] = field(default_factory=list)
    """Characters."""
    taken: list[tuple[float, float]] = field(default_factory=list)
    """Enter that takes a reading: the first frame shows the answer in the list and the next item on the card."""
    judged: list[float] = field(default_factory=list)
    """From such an Enter until checks and verdict are shown that know of it."""

    def worst(self, which: int) -> float:
        """95th percentile of all keys, to the first (0) or the last (1) frame [s]."""
        return quantiles([k[which] for k in (*self.typed, *self.taken)], n=20)[-1]


async def while_open(path: Path, act: Callable[[Watched], Awaitable[T]]) -> T:
    """Open the program on a build file and do something in it."""
    app = Watched(path)
    async with app.run_test(size=(120, 40)) as pilot:
        while not (isinstance(app.screen, BenchScreen) and app.screen.item_id):
            await app.workers.wait_for_complete()
            await pilot.pause()
        return await act(app)


async def keys_on_the_largest_step(app: Watched) -> Keys:
    """Enter the readings of the step of most items, none of which is there yet: each Enter leads to the next one."""
    screen, found = app.screen, Keys()
    assert isinstance(screen, BenchScreen)
    desk = screen.desk
    step = max(desk.checklist.steps, key=lambda s: len(screen.asked_items(s)))
    readings = [i for i in screen.asked_items(step) if i.kind == "reading" and desk.build.entry(i.id).standing]
    texts = {item.id: desk.build.entry(item.id).standing[-1].text for item in readings}
    desk.change(lambda build, hand: replace(build, entries={n: e for n, e in build.entries.items() if n not in texts}))
    app.build_changed()
    await calm(app)
    before = len(desk.build.history)
    for item in readings:
        text = texts[item.id]
        screen.go_to(step.id, item.id)
        await calm(app)
        for character in text:
            found.typed.append(await seen(app, character))
            await asyncio.sleep(0.02)
        start = perf_counter()
        found.taken.append(await seen(app, "enter"))
        while desk.pending:
            await asyncio.sleep(0.001)
        await refreshed(app)
        found.judged.append(perf_counter() - start)
        await calm(app)
    if len(desk.build.history) < before + len(readings):
        raise AssertionError(f"{len(desk.build.history) - before} of {len(readings)} readings that were typed arrived")
    return found


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
        keys = asyncio.run(while_open(path, keys_on_the_largest_step))
        shelf, seen_at = asyncio.run(shelf_seconds(path))
    typed, taken = ([first for first, _ in found] for found in (keys.typed, keys.taken))
    return [
        ("start: first frame on the finished sample, against a bare app", first, "x", "under 1.6"),
        ("start: the bench itself, judged, against a bare app", bench, "x", STATED),
        ("start: the bench itself, judged", seconds, "s", STATED),
        (f"start: key to display, 95th of {len(typed) + len(taken)} keys, largest step", keys.worst(0) * 1e3, "ms",
         "under 25"),
        ("start: the same, until all of it stands but what is judged anew", keys.worst(1) * 1e3, "ms", STATED),
        ("start: a key in a bare form of one line to type in, 95th", quantiles(bare, n=20)[-1] * 1e3, "ms", STATED),
        ("start: typed characters alone, 95th", quantiles(typed, n=20)[-1] * 1e3, "ms", STATED),
        ("start: typed characters alone, median", median(typed) * 1e3, "ms", STATED),
        ("start: Enter that takes a reading, median to the next item", median(taken) * 1e3, "ms", STATED),
        ("start: the same, until the panel stands", median(last for _, last in keys.taken) * 1e3, "ms", STATED),
        ("start: the same, until it is judged", median(keys.judged) * 1e3, "ms", STATED),
        (f"start: shelf of {SHELF:,} builds listed, second time", shelf, "s", STATED),
        ("start: the same, from the key to the list on the screen", seen_at, "s", "under 1"),
    ]
