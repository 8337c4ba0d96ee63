"""A reading that a stop rested on is corrected with a reason, which stands in review and record; a hold point asks."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.bench.screens.ask import AskText
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.model.build import Cell, Entry, Row
from buildtrack.storage.checklist_file import read_checklist
from tests.bench_walk import NOW, SMALL, Walk, walk
from tests.test_bench_entry import CHECKLIST, LOAD, PLAN, answered, build_with
from tests.test_bench_typing_ahead import table

HOT = Entry(rows=(Row("c01", {"source": Cell("laptop", NOW), "visual": Cell("sound", NOW),
                              "arrival_voltage": Cell("4.26", NOW)}),))
HIGH = build_with(**PLAN, **LOAD, series_count=answered("3"), candidates=HOT)
FINE = Entry(rows=(Row("c01", {"source": Cell("laptop", NOW), "visual": Cell("sound", NOW),
                               "arrival_voltage": Cell("3.90", NOW)}),))
WHY = "probe had slipped, read again three times"


def stops(w: Walk) -> list[str]:
    assert w.app.desk is not None
    return [r.check for r in w.app.desk.judged.assessment.results if r.severity == "stop" and r.outcome == "fail"]


async def at_voltage(w: Walk) -> TableScreen:
    screen = await table(w, "candidates")
    screen.grid.go(0, [c.id for c in screen.columns].index("arrival_voltage"))
    await w.settle()
    return screen


def voltage(w: Walk) -> Cell:
    row = w.build.entry("candidates").row("c01")
    assert row is not None
    return row.cells["arrival_voltage"]


def test_a_field_whose_correction_takes_a_stop_away_needs_a_reason() -> None:
    async def steps(w: Walk) -> None:
        screen = await at_voltage(w)
        assert stops(w) == ["arrival-high"]
        await w.press("enter")
        await w.type("4.19")
        assert isinstance(w.screen, AskText) and "A cell arrived above full" in w.text() and voltage(w).text == "4.26"
        await w.press("enter")
        assert isinstance(w.screen, AskText) and "write in words why" in w.text()
        await w.type("4.1")
        assert isinstance(w.screen, AskText) and "is a reading, not a reason" in w.text(), "typed ahead"
        await w.press("escape")
        assert voltage(w).text == "4.26" and "4.26 stands, and so does the stop" in screen.told
        assert screen.field.value == "4.19"
        await w.press("enter")
        await w.type(WHY)
        assert (voltage(w).text, voltage(w).note) == ("4.19", f"in place of 4.26: {WHY}") and stops(w) == []
        assert WHY in w.build.history[-1].reason

    walk(steps, HIGH, CHECKLIST)


def test_an_answer_whose_correction_takes_a_stop_away_needs_a_reason(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    path.write_text(SMALL.read_text(encoding="utf-8") + """
[[checks]]
id = "supply-wild"
step = "load"
severity = "stop"
title = "The supply is far too high"
message = "{value} is above {limit}"
value = "supply_voltage"
at_most = "20 V"
""", encoding="utf-8")
    build = build_with(**PLAN, **LOAD, supply_voltage=answered("24 V"))

    async def steps(w: Walk) -> None:
        screen = w.screen
        assert isinstance(screen, BenchScreen)
        screen.jump("supply_voltage")
        await w.settle()
        assert stops(w) == ["supply-wild"]
        await w.press("e")
        await w.type("22")
        assert w.app.screen is screen and stops(w) == ["supply-wild"], "the stop stays: nothing is asked"
        await w.press("e")
        await w.type("14")
        assert isinstance(w.screen, AskText)
        await w.press("escape")
        assert isinstance(w.screen, BenchScreen) and w.screen.card.field.value == "14"
        assert [r.text for r in w.build.entry("supply_voltage").standing][-1] == "22"
        await w.press("enter")
        await w.type(WHY)
        last = w.build.entry("supply_voltage").standing[-1]
        assert (last.text, last.note) == ("14", f"in place of 22: {WHY}") and stops(w) == []

    walk(steps, build, read_checklist(path))


@pytest.mark.parametrize("keys", [("3", ".", "8", "enter")])
def test_a_reading_of_a_hold_point_in_a_table_is_asked_about_before_another_takes_its_place(
    keys: tuple[str, ...]
) -> None:
    async def steps(w: Walk) -> None:
        screen = await at_voltage(w)
        await w.press(*keys)
        assert voltage(w).text == "3.90"
        assert "Hold point: 3.90 stands. Enter again puts 3.8 in its place, Esc keeps it." in screen.told
        await w.press("escape")
        assert voltage(w).text == "3.90"
        await w.press(*keys, "enter")
        assert voltage(w).text == "3.8"
        await w.press("escape")
        screen.grid.go(0, [c.id for c in screen.columns].index("arrival_voltage"))
        await w.settle()
        await w.press("enter")
        await w.type("3.7")
        assert voltage(w).text == "3.7", "opened with Enter it is corrected on purpose"

    walk(steps, build_with(**PLAN, **LOAD, series_count=answered("3"), candidates=FINE), CHECKLIST)
