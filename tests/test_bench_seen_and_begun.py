"""What is new is seen where the work is done, and a text begins where words are asked for."""

from __future__ import annotations

import pytest

from tests.bench_walk import Walk, main_checklist, new_build, walk
from tests.test_bench_entry import CHECKLIST, LOAD, PLAN, SIZES, build_with
from tests.test_bench_guidance import READY
from tests.test_bench_typing_ahead import bench, table


@SIZES
def test_a_caution_that_has_just_been_found_is_said(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("supply_voltage")
        await w.settle()
        await w.type("14")
        assert bench(w).said == "▲ Caution: The supply is above the plate. F2, then Enter shows it."

    walk(steps, build_with(**PLAN, free_current=LOAD["free_current"]), CHECKLIST, size=size)


def test_the_panel_shows_the_next_thing_to_do_again_after_it_was_read() -> None:
    async def steps(w: Walk) -> None:
        await w.press("f2", "end")
        assert "Next:" not in w.text()
        await w.press("escape")
        assert "Next:" in w.text()

    main = main_checklist()
    walk(steps, new_build(main), main)


@pytest.mark.parametrize("kind", ["photo", "file"])
def test_the_field_of_a_file_says_that_enter_comes_first(kind: str) -> None:
    item = next(i.id for i in CHECKLIST.all_items() if i.kind == kind)

    async def steps(w: Walk) -> None:
        bench(w).jump(item)
        await w.settle()
        assert "Enter, then the name of a file" in w.text()
        await w.press("enter")
        assert "Enter, then" not in w.text() and "name of a file beside the build file" in w.text()

    walk(steps, READY, CHECKLIST)


def test_a_capital_letter_in_an_empty_table_begins_its_first_row_and_text() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        await w.press("L", *"aptop")
        assert screen.grid.row_id == "c01" and screen.field.value == "Laptop"
        await w.press("enter")
        assert w.build.entry("candidates").row("c01").text("source") == "Laptop"  # type: ignore[union-attr]

    walk(steps, READY, CHECKLIST)
