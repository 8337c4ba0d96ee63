"""A hold point that rests on a table settles nothing while the table is empty, and says at once what is missing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from buildtrack import cli
from buildtrack.bench.onward import onward
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.console.lint import problems_of
from buildtrack.model import edit
from buildtrack.model.build import Build, Entry, LeftOut, Reading
from buildtrack.model.checklist import Checklist
from buildtrack.storage.checklist_file import find_checklist, parse_checklist
from buildtrack.storage.places import shipped_samples
from buildtrack.storage.session import open_session
from buildtrack.workings.graph import Sheet
from buildtrack.workings.inputs import build_inputs
from buildtrack.workings.status import ItemState, Status, status_of
from tests.bench_walk import Clock, Walk, walk
from tests.make import NOW, Given, build_with
from tests.sample_edits import sample
from tests.small import TEXT
from tests.test_bench_what_is_missing import CLEARED, at_the_end, desk_of, without

PARTS: list[dict[str, str]] = [{"id": "p1", "warmth": "30", "decision": "keep"}, {"id": "p2", "decision": "keep"}]


def resting(keys: str) -> Checklist:
    """The small checklist with `keys` at its last tick."""
    found, problems = parse_checklist(TEXT.replace('label = "Done"\n', f'label = "Done"\n{keys}\n'), "small.toml")
    assert not problems, problems
    return found


def of(build: Build, checklist: Checklist) -> Status:
    return status_of(build, checklist, Sheet((), build_inputs(build, checklist, date(2026, 11, 25))), NOW)


def done(given: Mapping[str, Given], keys: str) -> ItemState:
    checklist = resting(keys)
    return of(build_with({"done": "yes", **given}, checklist), checklist).items["done"]


ON_PARTS = 'filled_first = ["parts.warmth"]'


def test_an_answer_over_an_empty_table_is_not_settled_and_names_it() -> None:
    assert done({}, ON_PARTS) == ItemState("done", "partly", "answered before its readings: 'Parts' is empty", ("parts",))
    state = done({"parts": PARTS}, ON_PARTS)
    assert not state.settled and state.why.endswith("'Parts' lacks Warmth (p2)") and state.lacks == ("parts.warmth",)


def test_it_is_settled_once_the_column_is_full() -> None:
    assert done({"parts": [PARTS[0], {**PARTS[1], "warmth": "31"}]}, ON_PARTS).settled
    assert done({"parts": [PARTS[0], {**PARTS[1], "decision": "reject"}]}, ON_PARTS).settled, "a rejected one is not asked"


def test_a_no_says_what_it_said_before() -> None:
    assert done({"done": "no"}, ON_PARTS).why == "answered no"


def test_a_whole_item_may_be_what_it_rests_on_until_that_is_left_out() -> None:
    keys = 'filled_first = ["part_temperature"]'
    assert done({}, keys).lacks == ("part_temperature",)
    assert done({"part_temperature": "30"}, keys).settled
    checklist = resting(keys)
    build = build_with({"done": "yes"}, checklist)
    out = replace(build, entries={**build.entries, "part_temperature": Entry(left_out=LeftOut("no thermometer", NOW))})
    assert of(out, checklist).items["done"].settled


def test_it_rests_on_nothing_where_its_condition_does_not_hold_or_the_item_is_not_asked() -> None:
    keys = ON_PARTS + '\nfilled_first_if = [{ item = "part_temperature", at_least = 50 }]'
    assert done({}, keys).settled and done({"part_temperature": "49"}, keys).settled
    assert not done({"part_temperature": "50"}, keys).settled
    assert done({"allowed": "yes"}, 'filled_first = ["extra"]').settled
    assert not done({"allowed": "no"}, 'filled_first = ["extra"]').settled


HOLDS = {
    "groups_joined": ("groups", ("joining_lowest", "joining_highest", "voltage_after")),
    "tap_order": ("taps", ("voltage",)),
    "board_connected": ("taps", ("voltage",)),
    "first_charge_watched": ("first_charge_groups", ("before", "at_end")),
    "first_charger_checked": ("first_charger_voltage", ()),
}
WHERE = [("nickel-tool-pack", hold) for hold in HOLDS]
WHERE += [(name, "groups_joined") for name in ("bicycle-light", "hand-held-radio", "hand-vacuum", "shed-light-lfp")]


@pytest.mark.parametrize(("name", "hold"), WHERE)
def test_every_hold_point_that_rests_on_readings_is_open_while_they_are_empty(name: str, hold: str) -> None:
    checklist, (below, columns) = find_checklist(name), HOLDS[hold]
    item = checklist.items[hold]
    assert item.hold and not checklist.items[below].only_if
    given = {hold: "yes", "series_count": "2", "parallel_count": "2"}
    assert of(build_with(given, checklist), checklist).items[hold].lacks[0].partition(".")[0] == below
    for column in columns:
        rows = [{"id": "x1", **{c: "3.7 V" for c in columns if c != column}, "cells": "c01 c02"}]
        rows = [{k: v for k, v in row.items() if k == "id" or checklist.items[below].column(k)} for row in rows]
        assert of(build_with({**given, below: rows}, checklist), checklist).items[hold].lacks == (f"{below}.{column}",)


def test_the_steps_after_it_are_held_until_it_is_filled() -> None:
    checklist = find_checklist("nickel-tool-pack")
    given: dict[str, Given] = {"groups_joined": "yes", "parallel_count": "2"}
    status = of(build_with(given, checklist), checklist)
    assert "groups_joined" in status.step("alarm").held_by


def test_a_command_says_so_too(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "screwdriver.toml"
    path.write_bytes((shipped_samples() / "garden-screwdriver-cleared.toml").read_bytes())
    with open_session(path) as session:
        build, item = session.build, session.checklist.items["taps"]
        for row in build.entry("taps").rows:
            build = edit.delete_row(build, item, row.id, "read anew", edit.Hand(NOW))
        session.commit(build)
    cli.main(["enter", str(path), "tap_order", "yes"])
    assert "answered before its readings: 'Taps at the open plug' is empty; until then" in capsys.readouterr().err
    for number, volts in enumerate((0, 3.7, 7.5, 11.2)):
        cli.main(["enter", str(path), "taps", f"{volts} V", "--row", f"B{number}", "--column", "voltage"])
    cli.main(["enter", str(path), "tap_order", "yes"])
    assert capsys.readouterr().err == ""


def test_single_cells_are_not_joined_to_anything() -> None:
    checklist = find_checklist("shed-light-lfp")
    build = build_with({"groups_joined": "yes", "parallel_count": "1"}, checklist)
    assert of(build, checklist).items["groups_joined"].settled


def test_a_name_that_is_no_item_and_no_column_is_a_mistake_of_the_checklist(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    wrong = 'filled_first = ["parts.weight", "nothing", "parts.warmth", "parts"]'
    path.write_text(TEXT.replace('label = "Done"\n', f'label = "Done"\n{wrong}\n'), encoding="utf-8")
    said = [str(p) for p in problems_of(path) if "neither an item nor a table.column" in str(p)]
    assert len(said) == 2
    assert any("'parts.weight' is neither" in s for s in said) and any("'nothing' is neither" in s for s in said)


def test_answered_too_early_the_bench_stays_at_it_names_the_columns_and_x_goes_there() -> None:
    name = CLEARED[0]
    build, checklist, folder = sample(name)
    moment = at_the_end(name)[1]
    item = checklist.items["groups_joined"]
    early = without(without(build, "groups", "joining_lowest"), "groups_joined", "")
    desk = desk_of(name, edit.add_reading(early, item, Reading("yes", moment), edit.Hand(moment)))
    assert onward(desk).field == ("g1", "joining_lowest")

    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("groups_joined")
        await w.settle()
        await w.press("y", "enter")
        text = " ".join(w.text().split())
        assert w.screen.item_id == "groups_joined"
        assert "answered before its readings" in text and "Lowest cell at joining (g1, g2, g3)" in text
        await w.press("x")
        assert isinstance(w.screen, TableScreen) and "Lowest cell at joining" in w.text()

    walk(steps, early, checklist, size=(120, 40), clock=Clock(moment), path=folder / f"{name}.toml")
