"""A comma with three digits behind it: `4,172` is 4.172 where nothing else can be right, and is refused where both can."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual import events

from buildtrack.bench.csv_rows import Sheet, plan
from buildtrack.bench.entry import share_out, told_once, try_column, try_item
from buildtrack.bench.pasted_block import share_block
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.cli import main
from buildtrack.model.checklist import Column, Item, Span
from buildtrack.storage.build_file import read_build
from tests.bench_walk import Walk, main_checklist, new_build, small_checklist, walk
from tests.test_bench_entry import PLAN, build_with

CELL = Column(id="v", label="Voltage", kind="reading", unit="V", dimension="voltage", plausible=Span(2.5, 4.25),
              hard=Span(0.0, 5.0))
PLATE = Item(id="plate", step="s", label="Plate", kind="reading", unit="V", dimension="voltage",
             plausible=Span(2.0, 30.0), hard=Span(1.0, 100.0))


@given(st.integers(0, 4999))
def test_every_voltage_a_cell_can_have_may_be_typed_with_a_comma_and_three_digits(millivolts: int) -> None:
    """The same digits with a point are what a meter shows; the comma is how half of the world writes it."""
    whole, rest = divmod(millivolts, 1000)
    comma, point = try_column(CELL, f"{whole},{rest:03d} V"), try_column(CELL, f"{whole}.{rest:03d} V")
    assert not comma.refused
    assert comma.unusual == point.unusual
    assert float(comma.text.removesuffix(" V").replace(",", ".")) == millivolts / 1000


def test_what_was_read_is_said() -> None:
    assert try_column(CELL, "4,172").read_as == "'4,172' was read as 4.172"
    assert try_column(CELL, "4.172").read_as == ""


@pytest.mark.parametrize(("typed", "meant"), [("1,950 mAh", "1950 mAh"), ("2,100", "2.100"), ("0,500 Ah", "0,500 Ah")])
def test_the_unit_decides_which_number_can_be_right(typed: str, meant: str) -> None:
    """A cell of 1.95 mAh or of 2100 Ah there is none; 0,500 means one thing only and stays as typed."""
    capacity = Column(id="c", label="Capacity", kind="reading", unit="Ah", dimension="capacity",
                      plausible=Span(0.5, 4.0), hard=Span(0.05, 10.0))
    assert try_column(capacity, typed).text == meant


def test_where_both_could_be_right_nothing_is_guessed() -> None:
    mass = Item(id="mass", step="s", label="Mass", kind="reading", unit="g", dimension="mass")
    found = try_item(mass, "1,234")
    assert "could mean 1234 or 1.234" in found.refused
    assert found.text == "1,234"


def test_where_neither_can_be_right_both_are_named() -> None:
    narrow = Item(id="n", step="s", label="Board cutoff", kind="reading", unit="V", dimension="voltage",
                  hard=Span(2.0, 3.0))
    assert "could mean 4172 or 4.172" in try_item(narrow, "4,172").refused


def test_a_number_that_is_possible_and_unusual_is_asked_about() -> None:
    assert try_item(PLATE, "1,234").unusual == "1.234 V is unusual: the lowest is 2 V"


def test_a_pasted_column_of_commas_is_taken() -> None:
    found = share_out(["12,100", "12,250"], [PLATE, PLATE])
    assert [text for _, text in found.taken] == ["12.100", "12.250"]


def test_at_the_bench_a_comma_voltage_is_taken_and_said() -> None:
    async def steps(w: Walk) -> str:
        w.screen.jump("rated_voltage")  # type: ignore[attr-defined]
        await w.settle()
        await w.press("enter")
        await w.type("12,345")
        assert w.build.entries["rated_voltage"].standing[-1].text == "12.345"
        return w.text()

    checklist = small_checklist()
    assert "'12,345' was read as 12.345" in walk(steps, new_build(checklist), checklist)


def test_the_command_enters_it_too(tmp_path: Path) -> None:
    file = tmp_path / "drill.toml"
    assert main(["new", str(file), "--title", "Drill"]) == 0
    name = next(i.id for i in main_checklist().all_items() if i.kind == "reading" and i.dimension == "voltage")
    assert main(["enter", str(file), name, "12,345"]) == 0
    assert read_build(file).build.entry(name).standing[-1].text == "12.345"


def test_what_a_paste_read_otherwise_is_said_once_for_all_of_it() -> None:
    shared = share_out(["12,500", "13.1", "11,250"], [PLATE, PLATE, PLATE])
    assert [text for _, text in shared.taken] == ["12.500", "13.1", "11.250"]
    assert told_once(shared.read_as) == "'12,500' was read as 12.500, and 1 more in the same way."
    block = share_block("4,172\n3.9\n", ["c01", "c02"], [CELL], 0, 0)
    assert told_once(block.read_as) == "'4,172' was read as 4.172."
    assert told_once(()) == ""


def test_a_csv_file_says_what_it_read_otherwise_and_refuses_what_could_mean_both() -> None:
    mass = Column(id="m", label="Mass", kind="reading", unit="g", dimension="mass")
    sheet = Sheet(("cell", "Voltage", "Mass"), (("c01", "4,172", "44"), ("c02", "3.9", "1,234")))
    planned = plan(sheet, ("@row", "v", "m"), (CELL, mass), [], "c")
    assert [f.text for f in planned.fields] == ["4.172", "44", "3.9"]
    assert told_once(planned.read_as) == "'4,172' was read as 4.172."
    assert "could mean 1234 or 1.234" in planned.refused[0]


def test_lines_pasted_at_the_bench_say_it_where_they_were_taken() -> None:
    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("free_current")
        await w.settle()
        w.screen.items.post_message(events.Paste("1,250\n1,300\n"))
        await w.settle()
        assert [r.text for r in w.build.entry("free_current").standing] == ["1.250", "1.300"]
        assert "2 pasted lines taken. '1,250' was read as 1.250, and 1 more in the same way." in " ".join(
            w.screen.said.split())

    walk(steps, build_with(**PLAN), small_checklist())
