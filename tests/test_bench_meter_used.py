"""The maker's own meter counts: the only one that fits is used by itself, of several the key that chooses is shown."""

from __future__ import annotations

from dataclasses import replace

from buildtrack.bench.meters import fitting, only_fitting
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.model.build import Cell, Entry, Row
from tests.bench_walk import NOW, Walk, main_checklist, new_build, small_checklist, walk
from tests.test_bench_entry import PLAN, build_with

CHECKLIST = small_checklist()
CURRENT = CHECKLIST.items["free_current"]


def meters(*listed: tuple[str, str, str]) -> Entry:
    """A list of instruments: which meter, its quantity, its range."""
    rows = []
    for number, (meter, quantity, top) in enumerate(listed, 1):
        texts = {"meter": meter, "quantity": quantity, "range": top, "accuracy": "1 %"}
        rows.append(Row(f"m{number}", {name: Cell(text, NOW) for name, text in texts.items()}))
    return Entry(rows=tuple(rows))


ONE = build_with(**{**PLAN, "instruments": meters(("DMM", "voltage", "20 V"), ("clamp", "current", "40 A"))})
TWO = build_with(**{**PLAN, "instruments": meters(("DMM", "current", "20 A"), ("clamp", "current", "40 A"))})


def test_the_one_that_fits_dimension_and_range_is_found_and_ranges_of_one_meter_are_one() -> None:
    assert only_fitting(ONE, CURRENT) == "m2"
    assert fitting(TWO, CURRENT) == ["m1", "m2"] and only_fitting(TWO, CURRENT) == ""
    short = build_with(**{**PLAN, "instruments": meters(("DMM", "current", "0.2 A"), ("clamp", "current", "40 A"))})
    assert only_fitting(short, CURRENT) == "m2", "0.2 A does not reach what is usual here"
    ranges = build_with(**{**PLAN, "instruments": meters(("DMM", "current", "40 A"), ("DMM", "current", "20 A"))})
    assert only_fitting(ranges, CURRENT) == "m2", "the smallest range that fits"


def test_a_reading_is_taken_with_the_only_meter_that_fits_and_the_card_says_so() -> None:
    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("free_current")
        await w.settle()
        assert "with m2" in w.text()
        await w.type("1.1")
        assert [r.instrument for r in w.build.entry("free_current").standing] == ["m2"]

    walk(steps, ONE, CHECKLIST)


def test_of_several_the_card_and_the_narrow_footer_name_the_key_until_one_is_chosen() -> None:
    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("free_current")
        await w.settle()
        foot = w.text().splitlines()[-1]
        assert "i chooses the instrument" in w.text() and "i instrument" in foot
        await w.press("i", "1")
        assert "with m1" in w.text() and "chooses the instrument" not in w.text()
        await w.type("1.1")
        assert [r.instrument for r in w.build.entry("free_current").standing] == ["m1"]

    walk(steps, TWO, CHECKLIST)


MAIN = main_checklist()
FINE_CLAMP = {"meter": "clamp", "quantity": "current", "range": "40 A", "resolution": "10 mA", "accuracy": "2 % + 5 digits"}
CLAMPED = replace(new_build(MAIN), entries={
    "instruments": Entry(rows=(Row("m3", {name: Cell(text, NOW) for name, text in FINE_CLAMP.items()}),))})  # fmt: skip


def noted(w: Walk, item: str) -> list[str]:
    return [r.instrument for r in w.build.entry(item).standing]


def test_the_card_of_a_microampere_item_says_that_no_listed_instrument_fits_and_none_is_noted() -> None:
    async def steps(w: Walk) -> None:
        bench = w.screen
        assert isinstance(bench, BenchScreen)
        bench.jump("board_idle_current")
        await w.settle()
        assert any("no listed instrument fits: i names one" in piece.text for piece in bench.card.says.facts)
        bench.take(MAIN.items["board_idle_current"], "18 µA")
        await w.settle()
        assert noted(w, "board_idle_current") == [""]
        w.app.instruments.choose(MAIN.items["board_idle_current"], None, "m3")
        bench.take(MAIN.items["board_idle_current"], "19 µA")
        await w.settle()
        assert noted(w, "board_idle_current")[-1] == "m3", "who names one just there is believed"

    walk(steps, CLAMPED, MAIN, size=(120, 40))


def test_a_printed_figure_is_offered_no_instrument_and_i_says_why() -> None:
    async def steps(w: Walk) -> None:
        bench = w.screen
        assert isinstance(bench, BenchScreen)
        w.app.instruments.choose(MAIN.items["board_idle_current"], None, "m3")  # chosen in the same step
        bench.jump("fuse_rating")
        await w.settle()
        assert "with m3" not in w.text() and "instrument fits" not in w.text()
        await w.press("i")
        assert "no instrument of the list reads it" in " ".join(w.text().split())
        w.app.instruments.choose(MAIN.items["fuse_rating"], None, "m3")  # no key does that
        bench.take(MAIN.items["fuse_rating"], "20 A")
        await w.settle()
        assert noted(w, "fuse_rating") == [""]

    walk(steps, CLAMPED, MAIN, size=(120, 40))


def test_what_is_taken_over_is_noted_with_no_instrument_and_a_reading_too_small_for_it_is_told() -> None:
    async def steps(w: Walk) -> None:
        bench = w.screen
        assert isinstance(bench, BenchScreen)
        working = MAIN.items["working_current"]
        bench.jump("working_current")
        await w.settle()
        assert "with m3" in w.text()
        bench.value_class = "taken over"
        bench.redraw()
        await w.settle()
        assert "with m3" not in w.text() and "next answer: taken over" in w.text()
        for text, name in (("12 A", ""), ("11 A", "m3"), ("0.20 A", "")):  # the class is measured again after an answer
            bench.take(working, text)
            assert noted(w, "working_current")[-1] == name, text
        assert bench.said == (
            "m3 does not show 0.20 A well: taken without an instrument. i at 'Current in the real job' names one.")

    walk(steps, CLAMPED, MAIN, size=(120, 40))


def test_a_column_of_printed_figures_says_nothing_of_instruments_and_the_next_one_does() -> None:
    async def steps(w: Walk) -> None:
        table = TableScreen("candidates")
        await w.app.push_screen(table)
        await w.settle()
        told = {}
        for column in ("rated_current", "dc_current_2"):
            table.grid.go(0, [c.id for c in table.columns].index(column))
            await w.settle()
            told[column] = "with m3" in w.text() or "instrument named" in w.text()
        assert told == {"rated_current": False, "dc_current_2": True}

    begun = replace(CLAMPED, entries={**CLAMPED.entries, "candidates": Entry(rows=(Row("c01"),))})
    walk(steps, begun, MAIN, size=(120, 40))
