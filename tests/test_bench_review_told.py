"""What a review says of itself: counts that add up, decisions that name what is agreed with, all a check compares."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.review import ReviewScreen
from buildtrack.bench.screens.why import Why
from buildtrack.bench.widgets.lines import LineList
from buildtrack.checks.review import answers, counted
from buildtrack.judging import judge
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import NOW, Walk, walk
from tests.test_bench_guidance import sample_build

DRILL = sample_build("drill-not-cleared")
CHECKLIST = find_checklist(DRILL.checklist.id)
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])


def shown(w: Walk) -> list[str]:
    lines = w.screen.query_one(LineList).lines
    return ["".join(p.text for p in (*entry.left, *entry.right)) for entry in lines]


def test_the_counts_of_questions_add_up_and_count_every_one_that_is_not_answered() -> None:
    judged = judge(DRILL, CHECKLIST, Path("/nowhere"), NOW)
    given = answers(DRILL, CHECKLIST, judged.assessment)
    told = counted(given)
    without = re.sub(r" \(.*?\)", "", told)
    assert sum(int(n) for n in re.findall(r"\d+", without)) == len(given)
    silent = sum(a.words.startswith("not answered") for a in given)
    said = [int(n) for n in re.findall(r"(\d+)(?: of them)? not answered by this record", told)]
    assert sum(said) == silent
    both = [replace(a, state="finding", base="not answered") for a in given[:2]]
    assert counted((*both, *given[2:])).startswith(f"{2 + sum(a.state == 'finding' for a in given[2:])} with an open")
    assert "of them not answered by this record)" in counted((*both, *given[2:]))


@SIZES
def test_a_decision_names_the_verdict_that_is_agreed_with_and_reads_as_no_approval(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f5", "d")
        assert isinstance(w.screen, AskOne)
        told = " ".join(w.text().split())
        assert "agree with the verdict 'not cleared'" in told and "this pack may not be used" in told
        await w.press("1", "enter")
        await w.type("J. Reader")
        assert w.build.reviews[-1].decision == "agree with the verdict 'not cleared'"
        assert any("J. Reader" in each and "'not cleared'" in each for each in shown(w))
        assert w.build.history[-1].what == "reviewed" and "'not cleared'" in w.build.history[-1].after

    walk(steps, DRILL, CHECKLIST, size=size)


def test_who_agrees_with_a_cleared_pack_is_told_nothing_of_use() -> None:
    build = sample_build("garden-screwdriver-cleared")

    async def steps(w: Walk) -> None:
        await w.press("f5", "d")
        assert "may not be used" not in " ".join(w.text().split())

    walk(steps, build, find_checklist(build.checklist.id), path=shipped_samples() / "garden-screwdriver-cleared.toml")


@SIZES
def test_a_remark_on_one_question_stands_in_the_remarks_of_the_decision(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f5", "home", "m")
        assert isinstance(w.screen, ReviewScreen) and "Go to a question first" in w.text()
        lines = w.screen.query_one(LineList)
        asked = [each.key for each in lines.lines if each.key.startswith("question:")]
        for key, words in ((asked[3], "which tester?"), (asked[7], "no photo")):
            lines.select(key)
            await w.press("m")
            assert isinstance(w.screen, AskText)
            await w.type(words)
        await w.press("d", "3", "enter")
        await w.type("J. Reader")
        numbers = [key.removeprefix("question:q") for key in (asked[3], asked[7])]
        assert w.build.reviews[-1].remarks == f"question {numbers[0]}: which tester?; question {numbers[1]}: no photo"

    walk(steps, DRILL, CHECKLIST, size=size)


@SIZES
def test_why_of_a_check_lists_all_it_compares_and_each_leads_on(size: tuple[int, int]) -> None:
    """Its sentence speaks of the moment the alarm sounds at the latest and of the board's cutoff with its tolerance."""

    async def steps(w: Walk) -> None:
        await w.press("f5")
        w.screen.query_one(LineList).select("check:alarm-below-cutoff")
        await w.press("enter")
        assert isinstance(w.screen, Why)
        lines = w.screen.query_one(LineList).lines
        told = shown(w)
        compares = told[told.index("Compares") + 1 :]
        assert any("2.79" in each for each in compares) and any("2.9" in each for each in compares)
        workings = [each.key for each in lines if each.key.startswith("working:")]
        assert len(workings) >= 2
        w.screen.query_one(LineList).select(workings[-1])
        await w.press("enter")
        items = [each.key for each in w.screen.query_one(LineList).lines if each.key.startswith("item:")]
        assert items, "what the value rests on can be gone to"
        w.screen.query_one(LineList).select(items[0])
        await w.press("enter")
        assert isinstance(w.screen, BenchScreen) and f"item:{w.screen.item_id}" == items[0]

    walk(steps, DRILL, CHECKLIST, size=size)
