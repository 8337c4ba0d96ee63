"""Texts from other programs: a date with a time, a choice by a part of its name, semicolons, and what does not fit."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.command import CommandPalette
from textual.widgets import Input

from buildtrack.bench.entry import pasted_lines, try_column
from buildtrack.bench.pasted_fields import fields_of
from buildtrack.model.checklist import Column, Option
from tests.bench_walk import Walk, walk
from tests.test_bench_entry import CHECKLIST
from tests.test_bench_guidance import READY
from tests.test_bench_import import folder, mapping, rows_of
from tests.test_bench_stray_keys import bench
from tests.test_bench_table_paste import at_voltage, cells, paste

ON = Column("on", "On", "date")
HOW = Column("how", "How", "choice", options=(Option("ac", "AC meter, 1 kHz"), Option("dc", "DC pulse, 10 s"),
                                             Option("two", "two pulses, 10 s")))


@pytest.mark.parametrize("text", ["2026-11-10 10:00", "2026-11-10T10:00:05", "2026-11-10 10:00:05.25", "2026-11-10T10:00Z",
                                  "2026-11-10 23:59+01:00"])
def test_of_a_date_with_a_time_the_day_is_taken_and_that_is_said(text: str) -> None:
    tried = try_column(ON, text)
    assert (tried.text, tried.refused, tried.read_as) == ("2026-11-10", "", f"'{text}' was read as 2026-11-10")


@pytest.mark.parametrize("text", ["2026-11-10 25:00", "2026-11-10 10", "10:00", "2026-11-10 10:00 or so"])
def test_what_is_no_time_of_day_behind_a_date_is_refused(text: str) -> None:
    assert "is not a date" in try_column(ON, text).refused


def test_a_choice_is_known_by_a_part_of_its_name_where_only_one_has_it() -> None:
    assert [try_column(HOW, text).text for text in ("1 kHz", "ac", "DC pulse")] == ["ac", "ac", "dc"]
    assert try_column(HOW, "10 s").refused, "two are of 10 s"


def test_numbers_parted_by_semicolons_are_fields_and_words_are_not() -> None:
    assert fields_of("0,280;2,50") == ["0,280", "2,50"] and fields_of(" 3.81 V ; −0,07;") == ["3.81 V", "−0,07", ""]
    assert fields_of("old; 2 cells") == ["old; 2 cells"] and fields_of("3;x") == ["3;x"] and fields_of("18;") == ["18;"]
    assert pasted_lines("1;2\n3;4") == ["1", "2", "3", "4"]


def test_a_pasted_row_with_semicolons_goes_across(tmp_path: Path) -> None:
    async def steps(w: Walk) -> None:
        screen = await at_voltage(w)
        at = [c.id for c in screen.columns].index("capacity")
        screen.grid.go(0, at)
        await w.settle()
        await paste(w, screen, "2400,5;33,5")
        row = w.build.entry("candidates").rows[0]
        assert (row.text("capacity"), row.text("resistance")) == ("2400,5", "33,5")

    walk(steps, cells(2, "3.8"), CHECKLIST)


def test_what_of_a_file_does_not_fit_is_told_by_column_with_its_first_example(tmp_path: Path) -> None:
    lines = [f"c{n:02d};{'full' if n != 3 else '3,9'};{2400 if n != 5 else 'abc'}" for n in range(1, 21)]
    text = "\n".join(["Cell;Voltage on arrival [V];Capacity (mAh)", *lines]) + "\n"

    async def steps(w: Walk) -> None:
        page = await mapping(w)
        assert len(page.planned.refused) == 20
        assert [(head, number) for head, number, _ in page.planned.by_column] == [
            ("Capacity (mAh)", 1), ("Voltage on arrival [V]", 19)]
        await w.press("end")
        shown = " ".join(w.text().split())
        assert "1 field in 'Capacity (mAh)'" in shown and "19 fields in 'Voltage on arrival [V]'" in shown
        assert shown.count("is not") <= 2, "one example for each column"
        await w.press("home", "enter")
        assert len(rows_of(w)) == 19, "of c05 nothing fits"

    walk(steps, READY, CHECKLIST, path=folder(tmp_path, text), size=(120, 40))


def test_the_palette_finds_the_title_of_the_build() -> None:
    async def steps(w: Walk) -> None:
        assert bench(w)
        await w.press("ctrl+p")
        assert isinstance(w.app.screen, CommandPalette)
        w.app.screen.query_one(Input).value = "title"
        await w.settle()
        assert "Rename: the title of this build" in w.text()

    walk(steps, READY, CHECKLIST, size=(120, 40))
