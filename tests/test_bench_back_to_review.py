"""Who goes from the review to an item comes back with Esc, to the line the way began at; until other work goes on."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.help import help_page
from buildtrack.bench.screens.review import ReviewScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.widgets.lines import LineList
from buildtrack.model.build import Build, Entry
from tests.bench_walk import Walk, new_build, small_checklist, walk
from tests.test_bench_entry import CELLS, LOAD, PLAN, answered

CHECKLIST = small_checklist()
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])
BACK = "Esc back to the review"


def full_build(**more: Entry) -> Build:
    entries = {**PLAN, **LOAD, "series_count": answered("3"), "candidates": CELLS, **more}
    return replace(new_build(CHECKLIST), entries=entries)


def bench(w: Walk) -> BenchScreen:
    assert isinstance(w.screen, BenchScreen)
    return w.screen


def lines(w: Walk) -> LineList:
    assert isinstance(w.screen, ReviewScreen)
    return w.screen.query_one(LineList)


async def to_evidence(w: Walk, name: str, which: int = 0) -> int:
    """Open every question of the review and follow the line of an item to the bench; the number of that line."""
    await w.press("f5")
    assert isinstance(w.screen, ReviewScreen)
    w.screen.opened = {entry.key for entry in lines(w).lines if entry.key.startswith("question:")}
    w.screen.redraw()
    at = [n for n, entry in enumerate(lines(w).lines) if entry.key == f"item:{name}"][which]
    lines(w).current = at
    await w.press("enter")
    assert bench(w).item_id == name
    return at


@SIZES
def test_escape_at_the_item_leads_back_to_the_line_it_was_followed_from(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        at = await to_evidence(w, "rated_voltage")
        assert BACK in w.text()
        await w.press("escape")
        assert lines(w).current == at and lines(w).current_key == "item:rated_voltage"

    walk(steps, full_build(), CHECKLIST, size=size)


def test_a_text_is_dropped_by_the_first_escape_and_the_second_leads_back() -> None:
    async def steps(w: Walk) -> None:
        at = await to_evidence(w, "rated_voltage")
        await w.press("9")
        assert BACK not in w.text(), "in a field Esc drops the text"
        await w.press("escape")
        assert bench(w).card.field.value == "" and BACK in w.text()
        await w.press("escape")
        assert lines(w).current == at

    walk(steps, full_build(), CHECKLIST)


def test_an_answer_corrected_where_the_review_led_to_leaves_the_way_back() -> None:
    async def steps(w: Walk) -> None:
        at = await to_evidence(w, "rated_voltage")
        await w.press("e")
        await w.type("14.4 V")
        assert w.build.entry("rated_voltage").standing[-1].text == "14.4 V" and BACK in w.text()
        await w.press("escape")
        assert lines(w).current_key == "item:rated_voltage" and abs(lines(w).current - at) < 9
        assert "14.4 V" in w.text()

    walk(steps, full_build(), CHECKLIST)


def test_looking_at_other_items_keeps_the_way_back_and_an_answer_to_another_one_ends_it() -> None:
    async def steps(w: Walk) -> None:
        at = await to_evidence(w, "rated_voltage")
        await w.press("right_square_bracket")
        assert bench(w).item_id != "rated_voltage" and BACK in w.text(), "looking goes on with nothing"
        await w.press("escape")
        assert lines(w).current == at
        await w.press("enter")
        bench(w).jump("free_current")
        await w.settle()
        await w.type("1.3 A")
        assert BACK not in w.text()
        await w.press("escape")
        assert isinstance(w.screen, BenchScreen), "the work goes on"

    walk(steps, full_build(), CHECKLIST)


def test_a_table_filled_in_where_the_review_led_to_leaves_the_way_back() -> None:
    async def steps(w: Walk) -> None:
        at = await to_evidence(w, "candidates")
        await w.press("enter", "a")
        await w.type("a lamp")
        assert isinstance(w.screen, TableScreen)
        assert w.build.entry("candidates").rows[-1].text("source") == "a lamp"
        await w.press("escape", "escape")
        assert isinstance(w.screen, BenchScreen) and BACK in w.text()
        await w.press("escape")
        assert lines(w).current_key == "item:candidates" and abs(lines(w).current - at) < 9

    walk(steps, full_build(), CHECKLIST)


def test_who_went_to_the_bench_by_its_own_key_is_not_led_back() -> None:
    async def steps(w: Walk) -> None:
        await to_evidence(w, "rated_voltage")
        await w.press("f5", "f7")
        assert BACK not in w.text()
        await w.press("escape")
        assert isinstance(w.screen, BenchScreen)

    walk(steps, full_build(), CHECKLIST)


def test_on_an_unanswered_item_of_words_escape_leads_back_and_frees_no_letters() -> None:
    async def steps(w: Walk) -> None:
        at = await to_evidence(w, "tool")
        assert "letters begin the text" in w.text() and BACK in w.text() and "letter keys" not in w.text()
        await w.press("escape")
        assert lines(w).current == at

    entries = {name: entry for name, entry in full_build().entries.items() if name != "tool"}
    walk(steps, replace(full_build(), entries=entries), CHECKLIST)


@SIZES
def test_an_item_reached_through_an_explanation_leads_back_as_well(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f5")
        lines(w).select("check:supply-high")
        at = lines(w).current
        await w.press("enter", "enter")
        assert bench(w).item_id in ("supply_voltage", "rated_voltage") and BACK in w.text()
        await w.press("escape")
        assert lines(w).current == at

    walk(steps, full_build(supply_voltage=answered("14 V")), CHECKLIST, size=size)


def test_of_two_lines_of_one_item_the_one_that_was_followed_is_come_back_to() -> None:
    async def steps(w: Walk) -> None:
        at = await to_evidence(w, "candidates", which=3)
        await w.press("enter", "a")
        await w.type("a lamp")
        await w.press("escape", "escape", "escape")
        same = [n for n, entry in enumerate(lines(w).lines) if entry.key == "item:candidates"]
        assert lines(w).current == same[3] and abs(same[3] - at) < 9

    walk(steps, full_build(), CHECKLIST)


def test_the_help_tells_of_the_way_back() -> None:
    told = " ".join(piece.text for entry in help_page("bench", {}, ()) for piece in entry.left)
    assert "where the review led to an item, back to its line there" in " ".join(told.split())
