"""Two builds side by side: what differs is marked, shown whole, gone to by a key, or shown alone."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from datetime import date

import pytest

from buildtrack.bench.compare_view import counted, side_by_side
from buildtrack.bench.screens.comparison import Comparison
from buildtrack.bench.screens.reading import ReadOn
from buildtrack.bench.shelf_list import Compared, Shelved, column_widths, compare_lines, row_words
from buildtrack.bench.widgets.line_text import Line
from buildtrack.bench.widgets.lines import LineList
from tests.bench_walk import Walk, new_build, small_checklist, walk

SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40), (170, 48)])
LONG = "The two outer cells were found warm after the soak, so the stack was opened and every joint was looked at "
ROWS = (
    Compared("", "title", "9.6 V drill", "9.6 V drill no 2"),
    Compared("", "verdict", "cleared", "cleared"),
    Compared("Plan", "Notes on the plan", LONG + "twice.", LONG + "once."),
    *(Compared("Load", f"Reading {n}", "3 A", "3 A") for n in range(40)),
    Compared("Load", "Last reading", "3 A", "4 A"),
    Compared("Load", "Only here", "5 A", ""),
)


def text(entry: Line) -> str:
    return "".join(p.text for p in entry.left)


def unbroken(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


def run(steps: Callable[[Walk], Awaitable[None]], size: tuple[int, int]) -> None:
    checklist = small_checklist()

    async def shown(w: Walk) -> None:
        w.app.push_screen(Comparison(ROWS))
        await w.settle()
        await steps(w)

    walk(shown, new_build(checklist), checklist, size=size)


@pytest.mark.parametrize("width", [70, 110, 160])
def test_every_row_that_differs_is_marked_and_only_those(width: int) -> None:
    lines = [text(each) for each in side_by_side(ROWS, width)]
    marked = [each for each in lines if each.startswith("≠")]
    assert [m[2:].split("  ")[0].strip() for m in marked] == [r.label for r in ROWS if r.differs]
    assert "3 of them differ;" in counted(ROWS) and counted(ROWS[:2]) == "both have 2, and 1 of them differs"
    assert any(each.startswith("≠ title") for each in lines)


@pytest.mark.parametrize("width", [70, 110, 160])
def test_values_that_differ_are_told_whole_side_by_side_and_in_print(width: int) -> None:
    half = max(12, (width - max(20, min(40, width // 3)) - 6) // 2)
    lines = [text(each) for each in side_by_side(ROWS, width)]
    assert all(len(each) <= width for each in lines)
    begin = next(n for n, each in enumerate(lines) if "Notes on the plan" in each)
    end = next(n for n in range(begin, len(lines)) if not lines[n].strip())
    second = [each[4 + max(20, min(40, width // 3)) + half + 2 :] for each in lines[begin:end]]
    assert unbroken(second) == LONG + "once."
    printed = list(compare_lines(ROWS, width))
    side = max(12, (width - 40) // 2)
    told = [each[38 + side + 2 :] for each in printed if each.strip() and "Reading" not in each]
    assert LONG + "once." in unbroken(told)


@SIZES
def test_x_goes_from_difference_to_difference_and_d_shows_these_alone(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        shown = w.screen.query_one(LineList)
        seen = []
        await w.press("home")
        for _ in range(4):
            await w.press("x")
            assert text(shown.lines[shown.current]).startswith("≠")
            assert "▸" in w.text()
            seen.append(shown.current_key)
        assert seen == ["row:2", "row:43", "row:44", "row:0"], "after the last one the first"
        await w.press("d")
        assert [each.key for each in shown.lines if each.key] == ["row:0", "row:2", "row:43", "row:44"]
        assert "Reading 3" not in w.text() and "d: all rows" in w.text()
        await w.press("d")
        assert len([each.key for each in shown.lines if each.key]) == len(ROWS)

    run(steps, size)


@SIZES
def test_enter_reads_both_values_of_a_row_in_full(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("home", "x", "enter")
        assert isinstance(w.screen, ReadOn)
        shown = w.screen.query_one(LineList)
        told = unbroken(["".join(p.text for p in row.left) for row in shown.rows(shown.size.width)])
        assert "Notes on the plan" in w.text() and LONG + "twice." in told and LONG + "once." in told
        assert "9.6 V drill no 2" in told, "under the title of each"
        await w.press("escape")
        assert isinstance(w.screen, Comparison)

    run(steps, size)


@SIZES
def test_f1_explains_the_keys_and_leads_back_to_the_comparison(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f1")
        assert isinstance(w.screen, ReadOn) and "Show only the rows that differ" in w.text()
        await w.press("escape")
        assert isinstance(w.screen, Comparison)
        assert any("x: next difference" in row and "F1" in row for row in w.text().splitlines())

    run(steps, size)


def test_numbers_of_the_shelf_stand_to_the_right() -> None:
    rows = [Shelved("a.toml", "A", capacity="588.0 mAh", usable="94.1 %", layout="2S2P"),
            Shelved("b.toml", "B", capacity="3017 mAh", usable="97.11 %", layout="3S1P")]
    widths = column_widths(rows, 120)
    first, second = (row_words(r, widths, date(2026, 11, 25)) for r in rows)
    assert first.index("588.0 mAh") + len("588.0 mAh") == second.index("3017 mAh") + len("3017 mAh")
    assert first.index("94.1 %") + len("94.1 %") == second.index("97.11 %") + len("97.11 %")


def test_a_file_that_is_no_build_is_named_once() -> None:
    told = row_words(Shelved("/x/damaged.toml", "", problem="damaged.toml: line 3: is not TOML"), [20], date(2026, 1, 1))
    assert told == "✗ damaged.toml: line 3: is not TOML"
