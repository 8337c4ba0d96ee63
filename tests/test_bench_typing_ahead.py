"""Nothing typed is lost, whatever the speed: keys sent at once arrive where they were meant to."""

from __future__ import annotations

import pytest

from tests.bench_walk import Walk, new_build, small_checklist, walk
from tests.test_bench_entry import PLAN, build_with

CHECKLIST = small_checklist()
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])


@SIZES
def test_readings_sent_in_one_burst_all_arrive(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.burst("1.0 A", "enter", "1.1 A", "enter", "1.25 A", "enter", "5.5 A", "enter", "6 A", "enter")
        assert [r.text for r in w.build.entry("free_current").standing] == ["1.0 A", "1.1 A", "1.25 A"]
        assert [r.text for r in w.build.entry("working_current").standing] == ["5.5 A", "6 A"]

    walk(steps, build_with(**PLAN), CHECKLIST, size=size)


def test_answers_of_different_kinds_sent_in_one_burst_all_arrive() -> None:
    async def steps(w: Walk) -> None:
        await w.burst("enter", "a drill", "enter", "2", "12", "enter", "y")
        assert {n: w.build.entry(n).standing[-1].text for n in ("tool", "tool_kind", "rated_voltage", "charging_site")} == {
            "tool": "a drill",
            "tool_kind": "garden",
            "rated_voltage": "12",
            "charging_site": "yes",
        }

    walk(steps, new_build(CHECKLIST), CHECKLIST)
