"""A table opens where one would begin: at the first field of a row not yet begun, else at what must still be there."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buildtrack.bench.rows import first_to_fill
from buildtrack.bench.screens.table import TableScreen
from buildtrack.model.build import Cell, Entry, Row
from tests.bench_walk import Walk, main_checklist, walk
from tests.test_bench_entry import CHECKLIST, SIZES
from tests.test_bench_guidance import READY, with_entries
from tests.test_bench_live import before_the_test
from tests.test_bench_typing_ahead import bench, table

LAST_REQUIRED = (False, False, True)


@pytest.mark.parametrize(("empty", "last", "at"), [
    ([[True, True, True], [True, True, True]], [-1, -1], (0, 0)),  # nothing there
    ([[False, False, True], [True, True, True]], [1, -1], (0, 2)),  # what must be there is missing
    ([[False, True, True], [True, True, True]], [0, -1], (0, 1)),  # behind what was entered last
    ([[True, True, False], [True, True, True]], [2, -1], (1, 0)),  # left empty on purpose
    ([[False, True, True], [True, True, True]], [-1, -1], (0, 1)),  # the first field was filled in beforehand
    ([[False, True, False], [False, False, False]], [2, 2], (0, 1)),  # only what need not be there
    ([[False, False, False]], [2], None)])
def test_the_field_to_begin_at(empty: list[list[bool]], last: list[int], at: tuple[int, int] | None) -> None:
    assert first_to_fill(empty, LAST_REQUIRED, last, False) == at


def test_what_must_be_there_comes_first_where_nothing_is_empty_behind_what_was_entered() -> None:
    assert first_to_fill([[True, True, False]], (False, True, False), [2], False) == (0, 1)


@SIZES
def test_the_empty_alarm_table_opens_in_its_first_column(size: tuple[int, int]) -> None:
    build = before_the_test()
    build = replace(build, entries={name: entry for name, entry in build.entries.items() if name != "alarm_channels"})

    async def steps(w: Walk) -> None:
        screen = await table(w, "alarm_channels")
        assert (screen.grid.row_id, screen.grid.column_id) == ("g1", "shown")
        await w.burst("4.1", "enter", "4.1", "enter", "escape", "escape", "escape")
        screen = await table(w, "alarm_channels")
        assert (screen.grid.row_id, screen.grid.column_id) == ("g1", "sounded"), "what is still missing in a row begun"

    walk(steps, build, main_checklist(), size=size)


@pytest.mark.parametrize("way", ["enter", "x"])
def test_the_alarm_table_whose_rows_were_emptied_opens_in_its_first_column_too(way: str) -> None:
    build = before_the_test()
    rows = tuple(Row(r.id, {n: Cell("") for n in r.cells}) for r in build.entry("alarm_channels").rows)
    build = replace(build, entries={**build.entries, "alarm_channels": Entry(rows=rows)})

    async def steps(w: Walk) -> None:
        bench(w).jump("tool")
        await w.press("x")
        if way == "enter":
            bench(w).jump("alarm_channels")
        assert bench(w).item_id == "alarm_channels", "it is the next thing to do"
        await w.press("enter")
        assert isinstance(w.screen, TableScreen)
        assert (w.screen.grid.row_id, w.screen.grid.column_id) == ("g1", "shown")

    walk(steps, build, main_checklist(), size=(120, 40))


def test_a_table_that_begins_behind_filled_fields_says_so() -> None:
    row = Row("c01", {"source": Cell("laptop", value_class="taken over"), "visual": Cell("sound", value_class="taken over")})

    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        assert screen.grid.column_id == "arrival_voltage"
        assert "'Where from' and" in screen.said and "filled in already" in screen.said

    walk(steps, with_entries(READY, candidates=Entry(rows=(row,))), CHECKLIST)
