"""The table of one cell read with every voltmeter: its meters are those of the list, and it is done with all of them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buildtrack.bench.screens.table import TableScreen
from buildtrack.model.build import Build, Cell, Entry, Row
from tests.bench_walk import NOW, Walk, main_checklist, new_build, walk
from tests.test_bench_entry import bench

MAIN = main_checklist()


def meter(name: str, called: str, quantity: str = "voltage", kind: str = "multimeter") -> Row:
    return Row(name, {c: Cell(t, NOW) for c, t in {"meter": called, "kind": kind, "quantity": quantity}.items()})


def listed(*rows: Row) -> Build:
    build = new_build(MAIN)
    return replace(build, entries={**build.entries, "instruments": Entry(rows=rows)})


TWO = listed(meter("m1", "red one"), meter("m2", "red one"), meter("m3", "grey one"), meter("m4", "clamp", "current"),
             meter("m5", "supply", kind="bench supply"))
"""Two voltmeters, the first with two ranges; a clamp and a supply are none."""


async def at_table(w: Walk) -> TableScreen:
    bench(w).jump("meter_check")
    await w.settle()
    await w.press("enter")
    assert isinstance(w.screen, TableScreen)
    return w.screen


def rows(w: Walk) -> list[tuple[str, str, str]]:
    return [(r.text("meter"), r.text("reading"), r.cells["reading"].instrument if "reading" in r.cells else "")
            for r in w.build.entry("meter_check").rows]


def state(w: Walk) -> tuple[str, str]:
    assert w.app.desk is not None
    found = w.app.desk.item_state("meter_check")
    return found.state, found.why


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_only_listed_voltmeters_are_taken_and_each_reading_names_the_meter_of_its_row(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await at_table(w)
        await w.press("a")
        assert "1 red one  2 grey one" in w.text() and not {"clamp", "supply"} & set(w.text().split("why")[0].split())
        await w.type("zzz")
        assert rows(w) == [("", "", "")] and "zzz" in screen.told
        await w.press(*["backspace"] * 3)
        await w.type("2")
        await w.type("4.051")
        assert rows(w) == [("grey one", "4.051", "grey one")]
        assert state(w) == ("partly", "not read yet with: red one")
        await w.press("escape", "a")
        await w.type("red")
        await w.type("4.049")
        assert rows(w)[1] == ("red one", "4.049", "red one") and state(w)[0] == "done"

    walk(steps, TWO, MAIN, size=size)


def test_the_first_letter_typed_on_the_empty_table_is_not_lost() -> None:
    async def steps(w: Walk) -> None:
        screen = await at_table(w)
        await w.burst("m2", "enter")
        assert rows(w)[0][0] == "m2", screen.told

    walk(steps, listed(meter("m1", "m1"), meter("m2", "m2")), MAIN)


def test_where_a_meter_is_called_by_a_number_its_name_is_meant() -> None:
    async def steps(w: Walk) -> None:
        await at_table(w)
        await w.press("a")
        await w.type("m1")
        assert rows(w)[0][0] == "m1"

    walk(steps, listed(meter("m1", "m1"), meter("m2", "m2")), MAIN)
