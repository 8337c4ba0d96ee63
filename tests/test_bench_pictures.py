"""What a picture says without being measured by eye: where bars begin, which day is which, which tap is wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.bench.pictures import PICTURES, charge, rechecks, wiring
from buildtrack.bench.screens.pictures import Pictures
from buildtrack.bench.widgets.line_text import Line
from buildtrack.judging import Judged, judge
from buildtrack.model.build import Build, Cell, Entry
from buildtrack.storage.checklist_file import find_checklist
from tests.bench_walk import NOW, Walk, walk
from tests.test_bench_guidance import sample_build

DRILL = sample_build("drill-not-cleared")
SCREWDRIVER = sample_build("garden-screwdriver-cleared")
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])
Picture = Callable[[Judged, int, int], Iterator[Line]]


def drawn(picture: Picture, build: Build, width: int = 100) -> list[Line]:
    return list(picture(judge(build, find_checklist(build.checklist.id), Path("/nowhere"), NOW), width, 12))


def text(entry: Line) -> str:
    return "".join(p.text for p in (*entry.left, *entry.right))


@pytest.mark.parametrize("width", [72, 110])
def test_bars_of_the_spread_say_the_voltage_they_begin_at(width: int) -> None:
    lines = [text(each) for each in drawn(charge, DRILL, width)]
    said = next(each for each in lines if "bars begin at" in each)
    begin = float(said.split("bars begin at ")[1].split()[0])
    bars = {float(each.split()[2]): each.count("█") for each in lines if "█" in each}
    (low, short), (high, long) = sorted(bars.items())
    assert short / long == pytest.approx((low - begin) / (high - begin), abs=0.03), "and the bars are drawn from there"
    assert said.index("bars") == next(each for each in lines if "█" in each).index("█"), "where that begins"


def test_values_of_re_checks_stand_under_their_days_also_where_one_was_not_read() -> None:
    rows = SCREWDRIVER.entry("rechecks").rows
    without = replace(rows[0], cells={k: c for k, c in rows[0].cells.items() if k != "g2"})
    build = replace(SCREWDRIVER, entries={**SCREWDRIVER.entries, "rechecks": Entry(rows=(without, *rows[1:]))})
    lines = [text(each) for each in drawn(rechecks, build)]
    head = next(n for n, each in enumerate(lines) if each.startswith("group"))
    assert lines[head].split() == ["group", *(r.text("on") for r in rows)]
    second = next(each for each in lines[head:] if each.startswith("g2"))
    assert second.split() == ["g2", "-", f"{float(rows[1].text('g2').split()[0]):.3f}", "V"]


@pytest.mark.parametrize("width", [72, 110])
def test_a_fault_of_the_wiring_has_a_sign_and_the_ink_of_faults_where_it_is(width: int) -> None:
    lines = drawn(wiring, DRILL, width)
    told = next(each for each in lines if "swapped" in text(each))
    assert text(told).startswith("✗ ") and told.left[0].look == "bad"
    for tap in ("B1", "B2"):
        entry = next(each for each in lines if text(each).strip("✗ ").startswith(tap))
        assert text(entry).startswith("✗ ") and entry.left[0].look == "bad"
    sound = next(each for each in lines if text(each).strip().startswith("B0"))
    assert "✗" not in text(sound) and sound.left[0].look == "head"
    step = next(text(each) for each in lines if "-3.799 V" in text(each))
    assert step.index("-3.799") - step.index("c03 c04") < 20, "the step stands beside its group"


def test_a_group_that_reads_too_little_is_marked_itself() -> None:
    """The first group has 3.8 V, the second 2.4 V: below what any cell of this kind may have."""
    volts = dict(zip(("B0", "B1", "B2"), ("0.000", "3.800", "6.200"), strict=True))
    rows = tuple(replace(r, cells={**r.cells, "voltage": Cell(volts[r.id], NOW)}) for r in DRILL.entry("taps").rows)
    build = replace(DRILL, entries={**DRILL.entries, "taps": Entry(rows=rows)})
    lines = drawn(wiring, build)
    group = next(each for each in lines if "g2 " in text(each))
    assert text(group).endswith("✗") and group.left[-1].look == "bad"
    assert "✗" not in text(next(each for each in lines if "g1 " in text(each)))


def test_a_wiring_without_a_fault_has_no_sign_of_one() -> None:
    assert all("✗" not in text(each) for each in drawn(wiring, SCREWDRIVER))


@SIZES
def test_the_line_of_pictures_marks_the_one_that_is_seen_and_calls_it_as_its_title_does(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f3")
        assert isinstance(w.screen, Pictures)
        for number, (name, title, _) in enumerate(PICTURES):
            await w.press(str(number + 1))
            keys = w.text().splitlines()[-2]
            assert keys.count("▸") == 1 and f"▸{number + 1} {name}" in keys
            assert name.casefold() in title.casefold() and title in w.text()
            assert "Esc" in keys, "nothing of the line is cut"

    walk(steps, DRILL, find_checklist(DRILL.checklist.id), size=size)
