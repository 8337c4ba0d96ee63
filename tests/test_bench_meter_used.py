"""The maker's own meter counts: the only one that fits is used by itself, of several the key that chooses is shown."""

from __future__ import annotations

from buildtrack.bench.meters import fitting, only_fitting
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.model.build import Cell, Entry, Row
from tests.bench_walk import NOW, Walk, small_checklist, walk
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
