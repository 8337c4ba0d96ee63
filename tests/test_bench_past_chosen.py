"""'Start from a past build' comes as a choosing: Enter takes the build to start from, Esc leaves, a title is asked."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.bench.screens.ask import AskText
from buildtrack.bench.screens.shelf import ShelfScreen
from buildtrack.bench.screens.welcome import WelcomeScreen
from buildtrack.storage.session import create
from tests.bench_walk import Walk, main_checklist, new_build, walk
from tests.test_bench_outside import real

PAST = "Start from which build?"


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_the_shelf_is_shown_to_choose_the_build_that_a_new_one_starts_from(tmp_path: Path, size: tuple[int, int]) -> None:
    path = tmp_path / "first.toml"
    create(path, new_build(main_checklist()), main_checklist())

    async def steps(w: Walk) -> None:
        await w.press("ctrl+n", "down", "down", "enter")
        assert isinstance(w.screen, ShelfScreen) and PAST in w.text()
        shown = " ".join(w.text().split())
        assert "Enter start from it" in shown and "Enter takes the build that the new one starts from" in shown
        await w.press("escape")
        assert isinstance(w.screen, WelcomeScreen)
        await w.press("f6")
        assert PAST not in w.text() and "Enter open" in " ".join(w.text().split())
        await w.press("ctrl+n", "down", "down", "enter", "enter")
        assert isinstance(w.screen, AskText) and "What is the new build to be called?" in w.text()
        await w.press("escape")
        assert PAST in w.text(), "another one may be meant"
        await w.press("enter")
        await w.type("Second pack")
        assert (tmp_path / "second-pack.toml").exists() and w.app.path == tmp_path / "second-pack.toml"

    walk(steps, new_build(main_checklist()), main_checklist(), size=size, path=path, around=real)
