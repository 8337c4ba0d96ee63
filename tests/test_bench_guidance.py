"""What the bench makes easy: choices that start with nothing chosen, the way through a table, what is said and shown."""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual import events

from buildtrack.bench.desk import Desk
from buildtrack.bench.plain import plain
from buildtrack.bench.proposals import best_grouping
from buildtrack.bench.rows import goes_down, next_empty
from buildtrack.bench.saving import JudgeEnded
from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.reading import ReadOn
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.screens.why import Why
from buildtrack.bench.shelf_list import compare
from buildtrack.bench.widgets.told import Notice
from buildtrack.bench.words import notes_text
from buildtrack.judging import Judged, judge
from buildtrack.model.build import Build, Cell, Entry, Row
from buildtrack.model.checklist import Checklist
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import read_checklist
from buildtrack.storage.places import shipped_samples
from buildtrack.units import in_currency
from tests.bench_walk import NOW, SMALL, MemorySession, Walk, main_checklist, new_build, small_checklist, walk
from tests.test_bench_entry import CELLS, LOAD, PLAN, answered, build_with
from tests.test_bench_typing_ahead import bench, table, texts

CHECKLIST = small_checklist()
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])
READY = build_with(**PLAN, **LOAD, series_count=answered("3"))


def sample_build(name: str) -> Build:
    return read_build(shipped_samples() / f"{name}.toml").build


def with_entries(build: Build, **entries: Entry) -> Build:
    return replace(build, entries={**build.entries, **entries})


def more_checks(tmp_path: Path, text: str) -> Checklist:
    """The small checklist with something more."""
    path = tmp_path / "small.toml"
    path.write_text(SMALL.read_text(encoding="utf-8") + text, encoding="utf-8")
    return read_checklist(path)


# -- choices -----------------------------------------------------------------------------------------------------------


@SIZES
def test_a_choice_starts_with_nothing_chosen_and_enter_answers_nothing(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("charging_site")
        await w.settle()
        await w.press("enter", "down", "escape")
        bench(w).jump("tool_kind")
        await w.settle()
        assert bench(w).card.options.current_key == "", "no line is carried over from another question"
        await w.press("enter", "enter")
        assert not texts(w, "tool_kind") and "nothing is marked yet" in bench(w).card.told
        await w.press("down", "down", "enter")
        assert texts(w, "tool_kind") == ["garden"]
        bench(w).jump("tool_kind")
        await w.settle()
        assert bench(w).card.options.current_key == "garden", "an answered one starts at its answer"

    walk(steps, new_build(CHECKLIST), CHECKLIST, size=size)


def test_up_from_nothing_chosen_goes_to_the_last_answer() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("tool_kind")
        await w.settle()
        await w.press("enter", "up", "enter")
        assert texts(w, "tool_kind") == ["light"]

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_another_answer_to_an_answered_choice_is_taken_with_enter_and_left_with_escape() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("tool_kind")
        await w.settle()
        await w.press("3")
        assert texts(w, "tool_kind") == ["drill"] and "Now: Drill. Enter changes it to: Light. Esc leaves it." in bench(w).card.told
        await w.press("escape")
        assert bench(w).card.options.current_key == "drill"
        await w.press("3", "enter")
        assert texts(w, "tool_kind")[-1] == "light"

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_y_and_n_answer_a_choice_of_yes_and_no(tmp_path: Path) -> None:
    more = '\n[[steps.items]]\nid = "glued"\nkind = "choice"\nneed = "expected"\nlabel = "Is it glued?"\n' \
           'options = [["yes", "Yes, glued"], ["no", "No, screwed"]]\n'
    text = SMALL.read_text(encoding="utf-8").replace('\n[[steps.items]]\nid = "tool_kind"', f'{more}\n[[steps.items]]\nid = "tool_kind"')
    path = tmp_path / "small.toml"
    path.write_text(text, encoding="utf-8")
    checklist = read_checklist(path)

    async def steps(w: Walk) -> None:
        bench(w).jump("glued")
        await w.settle()
        assert "y  Yes, glued" in w.text() and "y yes" in w.text()
        await w.press("n")
        assert texts(w, "glued") == [] and "Enter takes: No, screwed" in w.text()
        await w.press("enter")
        assert texts(w, "glued") == ["no"]

    walk(steps, new_build(checklist), checklist)


# -- the way through a table -------------------------------------------------------------------------------------------


def test_the_next_empty_field_is_along_the_row_then_the_next_row() -> None:
    empty = [[False, True, True], [True, False, True]]
    assert next_empty(empty, (0, 0), down=False) == (0, 1)
    assert next_empty(empty, (0, 2), down=False) == (1, 0)
    assert next_empty(empty, (1, 0), down=False) == (1, 2)
    assert next_empty(empty, (1, 2), down=False) is None


def test_the_next_empty_field_is_down_the_column_then_the_next_column() -> None:
    empty = [[False, True], [True, True], [False, True]]
    assert next_empty(empty, (0, 0), down=True) == (1, 0)
    assert next_empty(empty, (1, 0), down=True) == (0, 1)
    assert next_empty(empty, (2, 1), down=True) is None
    assert next_empty([], (0, 0), down=True) is None


@given(st.lists(st.lists(st.booleans(), min_size=3, max_size=3), min_size=1, max_size=5), st.booleans())
def test_going_on_from_before_the_first_visits_every_empty_field_once(empty: list[list[bool]], down: bool) -> None:
    seen, at = [], (-1, -1)
    while (found := next_empty(empty, at, down)) is not None:
        seen.append(found)
        at = found
    wanted = [(r, c) for r, row in enumerate(empty) for c, is_empty in enumerate(row) if is_empty]
    assert seen == sorted(wanted, key=lambda p: p[::-1] if down else p)  # brute force


def test_a_table_of_at_most_two_columns_beside_words_goes_down() -> None:
    items = CHECKLIST.items
    assert goes_down(items["groups"], items["groups"].columns)
    assert not goes_down(items["candidates"], items["candidates"].columns)


def test_enter_goes_down_a_narrow_table_and_along_a_row_that_was_just_added(tmp_path: Path) -> None:
    more = '\n[[steps.items]]\nid = "parts"\nkind = "table"\nneed = "optional"\nlabel = "Parts"\nrow_name = "part"\n' \
           'row_prefix = "p"\ncolumns = [{ id = "what", label = "What", kind = "text" }, ' \
           '{ id = "amount", label = "Amount", kind = "reading", unit = "g" }]\n\n[[checks]]\nid = "supply-high"'
    path = tmp_path / "small.toml"
    path.write_text(SMALL.read_text(encoding="utf-8").replace('\n[[checks]]\nid = "supply-high"', more), encoding="utf-8")
    checklist = read_checklist(path)

    async def steps(w: Walk) -> None:
        screen = await table(w, "parts")
        assert (screen.grid.row_id, screen.grid.column_id) == ("p1", "amount")
        assert "Enter goes ↓" in w.text()
        await w.burst("12", "enter", "13", "enter")
        assert [r.text("amount") for r in w.build.entry("parts").rows] == ["12", "13"]
        await w.press("a")
        assert "Enter goes →" in w.text() and "then →" in w.text()
        await w.burst("wire", "enter", "14", "enter")
        row = w.build.entry("parts").row("p3")
        assert row is not None and (row.text("what"), row.text("amount")) == ("wire", "14")

    filled = Entry(rows=tuple(Row(n, {"what": Cell("x")}) for n in ("p1", "p2")))
    walk(steps, with_entries(READY, parts=filled), checklist)


def test_a_table_opens_at_its_first_empty_field_wherever_another_was_left() -> None:
    full = Row("c01", {"source": Cell("laptop"), "visual": Cell("sound"), "arrival_voltage": Cell("3.9")})

    async def steps(w: Walk) -> None:
        screen = await table(w, "groups")
        screen.grid.go(2, 0)
        await w.settle()
        await w.press("escape")
        screen = await table(w, "candidates")
        assert (screen.grid.row_id, screen.grid.column_id) == ("c01", "rest_1_on")
        await w.press("end", "escape")
        screen = await table(w, "instruments")
        assert (screen.grid.row_id, screen.grid.column_id) == ("m1", "kind")

    walk(steps, with_entries(READY, candidates=Entry(rows=(full,))), CHECKLIST)


@SIZES
def test_after_a_letters_are_text_and_run_no_command(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await table(w, "candidates")
        await w.burst("a", "sad ox u", "enter")
        rows = w.build.entry("candidates").rows
        assert [(r.id, r.text("source"), r.text("decision")) for r in rows] == [("c01", "sad ox u", "")]

    walk(steps, READY, CHECKLIST, size=size)


def test_as_above_by_key_and_by_a_ditto_mark() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        screen.grid.go(1, 0)
        await w.settle()
        await w.press("s")
        row = w.build.entry("candidates").row("c02")
        assert row is not None and row.text("source") == "" and screen.field.value == "laptop"
        await w.press("enter")
        await w.burst('"', "enter")
        row = w.build.entry("candidates").row("c02")
        assert row is not None and (row.text("source"), row.text("visual")) == ("laptop", "sound")

    first = Row("c01", {"source": Cell("laptop"), "visual": Cell("sound")})
    walk(steps, with_entries(READY, candidates=Entry(rows=(first, Row("c02")))), CHECKLIST)


def test_a_column_pasted_into_an_open_field_goes_down_and_one_undo_takes_it_back() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "groups")
        await w.press("enter")
        screen.field.post_message(events.Paste("3.90\n3.91\n3.92\n"))
        await w.settle()
        assert [r.text("joining_highest") for r in w.build.entry("groups").rows] == ["3.90", "3.91", "3.92"]
        await w.press("u")
        assert not w.build.entry("groups").rows and "more" in screen.said
        await w.press("r")
        assert [r.text("joining_highest") for r in w.build.entry("groups").rows] == ["3.90", "3.91", "3.92"]

    walk(steps, with_entries(READY, candidates=CELLS), CHECKLIST)


@pytest.mark.parametrize(
    ("text", "row"),
    [
        ("meter 1\nmultimeter\nvoltage\n60 V\n10 mV\n", ("meter 1", "multimeter", "voltage", "60 V", "10 mV")),
        ("meter 1\tmultimeter\tvoltage\t60 V\t10 mV", ("meter 1", "multimeter", "voltage", "60 V", "10 mV")),
        ("meter 1\nmultimeter\nweight\n60 V\n", ("meter 1", "multimeter", "", "60 V", "")),
    ],
    ids=["lines", "a row of a sheet", "what does not fit waits in its field"],
)
def test_a_row_pasted_into_the_only_row_fills_its_fields(text: str, row: tuple[str, ...]) -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "instruments")
        await w.press("enter")  # a table without a row begins one
        screen.field.post_message(events.Paste(text))
        await w.settle()
        if "\t" not in text:  # lines go down a column; here they are meant along the row, which is chosen
            assert isinstance(w.screen, AskOne)
            assert [name for name, _ in w.screen.choices] == ["all", "fits", "along", "leave"]
            assert not w.build.entry("instruments").rows[0].text("meter"), "nothing is put in before it is chosen"
            await w.press("3", "enter")
        (only,) = w.build.entry("instruments").rows
        assert tuple(only.text(c) for c in ("meter", "kind", "quantity", "range", "resolution")) == row
        taken = sum(1 for field in row if field)
        assert f"{taken} pasted fields filled." in screen.said
        if taken < 5:
            assert "It waits in its field" in screen.said and screen.field.value == "weight"

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_a_cell_that_something_speaks_against_is_marked_before_it_is_decided() -> None:
    """1.40 V on arrival is below the 2.0 V under which copper dissolves (the cell makers' usual warning)."""
    sample = sample_build("grass-shears-in-progress")
    entry = sample.entry("candidates")
    low = replace(entry.rows[0], cells={**entry.rows[0].cells, "arrival_voltage": Cell("1.40 V")})
    build = with_entries(sample, candidates=replace(entry, rows=(low, *entry.rows[1:])))

    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        screen.grid.go(0, 0)
        await w.settle()
        assert "against c01: voltage on arrival. x rejects it" in " ".join(w.text().replace("▌", " ").split())
        marked = [row.id for row in screen.grid.rows if row.sign == "▲"]
        assert marked == ["c01"], "the other cells arrived sound"
        await w.press("x")
        await w.type("below 2 V")
        assert not [row for row in screen.grid.rows if row.sign == "▲"], "decided: it stays out"

    walk(steps, build, main_checklist(), size=(120, 40))


def test_the_panel_is_that_of_the_item_on_the_card_also_while_the_last_answer_is_being_judged(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    judged = threading.Event()
    at_once = Desk.judge

    def slow(desk: Desk) -> Judged:
        assert judged.wait(60), "the judgement was never let go"
        return at_once(desk)

    async def steps(w: Walk) -> None:
        bench(w).jump("free_current")
        await w.settle()
        monkeypatch.setattr(Desk, "judge", slow)
        try:
            for _ in range(3):
                await w.pilot.press("1", "enter")
                while w.app.keys_waiting:
                    await w.pilot.pause()
            await w.pilot.pause()
            assert w.app.judging, "the judgement has not come"
            label = CHECKLIST.items[bench(w).item_id].label
            assert label != CHECKLIST.items["free_current"].label
            lines = ["".join(p.text for p in entry.left) for entry in bench(w).meaning.lines]
            assert lines[lines.index("Next") + 1].startswith(label)
        finally:
            judged.set()

    walk(steps, build_with(**PLAN), CHECKLIST, size=(120, 40))


def test_a_judgement_that_comes_while_the_program_is_being_left_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    came: list[bool] = []

    def last(screen: BenchScreen) -> None:
        """The judgement is dealt with when the widgets of the place are gone, and the place is not."""
        app, desk = screen.program, screen.desk
        assert not app.is_running and screen in app.screen_stack
        app._judge_ended(JudgeEnded(desk, desk.judge()))
        came.append(app.judging)

    async def steps(w: Walk) -> None:
        monkeypatch.setattr(BenchScreen, "on_unmount", last, raising=False)

    walk(steps, build_with(**PLAN), CHECKLIST)
    assert came == [False]


def test_what_was_said_at_the_end_of_the_steps_is_not_said_in_the_next_one() -> None:
    async def steps(w: Walk) -> None:
        await w.press("[", "[")
        assert bench(w).said == "This is the first step."
        await w.press("]")
        assert bench(w).said == ""

    walk(steps, build_with(**PLAN), CHECKLIST)


# -- what is said and shown --------------------------------------------------------------------------------------------


@SIZES
def test_the_keys_at_the_bottom_say_what_enter_and_escape_do_now(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        def bottom() -> str:
            return w.text().splitlines()[-1]

        bench(w).jump("working_current")
        await w.settle()
        await w.press("1")
        assert "Enter take it" in bottom() and "Esc drop it" in bottom() and "same again" not in bottom()
        await w.press("escape")
        assert "Enter answer" in bottom()
        await w.press("f2")
        assert "Enter explain" in bottom() and "Esc back to the work" in bottom()
        await w.press("escape")
        await table(w, "candidates")
        await w.press("enter")
        assert "Enter leave it empty, then →" in bottom()

    walk(steps, with_entries(READY, candidates=Entry(rows=(Row("c01"),))), CHECKLIST, size=size)


def test_the_list_shows_what_counts_of_several_readings_with_spread_and_number() -> None:
    async def steps(w: Walk) -> None:
        bench(w).go_to("load")
        await w.settle()
        assert "mean 1.1 A (1 to 1.2), n 3" in w.text()  # (1 + 1.1 + 1.2) / 3
        assert "highest 6 A (5 to 6), n 2" in w.text()

    walk(steps, READY, CHECKLIST)


@SIZES
def test_a_stop_that_has_just_failed_is_said_and_seen_and_x_opens_it(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        bench(w).go_to("cells", "candidates")
        await w.settle()
        screen = await table(w, "candidates")
        screen.grid.go(0, [c.id for c in screen.columns].index("arrival_voltage"))
        await w.burst("4.24", "enter")
        assert "✗ Stop: A cell arrived above full" in " ".join(screen.said.split())
        await w.press("escape", "escape")
        assert bench(w).item_id == "candidates"
        assert w.app.desk is not None and w.app.desk.fresh_stop == "arrival-high"
        assert "✗ A cell arrived above full" in w.text()
        await w.press("x")
        assert isinstance(w.screen, Why) and "A cell arrived above full" in w.text()
        await w.press("escape", "x")
        assert isinstance(w.screen, BenchScreen), "after it was looked at, x goes on to the next thing"

    walk(steps, with_entries(READY, candidates=Entry(rows=(Row("c01"),))), CHECKLIST, size=size)


CAPACITY_STOP = """
[[checks]]
id = "capacity-low"
step = "cells"
severity = "stop"
title = "A cell is worn out"
message = "{rows} below {limit}"
advice = "Leave it out."
value = "candidates.capacity"
at_least = "1000 mAh"
"""


@SIZES
def test_what_a_stop_still_waits_for_is_named_and_gone_to(size: tuple[int, int], tmp_path: Path) -> None:
    checklist = more_checks(tmp_path, CAPACITY_STOP)
    cells = Entry(rows=tuple(Row(n, {"arrival_voltage": Cell("3.9", NOW), "source": Cell("a")}) for n in ("c01", "c02")))
    groups = Entry(rows=tuple(Row(f"g{n}", {"joining_highest": Cell("3.9", NOW)}) for n in (1, 2, 3)))
    done = with_entries(
        READY, candidates=cells, groups=groups, label_photo=answered("a.png"), discharge_log=answered("a.csv")
    )

    async def steps(w: Walk) -> None:
        bench(w).jump("charger_voltage")
        await w.settle()
        await w.burst("12.6", "enter")
        wanted = "Candidate cells, c01: Capacity. The stop 'A cell is worn out' waits for it"
        assert bench(w).said == f"Still needed: {wanted}. x goes on."
        assert any(wanted in line.left[0].text for line in bench(w).meaning.lines if line.left), "and named as next"
        assert w.app.desk is not None
        assert any("needs Candidate cells: Capacity" in r for r in w.app.desk.judged.assessment.reasons)
        await w.press("x")
        assert isinstance(w.screen, TableScreen)
        assert (w.screen.grid.row_id, w.screen.grid.column_id) == ("c01", "capacity")
        await w.burst("2500", "enter", "escape")
        w.screen.grid.go(1, 6)
        await w.settle()
        await w.burst("2500", "enter", "escape", "escape")
        assert "Still needed" not in w.text(), "what was said is not said any more"

    walk(steps, done, checklist, size=size)


# -- the proposed grouping ---------------------------------------------------------------------------------------------


@SIZES
def test_the_proposed_grouping_is_taken_over_when_confirmed_and_one_undo_takes_it_back(size: tuple[int, int]) -> None:
    sample = sample_build("garden-screwdriver-cleared")
    had = {row.id: row.text("cells") for row in sample.entry("groups").rows}
    emptied = tuple(replace(r, cells={k: v for k, v in r.cells.items() if k != "cells"}) for r in sample.entry("groups").rows)

    async def steps(w: Walk) -> None:
        await table(w, "groups")
        assert "b best grouping" in w.text()
        await w.press("b")
        assert isinstance(w.screen, AskOne) and "Take the proposed grouping over?" in w.text()
        await w.press("2")
        assert not any(r.text("cells") for r in w.build.entry("groups").rows)
        await w.press("b", "1")
        taken = [set(r.text("cells").split()) for r in w.build.entry("groups").rows]
        assert w.app.desk is not None
        best = best_grouping(w.app.desk, w.app.desk.checklist.items["groups"])
        assert best is not None and taken == [set(group) for group in best.groups]
        assert len(set.union(*taken)) == sum(len(g) for g in taken), "no cell stands in two groups"
        await w.press("b")
        assert "stands in the table already" in w.text()
        await w.press("u")
        assert not any(r.text("cells") for r in w.build.entry("groups").rows)
        assert len(had) == len(taken)

    build = with_entries(sample, groups=replace(sample.entry("groups"), rows=emptied))
    walk(steps, build, main_checklist(), size=size, path=shipped_samples() / "garden-screwdriver-cleared.toml")


# -- money and volts of this build -------------------------------------------------------------------------------------


def test_amounts_are_told_in_the_currency_of_the_build() -> None:
    assert in_currency("49 money", "EUR") == "49 EUR"
    assert in_currency("1.38 money/Wh and 12 money", "CHF") == "1.38 CHF/Wh and 12 CHF"
    assert in_currency("49 money", "") == "49"
    assert in_currency("900 money is unusual: the highest is 300 money", "") == "900 is unusual: the highest is 300"
    assert in_currency("5 to 400 money", "EUR") == "5 to 400 EUR" and in_currency("5 to 400 money", "") == "5 to 400"
    assert in_currency("money is no object", "EUR") == "money is no object"


def test_two_builds_are_compared_in_the_currency_of_each() -> None:
    folder, checklist = shipped_samples(), main_checklist()
    one = sample_build("drill-not-cleared")
    two = replace(sample_build("garden-screwdriver-cleared"), currency="CHF")
    rows = compare(judge(one, checklist, folder, NOW), judge(two, checklist, folder, NOW))
    price = next(r for r in rows if r.label == checklist.items["new_pack_price"].label)
    assert (plain(price.first).split()[-1], plain(price.second).split()[-1]) == ("EUR", "CHF")
    assert not any(" money" in r.first + r.second for r in rows)


def test_a_build_charged_lower_says_so_where_a_text_names_the_usual_voltage() -> None:
    sample = sample_build("garden-screwdriver-cleared")

    async def said(w: Walk) -> bool:
        bench(w).jump("charger_voltage")
        await w.settle()
        return "this build: 4.10 V per group, not 4.20 V" in " ".join(w.text().split())

    for text, lower in (("4.10 V", True), ("4.20 V", False)):
        build = with_entries(sample, charge_policy=answered(text))
        path = shipped_samples() / "garden-screwdriver-cleared.toml"
        assert walk(said, build, main_checklist(), size=(170, 50), path=path) == lower


# -- what was found at the opening, and what is pressed ----------------------------------------------------------------


def test_a_long_answer_leaves_the_state_of_its_item_in_its_place_and_colour() -> None:
    long = with_entries(READY, reason=answered("the old pack lasts one hedge, and a new one costs more than the tool"), tool=answered("a drill of the garden shed, second hand"))

    async def steps(w: Walk) -> None:
        bench(w).jump("tool_kind")
        await w.settle()
        rows = [row for row in w.text().splitlines() if row.endswith(" done")]
        assert len(rows) > 3 and any("…" in row for row in rows)
        assert len({len(row) for row in rows}) == 1, "they stand below each other"
        styles = [str(s.style.color) for strip in w.app.screen._compositor.render_strips() for s in strip
                  if s.text.strip() == "done" and s.style is not None]
        assert len(styles) == len(rows) and len(set(styles)) == 1, "each in its own piece and colour"

    walk(steps, long, CHECKLIST)


@SIZES
def test_many_notes_of_an_opening_take_two_rows_and_k_reads_them_all(size: tuple[int, int]) -> None:
    notes = [f"note number {n}: something was found in the file that had to be told in a long sentence" for n in range(1, 7)]
    session = MemorySession(READY, CHECKLIST, Path("/nowhere/b.toml"), notes=notes)

    async def steps(w: Walk) -> None:
        rows = max(notice.size.height for notice in w.screen.query(Notice))
        assert 1 <= rows <= 2 and "k reads all 6 notes." in " ".join(w.text().split())
        await w.press("k")
        assert isinstance(w.screen, ReadOn)
        told = " ".join("".join(p.text for p in entry.left) for entry in w.screen.lines)
        assert all(note in told for note in notes)

    walk(steps, READY, CHECKLIST, size=size, session=session)


def test_a_few_short_notes_are_told_whole_and_without_notes_k_does_nothing() -> None:
    assert notes_text(["one", "two"], 100) == "one; two"
    assert notes_text([], 100) == ""
    long = notes_text(["x" * 300], 100)
    assert len(long) == 100 and long.endswith("… k reads it all.")

    async def steps(w: Walk) -> None:
        await w.press("k")
        assert not isinstance(w.screen, ReadOn)

    walk(steps, READY, CHECKLIST)


def test_a_build_that_somebody_else_writes_says_so_in_one_row_of_the_card() -> None:
    reason = "maker on bench-pc since 2026-11-27 04:14:42 (process 4242) is writing it"
    session = MemorySession(READY, CHECKLIST, Path("/nowhere/b.toml"), reason)

    async def steps(w: Walk) -> None:
        assert "▌ ■ read-only: maker on bench-pc is writing it" in w.text()
        assert "process" not in w.text()

    walk(steps, READY, CHECKLIST, session=session)


def test_the_placeholder_says_what_to_press_now() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("tool")
        await w.settle()
        await w.press("d")
        await w.press("escape")
        assert "Enter, then type" in w.text()
        await w.press("enter")
        assert "type, then Enter" in w.text() and "Enter, then type" not in w.text()
        await w.press("escape")
        assert "Enter, then type" in w.text()

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_the_fields_of_an_instrument_give_an_example() -> None:
    async def steps(w: Walk) -> None:
        await table(w, "instruments")
        await w.press("a")
        assert "for instance red multimeter" in w.text()

    walk(steps, new_build(CHECKLIST), CHECKLIST)


@pytest.mark.parametrize("currency", ["CHF", ""])
def test_usual_amounts_and_questions_about_them_are_in_the_currency_of_the_build(currency: str) -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("planned_cost")
        await w.settle()
        assert f"usually 5 to 300{' CHF' if currency else ''}" in " ".join(w.text().split())
        await w.type("900")
        assert f"900{' CHF' if currency else ''} is unusual" in w.text() and "money" not in w.text()

    main = main_checklist()
    walk(steps, replace(new_build(main), currency=currency), main, size=(120, 40))


def test_a_check_that_passed_is_not_told_by_its_fault() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("series_count")
        await w.settle()
        bench(w)._open("all:checks")
        await w.settle()
        text = " ".join(w.text().split())
        titles = [r for r in w.app.desk.judged.assessment.results if r.outcome == "pass" and r.step == "cells"]  # type: ignore[union-attr]
        assert titles and all(r.headline != r.title for r in titles)
        assert any(f"✓ {r.headline[:24]}" in text for r in titles)

    walk(steps, with_entries(READY, candidates=CELLS), CHECKLIST, size=(200, 50))
