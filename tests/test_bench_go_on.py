"""The start page: a build in work comes first, and a sample is told with its verdict."""

from __future__ import annotations

import asyncio
import os
from pathlib import Path

from buildtrack.bench import starting
from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.welcome import WelcomeScreen
from buildtrack.bench.surroundings import Surroundings
from tests.bench_walk import NOW, Clock, MemorySession, Walk


def builds(folder: Path) -> list[Path]:
    paths = [starting.new_build(folder, "bicycle-light", title, NOW) for title in ("First light", "Second light")]
    (folder / "notes.toml").write_text('title = "no build"\n', encoding="utf-8")
    for seconds, path in enumerate([*paths, folder / "notes.toml"]):
        os.utime(path, (1_000_000 + seconds, 1_000_000 + seconds))
    return paths


def test_the_build_written_last_is_found_and_a_file_that_is_none_is_not(tmp_path: Path) -> None:
    assert starting.latest_build(tmp_path) is None
    first, second = builds(tmp_path)
    assert starting.latest_build(tmp_path) == (second, "Second light")
    os.utime(first, (2_000_000, 2_000_000))
    assert starting.latest_build(tmp_path) == (first, "First light")


def test_enter_on_the_start_page_goes_on_with_the_build_in_work(tmp_path: Path) -> None:
    _, second = builds(tmp_path)

    async def go() -> None:
        app = BuildtrackApp(Surroundings(clock=Clock()), None, folder=tmp_path)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            w = Walk(app, pilot, MemorySession.__new__(MemorySession))
            await w.settle()
            assert isinstance(w.screen, WelcomeScreen) and "▸ Go on with Second light" in w.text()
            await w.press("up")
            assert "▸ Open a build of your folder" in w.text(), "the arrows go round"
            await w.press("down", "enter")
            assert isinstance(w.screen, BenchScreen) and app.path == second

    asyncio.run(go())


def test_a_sample_is_told_with_its_verdict() -> None:
    assert dict(starting.samples())["drill-not-cleared"].endswith("· not cleared")
