"""In the review a question is seen with its answer, and what Enter opens is seen; a filter of the shelf ends by Esc."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.bench.drafts import THE_BUILD
from buildtrack.bench.onward import onward
from buildtrack.bench.screens.ask import question_place
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.review import REVIEWER, ReviewScreen
from buildtrack.bench.screens.shelf import ShelfScreen
from buildtrack.bench.surroundings import Surroundings
from buildtrack.bench.widgets.lines import LineList
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import Clock, MemorySession, Walk, new_build, small_checklist, walk
from tests.test_bench_guidance import sample_build
from tests.test_bench_typing_ahead import bench

NOTHING_LEFT = "nothing is left to do: review (F5), record (F9)"
CHECKLIST = small_checklist()
DRILL = sample_build("drill-not-cleared")
SCREWDRIVER = shipped_samples() / "garden-screwdriver-cleared.toml"
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])


@pytest.fixture(autouse=True)
def own_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))


def seen(shown: LineList) -> set[int]:
    """Places of the lines of which the last row is on the screen."""
    rows = shown.rows(shown._text_width())
    last = {row.line: n for n, row in enumerate(rows)}
    return {at for at, n in last.items() if shown.top <= n < shown.top + shown.inner().height}


@SIZES
def test_x_shows_every_question_it_goes_to_together_with_its_answer(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f5")
        shown = w.screen.query_one(LineList)
        reached: list[str] = []
        for _ in range(60):
            await w.press("x")
            if shown.current_key in reached:
                break
            assert {shown.current, shown.current + 1} <= seen(shown), shown.current_key
            reached.append(shown.current_key)
        assert len(reached) > 10, "all open questions were gone through"

    walk(steps, DRILL, find_checklist(DRILL.checklist.id), size=size)


@SIZES
def test_evidence_that_enter_opens_below_the_edge_is_scrolled_to(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f5")
        assert isinstance(w.screen, ReviewScreen)
        shown = w.screen.query_one(LineList)
        keys = [each.key for each in shown.lines if each.key.startswith("question:")]
        shown.select(keys[len(keys) // 2])
        shown.top += 1  # the question stands in the last row but one, its answer in the last
        await w.settle()
        before = len(shown.lines)
        await w.press("enter")
        further = len(shown.lines) - before
        assert further > 0
        below = set(range(shown.current, shown.current + min(further, shown.inner().height // 4) + 1))
        assert below <= seen(shown), "the question and what was opened"

    walk(steps, DRILL, find_checklist(DRILL.checklist.id), size=size)


@SIZES
def test_esc_on_a_filtered_shelf_shows_every_build_again_and_only_then_leaves(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    folder = tmp_path / "builds"
    shutil.copytree(shipped_samples(), folder)

    async def steps(w: Walk) -> None:
        await w.press("f6", "slash")
        await w.type("screwdriver")
        assert isinstance(w.screen, ShelfScreen) and "holding: screwdriver" in w.text()
        few = len(w.screen.query_one(LineList).lines)
        await w.press("escape")
        assert isinstance(w.screen, ShelfScreen) and "holding" not in w.text()
        assert len(w.screen.query_one(LineList).lines) > few and "Every build is shown again" in w.text()
        await w.press("escape")
        assert isinstance(w.screen, BenchScreen)

    walk(steps, new_build(CHECKLIST), CHECKLIST, size=size, path=folder / "shed-light-cleared.toml",
         around=lambda s: replace(Surroundings(), clock=Clock()))


def test_next_is_the_re_check_that_is_due_and_not_that_nothing_is_left() -> None:
    """The sample was handed over in August; its re-check is due in November, some days before the clock here."""
    build = sample_build("garden-screwdriver-cleared")

    async def steps(w: Walk) -> None:
        assert w.app.desk is not None
        following = onward(w.app.desk)
        due = any("due since" in text and "re-check the pack" in text for text in w.app.desk.due_lines())
        assert due and following.item == "rechecks" and "re-check the pack" in following.text
        assert NOTHING_LEFT not in " ".join(w.text().split())
        bench(w).jump("tool")
        await w.settle()
        await w.press("x")
        assert bench(w).item_id == "rechecks"

    walk(steps, build, find_checklist(build.checklist.id), size=(120, 40), path=SCREWDRIVER)


def test_nothing_is_left_where_nothing_is_due_yet() -> None:
    build = sample_build("garden-screwdriver-cleared")
    last = build.history[-1].at
    assert last is not None

    async def steps(w: Walk) -> None:
        assert w.app.desk is not None and onward(w.app.desk).text == NOTHING_LEFT

    walk(steps, build, find_checklist(build.checklist.id), clock=Clock(last), path=SCREWDRIVER)


def test_the_word_theme_leads_in_the_palette_to_the_look_first() -> None:
    async def steps(w: Walk) -> None:
        await w.press("ctrl+p", *"theme")
        await w.pilot.pause(0.5)
        await w.settle()
        before = w.app.theme
        await w.press("enter")
        if w.app.theme == before:
            await w.press("enter")
        assert w.app.theme != before

    walk(steps, DRILL, find_checklist(DRILL.checklist.id))


def test_a_note_of_the_opening_goes_once_it_is_not_so_any_more() -> None:
    typed = {question_place(REVIEWER, THE_BUILD): "J. Rea"}

    async def steps(w: Walk) -> None:
        assert "typed before and not taken yet" in w.text() and "J. Rea" in w.text()
        await w.press("f5", "d", "1", "enter", "enter")
        assert w.build.reviews[-1].reviewer == "J. Rea"
        await w.press("f7")
        assert isinstance(w.screen, BenchScreen) and "not taken yet" not in w.text()

    session = MemorySession(DRILL, find_checklist(DRILL.checklist.id), Path("/nowhere/b.toml"), typed=typed)
    walk(steps, DRILL, session.checklist, session=session)


def test_what_was_said_of_a_dropped_text_does_not_follow_into_another_step() -> None:
    async def steps(w: Walk) -> None:
        await w.press(*"drill")
        await w.press("escape")
        assert "ropped" in w.text() and bench(w).step.id == "plan"
        await w.press("g", "down", "enter")
        assert bench(w).step.id != "plan" and "ropped" not in w.text()

    walk(steps, new_build(CHECKLIST), CHECKLIST)
