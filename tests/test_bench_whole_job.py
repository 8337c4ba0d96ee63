"""The whole job at 80x24: a new build of the main checklist, filled at the bench in the order of the work, ends cleared.

What is entered are the readings of the cleared sample; the same text must give the same verdict by this way.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import pytest

from buildtrack.bench import rows
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.attaching import enter_file
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.judging import judge, summary
from buildtrack.model.build import Build, Reading
from buildtrack.model.checklist import Item
from buildtrack.model.edit import set_policy
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import shipped_samples
from buildtrack.storage.session import create
from buildtrack.storage.template import start_new
from tests.bench_walk import Clock, MemorySession, Walk, main_checklist, walk

SAMPLE = "garden-screwdriver-cleared"
TYPED_BY_KEYS = 12
"""How many answers are typed key by key; the others go in by the same methods that the keys call."""
CHECKLIST = main_checklist()


@dataclass(frozen=True)
class Answered:
    """One answer of the sample, or the fields of one row that were filled together."""

    at: datetime
    item: Item
    reading: Reading | None = None
    row: str = ""
    fields: tuple[rows.Placed, ...] = ()
    instrument: str = ""


def single_answers(past: Build) -> Iterator[Answered]:
    for item in CHECKLIST.all_items():
        entry = past.entry(item.id)
        for reading in entry.readings:
            assert reading.taken is not None
            yield Answered(reading.taken, item, reading)
        for row in entry.rows:
            for name, cell in row.cells.items():
                column = item.column(name)
                assert column is not None and cell.taken is not None
                yield Answered(
                    cell.taken,
                    item,
                    None,
                    row.id,
                    (rows.Placed(row.id, column, cell.text, cell.note),),
                    cell.instrument,
                )


def in_order(past: Build) -> list[Answered]:
    """The answers by their time; neighbouring fields of one row and instrument become one entry."""
    found: list[Answered] = []
    for each in sorted(single_answers(past), key=lambda a: a.at):
        last = found[-1] if found else None
        same = (
            last is not None
            and each.row
            and (last.item, last.row, last.instrument) == (each.item, each.row, each.instrument)
        )
        if last is not None and same:
            found[-1] = replace(each, fields=(*last.fields, *each.fields))
        else:
            found.append(each)
    return found


async def answer_question(w: Walk, text: str) -> None:
    asked = w.screen
    assert isinstance(asked, AskText)
    asked.query_one("#ask-field").put(text)  # type: ignore[attr-defined]
    await w.press("enter")


async def enter_reading(w: Walk, bench: BenchScreen, each: Answered, by_keys: bool) -> None:
    reading, item = each.reading, each.item
    assert reading is not None
    bench.jump(item.id)
    bench.value_class = reading.value_class
    w.app.instruments.choose(item, None, reading.instrument)
    if item.kind in ("photo", "file"):
        enter_file(bench, item, f"{reading.text} {reading.columns}".strip())
    elif by_keys and item.kind in ("reading", "text") and len(reading.text) < 12:
        await w.press("enter")
        await w.type(reading.text)
    elif by_keys and item.kind == "tick":
        await w.press("y" if reading.text == "yes" else "n", "enter")
    else:
        bench.enter(item, reading.text)
    if w.app.screen is not bench and "currency" in w.text():
        await answer_question(w, "EUR")
    if w.app.screen is not bench:
        await answer_question(w, reading.accepted or "as read")
    assert not bench.card.told or "taken: type the next one" in bench.card.told, f"{item.id}: {bench.card.told}"
    if reading.note:
        bench.jump(item.id)
        bench.action_remark()
        await w.pilot.pause()
        if isinstance(w.screen, AskOne):  # of several readings the last is marked
            await w.press("enter")
        await answer_question(w, reading.note)


async def close_table(w: Walk, bench: BenchScreen) -> None:
    if isinstance(w.screen, TableScreen):
        w.screen.action_back()
        await w.pilot.pause()
    assert w.app.screen is bench


async def enter_fields(w: Walk, bench: BenchScreen, each: Answered) -> None:
    table = w.screen
    if not isinstance(table, TableScreen) or table.item_id != each.item.id:
        await close_table(w, bench)
        bench.jump(each.item.id)
        bench.action_answer()
        await w.pilot.pause()
        table = w.screen
    assert isinstance(table, TableScreen), f"{each.item.id}: {bench.card.told}"
    for field in each.fields:
        w.app.instruments.choose(each.item, field.column, each.instrument)
    assert table.fill(each.fields), table.told


async def settle_the_rest(w: Walk, bench: BenchScreen, past: Build) -> None:
    """What was left out, and the cautions that were accepted, with their reasons."""
    for name, entry in past.entries.items():
        if entry.left_out is not None:
            bench.jump(name)
            bench.action_leave_out()
            await w.pilot.pause()
            await answer_question(w, entry.left_out.reason)
    for waiver in past.waivers:
        bench.ask_waiver(waiver.check)
        await w.pilot.pause()
        await answer_question(w, waiver.reason)


def test_the_whole_job_at_the_bench_ends_in_the_verdict_of_the_sample(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    past = read_build(shipped_samples() / f"{SAMPLE}.toml").build
    folder = tmp_path / "work"
    shutil.copytree(shipped_samples() / f"{SAMPLE}_files", folder / f"{SAMPLE}_files")
    path = folder / "new.toml"
    assert past.created is not None
    clock = Clock(past.created)
    begun = replace(start_new(CHECKLIST, past.title, past.maker, past.created, "walk"), currency=past.currency)
    session = MemorySession(begun, CHECKLIST, path)

    async def steps(w: Walk) -> None:
        bench = w.screen
        assert isinstance(bench, BenchScreen)
        for name, change in past.policy.items():
            bench.edit(lambda build, hand, n=name, c=change: set_policy(build, n, c.text, c.reason, hand))  # type: ignore[misc]
        for number, each in enumerate(in_order(past)):
            clock.now = each.at
            if each.reading is not None:
                await close_table(w, bench)
                await enter_reading(w, bench, each, number < TYPED_BY_KEYS)
            else:
                await enter_fields(w, bench, each)
        await close_table(w, bench)
        await settle_the_rest(w, bench, past)
        await w.settle()
        assert w.app.desk is not None and not w.app.desk.unsaved
        assert past.snapshot["verdict"] == w.app.desk.judged.assessment.verdict, w.app.desk.judged.assessment.reasons
        assert "cleared" in w.text()

    walk(steps, begun, CHECKLIST, size=(80, 24), session=session, clock=clock)
    create(path, session.build, CHECKLIST, snapshot=summary)
    made = read_build(path).build
    again = judge(made, CHECKLIST, folder, clock.now)
    assert again.assessment.verdict == past.snapshot["verdict"]
    assert str(past.snapshot["verdict"]).startswith("cleared")
    texts = {n: [r.text for r in e.standing] for n, e in past.entries.items() if e.standing}
    assert {n: [r.text for r in e.standing] for n, e in made.entries.items() if e.standing} == texts
