"""What is typed and not taken yet outlasts a killed program, whoever opens the build next is told of it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.desk import Desk
from buildtrack.bench.entry import CONFIRMED
from buildtrack.bench.saving import OpenEnded
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.surroundings import Surroundings
from buildtrack.bench.typed_keeper import TypedKeeper
from buildtrack.bench.widgets.field import Field
from buildtrack.model.build import Build, Entry, Row
from buildtrack.storage.session import create, open_session
from buildtrack.units import in_unit
from tests.bench_walk import NOW, MemorySession, Walk, main_checklist, new_build, small_checklist, walk
from tests.test_bench_entry import CELLS, LOAD, PLAN, answered, build_with
from tests.test_bench_typing_ahead import bench, table, texts

CHECKLIST = small_checklist()
READY = build_with(**PLAN, **LOAD, series_count=answered("3"))
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])


def at_once(around: Surroundings) -> Surroundings:
    """The moment after the key is over before the next one."""
    return replace(around, typed_after_s=0.001)


async def press(w: Walk, *keys: str) -> None:
    """Press, and wait for that moment and the thread that writes."""
    await w.press(*keys)
    while w.app.is_running and w.app.keeper.waits:
        await w.pilot.pause()
    await w.settle()


def session_of(build: Build = READY, typed: Mapping[tuple[str, ...], str] | None = None) -> MemorySession:
    return MemorySession(build, CHECKLIST, Path("/nowhere/b.toml"), typed=typed or {})


def test_a_half_typed_reading_is_kept_and_goes_when_it_is_taken() -> None:
    session = session_of(build_with(**PLAN))

    async def steps(w: Walk) -> None:
        await press(w, "1", "full_stop")
        assert session.typed == {("free_current",): "1."}
        await press(w, "2", "enter")
        assert texts(w, "free_current") == ["1.2"] and session.typed == {}
        await press(w, "7", "escape")
        assert session.typed == {}, "what is dropped on purpose is not kept"
        await press(w, "e", "right", "backspace")
        assert session.typed == {("free_current", "1.2"): "1."}, "a correction counts as typed"

    walk(steps, session.build, CHECKLIST, session=session, around=at_once)


def after_a_kill(session: MemorySession) -> MemorySession:
    """The same build, opened again with what was kept."""
    return MemorySession(session.build, session.checklist, session.path, typed=session.typed)


def test_a_half_typed_correction_goes_on_as_a_correction_at_the_next_opening() -> None:
    session = session_of()

    async def first(w: Walk) -> None:
        bench(w).jump("free_current")
        await w.settle()
        before = texts(w, "free_current")
        await press(w, "e", "enter", *["backspace"] * 9, "1", "full_stop", "5")
        assert session.typed == {("free_current", before[-1]): "1.5"}

    async def second(w: Walk) -> None:
        before = texts(w, "free_current")
        assert f"in place of {before[-1]}: 1.5" in " ".join(bench(w).said.split())
        assert bench(w).card.field.value == "1.5"
        await press(w, "enter", "enter")
        assert texts(w, "free_current") == [*before[:-1], "1.5"], "none stands beside it"

    walk(first, session.build, CHECKLIST, session=session, around=at_once)
    again = after_a_kill(session)
    walk(second, again.build, CHECKLIST, session=again, around=at_once)
    assert again.typed == {}


def test_a_correction_of_an_answer_that_stands_no_more_is_an_answer_of_its_own() -> None:
    session = session_of(typed={("free_current", "9"): "1.5"})

    async def steps(w: Walk) -> None:
        before = texts(w, "free_current")
        await press(w, "enter", "enter")
        assert texts(w, "free_current") == [*before, "1.5"]

    walk(steps, session.build, CHECKLIST, session=session, around=at_once)


def test_a_correction_that_was_dropped_and_brought_back_is_a_correction_still() -> None:
    session = session_of()

    async def steps(w: Walk) -> None:
        bench(w).jump("free_current")
        await w.settle()
        before = texts(w, "free_current")
        await press(w, "e", "enter", *["backspace"] * 9, "1", "full_stop", "5", "escape", "u")
        assert bench(w).card.field.value == "1.5"
        await press(w, "enter", "enter")
        assert texts(w, "free_current") == [*before[:-1], "1.5"]

    walk(steps, session.build, CHECKLIST, session=session, around=at_once)


def test_a_correction_left_for_another_item_is_a_correction_still_when_one_comes_back() -> None:
    session = session_of()

    async def steps(w: Walk) -> None:
        bench(w).jump("free_current")
        await w.settle()
        before = texts(w, "free_current")
        await press(w, "e", "enter", *["backspace"] * 9, "1", "full_stop", "5")
        bench(w).jump("working_current")
        await w.settle()
        await press(w, "e", "escape")
        bench(w).jump("free_current")
        await press(w, "enter", "enter")
        assert texts(w, "free_current") == [*before[:-1], "1.5"]

    walk(steps, session.build, CHECKLIST, session=session, around=at_once)


def test_a_half_typed_field_of_a_table_is_kept() -> None:
    session = session_of(replace(READY, entries={**READY.entries, "candidates": CELLS}))

    async def steps(w: Walk) -> None:
        screen = await table(w, "candidates")
        screen.grid.go(0, 6)
        await w.settle()
        await press(w, *"2510")
        assert session.typed == {("candidates", "c01", screen.grid.column_id): "2510"}

    walk(steps, session.build, CHECKLIST, session=session, around=at_once)


def test_a_half_typed_reason_is_kept_and_stands_in_its_question_again() -> None:
    session = session_of()

    async def leave_out(w: Walk) -> str:
        bench(w).jump("charger_voltage")
        await w.settle()
        await press(w, "l")
        assert isinstance(w.screen, AskText)
        return w.screen.title_text

    async def first(w: Walk) -> None:
        title = await leave_out(w)
        await press(w, *"no_charger")
        assert session.typed == {("?", title, "charger_voltage"): "no_charger"}

    async def second(w: Walk) -> None:
        assert "no_charger" in w.text()
        await leave_out(w)
        assert "no_charger" in w.text()
        await press(w, "enter")
        left = w.build.entry("charger_voltage").left_out
        assert left is not None and left.reason == "no_charger" and session.typed == {}

    kept = session_of()
    walk(first, session.build, CHECKLIST, session=session, around=at_once)
    kept.typed = session.typed
    session = kept
    walk(second, session.build, CHECKLIST, session=session, around=at_once)


def test_a_reason_for_one_item_is_not_put_into_the_question_of_another() -> None:
    main = main_checklist()
    session = MemorySession(new_build(main), main, Path("/nowhere/b.toml"))

    async def ask(w: Walk, item: str) -> AskText:
        bench(w).jump(item)
        await w.settle()
        await w.type("900")
        assert isinstance(w.screen, AskText)
        return w.screen

    async def first(w: Walk) -> None:
        await ask(w, "budget")
        await press(w, *"agreed")
        assert list(session.typed.values()) == ["900", "agreed"]

    async def second(w: Walk) -> None:
        assert (await ask(w, "planned_cost")).query_one(Field).value == ""
        await w.press("enter")
        (reading,) = w.build.entry("planned_cost").standing
        assert reading.accepted == CONFIRMED
        assert (await ask(w, "budget")).query_one(Field).value == "agreed"

    walk(first, session.build, main, session=session, around=at_once)
    again = after_a_kill(session)
    walk(second, again.build, main, session=again, around=at_once)


def test_a_reason_for_one_cell_is_not_put_into_the_question_of_another() -> None:
    two = Entry(rows=(*CELLS.rows, Row("c02", CELLS.rows[0].cells)))
    session = session_of(replace(READY, entries={**READY.entries, "candidates": two}))
    columns = CHECKLIST.items["candidates"].columns
    number, column = next((n, c) for n, c in enumerate(columns) if c.kind == "reading" and c.plausible.high is not None)
    too_high = f"{in_unit(column.plausible.high or 0.0, column.unit) * 1.02:.4g}"

    async def ask(w: Walk, row: int) -> AskText:
        screen = w.screen if isinstance(w.screen, TableScreen) else await table(w, "candidates")
        screen.grid.go(row, number)
        await w.settle()
        assert screen.grid.column_id == column.id
        await w.press("enter")
        screen.field.put("")
        await w.type(too_high)
        assert isinstance(w.screen, AskText)
        return w.screen

    async def first(w: Walk) -> None:
        title = (await ask(w, 0)).title_text
        await press(w, *"twice")
        assert session.typed["?", title, "candidates", "c01", column.id] == "twice"

    async def second(w: Walk) -> None:
        assert (await ask(w, 1)).query_one(Field).value == ""
        await w.press("escape", "escape")
        assert (await ask(w, 0)).query_one(Field).value == "twice"

    walk(first, session.build, CHECKLIST, session=session, around=at_once)
    again = after_a_kill(session)
    walk(second, again.build, CHECKLIST, session=again, around=at_once)


HOMELESS = {
    "a row that was deleted": ("?", "Delete cell c99?", "candidates", "c99"),
    "an item the checklist has no more": ("?", "Leave out 'Colour'?", "colour"),
    "a check it has no more": ("?", "Accept: it is blue", "is-blue"),
    "a question about nothing": ("?", "How long?"),
    "a field of a column it has no more": ("candidates", "c01", "colour"),
    "an answer of an item it has no more": ("colour",),
}


@pytest.mark.parametrize("name", HOMELESS)
def test_a_text_that_has_no_place_any_more_is_told_once_and_not_kept_for_ever(name: str) -> None:
    session = session_of(typed={HOMELESS[name]: "blueish", ("tool",): "a dr"})

    async def steps(w: Walk) -> None:
        notes = bench(w).notes()
        assert sum("blueish" in note for note in notes) == 1, "it can still be read there"
        assert "no place for it any more" in notes[0] and "a dr" in notes[1]
        assert list(w.app.texts_typed()) == [("tool",)]
        await press(w, "ctrl+q")
        assert isinstance(w.screen, AskOne) and w.screen.more == "Tool: a dr"
        await press(w, "escape")

    walk(steps, session.build, CHECKLIST, session=session, around=at_once)
    w_closed = session_of(typed={HOMELESS[name]: "blueish"})

    async def quit_(w: Walk) -> None:
        await press(w, "ctrl+q")

    walk(quit_, w_closed.build, CHECKLIST, session=w_closed, around=at_once)
    assert w_closed.closed and w_closed.typed == {}


COMES_AGAIN = {
    "an item": ("?", "Leave out 'Charger'?", "charger_voltage"),
    "a row that is there": ("?", "Delete cell c01?", "candidates", "c01"),
    "a check": ("?", "Accept: it", next(iter(CHECKLIST.check))),
    "the build": ("?", "End this project early?", ""),
}


@pytest.mark.parametrize("name", COMES_AGAIN)
def test_a_reason_whose_question_can_come_again_stays(name: str) -> None:
    build = replace(READY, entries={**READY.entries, "candidates": CELLS})
    session = session_of(build, {COMES_AGAIN[name]: "because"})

    async def steps(w: Walk) -> None:
        assert w.app.texts_typed() == {COMES_AGAIN[name]: "because"}

    walk(steps, session.build, CHECKLIST, session=session, around=at_once)


def test_a_question_about_no_item_keeps_nothing_for_the_next_opening() -> None:
    session = session_of()

    async def steps(w: Walk) -> None:
        w.app.push_screen(AskText("How long?"))
        await w.settle()
        await press(w, *"10min")
        assert session.typed == {} and w.app.texts_typed() == {}

    walk(steps, session.build, CHECKLIST, session=session, around=at_once)


def test_the_notes_forget_what_was_typed_before_as_soon_as_it_is_taken() -> None:
    session = session_of(typed={("tool",): "a dr", ("working_current",): "7"})

    async def steps(w: Walk) -> None:
        w.app.begun = "a.toml was made for: this."
        assert len(bench(w).notes()) == 2 and "Current at work: 7 (and 1 more)" in bench(w).notes()[-1]
        await press(w, "enter", "enter")
        assert texts(w, "working_current")[-1] == "7"
        (note,) = bench(w).notes()
        assert note.endswith(": a dr"), "and how the build was begun is old, too"
        bench(w).jump("tool")
        await press(w, "enter", "enter")
        assert bench(w).notes() == []

    walk(steps, session.build, CHECKLIST, session=session, around=at_once)


@SIZES
def test_the_next_opening_begins_where_it_was_typed_and_says_so(size: tuple[int, int]) -> None:
    session = session_of(typed={("tool",): "a dr", ("candidates", "c01", "capacity"): "25", ("working_current",): "7."})

    async def steps(w: Walk) -> None:
        assert bench(w).item_id == "working_current" and bench(w).card.field.value == "7."
        said = " ".join(bench(w).said.split())
        assert "typed before and not taken yet: Current at work: 7. (and 2 more)" in said
        assert texts(w, "working_current") == ["5", "6"], "nothing of it counts"
        await press(w, "enter")
        await press(w, "5", "enter")
        assert texts(w, "working_current") == ["5", "6", "7.5"]
        assert set(session.typed) == {("tool",), ("candidates", "c01", "capacity")}

    walk(steps, session.build, CHECKLIST, session=session, size=size, around=at_once)


def test_leaving_without_it_forgets_it_and_staying_does_not() -> None:
    session = session_of(build_with(**PLAN))

    async def steps(w: Walk) -> None:
        await press(w, "7", "ctrl+q")
        assert isinstance(w.screen, AskOne)
        await press(w, "1")
        assert session.typed == {("free_current",): "7"}
        await press(w, "ctrl+q")
        await press(w, "2", "enter")

    walk(steps, session.build, CHECKLIST, session=session, around=at_once)
    assert session.closed and session.typed == {}


def test_another_build_does_not_get_what_stands_in_the_field_of_this_one() -> None:
    first, other = session_of(build_with(**PLAN)), session_of(replace(build_with(**PLAN), title="The other"))

    async def steps(w: Walk) -> None:
        await w.press("7", "ctrl+n")
        desk = Desk(other, w.app.around)
        w.app.post_message(OpenEnded(Path("/nowhere/c.toml"), "bench", ("", False), desk))
        await w.settle()
        assert "The other" in w.text() and bench(w).card.field.value == ""
        assert desk.drafts.kept() == {} and other.typed == {}
        assert first.closed and first.typed == {("free_current",): "7"}

    walk(steps, first.build, CHECKLIST, session=first, around=lambda s: replace(s, typed_after_s=3600.0))


def test_what_cannot_be_kept_is_said() -> None:
    class Full(MemorySession):
        def keep_typed(self, texts: object) -> str:
            return "what is typed cannot be kept: the disk is full"

    session = Full(build_with(**PLAN), CHECKLIST, Path("/nowhere/b.toml"))

    async def steps(w: Walk) -> None:
        await press(w, "7")
        assert "the disk is full" in w.text()

    walk(steps, session.build, CHECKLIST, session=session, around=at_once)


class ByHand:
    """What the keeper needs of the program; its timer and its threads run when the test says so."""

    def __init__(self) -> None:
        self.around = Surroundings()
        self.typed: dict[tuple[str, ...], str] = {}
        self.said: list[str] = []
        self.jobs: list[Callable[[], None]] = []
        self.keeper = TypedKeeper(cast(BuildtrackApp, self))
        self.session = MemorySession(build_with(**PLAN), CHECKLIST, Path("/nowhere/b.toml"))

    def set_timer(self, after_s: float, then: Callable[[], None]) -> SimpleNamespace:
        self.moment = then
        return SimpleNamespace(stop=lambda: None)

    def run_worker(self, job: Callable[[], None], **_: object) -> None:
        self.jobs.append(job)

    def texts_typed(self) -> dict[tuple[str, ...], str]:
        return dict(self.typed)

    def place_say(self, text: str, look: str) -> None:
        self.said.append(text)

    def call_later(self, then: Callable[..., None], *given: str) -> None:
        then(*given)

    def open(self, session: MemorySession) -> None:
        self.session = session
        self.keeper.begin(Desk(session, self.around))

    def type(self, text: str) -> None:
        self.typed = {("free_current",): text} if text else {}
        self.keeper.key_came()
        self.moment()

    def run_threads(self) -> None:
        jobs, self.jobs = self.jobs, []
        for job in jobs:
            job()


class MayRefuse(MemorySession):
    """A disk that can be full; a closed session keeps nothing, as the real one."""

    full = False

    def keep_typed(self, texts: Mapping[tuple[str, ...], str]) -> str:
        if self.full:
            return "what is typed cannot be kept: the disk is full"
        return "" if self.closed else super().keep_typed(texts)


def may_refuse() -> MayRefuse:
    return MayRefuse(build_with(**PLAN), CHECKLIST, Path("/nowhere/b.toml"))


def test_what_no_thread_has_written_yet_is_written_when_the_build_is_closed() -> None:
    program, session = ByHand(), may_refuse()
    program.open(session)
    program.type("1234")
    program.keeper.end(True)
    session.close()
    program.run_threads()
    assert session.typed == {("free_current",): "1234"}


def test_what_the_disk_refused_is_tried_again_with_the_next_key_and_at_the_end() -> None:
    for at_the_end in (False, True):
        program, session = ByHand(), may_refuse()
        program.open(session)
        session.full = True
        program.type("1234")
        program.run_threads()
        assert program.said == ["what is typed cannot be kept: the disk is full"] and not program.keeper.is_done
        session.full = False
        if at_the_end:
            program.keeper.end(True)
        else:
            program.type("1234")
            program.run_threads()
            assert program.keeper.is_done
        assert session.typed == {("free_current",): "1234"}


def test_a_thread_that_comes_late_writes_nothing_of_one_build_into_another() -> None:
    program, first, other = ByHand(), may_refuse(), may_refuse()
    program.open(first)
    program.type("1234")
    program.keeper.end(False)
    program.typed = {}
    program.open(other)
    program.run_threads()
    assert first.typed == {} and other.typed == {}, "forgotten, as was said"


KILLED = """
import asyncio, os, signal, sys
from pathlib import Path
from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.surroundings import Surroundings

async def go():
    app = BuildtrackApp(Surroundings(typed_after_s=0.01), Path(sys.argv[1]))
    async with app.run_test(size=(80, 24)) as pilot:
        while app.desk is None or app.screen.PLACE != "bench":
            await pilot.pause()
        await pilot.press("enter", *"ahalfdrill")
        for _ in range(2000):
            if list((Path(os.environ["BUILDTRACK_STATE"]) / "journal").glob("*.typed.json")):
                break
            await pilot.pause(0.01)
        else:
            sys.exit("nothing was written")
        while not app.keeper.is_done or any(not w.is_finished for w in app.workers):
            await pilot.pause()
        os.kill(os.getpid(), signal.SIGKILL)

asyncio.run(go())
"""


def test_a_killed_program_has_lost_nothing_that_was_typed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    path = tmp_path / "a.toml"
    main = main_checklist()
    create(path, new_build(main), main)
    before = path.read_bytes()
    ended = subprocess.run([sys.executable, "-c", KILLED, str(path)], env=os.environ, cwd=Path(__file__).parent.parent,
                           timeout=60)  # fmt: skip
    assert ended.returncode == -9
    assert path.read_bytes() == before, "it never comes near the build file"
    session = open_session(path, clock=lambda: NOW)
    assert list(session.typed.values()) == ["ahalfdrill"]
    session.close()


REMARKS = ("?", "Remarks", "")
WHO = ("?", "Who decides?", "")


def test_remarks_of_a_decision_that_was_left_stand_in_their_question_again_also_after_the_end() -> None:
    session = session_of()

    async def first(w: Walk) -> None:
        await press(w, "f5")
        await press(w, "d", "3", *"swapped_taps", "escape")
        assert session.typed == {REMARKS: "swapped_taps"} and "is kept" in w.text()
        await press(w, "d", "3")
        assert "swapped_taps" in w.text()
        await press(w, "enter", *"R.", "escape")
        assert session.typed == {REMARKS: "swapped_taps", WHO: "R."}, "left in the question that follows"

    async def second(w: Walk) -> None:
        await press(w, "f5", "d", "3")
        assert "swapped_taps" in w.text()
        await press(w, "enter", "V", "enter")
        (review,) = w.build.reviews
        assert (review.remarks, review.reviewer) == ("swapped_taps", "R.V") and session.typed == {}
        await press(w, "d", "3")
        assert "swapped_taps" not in w.text().split("Remarks")[-1], "what was written down is not asked again"

    walk(first, session.build, CHECKLIST, session=session, around=at_once)
    session = after_a_kill(session)
    walk(second, session.build, CHECKLIST, session=session, around=at_once)
