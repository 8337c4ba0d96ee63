"""Pasting into a table: a column goes down, a row across, and what stands is replaced only once that was asked."""

from __future__ import annotations

from textual import events

from buildtrack.bench.pasted_block import lines_of, only_empty, question, share_block
from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.screens.table import TableScreen
from buildtrack.model.build import Build, Cell, Entry, Row
from tests.bench_walk import NOW, Walk, new_build, walk
from tests.test_bench_entry import CHECKLIST, SIZES
from tests.test_bench_guidance import READY, with_entries
from tests.test_bench_typing_ahead import table

VOLTS = [f"3.{n}" for n in range(80, 91)]
"""Eleven voltages, as copied from a sheet."""


def cells(count: int, volts: str = "") -> Build:
    """A build whose candidate cells have a source, and a voltage where one is given."""
    return with_entries(READY, candidates=Entry(rows=tuple(
        Row(f"c{n:02d}", {"source": Cell("laptop", NOW), **({"arrival_voltage": Cell(volts, NOW)} if volts else {})})
        for n in range(1, count + 1))))


def column(w: Walk, name: str) -> list[str]:
    return [r.text(name) for r in w.build.entry("candidates").rows]


async def at_voltage(w: Walk) -> TableScreen:
    screen = await table(w, "candidates")
    screen.grid.go(0, [c.id for c in screen.columns].index("arrival_voltage"))
    await w.settle()
    return screen


async def paste(w: Walk, screen: TableScreen, text: str) -> str:
    """Paste onto the table; the text of the screen after it."""
    screen.grid.post_message(events.Paste(text))
    await w.settle()
    return " ".join(w.text().replace("▌", " ").split())


@SIZES
def test_a_column_goes_down_also_where_enter_goes_along_the_row(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await at_voltage(w)
        assert not screen.goes_down()
        await paste(w, screen, "\n".join(VOLTS))
        assert w.screen is screen and column(w, "arrival_voltage") == VOLTS
        assert "11 pasted fields filled." in screen.said
        await w.press("u")
        assert column(w, "arrival_voltage") == [""] * 11, "one undo takes all of it back"

    walk(steps, cells(11), CHECKLIST, size=size)


@SIZES
def test_values_that_stand_are_replaced_only_once_that_was_asked(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await at_voltage(w)
        before = w.build
        shown = await paste(w, screen, "\n".join(VOLTS))
        assert isinstance(w.screen, AskOne) and w.build is before, "nothing is put in before it is asked"
        assert "11 values stand and would be replaced" in shown and "and 8 more" in shown
        assert "c01, Voltage on arrival: 3.65 → 3.80" in shown
        await w.press("escape")
        assert w.build is before and "The paste was left" in screen.said
        await paste(w, screen, "\n".join(VOLTS))
        await w.press("1", "enter")
        assert column(w, "arrival_voltage") == VOLTS
        await w.press("u")
        assert column(w, "arrival_voltage") == ["3.65"] * 11

    walk(steps, cells(11, "3.65"), CHECKLIST, size=size)


def test_only_empty_fields_are_filled_where_that_is_chosen_and_the_rest_is_named() -> None:
    async def steps(w: Walk) -> None:
        screen = await at_voltage(w)
        await paste(w, screen, "3.80\n3.81\n3.82\n3.83")
        await w.press("2", "enter")
        assert column(w, "arrival_voltage") == ["3.65", "3.81", "3.82", "3.83"]
        assert "Not taken: 3.80" in screen.said

    first = Row("c01", {"arrival_voltage": Cell("3.65", NOW)})
    others = tuple(Row(f"c0{n}", {"source": Cell("laptop", NOW)}) for n in (2, 3, 4))
    walk(steps, with_entries(READY, candidates=Entry(rows=(first, *others))), CHECKLIST)


@SIZES
def test_rows_that_are_lacking_are_added_only_where_that_was_said(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await at_voltage(w)
        shown = await paste(w, screen, "3.80\n3.81\n99\n3.83")
        assert isinstance(w.screen, AskOne) and len(column(w, "source")) == 2
        assert "4 lines, but 2 rows from c01 down. New: c03 to c04." in shown
        assert "put it in: add 2 rows" in shown and "only into the rows there are" in shown
        await w.press("1", "enter")
        assert column(w, "arrival_voltage") == ["3.80", "3.81", "", "3.83"]
        assert screen.grid.row_id == "c03" and screen.field.value == "99", "what does not fit waits in its new row"
        await w.press("u")
        assert column(w, "arrival_voltage") == ["", ""], "the rows go with the same undo"

    walk(steps, cells(2), CHECKLIST, size=size)


def test_a_table_without_a_row_is_asked_for_rows_too() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "instruments")
        assert not w.build.entry("instruments").rows
        shown = await paste(w, screen, "meter A\nmeter B\n")
        assert "New: m1 to m2" in shown
        await w.press("1", "enter")
        assert [r.text("meter") for r in w.build.entry("instruments").rows] == ["meter A", "meter B"]

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_a_row_goes_across_and_asks_for_what_stands_there() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        screen.grid.go(0, 0)
        await w.settle()
        shown = await paste(w, screen, "drill\tsound")
        assert "1 value stands and would be replaced: c01, Where from: laptop → drill" in shown
        await w.press("1", "enter")
        row = w.build.entry("candidates").row("c01")
        assert row is not None and (row.text("source"), row.text("visual")) == ("drill", "sound")

    walk(steps, cells(2), CHECKLIST)


def test_an_empty_line_keeps_its_row_so_that_no_value_slides_up() -> None:
    assert lines_of("3.80\n\n3.82\n\n") == [["3.80"], [""], ["3.82"]]
    (volts,) = (c for c in CHECKLIST.items["candidates"].columns if c.id == "arrival_voltage")
    found = share_block("3.80\n\n3.82\n", ["c01", "c02", "c03"], [volts], 0, 0)
    assert [(f.row, f.text) for f in found.fields] == [("c01", "3.80"), ("c03", "3.82")]


def test_the_same_value_again_is_not_asked_about() -> None:
    item = CHECKLIST.items["candidates"]
    (volts,) = (c for c in item.columns if c.id == "arrival_voltage")
    entry = Entry(rows=(Row("c01", {"arrival_voltage": Cell("3.80")}), Row("c02", {"arrival_voltage": Cell("3.81")})))
    names = ["c01", "c02"]
    same = share_block("3.80\n3.81", names, [volts], 0, 0)
    assert question("3.80\n3.81", item, [volts], (0, 0), names, same, entry) is None
    other = share_block("3.80\n3.99", names, [volts], 0, 0)
    asked = question("3.80\n3.99", item, [volts], (0, 0), names, other, entry)
    assert asked is not None and "1 value stands and would be replaced" in asked.more and "3.81 → 3.99" in asked.more
    kept = only_empty(other, entry)
    assert [f.text for f in kept.fields] == ["3.80"] and kept.left == ("3.99",)
