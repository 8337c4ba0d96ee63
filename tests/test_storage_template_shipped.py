"""A build begun from a shipped one carries what was chosen; what an instrument said is asked for again, and shown beside."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from buildtrack import cli
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.starting import from_past
from buildtrack.judging import judge
from buildtrack.model.build import Build, Reading
from buildtrack.model.checklist import Checklist, Column, Item
from buildtrack.model.edit import Hand, add_reading
from buildtrack.model.instruments import instruments
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.hashing import content_hash
from buildtrack.storage.places import shipped_checklists, shipped_samples
from buildtrack.storage.template import start_from
from buildtrack.storage.write import to_text
from tests.bench_walk import NOW, Walk, walk

CHECKLISTS = sorted(p.stem for p in shipped_checklists().glob("*.toml"))
SAMPLES = sorted(p.stem for p in shipped_samples().glob("*.toml"))
CHOSEN = {
    "series_count": "how the pack is laid out", "conductors.parallel": "how it is laid out", "conductors.bundle": "how it is laid out",
    "strips.parallel": "how it is laid out", "conductors.size": "printed on the wire", "strips.width": "as the strip is sold",
    "strips.alike": "how often the design has such a link",
    "strips.thickness": "as the strip is sold", "board_series": "rating of the board", "connector_rating": "a rating",
    "switch_rating": "a rating", "fuse_voltage": "a rating", "series_resistors.power": "printed on it",
    "alarm_resolution": "from the sheet of the alarm", "test_current": "set on the tester"}
"""Numbers that are chosen or printed, never read from an instrument: all that may be carried, each with its reason."""


def places(checklist: Checklist) -> Iterator[tuple[str, Item, Column | None]]:
    for item in checklist.all_items():
        if item.kind != "table":
            yield item.id, item, None
        else:
            yield from ((f"{item.id}.{column.id}", item, column) for column in item.columns)


def carries(item: Item, column: Column | None) -> bool:
    if column is None:
        return item.reuse == "carry"
    return column.reuse == "carry" or (item.reuse == "carry" and column.reuse != "confirm")


def begun(name: str) -> tuple[Build, Build, Checklist]:
    past = read_build(shipped_samples() / f"{name}.toml").build
    checklist = find_checklist(past.checklist.id)
    return past, start_from(past, content_hash(past), checklist, "The next one", NOW, "next"), checklist


@pytest.mark.parametrize("name", CHECKLISTS)
def test_no_number_is_carried_but_those_that_are_chosen_or_printed(name: str) -> None:
    carried = {place for place, item, column in places(find_checklist(name))
               if (column or item).kind in ("reading", "date") and carries(item, column)}
    assert carried - CHOSEN.keys() == set()
    assert {"series_count", "fuse_voltage"} & carried, "the design is carried"


@pytest.mark.parametrize("name", CHECKLISTS)
def test_nothing_that_is_seen_on_the_old_pack_or_confirmed_by_a_tick_is_carried(name: str) -> None:
    checklist = find_checklist(name)
    old = {"old_label", "old_chemistry", "old_cells", "old_mass", "rated_voltage"} & checklist.items.keys()
    assert {n for n in old if checklist.items[n].reuse == "carry"} == set()
    assert [p for p, item, column in places(checklist) if (column or item).kind == "tick" and carries(item, column)] == []


@pytest.mark.parametrize("name", SAMPLES)
def test_no_old_reading_counts_and_each_stands_beside_as_expectation(name: str) -> None:
    past, build, checklist = begun(name)
    assert build.origin is not None and build.origin.sha256 == content_hash(past)
    shown = 0
    for place, item, column in places(checklist):
        old, new = past.entry(item.id), build.entry(item.id)
        kind = (column or item).kind
        if kind not in ("reading", "date") or place in CHOSEN:
            continue
        if column is None:
            assert not new.readings, f"{place} is measured on this one"
            assert new.expected == (old.standing[-1].text if old.standing else ""), place
            shown += bool(new.expected)
            continue
        assert not any(row.text(column.id) for row in new.rows), f"{place} is measured on this one"
        expected = [row.text(column.id) for row in new.expected_rows if row.text(column.id)]
        assert expected == [row.text(column.id) for row in old.rows if row.text(column.id)], place
        shown += len(expected)
    assert shown > 0, "there was something to show"
    assert all(r.value_class == "taken over" for e in build.entries.values() for r in e.readings)
    assert all(c.value_class == "taken over" for e in build.entries.values() for r in e.rows for c in r.cells.values())


@pytest.mark.parametrize("name", SAMPLES)
def test_a_build_just_begun_from_any_past_one_is_incomplete_and_nothing_carried_stops_it(name: str) -> None:
    _, build, checklist = begun(name)
    found = judge(build, checklist, shipped_samples(), NOW).assessment
    stops = [r.check for r in found.results if r.severity == "stop" and r.outcome == "fail"]
    assert (found.verdict, stops) == ("incomplete", [])


def test_the_first_answer_in_a_build_from_a_past_one_is_not_out_of_order_with_what_was_taken_over() -> None:
    _, build, checklist = begun("garden-screwdriver-cleared")
    at = NOW + timedelta(minutes=10)
    answered = add_reading(build, checklist.items["rated_voltage"], Reading("12 V", at), Hand(at))
    found = judge(answered, checklist, shipped_samples(), at).assessment
    told = [r.message for r in found.results if r.check == "readings-out-of-order" and r.outcome != "pass"]
    assert (found.verdict, told) == ("incomplete", [])


def test_a_past_build_is_recorded_alike_from_both_ways_to_begin_and_no_path_is_in_the_file(tmp_path: Path) -> None:
    past = tmp_path / "my own folder" / "past.toml"
    past.parent.mkdir()
    past.write_bytes((shipped_samples() / "shed-light-cleared.toml").read_bytes())
    on_the_bench = from_past(past, tmp_path, "The next one", datetime(2026, 11, 25, 12, tzinfo=UTC))
    by_command = tmp_path / "by-command.toml"
    assert cli.main(["new", str(by_command), "--from", str(past), "--title", "The next one"]) == 0
    made = [read_build(path).build.origin for path in (on_the_bench, by_command)]
    assert made[0] == made[1] and made[0] is not None and made[0].sha256
    for path in (on_the_bench, by_command):
        assert "my own folder" not in path.read_text(encoding="utf-8")


def test_a_file_that_still_names_the_path_of_its_past_build_opens(tmp_path: Path) -> None:
    past = shipped_samples() / "shed-light-cleared.toml"
    path = from_past(past, tmp_path, "The next one", datetime(2026, 11, 25, 12, tzinfo=UTC))
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("[origin]\n", '[origin]\npath = "/old/past.toml"\n'), encoding="utf-8")
    opened = read_build(path).build
    assert opened.origin is not None and opened.origin.path == "/old/past.toml"


@pytest.mark.parametrize("name", SAMPLES)
def test_the_meters_of_the_past_maker_are_only_what_was_used_there(name: str, tmp_path: Path) -> None:
    past, new, checklist = begun(name)
    path = tmp_path / "next.toml"
    path.write_text(to_text(new, checklist), encoding="utf-8")
    again = read_build(path).build
    assert not instruments(again) and again.entry("instruments").rows == ()
    names = [row.id for row in past.entry("instruments").rows]
    assert names or past.ended, "else there is nothing to be carried"
    assert [row.id for row in again.entry("instruments").expected_rows] == names


def test_the_card_names_the_meters_the_past_build_used() -> None:
    past, new, checklist = begun("garden-screwdriver-cleared")
    assert past.entry("instruments").rows[0].text("meter") == "m1"

    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("instruments")
        await w.settle()
        shown = " ".join(w.text().split())
        assert "the build it came from used m1 (Multimeter)" in shown and "0 instruments" in shown

    walk(steps, new, checklist, size=(160, 40))
