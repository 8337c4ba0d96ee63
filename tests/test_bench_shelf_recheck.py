"""The key for a re-check leads from the shelf into a new row of the re-checks, also where there are some already."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.shelf import ShelfScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.surroundings import Surroundings
from buildtrack.storage.places import shipped_samples
from buildtrack.storage.session import open_session
from tests.bench_walk import NOW, Clock, Walk, new_build, small_checklist, walk

CHECKLIST = small_checklist()
TODAY = NOW.astimezone().date().isoformat()
NAME = "garden-screwdriver-cleared.toml"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    (tmp_path / "builds").mkdir()
    shutil.copy(shipped_samples() / NAME, tmp_path / "builds" / NAME)
    return tmp_path / "builds"


def _real(surroundings: Surroundings) -> Surroundings:
    def opener(path: Path, *, read_only: bool = False, summary: object = None) -> Any:
        return open_session(path, read_only=read_only, clock=Clock())

    return replace(surroundings, opener=opener)


def at_new_row(w: Walk, rows_before: int) -> TableScreen:
    screen = w.screen
    assert isinstance(screen, TableScreen) and screen.item_id == "rechecks"
    rows = w.build.entry("rechecks").rows
    assert len(rows) == rows_before + 1 and rows[-1].text("on") == TODAY
    assert (screen.grid.row_id, screen.grid.column_id) == (rows[-1].id, "days_since_charge")
    assert screen.focused is screen.field
    return screen


@pytest.mark.parametrize("first", ["bench", "shelf"])
def test_k_on_the_shelf_begins_a_new_row_of_the_re_checks_where_there_are_some(folder: Path, first: str) -> None:
    """From the shelf the program was begun at, the bench is made only then; from the bench it is there already."""

    async def steps(w: Walk) -> None:
        if first == "bench":
            await w.press("f6")
        assert isinstance(w.screen, ShelfScreen)
        await w.press("home", "k")
        at_new_row(w, 2)
        await w.press("escape", "escape", "escape")
        assert isinstance(w.screen, BenchScreen) and w.screen.item_id == "rechecks"
        assert len(w.build.entry("rechecks").rows) == 2, "nothing was read: the row goes away again"

    walk(steps, new_build(CHECKLIST), CHECKLIST, place=first, path=folder / NAME, around=_real)


def test_what_is_typed_at_once_after_k_goes_into_the_new_row(folder: Path) -> None:
    async def steps(w: Walk) -> None:
        await w.press("home")
        await w.burst("k", "30", "enter")
        row = w.build.entry("rechecks").rows[-1]
        assert (row.text("on"), row.text("days_since_charge")) == (TODAY, "30")

    walk(steps, new_build(CHECKLIST), CHECKLIST, place="shelf", path=folder / NAME, around=_real)
