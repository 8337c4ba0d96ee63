"""Nothing typed is lost: keys sent at once arrive where they were meant to, and what was left with Esc comes back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from textual import events

from buildtrack.bench.entry import no_reason
from buildtrack.bench.saving import JudgeEnded, SaveEnded
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.model.build import Cell, Entry, Row
from buildtrack.storage.checklist_file import read_checklist
from tests.bench_walk import SMALL, MemorySession, Walk, new_build, small_checklist, walk
from tests.test_bench_entry import CELLS, LOAD, PLAN, answered, build_with

CHECKLIST = small_checklist()
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])
READY = build_with(**PLAN, **LOAD, series_count=answered("3"))


def bench(w: Walk) -> BenchScreen:
    assert isinstance(w.screen, BenchScreen)
    return w.screen


async def table(w: Walk, name: str) -> TableScreen:
    """Open a table from the bench."""
    bench(w).jump(name)
    await w.settle()
    await w.press("enter")
    assert isinstance(w.screen, TableScreen)
    return w.screen


def texts(w: Walk, item: str) -> list[str]:
    return [r.text for r in w.build.entry(item).standing]


# -- keys sent at once -------------------------------------------------------------------------------------------------


@SIZES
def test_readings_sent_in_one_burst_all_arrive(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.burst("1.0 A", "enter", "1.1 A", "enter", "1.25 A", "enter")
        await w.burst("5.5 A", "enter", "6 A", "enter")  # a hold point: only once it is seen (test_bench_hold_seen.py)
        assert texts(w, "free_current") == ["1.0 A", "1.1 A", "1.25 A"]
        assert texts(w, "working_current") == ["5.5 A", "6 A"]
        assert w.session.build is w.build, "and all are saved"

    walk(steps, build_with(**PLAN), CHECKLIST, size=size)


def test_saves_and_judgements_that_come_back_between_the_keys_take_none() -> None:
    async def steps(w: Walk) -> None:
        desk = w.app.desk
        assert desk is not None
        for typed in (("1.0", "1.1", "1.2"), ("5", "6")):  # the second is a hold point: only once it is seen
            for key in "".join(f"{text}\r" for text in typed):
                name = {".": "full_stop", "\r": "enter"}.get(key, key)
                w.app.post_message(events.Key(name, None if key == "\r" else key))
                w.app.post_message(JudgeEnded(desk, desk.judged))
                w.app.post_message(SaveEnded(desk.build))
            await w.burst()
        assert (texts(w, "free_current"), texts(w, "working_current")) == (["1.0", "1.1", "1.2"], ["5", "6"])

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_answers_of_different_kinds_sent_in_one_burst_all_arrive() -> None:
    async def steps(w: Walk) -> None:
        await w.burst("enter", "a drill", "enter", "2", "enter")
        await w.burst("12", "enter")  # hold points: each only once it is seen
        await w.burst("y", "enter")
        names = ("tool", "tool_kind", "rated_voltage", "charging_site")
        assert [texts(w, n) for n in names] == [["a drill"], ["garden"], ["12"], ["yes"]]

    walk(steps, new_build(CHECKLIST), CHECKLIST)


@pytest.mark.parametrize("key", ["y", "1", "enter"])
def test_a_key_that_is_held_down_answers_nothing(key: str, tmp_path: Path) -> None:
    more = '''
[[steps.items]]
id = "bench_cleared"
kind = "tick"
label = "Nothing that burns lies beside the pack"
hold = true

[[steps.items]]
id = "meter_proven"
kind = "choice"
label = "The meter was tried on a known source"
options = [["yes", "Yes"], ["no", "No"]]
'''
    path = tmp_path / "small.toml"
    text, before = SMALL.read_text(encoding="utf-8"), '\n[[steps.items]]\nid = "charging_site"'
    path.write_text(text.replace(before, more + before), encoding="utf-8")
    checklist = read_checklist(path)
    held = ("bench_cleared", "meter_proven", "charging_site")

    async def steps(w: Walk) -> None:
        for name in held:
            bench(w).jump(name)
            await w.settle()
            await w.burst(*[key] * 30)
            assert [texts(w, n) for n in held] == [[], [], []]
        bench(w).jump("bench_cleared")
        await w.settle()
        await w.press("y")
        assert "Hold point. Enter takes: Yes" in w.text() and bench(w).card.options.current_key == "yes"
        await w.burst("enter", "y", "enter", "n", "enter")
        assert [texts(w, n) for n in held] == [["yes"], ["yes"], []], "what is no hold point takes what is typed ahead"

    walk(steps, new_build(checklist), checklist)


def test_a_hold_point_chosen_by_its_key_is_left_open_with_escape() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("charging_site")
        await w.settle()
        await w.press("y", "escape")
        assert texts(w, "charging_site") == [] and bench(w).card.told == ""
        assert bench(w).card.options.current_key == "", "nothing is chosen any more"

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_whole_rows_sent_in_one_burst_fill_a_table() -> None:
    async def steps(w: Walk) -> None:
        await table(w, "candidates")
        await w.burst("a", "laptop", "enter", "1", "enter", "3.91", "enter", "escape", "a", "a drill", "enter")
        rows = w.build.entry("candidates").rows
        assert [(r.text("source"), r.text("visual"), r.text("arrival_voltage")) for r in rows] == [
            ("laptop", "sound", "3.91"),
            ("a drill", "", ""),
        ]

    walk(steps, READY, CHECKLIST)


def test_a_number_typed_ahead_is_no_reason_for_an_unusual_value() -> None:
    async def steps(w: Walk) -> None:
        await w.burst("50", "enter", "1.1", "enter")
        assert isinstance(w.screen, AskText), "the question waits"
        assert not texts(w, "free_current") and "1.1" in w.text()
        await w.press(*["backspace"] * 3)
        await w.type("it is so")
        assert w.build.entry("free_current").standing[-1].accepted == "it is so"

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_escape_and_a_letter_close_behind_it_are_two_keys() -> None:
    """Terminals send them as the bytes of Alt with that letter."""

    async def steps(w: Walk) -> None:
        bench(w).jump("rated_voltage")
        await w.settle()
        await w.burst("14")
        w.app.post_message(events.Key("alt+u", "u"))
        await w.burst()
        assert bench(w).card.field.value == "14" and texts(w, "rated_voltage") == ["12 V"], "dropped, and brought back"
        w.app.post_message(events.Key("alt+5", "5"))
        await w.burst()
        assert bench(w).card.field.value == "5"

    walk(steps, build_with(**PLAN), CHECKLIST)


# -- what was left with Esc --------------------------------------------------------------------------------------------


@SIZES
def test_escape_drops_a_reading_visibly_and_u_brings_it_back(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("rated_voltage")
        await w.settle()
        await w.burst("14.4", "escape")
        assert texts(w, "rated_voltage") == ["12 V"] and bench(w).card.field.value == ""
        assert "Dropped '14.4'; '12 V' stays. u brings it back." in " ".join(w.text().split())
        await w.press("u")
        assert bench(w).card.field.value == "14.4" and texts(w, "rated_voltage") == ["12 V"]
        await w.press("enter", "enter", "enter")  # it opens; it is asked about, at a hold point; it is taken
        assert texts(w, "rated_voltage")[-1] == "14.4"
        await w.press("u")
        assert texts(w, "rated_voltage") == ["12 V"], "then undo takes edits back as before"

    walk(steps, build_with(**PLAN), CHECKLIST, size=size)


@SIZES
def test_u_pressed_twice_undoes_twice_also_where_the_first_one_leads_to_a_field(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.burst("1.0", "enter", "1.1", "enter", "1.2", "escape")
        await w.press("u")
        assert bench(w).card.field.value == "1.2" and "'1.2' is back in its field" in bench(w).said
        await w.press("u", "u")
        assert texts(w, "free_current") == [] and "u" not in bench(w).card.field.value

    walk(steps, build_with(**PLAN), CHECKLIST, size=size)


def test_u_pressed_twice_undoes_twice_also_on_items_of_words() -> None:
    async def steps(w: Walk) -> None:
        await w.burst("a drill", "enter", "2", "enter")
        assert texts(w, "tool_kind") == ["garden"]
        await w.press("u", "u")
        assert texts(w, "tool_kind") == [] and texts(w, "tool") == []
        assert bench(w).item_id == "tool" and bench(w).card.field.value == ""
        await w.press("u")
        assert bench(w).card.field.value == "", "and a third one finds nothing to take back"
        await w.press("r", "r")
        assert texts(w, "tool") == ["a drill"] and texts(w, "tool_kind") == ["garden"]

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_what_an_arrow_leaves_behind_is_seen_in_the_list() -> None:
    async def steps(w: Walk) -> None:
        await w.burst("7.5", "down")
        assert "› 7.5" in w.text() and bench(w).item_id == "working_current"
        await w.press("up")
        assert bench(w).card.field.value == "7.5"

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_an_answer_looked_at_for_correction_and_left_is_not_said_to_be_dropped() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("rated_voltage")
        await w.settle()
        await w.press("e")
        assert bench(w).card.field.value == "12 V" and "now 12 V" in w.text()
        await w.press("escape")
        assert "Dropped" not in w.text()
        await w.burst("13", "enter")
        assert w.build.entry("rated_voltage").readings[0].withdrawn == "", "a later reading corrects nothing"

    walk(steps, build_with(**PLAN), CHECKLIST)


@SIZES
def test_a_digit_on_a_filled_field_of_a_table_replaces_nothing_until_enter(size: tuple[int, int]) -> None:
    full = Row("c01", {"source": Cell("laptop"), "visual": Cell("sound"), "arrival_voltage": Cell("3.9")})

    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        for column, digit, stands, shown in ((2, "4", "3.9", "now 3.9"), (1, "2", "sound", "now sound")):
            screen.grid.go(0, column)
            await w.settle()
            name = screen.grid.column_id
            await w.press(digit)
            row = w.build.entry("candidates").row("c01")
            assert row is not None and row.text(name) == stands and shown in w.text()
            await w.press("escape")
            assert screen.field.value == "" and stands in w.text()
            await w.press("u")
            assert screen.field.value == digit
            await w.press("enter", "enter")
            row = w.build.entry("candidates").row("c01")
            assert row is not None and row.text(name) == {"4": "4", "2": "dented"}[digit]
            await w.press("escape")

    build = replace(READY, entries={**READY.entries, "candidates": Entry(rows=(full,))})
    walk(steps, build, CHECKLIST, size=size)


def test_a_text_left_in_a_table_stays_in_its_field_also_when_the_table_is_left() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        screen.grid.go(0, 6)
        await w.settle()
        await w.burst("2510", "up")
        await w.press("escape")
        assert (await table(w, "candidates")).grid.rows[0].cells[6][0] == "› 2510"

    build = replace(READY, entries={**READY.entries, "candidates": CELLS})
    walk(steps, build, CHECKLIST)


@pytest.mark.parametrize("leaves", [False, True])
def test_leaving_the_program_asks_about_what_is_typed_and_not_taken(leaves: bool) -> None:
    session = MemorySession(replace(READY, entries={**READY.entries, "candidates": CELLS}), CHECKLIST, Path("/x.toml"))

    async def steps(w: Walk) -> None:
        bench(w).jump("rated_voltage")
        await w.settle()
        await w.burst("14.4")
        screen = await table_behind(w)
        await w.burst("2510")
        await w.press("ctrl+q")
        assert isinstance(w.screen, AskOne)
        assert "Voltage on the plate: 14.4" in w.text() and "Candidate cells, c01, Capacity: 2510" in w.text()
        await w.press("2" if leaves else "1", "enter")
        if not leaves:
            assert isinstance(w.screen, TableScreen) and screen.field.value == "2510"

    async def table_behind(w: Walk) -> TableScreen:
        await w.press("up")
        screen = await table(w, "candidates")
        screen.grid.go(0, 6)
        await w.settle()
        return screen

    walk(steps, session.build, CHECKLIST, session=session)
    assert session.closed == leaves


# -- a number where none is asked for ----------------------------------------------------------------------------------


@SIZES
def test_a_number_typed_at_a_choice_marks_nothing_and_enter_takes_nothing(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("tool_kind")
        await w.settle()
        before = w.build
        for number in ("12,8", "1.", "19", "4,2", "14.1"):
            await w.burst(number, "enter")
            assert w.build.entries == before.entries, number
            assert bench(w).card.options.current == -1 and "nothing is marked" in " ".join(bench(w).card.told.split())
        await w.burst("4,", "escape", "2", "enter")
        assert texts(w, "tool_kind")[-1:] == ["garden"], "Esc ends the number"

    walk(steps, build_with(tool=PLAN["tool"]), CHECKLIST, size=size)


@SIZES
def test_a_number_typed_at_a_question_of_yes_or_no_takes_back_what_was_marked(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("charging_site")
        await w.settle()
        await w.burst("y", "14,4", "enter")
        assert not w.build.entry("charging_site").standing
        assert "nothing is marked yet" in bench(w).card.told
        await w.burst("y", "enter")
        assert texts(w, "charging_site") == ["yes"]

    walk(steps, build_with(tool=PLAN["tool"]), CHECKLIST, size=size)


@SIZES
def test_a_refusal_goes_with_the_text_it_was_about(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("rated_voltage")
        await w.settle()
        await w.burst("12 A", "enter")
        assert bench(w).card.told
        await w.press("ctrl+u")
        assert not bench(w).card.field.value and not bench(w).card.told

    walk(steps, build_with(tool=PLAN["tool"]), CHECKLIST, size=size)


@SIZES
def test_escape_on_an_item_of_words_says_that_letters_are_keys_now(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("tool")
        await w.settle()
        await w.press("g", "escape")
        assert "Letters are keys here now; Enter opens the field." in bench(w).said and "Dropped 'g'" in bench(w).said

    walk(steps, build_with(), CHECKLIST, size=size)


@SIZES
def test_a_reading_typed_behind_a_refused_one_begins_anew(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("free_current")
        await w.settle()
        await w.burst("1.1 V", "enter", "1.2", "enter")
        assert texts(w, "free_current") == ["1.2"] and "1.1 V" not in bench(w).card.field.value
        await w.burst("1.1 V", "enter")
        await w.press("backspace", "A", "enter")
        assert texts(w, "free_current") == ["1.2", "1.1 A"], "a refused text can be mended"
        await w.burst("9 V", "enter", "2")
        assert bench(w).card.field.value == "2" and "Dropped '9 V'" in bench(w).said

    walk(steps, build_with(**PLAN), CHECKLIST, size=size)


@pytest.mark.parametrize("text", ["16,8116,79", "1.2", "3.9 3.8", "12"])
def test_numbers_alone_are_no_reason_for_an_unusual_value(text: str) -> None:
    assert "clear it" in no_reason(CHECKLIST.items["rated_voltage"], text)
    assert not no_reason(CHECKLIST.items["rated_voltage"], f"two meters agree on {text}")
