"""The words of a table: numbers in one form, the unit a number is taken in, choices whole, the keys that do something."""

from __future__ import annotations

import pytest
from rich.cells import cell_len

from buildtrack.bench.field_words import GLUE, unparted
from buildtrack.bench.rows import shown_in_column
from buildtrack.bench.screens.reading import ReadOn
from buildtrack.model.build import Cell, Entry, Row
from buildtrack.model.checklist import Column
from tests.bench_walk import NOW, Walk, main_checklist, new_build, walk
from tests.test_bench_entry import CHECKLIST, SIZES
from tests.test_bench_guidance import READY, with_entries
from tests.test_bench_live import before_the_test
from tests.test_bench_typing_ahead import table
from tests.test_recheck_dates import CHECKLIST as IN_USE
from tests.test_recheck_dates import kept, read

VOLTS = Column(id="v", label="Voltage", kind="reading", unit="V", dimension="voltage")


@pytest.mark.parametrize(("typed", "shown"), [
    ("4.100", "4.100"), ("3,95", "3.95"), ("4.163 V", "4.163"), ("3,95V", "3.95"), ("3300 mV", "3300 mV"),
    ("-0,2", "-0.2"), ("1,250", "1,250"), ("5e-3", "5e-3"), ("4", "4"), ("none", "none")])
def test_numbers_of_a_column_stand_in_one_form_and_keep_their_digits(typed: str, shown: str) -> None:
    assert shown_in_column(typed, VOLTS) == shown


def test_a_length_of_time_and_a_day_are_shown_so_that_they_compare() -> None:
    lasted = Column(id="t", label="Lasted", kind="reading", unit="h", dimension="time")
    assert [shown_in_column(t, lasted) for t in ("1:30", "2 h 30", "1,5 h")] == ["1:30", "2 h 30", "1.5"]
    assert shown_in_column("27/11/2026", Column(id="on", label="Date", kind="date")) == "2026-11-27"


@SIZES
def test_what_was_typed_stays_in_the_file_whatever_the_table_shows(size: tuple[int, int]) -> None:
    rows = (read("a1", "26.10.2026", "4.100 V", "4.101", "3"), read("a2", "2026-11-24", "4.1", "3,95", "33"))
    build = with_entries(kept("", ""), rechecks=Entry(rows=rows))

    async def steps(w: Walk) -> None:
        screen = await table(w, "rechecks")
        columns = [c.id for c in screen.columns]
        shown = [[row.cells[columns.index(c)][0].lstrip("▲") for c in ("on", "g1", "g3")] for row in screen.grid.rows]
        assert shown == [["2026-10-26", "4.100", "4.101"], ["2026-11-24", "4.1", "3.95"]]
        assert [r.text("g3") for r in w.build.entry("rechecks").rows] == ["4.101", "3,95"]

    walk(steps, build, IN_USE, size=size)


@SIZES
def test_a_range_without_a_unit_is_shown_with_the_one_it_is_taken_in(size: tuple[int, int]) -> None:
    texts = {"meter": "red", "kind": "multimeter", "quantity": "voltage", "range": "20", "resolution": "0,01"}
    row = Row("m1", {name: Cell(text, NOW) for name, text in texts.items()})

    async def steps(w: Walk) -> None:
        screen = await table(w, "instruments")
        columns = [c.id for c in screen.columns]
        cells = screen.grid.rows[0].cells
        assert [cells[columns.index(c)][0] for c in ("range", "resolution")] == ["20 V", "0,01 V"]
        screen.grid.go(0, columns.index("range"))
        await w.settle()
        assert "now 20, taken as 20 V" in " ".join(w.text().replace("▌", " ").split())

    walk(steps, with_entries(new_build(main_checklist()), instruments=Entry(rows=(row,))), main_checklist(), size=size)


def test_no_line_ends_between_the_number_of_a_choice_and_its_words() -> None:
    text = "  ".join(f"{n} {word}".replace(" ", GLUE) for n, word in enumerate(("Cell tester", "Thermometer", "Scale"), 1))
    for width in range(14, 60):
        lines = unparted(text, width).split("\n")
        assert " ".join(" ".join(lines).split()) == "1 Cell tester 2 Thermometer 3 Scale"
        assert all(cell_len(one) <= width and one[0].isdigit() and not one[-1].isdigit() for one in lines), width


@SIZES
def test_help_lists_only_the_keys_that_do_something_in_this_table(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await table(w, "candidates")
        told = await help_text(w)
        assert "Mark this moment as the alarm" not in told and "Start the test by hand" not in told
        assert "Mark the row as rejected" in told and "Choose the instrument for this column" in told
        assert "Take the last edit back" in told, "what can be done later is listed too"
        await w.press("escape", "escape")
        await table(w, "instruments")
        told = await help_text(w)
        assert "Choose the instrument for this column" not in told and "Mark the row as rejected" not in told

    walk(steps, READY, CHECKLIST, size=size)


def test_help_lists_the_keys_of_the_test_in_its_own_table() -> None:
    async def steps(w: Walk) -> None:
        await table(w, "discharge_points")
        told = await help_text(w)
        assert "Mark this moment as the alarm" in told and "Start the test by hand" in told

    walk(steps, before_the_test(), main_checklist())


async def help_text(w: Walk) -> str:
    await w.press("f1")
    assert isinstance(w.screen, ReadOn)
    return " ".join(" ".join("".join(p.text for p in each.left) for each in w.screen.lines).split())


@SIZES
def test_the_end_of_typing_is_not_said_beside_the_workings(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "groups")
        await w.press("enter")
        for text in ("3.90", "3.91", "3.92"):
            await w.type(text)
        await w.press("escape")
        assert "Typing has ended" in screen.said
        await w.press("f2")
        assert "Typing has ended" not in w.text() and screen.said == ""

    first = Row("c01", {"source": Cell("laptop"), "visual": Cell("sound")})
    walk(steps, with_entries(READY, candidates=Entry(rows=(first,))), CHECKLIST, size=size)


def test_a_refusal_goes_with_the_text_it_was_about() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        screen.grid.go(0, [c.id for c in screen.columns].index("arrival_voltage"))
        await w.settle()
        await w.press(*"144", "enter")
        assert "cannot be right" in screen.told
        await w.press("ctrl+u")
        assert screen.field.value == "" and screen.told == ""

    first = Row("c01", {"source": Cell("laptop"), "visual": Cell("sound")})
    walk(steps, with_entries(READY, candidates=Entry(rows=(first,))), CHECKLIST)
