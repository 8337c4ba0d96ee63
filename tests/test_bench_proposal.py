"""The proposed grouping on the bench: what it would raise is said with its severity, and none that is stopped is best."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buildtrack.bench.proposals import best_grouping
from buildtrack.bench.screens.ask import AskOne
from buildtrack.model.build import Build, Cell
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import Walk, main_checklist, walk
from tests.test_bench_guidance import sample_build, with_entries
from tests.test_bench_typing_ahead import table

SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])
SAMPLE = "garden-screwdriver-cleared"


def smallest_cell_has(milliohm: float) -> Build:
    """The sample with its groups emptied, and the smallest kept cell, c06, of another resistance (a step of 1.76 A)."""
    sample = sample_build(SAMPLE)
    emptied = tuple(replace(r, cells={k: v for k, v in r.cells.items() if k != "cells"}) for r in sample.entry("groups").rows)
    rows = list(sample.entry("candidates").rows)
    last = next(n for n, row in enumerate(rows) if row.id == "c06")
    steps = {"dc_voltage_1": Cell("4.076 V"), "dc_current_1": Cell("0.440 A"), "dc_current_2": Cell("2.200 A"),
             "dc_voltage_2": Cell(f"{4.076 - 1.76 * milliohm / 1000:.3f} V")}  # fmt: skip
    rows[last] = replace(rows[last], cells={**rows[last].cells, **steps})
    return with_entries(sample, groups=replace(sample.entry("groups"), rows=emptied),
                        candidates=replace(sample.entry("candidates"), rows=tuple(rows)))  # fmt: skip


@SIZES
def test_a_stop_that_no_grouping_avoids_is_announced_as_a_stop_and_nothing_is_called_best(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await table(w, "groups")
        await w.press("b")
        assert isinstance(w.screen, AskOne)
        assert w.screen.title_text == "No grouping without a stop was found. Fill in this one all the same?"
        raised = [line for line in w.screen.more.splitlines() if "One cell would carry the work of two" in line]
        assert len(raised) == 1 and raised[0].startswith("✗ It raises a stop: ")
        assert "No grouping of these cells avoids a stop" in w.screen.more and "What helps: " in w.screen.more
        assert "best" not in w.screen.more
        assert "▲ It raises a caution: " in w.screen.more, "a caution keeps its own sign and word"

    walk(steps, smallest_cell_has(190), main_checklist(), size=size, path=shipped_samples() / f"{SAMPLE}.toml")


@SIZES
def test_the_proposal_raises_no_stop_where_a_grouping_without_one_exists(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await table(w, "groups")
        await w.press("b")
        assert isinstance(w.screen, AskOne) and w.screen.title_text == "Take the proposed grouping over?"
        assert "✗" not in w.screen.more and "proven best within the limits" in w.screen.more
        await w.press("1")
        assert w.app.desk is not None
        best = best_grouping(w.app.desk, w.app.desk.checklist.items["groups"])
        assert best is not None and not best.refused
        failing = {r.check for r in w.app.desk.judged.assessment.results if r.severity == "stop" and r.outcome == "fail"}
        assert not failing & {"group-resistances-far-apart", "working-current-above-allowance"}

    walk(steps, smallest_cell_has(140), main_checklist(), size=size, path=shipped_samples() / f"{SAMPLE}.toml")
