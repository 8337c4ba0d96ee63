"""Who ticks that the label is on the pack reads there what it has to say, or what is still missing for it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.judging import judge
from buildtrack.model.build import Entry, Reading
from buildtrack.record.label import label_lines
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import Walk, main_checklist, walk
from tests.make import NOW, sheet_with
from tests.test_bench_typing_ahead import bench

CLEARED = read_build(shipped_samples() / "garden-screwdriver-cleared.toml").build
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])


def panel(w: Walk) -> str:
    """What stands in the panel, its rows joined: the last column where it is wide, else what is below the line."""
    rows = w.text().splitlines()
    wide = max(row.count("│") for row in rows) > 1
    cut = [row.rpartition("│")[2] for row in rows] if wide else rows[next(n for n, r in enumerate(rows) if "─────" in r):]
    return " ".join(" ".join(cut).split())


@SIZES
def test_beside_the_tick_stands_the_text_of_the_label(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("label_fixed")
        await w.settle()
        assert "Li-ion pack 3INR19/66-2, 3S2P, home-built, not certified" in panel(w)

    walk(steps, CLEARED, main_checklist(), size=size)


def test_the_panel_says_what_the_printed_label_says() -> None:
    checklist = main_checklist()
    judged = judge(CLEARED, checklist, shipped_samples(), NOW)
    lines = [line.replace("\u00a0", " ") for line in label_lines(judged)]
    value = judged.assessment.sheet.value("label_text")
    assert [line for (line,) in value.value.lines] == lines  # type: ignore[union-attr]
    assert any(line == f"Record: {CLEARED.id}" for line in lines)
    assert any(line.startswith("The alarm sounds at 3.20 V per group") for line in lines)
    assert not any("____" in line for line in lines)


def test_a_label_that_lacks_something_says_what() -> None:
    bare = replace(CLEARED, entries={n: e for n, e in CLEARED.entries.items() if n != "charger_current"})

    async def steps(w: Walk) -> None:
        bench(w).jump("label_fixed")
        await w.settle()
        assert "Label: not yet, it needs Charge current" in panel(w)

    walk(steps, bare, main_checklist(), size=(120, 40))


def test_the_day_of_the_tick_that_the_groups_are_joined_is_the_day_it_was_built() -> None:
    found = sheet_with({"groups_joined": "yes"}, main_checklist())
    assert found.number("joined_day") == NOW.date().toordinal()
    for entry in (Entry((Reading("no", NOW),)), Entry((Reading("yes", None),)), Entry()):
        build = replace(CLEARED, entries={"groups_joined": entry})
        assert judge(build, main_checklist(), Path("."), NOW).assessment.sheet.number("joined_day") is None
