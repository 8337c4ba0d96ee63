"""Undo in a table: a dropped text comes back with its row, a paste goes with what waits, and the cursor is led there."""

from __future__ import annotations

from datetime import timedelta

from textual import events

from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.model.build import Cell, Entry, Row
from tests.bench_walk import NOW, Clock, Walk, walk
from tests.test_bench_entry import CHECKLIST, SIZES
from tests.test_bench_guidance import READY, with_entries
from tests.test_bench_table_typing import ONE, names
from tests.test_bench_typing_ahead import table

TWO = with_entries(READY, candidates=Entry(rows=tuple(
    Row(f"c0{n}", {"source": Cell("laptop", NOW), "arrival_voltage": Cell(f"3.9{n}", NOW)}) for n in (1, 2))))


@SIZES
def test_a_text_dropped_in_a_new_row_comes_back_with_the_row_also_from_the_bench(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await table(w, "candidates")
        await w.press("a")
        assert names(w) == ["c01", "c02"]
        await w.press(*"drill", "escape", "escape")
        assert names(w) == ["c01"]
        said = w.screen.said  # type: ignore[attr-defined]
        assert isinstance(w.screen, BenchScreen) and "u brings it back with 'drill'" in said
        await w.press("u")
        assert isinstance(w.screen, TableScreen) and names(w) == ["c01", "c02"]
        assert w.screen.grid.row_id == "c02" and w.app.desk is not None
        assert w.app.desk.drafts.of(("candidates", "c02", "source")) == "drill"

    walk(steps, ONE, CHECKLIST, size=size)


def test_a_text_dropped_in_a_new_row_comes_back_in_the_table_itself() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        await w.press("a", *"drill", "escape")
        assert "u brings it back" in screen.said
        await w.press("u")
        assert screen.field.value == "drill" and screen.focused is screen.grid
        assert "Enter goes on with it" in screen.said
        await w.press("enter", "enter")
        row = w.build.entry("candidates").row("c02")
        assert row is not None and row.text("source") == "drill"

    walk(steps, ONE, CHECKLIST)


def test_a_second_u_undoes_once_more_and_is_no_letter_in_the_text_brought_back() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        screen.grid.go(0, [c.id for c in screen.columns].index("arrival_voltage"))
        await w.press("3")
        await w.type(".95")
        await w.press("escape", "4", "escape", "u", "u")
        row = w.build.entry("candidates").row("c01")
        assert row is not None and row.text("arrival_voltage") == "3.91", "the edit before is taken back"
        assert screen.focused is screen.grid and "u" not in "".join(screen.desk.drafts.kept().values())

    walk(steps, TWO, CHECKLIST)


@SIZES
def test_undo_of_a_paste_takes_back_what_waits_of_it_and_stands_where_it_began(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        screen.grid.go(0, [c.id for c in screen.columns].index("rest_1_on"))
        at = screen.grid.at
        screen.grid.post_message(events.Paste("3.749\t3.8\n2026-11-20\t3.9\n"))
        await w.settle()
        desk = w.app.desk
        assert desk is not None and desk.drafts.of(("candidates", "c01", "rest_1_on")) == "3.749"
        await w.press("u")
        assert not desk.drafts.kept() and screen.grid.at == at
        assert w.build.entry("candidates").rows == TWO.entry("candidates").rows

    walk(steps, TWO, CHECKLIST, size=size)


def test_a_value_that_is_taken_takes_the_place_of_a_text_that_waits() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        column = [c.id for c in screen.columns].index("rest_1_voltage")
        desk = w.app.desk
        assert desk is not None
        desk.drafts.keep(("candidates", "c02", "rest_1_voltage"), "2026-11-25")
        screen.grid.go(0, column)
        screen.grid.post_message(events.Paste("3.81\n3.82\n"))
        await w.settle()
        assert not desk.drafts.kept() and "3.82" in w.text() and "›2026" not in w.text().replace(" ", "")

    walk(steps, TWO, CHECKLIST)


def test_undo_and_redo_lead_to_the_field_they_are_about() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        column = [c.id for c in screen.columns].index("arrival_voltage")
        screen.grid.go(1, column)
        await w.press("3")
        await w.type(".95")
        await w.press("enter")  # a hold point: what stands is replaced by the second Enter
        screen.grid.go(0, 0)
        await w.press("escape", "u")
        assert screen.grid.at == (1, column) and "undone" in screen.said
        screen.grid.go(0, 0)
        await w.press("r")
        assert screen.grid.at == (1, column)

    walk(steps, TWO, CHECKLIST)


def test_the_same_text_taken_again_in_a_field_keeps_its_day() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        screen.grid.go(0, [c.id for c in screen.columns].index("arrival_voltage"))
        before = w.build
        await w.press("enter", "enter")
        assert w.build is before, "walked over, nothing was measured"
        assert screen.grid.at[1] > 0

    walk(steps, TWO, CHECKLIST, clock=Clock(NOW + timedelta(days=2)))
