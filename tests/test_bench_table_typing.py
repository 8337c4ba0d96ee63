"""Typing in a table: how it ends, how it is taken back, and what becomes of a row that was added and left empty."""

from __future__ import annotations

from pathlib import Path

from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.model.build import Cell, Entry, Row
from buildtrack.storage.checklist_file import read_checklist
from tests.bench_walk import SMALL, Walk, walk
from tests.test_bench_entry import CHECKLIST, SIZES
from tests.test_bench_guidance import READY, with_entries
from tests.test_bench_typing_ahead import table

ONE = with_entries(READY, candidates=Entry(rows=(Row("c01", {"source": Cell("laptop"), "visual": Cell("sound")}),)))


def names(w: Walk) -> list[str]:
    return [r.id for r in w.build.entry("candidates").rows]


@SIZES
def test_after_the_last_field_escape_ends_the_typing_before_it_leaves_the_table(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "groups")
        await w.press("enter")
        for text in ("3.90", "3.91", "3.92"):
            await w.type(text)
        assert "typing has ended" in screen.said and "Esc twice" in " ".join(screen.said.split())
        await w.press("escape")
        assert w.screen is screen and "Esc again goes back" in screen.said
        await w.press("escape")
        assert isinstance(w.screen, BenchScreen)

    walk(steps, ONE, CHECKLIST, size=size)


def test_after_the_last_field_an_arrow_means_that_escape_goes_back_at_once() -> None:
    async def steps(w: Walk) -> None:
        await table(w, "groups")
        await w.press("enter")
        for text in ("3.90", "3.91", "3.92"):
            await w.type(text)
        await w.press("up", "escape")
        assert isinstance(w.screen, BenchScreen)

    walk(steps, ONE, CHECKLIST)


@SIZES
def test_control_t_undoes_while_an_empty_field_is_open_and_the_keys_say_so(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "groups")
        await w.press("enter")
        await w.type("3.90")
        assert screen.focused is screen.field and "Ctrl-T undo" in w.text().splitlines()[-1]
        await w.press("ctrl+t")
        assert not w.build.entry("groups").rows and "undone" in screen.said
        await w.press("3", "ctrl+t")
        assert screen.field.value == "3", "with a text in the field nothing is undone behind it"

    walk(steps, ONE, CHECKLIST, size=size)


def test_a_command_key_typed_into_a_number_is_refused_with_how_it_is_meant() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "groups")
        await w.press("enter")
        await w.type("3.90")
        await w.type("u")
        assert "For the command 'undo': Esc, then u" in " ".join(screen.told.split())

    walk(steps, ONE, CHECKLIST)


@SIZES
def test_a_row_that_was_added_and_left_empty_goes_away_again(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        await w.press("a")
        assert names(w) == ["c01", "c02"]
        await w.press("escape")
        assert names(w) == ["c01"] and "c02 was left empty" in screen.said
        await w.press("a", "x", "escape")
        assert names(w) == ["c01", "c02"], "a dropped text can be brought back into its row"
        await w.press("escape")
        assert names(w) == ["c01"] and isinstance(w.screen, BenchScreen)

    walk(steps, ONE, CHECKLIST, size=size)


def test_a_row_with_something_entered_or_typed_stays() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        await w.press("a", "x", "up", "escape")
        assert names(w) == ["c01", "c02"] and isinstance(w.screen, BenchScreen)
        await table(w, "candidates")
        await w.press("a")
        await w.type("drill")
        await w.press("escape", "escape")
        assert names(w) == ["c01", "c02", "c03"]
        assert isinstance(screen, TableScreen)

    walk(steps, ONE, CHECKLIST)


def test_in_a_row_just_added_enter_also_stops_at_what_is_filled_in_already(tmp_path: Path) -> None:
    columns = (
        '[[steps.items]]\nid = "runs"\nkind = "table"\nlabel = "Runs"\nrow_prefix = "w"\ncolumns = [\n'
        '{ id = "length", label = "Length", kind = "reading", unit = "mm" },\n'
        '{ id = "bundle", label = "In one bundle", kind = "reading", dimension = "count", default = "1" },\n'
        '{ id = "end", label = "End", kind = "text" }]\n\n[[checks]]\nid = "supply-high"'
    )
    path = tmp_path / "small.toml"
    text = SMALL.read_text(encoding="utf-8").replace('[[checks]]\nid = "supply-high"', columns, 1)
    path.write_text(text, encoding="utf-8")

    async def steps(w: Walk) -> None:
        screen = await table(w, "runs")
        await w.press("enter")
        await w.burst("120", "enter")
        assert screen.grid.column_id == "bundle" and screen.field.value == "1", "it is shown, not passed over"
        await w.burst("enter", "plug", "enter")
        (row,) = w.build.entry("runs").rows
        assert [row.text(c) for c in ("length", "bundle", "end")] == ["120", "1", "plug"]

    walk(steps, READY, read_checklist(path))


TAPS = with_entries(READY, candidates=Entry(rows=tuple(
    Row(n, {"source": Cell("laptop"), "visual": Cell("sound"), "arrival_voltage": Cell("3.9")}) for n in ("c01", "c02")
)), groups=Entry(rows=tuple(Row(n, {"joining_highest": Cell("3.90")}) for n in ("g1", "g2"))))


@SIZES
def test_after_a_correction_enter_goes_to_the_field_beside_it_filled_or_not(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "groups")
        screen.grid.go(0, 0)
        await w.settle()
        column = screen.grid.column_id
        await w.burst("3.95", "enter", "3.96", "enter", "3.97", "enter")
        found = [r.text(column) for r in w.build.entry("groups").rows]
        assert found == ["3.95", "3.96", "3.97"], "a column is corrected and filled from the top to the bottom"

    walk(steps, TAPS, CHECKLIST, size=size)


def test_what_is_typed_into_a_filled_field_takes_the_place_of_what_stands_and_an_arrow_keeps_it() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "groups")
        screen.grid.go(0, 0)
        await w.settle()
        await w.press("enter", "3", "full_stop", "8")
        assert screen.field.value == "3.8"
        await w.press("escape", "enter", "right", "1")
        assert screen.field.value == "3.901"

    walk(steps, TAPS, CHECKLIST)
