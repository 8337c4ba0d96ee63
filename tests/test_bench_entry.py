"""Answering at the bench: every kind of item, refusals, the question asked once, paste, undo, held steps."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from textual import events

from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.screens.why import Why
from buildtrack.bench.widgets.grid import Grid
from buildtrack.model.build import Build, Cell, Entry, Reading, Row
from tests.bench_walk import NOW, Clock, MemorySession, Walk, new_build, small_checklist, walk

CHECKLIST = small_checklist()
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])


def build_with(**entries: Entry) -> Build:
    return replace(new_build(CHECKLIST), entries=dict(entries))


def answered(*texts: str) -> Entry:
    return Entry(tuple(Reading(text, NOW) for text in texts))


METERS = Entry(rows=(Row("m1", {"meter": Cell("red meter"), "quantity": Cell("current"), "range": Cell("10 A")}),))
PLAN = {
    "instruments": METERS,
    "tool": answered("a drill"),
    "tool_kind": answered("drill"),
    "rated_voltage": answered("12 V"),
    "charging_site": answered("yes"),
    "reason": answered("old pack is dead"),
}
LOAD = {"free_current": answered("1", "1.1", "1.2"), "working_current": answered("5", "6")}


def bench(w: Walk) -> BenchScreen:
    assert isinstance(w.screen, BenchScreen)
    return w.screen


@SIZES
def test_a_step_is_answered_with_enter_digits_and_one_letter(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        assert bench(w).item_id == "tool"
        await w.press("enter")
        await w.type("a drill")
        assert bench(w).item_id == "tool_kind"
        await w.press("2", "enter")
        assert bench(w).item_id == "rated_voltage"
        await w.type("12")
        await w.press("y", "enter")
        entries = w.build.entries
        assert [entries[n].standing[-1].text for n in ("tool", "tool_kind", "rated_voltage", "charging_site")] == [
            "a drill",
            "garden",
            "12",
            "yes",
        ]
        assert entries["rated_voltage"].standing[-1].taken == NOW
        assert w.session.build is w.build, "what was entered is saved"
        assert "saved 14:03:22" in w.text()

    walk(steps, new_build(CHECKLIST), CHECKLIST, size=size)


@SIZES
@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("12 A", "a current"),
        ("12 parsec", "not a unit"),
        ("500", "cannot be right"),
        ("-5", "cannot be right"),
        ("1_000", "more than one"),
        ("12 13", "more than one"),
        ("1e9", "cannot be right"),
        ("7" * 60, "has 60 digits"),
    ],
)
def test_what_does_not_fit_is_refused_under_the_field_and_stays_in_it(
    size: tuple[int, int], typed: str, said: str
) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("rated_voltage")
        await w.settle()
        await w.press("enter")
        await w.type(typed)
        assert said in bench(w).card.told
        assert bench(w).card.field.value == typed
        assert not w.build.entry("rated_voltage").readings
        await w.press("up", "down")
        assert bench(w).card.field.value == typed, "what was typed is kept with its item"

    walk(steps, new_build(CHECKLIST), CHECKLIST, size=size)


def test_ten_thousand_characters_are_refused_in_one_sentence() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("rated_voltage")
        await w.settle()
        await w.press("enter")
        bench(w).card.field.value = "9" * 10_000
        await w.press("enter")
        assert "10000 characters are too many" in bench(w).card.told
        bench(w).jump("reason")
        await w.settle()
        await w.press("enter")
        bench(w).card.field.value = "x" * 10_000
        await w.press("enter")
        assert "at most 4000" in bench(w).card.told

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_an_unusual_value_is_asked_about_once_and_the_answer_is_recorded() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("rated_voltage")
        await w.settle()
        await w.type("48")
        assert isinstance(w.screen, AskText)
        await w.press("escape")
        assert "is unusual" in bench(w).card.told and bench(w).card.field.value == "48"
        await w.press("enter")
        await w.type("the plate says so")
        reading = w.build.entry("rated_voltage").standing[-1]
        assert (reading.text, reading.accepted) == ("48", "the plate says so")
        assert bench(w).desk.item_state("rated_voltage").state == "done"

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_a_decimal_comma_and_a_unit_are_understood_and_kept_as_typed() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("rated_voltage")
        await w.settle()
        await w.type("12,6 V")
        assert w.build.entry("rated_voltage").standing[-1].text == "12,6 V"
        assert w.app.desk is not None and w.app.desk.judged.assessment.sheet.number("rated_voltage") == 12.6

    walk(steps, new_build(CHECKLIST), CHECKLIST)


@SIZES
def test_several_readings_show_their_mean_and_spread(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        assert bench(w).item_id == "free_current"
        for text in ("1.0", "1.2", "1.4"):
            await w.type(text)
        assert bench(w).item_id == "working_current"
        await w.press("up")
        assert "3 of 3 readings" in w.text() and "mean 1.2" in w.text()
        await w.press("e", "enter", *["backspace"] * 3)
        await w.type("1.3")
        standing = [r.text for r in w.build.entry("free_current").standing]
        assert standing == ["1.0", "1.2", "1.3"]
        assert w.build.entry("free_current").readings[2].withdrawn == "corrected to 1.3"

    walk(steps, build_with(**PLAN), CHECKLIST, size=size)


@SIZES
def test_any_of_several_readings_is_chosen_by_its_number_and_corrected(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("free_current")
        await w.settle()
        await w.press("e")
        assert isinstance(w.screen, AskOne) and "1.2 A · 25 Nov 14:03" in w.text()
        await w.press("1")
        assert "in place of 1 › 1" in w.text(), "the screen says which one is being corrected"
        await w.press("backspace")
        await w.type("1.05")
        entry = w.build.entry("free_current")
        assert [r.text for r in entry.standing] == ["1.1", "1.2", "1.05"]
        assert entry.readings[0].withdrawn == "corrected to 1.05"
        bench(w).jump("free_current")
        await w.press("u")
        assert [r.text for r in w.build.entry("free_current").standing] == ["1", "1.1", "1.2"]

    walk(steps, build_with(**PLAN, **LOAD), CHECKLIST, size=size)


def test_a_correction_left_and_come_back_to_is_still_of_the_reading_that_was_chosen() -> None:
    """Two readings alike: only the first was taken with the wrong shunt."""

    async def steps(w: Walk) -> None:
        bench(w).jump("free_current")
        await w.settle()
        await w.press("e", "1", "9", "down", "up", "enter")
        assert w.build.entry("free_current").readings[0].withdrawn == ""
        await w.press("enter")
        found = w.build.entry("free_current").readings
        assert found[0].withdrawn == "corrected to 9" and not found[2].withdrawn

    walk(steps, build_with(**PLAN, **{**LOAD, "free_current": answered("1.0", "1.1", "1.0")}), CHECKLIST)


def test_a_text_that_another_one_takes_the_place_of_comes_back_with_u() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("working_current")
        await w.settle()
        await w.press("1", ".", "7", "down", "up")
        assert bench(w).card.field.value == "1.7"
        await w.press("5", "escape", "u")
        assert bench(w).card.field.value == "5"
        await w.press("u")
        assert bench(w).card.field.value == "1.7", "and so does the one before it"
        await w.press("r")
        assert bench(w).card.field.value == "5", "which is not lost by that"
        await w.press("enter", "backspace", "escape", "u")
        assert bench(w).card.field.value == "1.7"

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_a_pasted_line_that_does_not_fit_leaves_what_was_typed_for_its_item() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("working_current")
        await w.settle()
        await w.press("5", ".", "7")
        bench(w).jump("free_current")
        await w.settle()
        w.app.post_message(events.Paste("1.1\n1.2\n1.3\n900"))
        await w.settle()
        assert "Without a field: 900" in bench(w).said
        assert w.app.desk is not None and w.app.desk.drafts.of(("working_current",)) == "5.7"

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_lines_pasted_into_a_correction_go_into_no_other_reading() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("free_current")
        await w.settle()
        await w.press("e", "1")
        before = w.build.entries
        bench(w).card.field.post_message(events.Paste("2.0\n2.1"))
        await w.settle()
        assert w.build.entries == before and bench(w).card.field.value == "2.0"
        await w.press("enter")
        assert [r.text for r in w.build.entry("free_current").standing] == ["1.1", "1.2", "2.0"]

    walk(steps, build_with(**PLAN, **LOAD), CHECKLIST)


def test_any_of_several_readings_is_withdrawn_or_given_a_remark() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("free_current")
        await w.settle()
        await w.press("d", "up", "enter")
        assert "Withdraw Current running free: 1.1?" in " ".join(w.text().split())
        await w.type("clamp was open")
        await w.press("m", "1")
        await w.type("cold motor")
        found = w.build.entry("free_current").readings
        assert [(r.text, r.withdrawn, r.note) for r in found] == [
            ("1", "", "cold motor"), ("1.1", "clamp was open", ""), ("1.2", "", "")]

    walk(steps, build_with(**PLAN, **LOAD), CHECKLIST)


def test_after_each_of_several_readings_u_takes_it_back_and_a_digit_begins_the_next() -> None:
    async def steps(w: Walk) -> None:
        await w.type("1.0")
        assert "1 of 3 taken: type the next one. u takes this one back." in " ".join(w.text().split())
        assert "reading 2 ›" in w.text()
        await w.press("u")
        assert not w.build.entry("free_current").standing and bench(w).card.field.value == ""
        await w.type("1.1")
        await w.type("1.2")
        assert [r.text for r in w.build.entry("free_current").standing] == ["1.1", "1.2"]

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_a_sentence_begun_on_the_list_goes_into_the_text() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("tool")
        await w.settle()
        await w.type("Drill, 12 V")
        assert w.build.entry("tool").standing[-1].text == "Drill, 12 V"

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_undo_and_redo_keep_the_whole_history() -> None:
    async def steps(w: Walk) -> None:
        await w.type("1.0")
        await w.press("escape")
        await w.press("u")
        assert not w.build.entry("free_current").standing and "undone: Current running free" in bench(w).said
        await w.press("r")
        assert w.build.entry("free_current").standing[-1].text == "1.0"
        await w.press("u")
        assert [e.what for e in w.build.history] == ["started", "entered", "undone", "redone", "undone"]
        assert w.session.build is w.build

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_two_edits_are_undone_one_after_the_other_and_each_is_named() -> None:
    async def steps(w: Walk) -> None:
        await w.type("1.0")
        await w.type("2.0")
        await w.press("escape", "u", "u")
        assert [e.before for e in w.build.history if e.what == "undone"] == ["2.0", "1.0"]

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_pasted_lines_fill_the_fields_that_follow_and_the_rest_is_named() -> None:
    async def steps(w: Walk) -> None:
        from textual import events

        await w.press("enter")
        bench(w).card.field.post_message(events.Paste("1.0\n1.1\n1.2\n5.0\n6.0\n13\nseven\n8\n"))
        await w.settle()
        assert [r.text for r in w.build.entry("free_current").standing] == ["1.0", "1.1", "1.2"]
        assert texts(w, "working_current") == [], "a hold point that was not seen takes nothing"
        assert "4 pasted lines taken" in bench(w).said and "Without a field: 6.0, seven and 8" in bench(w).said
        assert texts(w, "supply_voltage") == ["13"], "the line keeps its place"

    def texts(w: Walk, item: str) -> list[str]:
        return [r.text for r in w.build.entry(item).standing]

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_lines_pasted_at_a_hold_point_that_is_seen_are_its_readings() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("working_current")
        await w.settle()
        bench(w).items.post_message(events.Paste("5.0\n6.0"))
        await w.settle()
        assert [r.text for r in w.build.entry("working_current").standing] == ["5.0", "6.0"]

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_an_expected_item_is_left_out_with_a_reason_and_a_must_never() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("reason")
        await w.settle()
        await w.press("escape", "l", "enter")
        assert isinstance(w.screen, AskText), "no reason, no leaving out"
        await w.type("not asked")
        left = w.build.entry("reason").left_out
        assert left is not None and left.reason == "not asked"
        bench(w).jump("tool")
        await w.settle()
        await w.press("l")
        assert isinstance(w.screen, BenchScreen), "a must item cannot be left out"

    walk(steps, new_build(CHECKLIST), CHECKLIST)


@SIZES
def test_a_held_step_may_be_seen_but_not_filled_and_says_why(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await w.press("right_square_bracket")
        assert bench(w).step_id == "load"
        await w.press("1")
        assert "held until 'Voltage on the plate' and 'A place to charge is ready'" in w.text().replace(
            "\n▌ ", " "
        ) or ("this step is held until 'Voltage on the plate'" in bench(w).card.told)
        assert not w.build.entry("free_current").readings

    walk(steps, new_build(CHECKLIST), CHECKLIST, size=size)


def test_what_is_answered_in_a_held_step_may_be_corrected() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("supply_voltage")
        await w.settle()
        await w.press("e", *["backspace"] * 4)
        await w.type("11")
        assert w.build.entry("supply_voltage").standing[-1].text == "11"

    walk(steps, build_with(supply_voltage=answered("14 V")), CHECKLIST)


def test_a_caution_is_accepted_with_a_reason_and_a_stop_never() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("supply_voltage")
        await w.settle()
        assert "The supply is above the plate" in w.text()
        await w.press("w")
        await w.type("only for a minute")
        assert w.build.waivers[0].reason == "only for a minute" and w.build.waivers[0].by == "R. Maker"
        await w.press("f2")
        await w.press("end")
        bench(w).jump("candidates")
        await w.settle()
        assert not bench(w).situation().cautions
        await w.press("w")
        assert isinstance(w.screen, BenchScreen)

    cells = Entry(rows=(Row("c01", {"arrival_voltage": Cell("4.5", NOW)}),))
    walk(
        steps,
        build_with(**PLAN, **LOAD, supply_voltage=answered("14 V"), series_count=answered("3"), candidates=cells),
        CHECKLIST,
    )


def test_enter_on_a_check_says_why_and_jumps_to_what_it_rests_on() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("supply_voltage")
        await w.settle()
        await w.press("f2", "home")
        bench(w).meaning.select("check:supply-high")
        await w.press("enter")
        assert isinstance(w.screen, Why)
        assert "14.00 V" in w.text()
        assert "Turn the supply down." in w.text()
        await w.press("enter")
        assert bench(w).item_id in ("supply_voltage", "rated_voltage")

    walk(steps, build_with(**PLAN, supply_voltage=answered("14 V")), CHECKLIST)


def test_the_instrument_is_chosen_once_for_a_step() -> None:
    async def steps(w: Walk) -> None:
        await w.press("i")
        assert isinstance(w.screen, AskOne)
        await w.press("1")
        await w.type("1.0")
        await w.type("1.1")
        await w.type("1.2")
        await w.type("5")
        assert {r.instrument for r in w.build.entry("free_current").standing} == {"m1"}
        assert w.build.entry("working_current").standing[-1].instrument == "m1"

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_hostile_text_is_shown_as_text() -> None:
    evil = "[/] [b]bold[/b] [@click=app.quit]x[/] {0} %s \x1b[31m\u202e<b>&amp;"

    async def steps(w: Walk) -> None:
        text = w.text()
        assert "[b]bold[/b]" in text and "\x1b" not in text and "\u202e" not in text
        bench(w).jump("tool")
        await w.settle()
        assert "[@click" in w.text()
        await w.press("h")
        await w.press("escape", "f1", "escape")
        await w.press("m", *"[b", "enter")
        assert w.build.entry("tool").standing[-1].note == "[b"

    build = replace(build_with(tool=answered(evil), reason=answered(evil)), title=evil, notice=evil)
    walk(steps, build, CHECKLIST, size=(120, 40))


@SIZES
def test_a_read_only_build_can_be_seen_and_says_why_nothing_is_taken(size: tuple[int, int]) -> None:
    session = MemorySession(build_with(**PLAN), CHECKLIST, Path("/nowhere/b.toml"), "somebody else has it open")

    async def steps(w: Walk) -> None:
        assert "read-only: somebody else has it open" in w.text()
        await w.press("1")
        assert "read-only" in bench(w).card.told
        await w.press("e", "u", "l", "d")
        assert w.build is session.build and not session.commits

    walk(steps, session.build, CHECKLIST, size=size, session=session)


def test_what_cannot_be_saved_is_said_all_the_time_kept_and_tried_again() -> None:
    session = MemorySession(build_with(**PLAN), CHECKLIST, Path("/nowhere/b.toml"), refuse="the disk is full")

    async def steps(w: Walk) -> None:
        await w.type("1.0")
        assert "NOT SAVED: the disk is full" in w.text()
        await w.type("1.1")
        assert len(w.build.entry("free_current").standing) == 2
        await w.press("ctrl+q")
        assert isinstance(w.screen, AskOne) and "the disk is full" in w.text()
        await w.press("2", "enter")
        session.refuse = ""
        await w.press("ctrl+s")
        assert "NOT SAVED" not in w.text()
        assert [r.text for r in session.build.entry("free_current").standing] == ["1.0", "1.1"]

    walk(steps, session.build, CHECKLIST, session=session)


def test_quitting_with_everything_saved_asks_nothing() -> None:
    async def steps(w: Walk) -> None:
        await w.type("1.0")
        await w.press("ctrl+q")

    session = MemorySession(build_with(**PLAN), CHECKLIST, Path("/nowhere/b.toml"))
    walk(steps, session.build, CHECKLIST, session=session)
    assert session.closed


def test_a_photo_is_attached_by_its_relative_path_with_its_hash(tmp_path: Path) -> None:
    (tmp_path / "label.png").write_bytes(b"\x89PNG\r\n\x1a\nnot a photo.")

    async def steps(w: Walk) -> None:
        bench(w).jump("label_photo")
        await w.settle()
        await w.press("a")
        await w.type("nothing.png")
        assert "there is no such file" in bench(w).card.told
        bench(w).card.field.value = ""
        await w.type("label.png")
        reading = w.build.entry("label_photo").standing[-1]
        assert reading.text == "label.png" and reading.size == 20 and len(reading.sha256) == 64

    walk(
        steps,
        build_with(**PLAN, **LOAD, series_count=answered("3"), candidates=CELLS),
        CHECKLIST,
        path=tmp_path / "build.toml",
    )


CELLS = Entry(rows=(Row("c01", {"arrival_voltage": Cell("3.9", NOW)}),))


@SIZES
def test_a_table_is_filled_field_by_field_with_enter(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("candidates")
        await w.settle()
        await w.press("enter")
        assert isinstance(w.screen, TableScreen)
        await w.press("a")
        await w.type("laptop")
        await w.type("1")
        await w.type("3.91")
        await w.type("25.11.2026")
        row = w.build.entry("candidates").row("c01")
        assert row is not None
        assert {n: c.text for n, c in row.cells.items()} == {
            "source": "laptop",
            "visual": "sound",
            "arrival_voltage": "3.91",
            "rest_1_on": "25.11.2026",
        }
        assert "c01" in w.text() and "3.91" in w.text() or size[0] == 80
        await w.press("escape", "u")
        row = w.build.entry("candidates").row("c01")
        assert row is not None and not row.text("rest_1_on")
        await w.press("escape")
        assert bench(w).item_id == "candidates"

    walk(steps, build_with(**PLAN, **LOAD, series_count=answered("3")), CHECKLIST, size=size)


@SIZES
def test_a_table_field_refuses_asks_and_keeps_what_was_typed(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("candidates")
        await w.settle()
        await w.press("enter")
        table = w.screen
        assert isinstance(table, TableScreen)
        table.grid.go(0, 2)
        await w.settle()
        await w.type("7")
        assert "cannot be right" in table.told and table.field.value == "7"
        await w.press("escape")
        assert table.field.value == "" and "Dropped '7'; '3.9' stays. u brings it back." in table.said
        await w.press("u")
        assert table.field.value == "7"
        await w.press("backspace")
        await w.type("1.1")
        assert table.told == "Hold point: 3.9 stands. Enter again puts 1.1 in its place, Esc keeps it."
        await w.press("enter")
        assert isinstance(w.screen, AskText)
        await w.press("enter")
        row = w.build.entry("candidates").row("c01")
        assert row is not None and row.cells["arrival_voltage"].note == "asked, and confirmed as read"

    walk(steps, build_with(**PLAN, **LOAD, series_count=answered("3"), candidates=CELLS), CHECKLIST, size=size)


def test_a_table_whose_size_is_known_shows_its_rows_and_enter_goes_down() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("groups")
        await w.settle()
        await w.press("enter")
        assert [r.id for r in w.screen.query_one(Grid).rows] == ["g1", "g2", "g3"]
        for text in ("3.90", "3.91", "3.92"):
            await w.type(text)
        assert [r.text("joining_highest") for r in w.build.entry("groups").rows] == ["3.90", "3.91", "3.92"]

    walk(steps, build_with(**PLAN, **LOAD, series_count=answered("3"), candidates=CELLS), CHECKLIST)


def test_a_pasted_block_fills_rows_and_columns() -> None:
    async def steps(w: Walk) -> None:
        from textual import events

        bench(w).jump("candidates")
        await w.settle()
        await w.press("enter")
        table = w.screen
        assert isinstance(table, TableScreen)
        table.grid.go(0, 1)
        table.grid.post_message(events.Paste("dented\t3.7\nsound\t99\nsound\t3.8\nsound\t3.9\n"))
        await w.settle()
        assert w.build.entry("candidates").rows == three.rows, "two voltages stand: that is asked first"
        await w.press("2", "enter")  # only into the rows there are
        rows = w.build.entry("candidates").rows
        assert [(r.text("visual"), r.text("arrival_voltage")) for r in rows] == [
            ("dented", "3.7"),
            ("sound", before),
            ("sound", "3.8"),
        ], "what stands behind a value that does not fit is taken all the same"
        assert table.field.value == "99" and "It waits in its field" in table.said
        assert "Not taken: sound and 3.9 (there is no further field" in table.said

    before = "3.6"
    three = Entry(rows=tuple(Row(n, {"arrival_voltage": Cell(before)}) for n in ("c01", "c02", "c03")))
    walk(steps, build_with(**PLAN, **LOAD, series_count=answered("3"), candidates=three), CHECKLIST)


def test_a_column_pasted_onto_the_list_goes_where_it_would_in_the_field() -> None:
    async def steps(w: Walk) -> None:
        bench(w).items.post_message(events.Paste("1.0\n90\n1.2\n5.0"))
        await w.settle()
        assert [r.text for r in w.build.entry("free_current").standing] == ["1.0", "1.2"], "90 A keeps its place"
        assert not w.build.entry("working_current").standing, "a hold point that was not seen takes nothing"
        assert bench(w).card.field.value == "90" and "it waits in its field" in " ".join(bench(w).said.split())
        await w.press("escape")
        bench(w).jump("tool")
        bench(w).items.post_message(events.Paste("Drill of 2011"))
        await w.settle()
        await w.press("enter")
        assert w.build.entry("tool").standing[-1].text == "Drill of 2011"

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_same_again_types_the_last_reading_and_enters_nothing_before_enter() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("working_current")
        await w.settle()
        await w.press("s")
        assert [r.text for r in w.build.entry("working_current").standing] == ["5", "6"]
        assert bench(w).card.field.value == "6" and "if the meter shows it again" in w.text()
        await w.press("enter")
        assert [r.text for r in w.build.entry("working_current").standing] == ["5", "6", "6"]

    walk(steps, build_with(**PLAN, **LOAD), CHECKLIST)


def test_a_row_is_rejected_with_a_reason_and_deleted_with_one() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("candidates")
        await w.settle()
        await w.press("enter", "x")
        await w.type("leaks")
        row = w.build.entry("candidates").row("c01")
        assert row is not None and (row.text("decision"), row.text("reason")) == ("reject", "leaks")
        await w.press("d")
        await w.type("typed twice")
        assert not w.build.entry("candidates").rows
        assert w.build.history[-1].reason == "typed twice"

    walk(steps, build_with(**PLAN, **LOAD, series_count=answered("3"), candidates=CELLS), CHECKLIST)


def test_rests_that_run_are_announced_with_their_day() -> None:
    rest = Entry(
        rows=tuple(
            Row(f"c0{n}", {"rest_1_on": Cell("2026-11-20"), "arrival_voltage": Cell("3.9")}) for n in range(1, 6)
        )
    )

    async def steps(w: Walk) -> None:
        bench(w).jump("candidates")
        await w.settle()
        assert "nothing to do until 2 Dec 2026; then read c01 to c05" in " ".join(w.text().split())

    walk(steps, build_with(**PLAN, **LOAD, series_count=answered("3"), candidates=rest), CHECKLIST, size=(170, 50))


def test_a_reading_that_expires_while_the_program_is_open_says_so() -> None:
    clock = Clock()

    async def steps(w: Walk) -> None:
        bench(w).jump("charger_voltage")
        await w.settle()
        assert bench(w).desk.item_state("charger_voltage").state == "done"
        clock.now = NOW + timedelta(days=200)
        bench(w)._time_passes()
        await w.settle()
        assert bench(w).desk.item_state("charger_voltage").state == "expired"

    walk(
        steps,
        build_with(**PLAN, **LOAD, series_count=answered("3"), candidates=CELLS, charger_voltage=answered("12.6")),
        CHECKLIST,
        clock=clock,
    )
