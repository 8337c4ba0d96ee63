"""Before the first frame only what draws it is loaded; the first frame does not wait for the build file."""

from __future__ import annotations

import argparse
import asyncio
import subprocess
import sys
from pathlib import Path

import pytest

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.meaning import rests_on
from buildtrack.bench.surroundings import Surroundings
from buildtrack.console.screen import open_bench
from buildtrack.judging import judge
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from buildtrack.workings.explain import explain, in_brief
from buildtrack.workings.graph import needs
from tests.bench_walk import NOW, Clock, MemorySession, Walk, screen_text, small_checklist
from tests.test_bench_entry import build_with

PROGRAM = """
import sys
from pathlib import Path
from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.surroundings import Surroundings

told = []

def open_build(self, path, *more):
    rows = ["".join(s.text for s in strip) for strip in self.screen._compositor.render_strips()]
    told.extend([f"FRAME {any(path.name in row for row in rows)}", " ".join(["LOADED", *sorted(sys.modules)])])
    self.exit(0)

BuildtrackApp.open_build = open_build
BuildtrackApp(Surroundings(), Path(sys.argv[1])).run(headless=True, size=(80, 24))
print(*told, sep=chr(10))
"""
LATER = (
    "buildtrack.bench.desk", "buildtrack.bench.screens.bench", "buildtrack.judging", "buildtrack.workings",
    "buildtrack.checks", "buildtrack.physics", "buildtrack.model", "buildtrack.units", "buildtrack.storage",
    "buildtrack.record", "tomlkit", "pint", "numpy", "weasyprint", "jinja2", "textual.widgets._markdown",
)  # fmt: skip


def test_the_first_frame_is_drawn_before_anything_that_reads_or_judges_is_loaded() -> None:
    path = shipped_samples() / "garden-screwdriver-cleared.toml"
    done = subprocess.run([sys.executable, "-c", PROGRAM, str(path)], capture_output=True, text=True, check=True)
    told = {line.split()[0]: line.split()[1:] for line in done.stdout.splitlines() if line.startswith(("FRAME", "LOADED"))}
    assert told["FRAME"] == ["True"], "the frame with the file's name stands before the opening begins"
    loaded = set(told["LOADED"])
    assert "buildtrack.bench.screens.opening" in loaded
    assert [name for name in LATER if name in loaded] == []


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
def test_the_very_first_start_shows_a_sample_and_says_how_to_begin_a_build_of_ones_own(
    size: tuple[int, int], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    started: list[dict[str, object]] = []

    def run(path: Path | None, **more: object) -> int:
        started.append({"path": path, **more})
        return 0

    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("buildtrack.bench.app.run", run)
    for _ in range(2):
        open_bench(argparse.Namespace(file=None, read_only=False))
    first, second = started
    assert isinstance(first["path"], Path)
    assert "in-progress" in first["path"].name
    assert first["path"].is_relative_to(tmp_path), "a copy, the shipped sample stays clean"
    assert (second["path"], second["greeting"]) == (None, ""), "from then on the ways to begin are shown"

    async def seen() -> str:
        held = MemorySession(build_with(), small_checklist(), Path("/nowhere/build.toml"))
        around = Surroundings(clock=Clock(), opener=lambda path, **_: held)
        app = BuildtrackApp(around, held.path, greeting=str(first["greeting"]))
        async with app.run_test(size=size) as pilot:
            await pilot.pause()
            await Walk(app, pilot, held).settle()
            return screen_text(app)

    assert "Ctrl+N begins a build of your own" in asyncio.run(seen())


def test_the_short_ways_of_the_panel_say_the_same_as_the_long_ones() -> None:
    path = shipped_samples() / "garden-screwdriver-cleared.toml"
    build = read_build(path).build
    checklist = find_checklist(build.checklist.id)
    sheet = judge(build, checklist, path.parent, NOW).assessment.sheet
    items = [i.id for i in checklist.all_items()]
    states = set()
    for name in sheet.workings:
        told = explain(name, sheet, checklist)
        assert in_brief(name, sheet, checklist) == (told.label, told.state, told.shown)
        states.add(told.state)
        beneath, waiting = set(), [name]
        while waiting:  # every name reached from the working, one after the other
            for each in needs(sheet.workings[waiting.pop()]):
                if each not in beneath:
                    beneath.add(each)
                    waiting += [each] if each in sheet.workings else []
        assert [i for i in items if rests_on(sheet, name, i)] == [i for i in items if i in beneath]
    assert states >= {"known", "missing"}
