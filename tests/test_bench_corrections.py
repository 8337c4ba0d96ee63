"""After a correction one stays where its effect is seen; the same answer again keeps its day; undo leads to its item."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.words import in_place
from buildtrack.model.build import Entry, Reading
from tests.bench_walk import NOW, Clock, Walk, walk
from tests.test_bench_entry import CHECKLIST, LOAD, PLAN, SIZES, build_with
from tests.test_bench_typing_ahead import bench

BUILD = build_with(**PLAN, **LOAD)
LATER = NOW + timedelta(days=3)


async def at(w: Walk, item: str) -> None:
    bench(w).jump(item)
    await w.settle()


@SIZES
def test_after_a_correction_the_cursor_stays_on_the_corrected_item(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await at(w, "rated_voltage")
        await w.press("e")
        await w.type("14.4")
        assert w.build.entry("rated_voltage").standing[-1].text == "14.4"
        assert bench(w).item_id == "rated_voltage" and bench(w).focused is bench(w).items
        assert "Now it is 14.4 V. u takes it back, x goes on" in " ".join(bench(w).card.told.split())
        await w.press("x")
        assert bench(w).item_id != "rated_voltage"

    walk(steps, BUILD, CHECKLIST, size=size)


@pytest.mark.parametrize(("item", "keys", "now"), [("tool_kind", ("2", "enter"), "Now it is Garden tool"),
                                                   ("rated_voltage", ("9", "enter", "enter"), "Now it is 9 V"),
                                                   ("charging_site", ("n", "enter"), "Now it is no")])
def test_an_answer_changed_without_e_is_a_correction_too(item: str, keys: tuple[str, ...], now: str) -> None:
    async def steps(w: Walk) -> None:
        await at(w, item)
        await w.press(*keys)
        assert bench(w).item_id == item and now.casefold() in bench(w).card.told.casefold()

    walk(steps, BUILD, CHECKLIST)


@SIZES
def test_a_number_typed_on_an_answered_hold_point_takes_its_place_only_at_the_second_enter(size: tuple[int, int]) -> None:
    """After a correction the cursor stays: the next number that is typed may be meant for the next item."""

    async def steps(w: Walk) -> None:
        await at(w, "rated_voltage")
        before = w.build
        await w.press("9", "enter")
        assert w.build is before
        assert bench(w).card.told == "Hold point: 12 V stands. Enter again puts 9 in its place, Esc keeps 12 V."
        await w.press("0", "enter")
        assert w.build is before, "another number is asked about anew"
        await w.press("escape")
        assert w.build.entries == before.entries and "Dropped '90'" in bench(w).said
        await w.press("9", "enter", "enter")
        assert w.build.entry("rated_voltage").standing[-1].text == "9"

    walk(steps, BUILD, CHECKLIST, size=size)


def test_a_first_answer_goes_on_to_the_next_item_as_before() -> None:
    async def steps(w: Walk) -> None:
        await at(w, "series_count")
        await w.type("3")
        assert bench(w).item_id != "series_count"

    walk(steps, BUILD, CHECKLIST)


@pytest.mark.parametrize(("item", "keys"), [("charging_site", ("y", "enter")), ("tool_kind", ("1", "enter")),
                                            ("tool", ("enter", *"a", "space", *"drill", "enter"))])
def test_the_same_answer_again_keeps_its_day_and_says_so(item: str, keys: tuple[str, ...]) -> None:
    async def steps(w: Walk) -> None:
        await at(w, item)
        before = w.build
        await w.press(*keys)
        assert w.build is before, "nothing was entered"
        assert "the answer already, since 2026-11-25" in " ".join(bench(w).card.told.split())
        assert bench(w).item_id == item

    walk(steps, BUILD, CHECKLIST, clock=Clock(LATER))


def test_the_same_answer_is_confirmed_anew_on_purpose_by_correcting_it() -> None:
    async def steps(w: Walk) -> None:
        await at(w, "charging_site")
        await w.press("e", "y", "enter")
        last = w.build.entry("charging_site").standing[-1]
        assert (last.text, last.taken) == ("yes", LATER)

    walk(steps, BUILD, CHECKLIST, clock=Clock(LATER))


def test_a_corrected_reading_keeps_its_place_in_the_list_while_the_file_keeps_the_order_of_time() -> None:
    async def steps(w: Walk) -> None:
        await at(w, "free_current")
        await w.press("e", "1")
        await w.type("1.05")
        assert bench(w).item_id == "free_current"
        assert [r.text for r in w.build.entry("free_current").standing] == ["1.1", "1.2", "1.05"]
        assert "1.05   1.1   1.2" in w.text()
        await w.press("e")
        assert isinstance(w.screen, AskOne)
        assert [text.split()[0] for _, text in w.screen.choices] == ["1.05", "1.1", "1.2"]
        await w.press("1", "backspace", "6", "enter")
        assert "1.06" not in w.text() or "1.06   1.1   1.2" in w.text()
        await w.press("u")
        assert "1.05   1.1   1.2" in w.text()

    walk(steps, BUILD, CHECKLIST)


def test_places_follow_a_reading_that_was_corrected_twice() -> None:
    entry = Entry((Reading("1", NOW, withdrawn="corrected to 2"), Reading("7", NOW),
                   Reading("2", NOW, withdrawn="corrected to 3"), Reading("3", NOW),
                   Reading("9", NOW, withdrawn="wrong shunt")))
    assert [entry.readings[n].text for n in in_place(entry)] == ["3", "7"]


@SIZES
def test_undo_and_redo_lead_to_the_item_they_are_about(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("1", "enter")
        assert bench(w).item_id == "rated_voltage"
        await w.press("u")
        assert bench(w).item_id == "tool_kind" and "undone" in bench(w).said
        bench(w).jump("charging_site")
        await w.settle()
        await w.press("r")
        assert bench(w).item_id == "tool_kind" and "brought back" in bench(w).said

    open_ = {n: e for n, e in BUILD.entries.items() if n not in ("tool_kind", "rated_voltage")}
    walk(steps, replace(BUILD, entries=open_), CHECKLIST, size=size)
