"""Text that meets a list of choices, and text that waits in its field, are not lost without a word."""

from __future__ import annotations

from pathlib import Path

from textual import events

from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.why import Why
from buildtrack.bench.widgets.field import Field
from buildtrack.storage.checklist_file import read_checklist
from tests.bench_walk import SMALL, Walk, walk
from tests.test_bench_entry import CHECKLIST
from tests.test_bench_guidance import READY
from tests.test_bench_stands import OVER
from tests.test_bench_table_paste import at_voltage, cells, column, paste

MORE = '''
[[checks]]
id = "supply-odd"
step = "load"
severity = "caution"
title = "The supply is above ten"
message = "{value} is above {limit}"
value = "supply_voltage"
at_most = "10 V"
'''
REASON = "tested at 1 A, tool cells rated 20 A; derated by capacity"


def bench(w: Walk) -> BenchScreen:
    assert isinstance(w.screen, BenchScreen)
    return w.screen


def two_cautions(folder: Path) -> Path:
    path = folder / "small.toml"
    path.write_text(SMALL.read_text(encoding="utf-8") + MORE, encoding="utf-8")
    return path


def test_a_reason_typed_where_two_cautions_wait_is_whole_and_chooses_nothing(tmp_path: Path) -> None:
    checklist = read_checklist(two_cautions(tmp_path))

    async def steps(w: Walk) -> None:
        bench(w).jump("supply_voltage")
        await w.settle()
        await w.press("w")
        await w.burst(REASON, "enter")
        assert isinstance(w.screen, AskOne) and not w.build.waivers
        shown = " ".join(w.text().replace("▌", " ").split())
        assert f"Typed for the reason, and kept: {REASON}" in shown and "Nothing is chosen yet" in shown
        await w.press("down", "enter")
        assert isinstance(w.screen, AskText) and w.screen.query_one(Field).value == REASON and not w.build.waivers
        await w.press("enter")
        assert [(g.check, g.reason) for g in w.build.waivers] == [("supply-odd", REASON)]

    walk(steps, OVER, checklist)


def test_a_reason_that_begins_with_a_digit_keeps_it_and_one_that_was_left_comes_back(tmp_path: Path) -> None:
    checklist = read_checklist(two_cautions(tmp_path))

    async def steps(w: Walk) -> None:
        bench(w).jump("supply_voltage")
        await w.settle()
        await w.press("w")
        await w.burst("12 A is allowed", "escape")
        assert "w shows '12 A is allowed' again" in bench(w).said and not w.build.waivers
        await w.press("w")
        assert "Typed for the reason, and kept: 12 A is allowed" in w.text()
        await w.press("2", "enter")
        assert isinstance(w.screen, AskText) and w.screen.query_one(Field).value == "12 A is allowed"
        await w.press("enter")
        assert [(g.check, g.reason) for g in w.build.waivers] == [("supply-odd", "12 A is allowed")]

    walk(steps, OVER, checklist)


def test_letters_choose_nothing_of_a_list_nor_does_a_digit_among_them_or_the_enter_behind_them() -> None:
    answers: list[str | None] = []

    async def steps(w: Walk) -> None:
        w.app.push_screen(AskOne("Which?", [("a", "first"), ("b", "second")]), answers.append)
        await w.settle()
        await w.burst("to 2 of it", "enter")
        assert answers == [] and "Nothing is chosen yet" in w.text()
        await w.press("x")
        assert "Letters choose nothing here" in w.text()
        await w.press("2")
        assert answers == []
        await w.press("down", "2")
        assert answers == ["b"], "after an arrow a number chooses again"

    walk(steps, READY, CHECKLIST)


def test_what_was_typed_before_a_paste_asked_is_no_answer_to_it() -> None:
    async def steps(w: Walk) -> None:
        screen = await at_voltage(w)
        w.app.post_message(events.Paste("3.81\n3.82\n3.83"))
        await w.burst("1", "enter")
        assert isinstance(w.screen, AskOne) and column(w, "arrival_voltage") == ["", ""]
        assert "Pressed before this question was seen" in w.text()
        await w.press("1", "enter")
        assert w.app.screen is screen and column(w, "arrival_voltage") == ["3.81", "3.82", "3.83"]

    walk(steps, cells(2), CHECKLIST)


def test_a_text_that_waits_in_a_field_of_a_table_is_told_of_before_and_after_another_takes_its_place() -> None:
    async def steps(w: Walk) -> None:
        screen = await at_voltage(w)
        await paste(w, screen, "3.81\n−0,07")
        assert column(w, "arrival_voltage") == ["3.81", ""] and screen.field.value == "−0,07"
        await w.press("3")
        assert "'−0,07' waits in this field: Enter puts 3 … in its place, Esc keeps it." in screen.said
        await w.press("escape")
        assert screen.field.value == "−0,07" and "waits in its field as before" in screen.said
        await w.burst("3.9", "enter")
        assert column(w, "arrival_voltage") == ["3.81", "3.9"] and "Dropped '−0,07'. u brings it back." in w.text()
        await w.press("escape", "u")
        assert screen.field.value == "−0,07" and column(w, "arrival_voltage") == ["3.81", "3.9"]
        await w.press("u")
        assert column(w, "arrival_voltage") == ["3.81", ""]

    walk(steps, cells(2), CHECKLIST)


def test_a_text_that_waits_in_the_field_of_an_item_is_told_of_when_another_takes_its_place() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("supply_voltage")
        await w.settle()
        await w.press("1", "2", "x", "enter", "up", "down")
        assert bench(w).card.field.value == "12x"
        await w.burst("11", "enter")
        assert [r.text for r in w.build.entry("supply_voltage").standing] == ["11"]
        assert "Dropped '12x'. u brings it back." in bench(w).said
        await w.press("u")
        assert bench(w).item_id == "supply_voltage" and bench(w).card.field.value == "12x"

    walk(steps, READY, CHECKLIST)


def test_a_stop_is_explained_at_its_item_and_there_one_stays_and_enter_is_promised_only_where_it_goes() -> None:
    async def steps(w: Walk) -> None:
        screen = await at_voltage(w)
        await w.press("4", ".", "2", "2", "enter", "escape", "escape", "escape")
        assert screen is not w.screen and bench(w).desk.fresh_stop == "arrival-high"
        bench(w).go_to("load")
        await w.settle()
        await w.press("x")
        assert isinstance(w.screen, Why) and "Enter: go there" in w.text()
        await w.press("escape")
        assert bench(w).item_id == "candidates", "the table the stop is about"

    walk(steps, cells(2), CHECKLIST)
