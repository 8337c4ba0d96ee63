"""A key whose command makes no sense now says why, and what would: on every kind of item, in every situation."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest

from buildtrack.bench.commands import COMMANDS, OF_APP, Command, Situation, of_place
from buildtrack.bench.screens.ask import AskText
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.why_not import KINDS, WRITES, why_not
from buildtrack.model.build import Build, Cell, Entry, Row
from tests.bench_walk import MemorySession, Walk, new_build, small_checklist, walk
from tests.test_bench_entry import LOAD, PLAN, answered, build_with

CHECKLIST = small_checklist()
HELD = "this step is held until 'Voltage on the plate' is settled"
READ_ONLY = "read-only: another window writes it"
STATES: dict[str, dict[str, object]] = {
    "empty": {},
    "answered": {"answered": True},
    "held": {"refused": HELD},
    "read-only": {"refused": READ_ONLY, "read_only": True},
    "read-only and answered": {"refused": READ_ONLY, "read_only": True, "answered": True},
}


@pytest.mark.parametrize("command", COMMANDS, ids=[c.id for c in COMMANDS])
def test_every_command_is_available_or_says_why_not(command: Command) -> None:
    around = product(command.places, [*KINDS, ""], STATES.values(), ("must", "optional"), (True, False))
    for place, kind, state, need, has_file in around:
        s = Situation(place=place, kind=kind, need=need, has_file=has_file, **state)  # type: ignore[arg-type]
        told = why_not(command, s)
        if command.available(s):
            assert told == ""
            continue
        assert told.endswith(".") and len(told.split()) <= 27, told
        assert "has nothing to do here" not in told, "each says what stands against it"
        if not has_file:
            assert "No build is open" in told
        elif s.read_only and command.id in WRITES:
            assert "another window writes it" in told


def test_every_command_that_enters_something_is_closed_to_a_build_that_is_read_only() -> None:
    only = {c.id for c in COMMANDS if c.id in WRITES}
    assert only == WRITES, "no name here is of no command"
    for command in COMMANDS:
        s = Situation(place=command.places[0], kind="reading", answered=True, refused=READ_ONLY, read_only=True,
                      cautions=True, can_undo=True, can_redo=True, unsaved=True, timed=True, rejectable=True,
                      proposed=True, yes_no=True)
        writes = command.id in WRITES
        assert not (writes and command.available(s)), f"{command.id} would enter something"


def _item_of(kind: str) -> str:
    return next(i.id for i in CHECKLIST.all_items() if i.kind == kind)


def _built(state: str, kind: str) -> Build:
    if state != "answered":
        return new_build(CHECKLIST)
    item = _item_of(kind)
    filled = Entry(rows=(Row("m1", {"meter": Cell("red meter")}),)) if kind == "table" else answered({
        "choice": "drill", "reading": "12 V", "tick": "yes"}.get(kind, "a text.txt"))
    return build_with(**{**PLAN, **LOAD, item: filled})


async def _back_to(w: Walk, item: str) -> BenchScreen:
    for _ in range(4):
        if isinstance(w.screen, BenchScreen):
            break
        if len(w.app.screen_stack) > 1:
            await w.press("escape")
        else:
            w.app.go_to_place("bench")
            await w.settle()
    assert isinstance(w.screen, BenchScreen), w.screen
    w.screen.jump(item)
    await w.settle()
    await w.press("escape")  # on an item of words letters are commands from then on
    w.screen.say("")
    w.screen.card.tell("")
    await w.settle()
    return w.screen


@pytest.mark.parametrize(("kind", "state"), [("reading", "answered"), ("table", "empty")])
def test_no_key_of_the_bench_is_silent(kind: str, state: str) -> None:
    """Each key changes what is seen or says one line; those that go to another place are left away."""
    build, item = _built(state, kind), _item_of(kind)
    session = MemorySession(build, CHECKLIST, Path("/nowhere/build.toml"),
                            read_only_reason="another window writes it" if state == "read-only" else "")

    async def steps(w: Walk) -> None:
        silent = []
        for command in (c for c in of_place("bench") if c.id not in OF_APP):
            for key in [k for k in command.key.split(",") if k]:
                bench = await _back_to(w, item)
                before = w.text()
                await w.press(key)
                if w.screen is bench and w.text() == before:
                    silent.append(key)
        assert not silent

    walk(steps, build, CHECKLIST, session=session)


@pytest.mark.parametrize("key", ["m", "e", "d", "s"])
def test_in_a_held_step_a_key_says_what_holds_it_and_which_key_goes_there(key: str) -> None:
    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("series_count")
        await w.settle()
        await w.press(key)
        said = " ".join(w.screen.said.split())
        assert "held until" in said and "x goes to what is missing" in said

    walk(steps, replace(new_build(CHECKLIST)), CHECKLIST)


def test_what_is_said_of_a_key_goes_when_another_item_is_gone_to() -> None:
    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("rated_voltage")
        await w.settle()
        await w.press("f")
        assert "this is a reading" in w.screen.said
        await w.press("up")
        assert w.screen.said == ""

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_f_on_another_kind_of_item_says_what_it_is_for() -> None:
    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("rated_voltage")
        await w.settle()
        await w.press("f")
        assert "f follows a log" in w.screen.said and "this is a reading" in w.screen.said

    walk(steps, new_build(CHECKLIST), CHECKLIST)


def test_in_a_table_that_is_none_of_a_test_its_keys_say_so() -> None:
    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("instruments")
        await w.settle()
        await w.press("enter")
        assert isinstance(w.screen, TableScreen)
        await w.press("e")
        assert "Enter fills or corrects a field" in w.screen.said
        await w.press("x")
        assert "Rows of this table are not rejected" in w.screen.said

    walk(steps, build_with(**PLAN), CHECKLIST)


def test_a_key_in_an_open_field_is_a_letter_and_no_question_comes() -> None:
    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        await w.press("M", "e", "m")
        assert w.screen.card.field.value == "Mem" and not isinstance(w.screen, AskText)
        assert w.screen.said == ""

    walk(steps, new_build(CHECKLIST), CHECKLIST)
