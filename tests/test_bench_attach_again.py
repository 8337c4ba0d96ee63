"""A log is never put over another one unasked: what stands, what comes, and that the old one stays, are told first."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from datetime import timedelta
from pathlib import Path

import pytest

from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.live import LiveLog
from tests.bench_walk import NOW, Clock, Walk, walk
from tests.test_bench_live import CHECKLIST, before_the_test, follow, look
from tests.test_log_follow import test as log_text

SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])


@pytest.fixture(autouse=True)
def own_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))


def logs(folder: Path) -> None:
    (folder / "first.csv").write_text(log_text(600), encoding="utf-8")
    (folder / "second.csv").write_text(log_text(700), encoding="utf-8")


def run(steps: Callable[[Walk], Awaitable[None]], folder: Path, size: tuple[int, int] = (80, 24),
        clock: Clock | None = None) -> None:  # fmt: skip
    logs(folder)
    walk(steps, before_the_test(), CHECKLIST, size=size, path=folder / "build.toml", clock=clock)


def attached(w: Walk) -> list[str]:
    return [r.text for r in w.build.entry("discharge_log").standing]


async def at_the_log(w: Walk) -> BenchScreen:
    assert isinstance(w.screen, BenchScreen)
    w.screen.jump("discharge_log")
    await w.settle()
    return w.screen


async def attach_by_key(w: Walk, name: str) -> None:
    await at_the_log(w)
    await w.press("a")
    await w.type(name)


@SIZES
def test_a_second_log_is_put_over_the_first_only_where_that_is_said(tmp_path: Path, size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await attach_by_key(w, "first.csv")
        assert attached(w) == ["first.csv"], "the first one is not asked about"
        await attach_by_key(w, "second.csv")
        assert isinstance(w.screen, AskOne) and attached(w) == ["first.csv"]
        shown = w.text()
        assert "first.csv" in shown and "second.csv" in shown and "stays in the build file" in shown
        await w.press("enter")
        assert attached(w) == ["first.csv"], "no is what Enter takes"
        screen = await at_the_log(w)
        assert screen.card.field.value == "second.csv", "the name is not lost"
        await w.press("enter", "enter", "2")
        assert attached(w)[-1] == "second.csv"
        assert [r.text for r in w.build.entry("discharge_log").readings] == ["first.csv", "second.csv"]
        assert w.build.history[-1].before.startswith("first.csv, SHA-256 ")
        await w.press("u")
        assert attached(w) == ["first.csv"], "one undo takes it back"

    run(steps, tmp_path, size)


def test_the_same_file_again_is_no_answer_and_a_file_of_the_name_with_other_rows_is_asked_about(tmp_path: Path) -> None:
    async def steps(w: Walk) -> None:
        await attach_by_key(w, "first.csv")
        await attach_by_key(w, "first.csv")
        screen = await at_the_log(w)
        assert attached(w) == ["first.csv"] and screen.card.field.value == ""
        (tmp_path / "first.csv").write_text(log_text(900), encoding="utf-8")
        await attach_by_key(w, "first.csv")
        assert isinstance(w.screen, AskOne) and "its rows of before are no longer in the folder" in w.text()
        await w.press("2")
        assert len(attached(w)) == 2

    run(steps, tmp_path)


def test_other_columns_of_the_same_log_are_a_correction_and_not_asked_about(tmp_path: Path) -> None:
    async def steps(w: Walk) -> None:
        await attach_by_key(w, "first.csv")
        await attach_by_key(w, "first.csv groups=4+5+6")
        assert isinstance(w.screen, BenchScreen)
        assert [r.columns for r in w.build.entry("discharge_log").standing] == ["", "groups=4+5+6"]

    run(steps, tmp_path)


def test_a_log_that_is_followed_is_put_over_another_one_only_where_that_is_said(tmp_path: Path) -> None:
    clock = Clock()

    async def steps(w: Walk) -> None:
        screen = await follow(w, "second.csv")
        await look(w)
        assert screen.followed is not None and screen.followed.path == "second.csv", "typed in place of the name there"
        clock.now = NOW + timedelta(seconds=90)
        await look(w)
        await w.press("f")
        assert isinstance(w.screen, AskOne) and "first.csv" in w.text()
        await w.press("enter")
        assert isinstance(w.screen, LiveLog) and attached(w) == ["first.csv"]
        await w.press("f", "2")
        assert attached(w)[-1] == "second.csv" and "Attached: second.csv" in screen.said

    async def begin(w: Walk) -> None:
        await attach_by_key(w, "first.csv")
        await at_the_log(w)
        await w.press("f", "l")
        await w.type("second.csv")
        await w.press("escape")
        await steps(w)

    run(begin, tmp_path, clock=clock)
