"""Whatever leaves a verdict incomplete is named by "Next", leads to the very field, and takes the ✓ from its step."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from functools import cache

from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.bench.desk import Desk
from buildtrack.bench.onward import lacking, onward
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.step_lines import step_sign
from buildtrack.bench.surroundings import Surroundings
from buildtrack.judging import Judged
from buildtrack.model.build import Build, Cell, Entry
from buildtrack.model.checklist import Checklist
from tests.bench_walk import Clock, MemorySession, Walk, walk
from tests.sample_edits import sample

CLEARED = ("garden-screwdriver-cleared", "stick-vacuum-cleared", "path-light-cleared", "shed-light-cleared")


@cache
def at_the_end(name: str) -> tuple[Judged, datetime]:
    """A cleared sample at the moment of its last entry, judged."""
    build, checklist, folder = sample(name)
    moment = max(event.at for event in build.history if event.at)
    desk = Desk(MemorySession(build, checklist, folder / f"{name}.toml"), Surroundings(clock=lambda: moment))
    assert desk.judged.assessment.verdict.startswith("cleared")
    return desk.judged, moment


def without(build: Build, item: str, column: str) -> Build:
    """The build with a column of a table emptied, or with an item not answered."""
    rows = build.entry(item).rows
    kept = tuple(replace(r, cells={n: c for n, c in r.cells.items() if n != column}) for r in rows)
    return replace(build, entries={**build.entries, item: Entry(rows=kept) if column else Entry()})


def with_field(build: Build, item: str, row: str, column: str, cell: Cell) -> Build:
    """The build with one field filled again."""
    entry = build.entry(item)
    rows = tuple(replace(r, cells={**r.cells, column: cell}) if r.id == row else r for r in entry.rows)
    return replace(build, entries={**build.entries, item: replace(entry, rows=rows)})


def desk_of(name: str, build: Build) -> Desk:
    judged, moment = at_the_end(name)
    around = Surroundings(clock=lambda: moment)
    session = MemorySession(build, judged.checklist, judged.folder / f"{name}.toml")
    return Desk(session, replace(around, judge=lambda b, *_: around.judge_again(judged, b, moment)))


def parts(build: Build, checklist: Checklist) -> list[tuple[str, str]]:
    """What can be taken away: every column that is filled, every item that is answered."""
    found = []
    for item in checklist.all_items():
        entry = build.entry(item.id)
        columns = {n for r in entry.rows for n, c in r.cells.items() if c.text}
        found += [(item.id, c.id) for c in item.columns if c.id in columns]
        found += [(item.id, "")] if entry.standing else []
    return found


def looks_done(desk: Desk) -> bool:
    """Whether every step shows the sign of a step that is done."""
    return all(step_sign(desk, step)[0] == "✓" for step in desk.checklist.steps)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(CLEARED), st.lists(st.integers(0, 10**6), min_size=1, max_size=3), st.booleans())
def test_what_leaves_a_verdict_incomplete_is_named_and_takes_the_sign_of_done(
        name: str, which: list[int], in_tables: bool) -> None:
    build, checklist, _ = sample(name)
    choices = [p for p in parts(build, checklist) if bool(p[1]) or not in_tables]
    less = build
    for number in which:
        less = without(less, *choices[number % len(choices)])
    desk = desk_of(name, less)
    following = onward(desk)
    if desk.judged.assessment.verdict != "incomplete":
        return
    assert not looks_done(desk)
    assert following.key != "next", following.text
    failing = {r.check for r in desk.judged.assessment.findings if r.outcome != "unknown" and r.severity == "stop"}
    if following.check and following.check not in failing:  # a check no empty field can be named of says what it needs
        assert "needs" in following.text, following.text
    if following.field is None:
        return
    row, column = following.field
    assert not desk.build.entry(following.item).row(row).text(column)  # type: ignore[union-attr]
    before = build.entry(following.item).row(row)
    cell = before.cells.get(column) if before is not None else None
    if cell is not None:  # filled as it was, it is not named any more
        assert onward(desk_of(name, with_field(less, following.item, row, column, cell))).key != following.key


def test_each_column_of_a_cleared_build_taken_away_is_told_where_the_verdict_is_incomplete_for_it() -> None:
    for name in CLEARED[:2]:
        build, checklist, _ = sample(name)
        for item, column in parts(build, checklist):
            if not column:
                continue
            desk = desk_of(name, without(build, item, column))
            if desk.judged.assessment.verdict == "incomplete":
                following = onward(desk)
                assert following.item, (name, item, column, following.text)
                assert not looks_done(desk), (name, item, column)


def test_empty_joining_columns_are_next_and_their_table_is_said_not_to_be_full() -> None:
    name = CLEARED[0]
    build, checklist, folder = sample(name)
    moment = at_the_end(name)[1]
    empty = without(without(build, "groups", "joining_lowest"), "groups", "voltage_after")
    assert lacking(desk_of(name, empty))[0].field == ("g1", "joining_lowest")

    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("groups")
        await w.settle()
        assert "1 table not full" in w.text() and "▸ Groups, g1: Lowest cell at" in w.text()
        assert "◐ 4 Pick cells    not full" in w.text() and "3 groups  not full" in w.text()
        await w.press("g")
        assert "(1 table not full" in " ".join(w.text().split())
        await w.press("escape", "x")
        assert isinstance(w.screen, TableScreen)
        assert "Lowest cell at joining" in w.text()

    walk(steps, empty, checklist, size=(120, 40), clock=Clock(moment), path=folder / f"{name}.toml")
