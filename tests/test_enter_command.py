"""`enter` refuses what the bench refuses: held steps, silent replacement at a hold point, instruments and rows there are not."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from buildtrack.cli import main
from buildtrack.console.common import load
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from buildtrack.workings.status import Status, held_until


@pytest.fixture
def cleared(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A finished build: 3 groups, taps B0 to B3, voltmeters, a tester of capacity."""
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("BUILDTRACK_CONFIG", str(tmp_path / "config"))
    path = tmp_path / "b.toml"
    shutil.copy(shipped_samples() / "garden-screwdriver-cleared.toml", path)
    return path


def status_of_file(path: Path) -> Status:
    """State of every item and step of a build file."""
    return load(path).assessment.status


def refused(capsys: pytest.CaptureFixture[str], path: Path, *typed: str) -> str:
    """What is said of a text that is refused; nothing is written."""
    before = path.read_bytes()
    capsys.readouterr()
    assert main(["enter", str(path), *typed]) == 2
    told = capsys.readouterr()
    assert path.read_bytes() == before and told.out == "" and told.err.count("\n") == 1
    return told.err


def taken(capsys: pytest.CaptureFixture[str], path: Path, *typed: str) -> str:
    """What is said of a text that is taken."""
    before = path.read_bytes()
    capsys.readouterr()
    assert main(["enter", str(path), *typed]) == 0, capsys.readouterr().err
    assert path.read_bytes() != before
    return capsys.readouterr().out


@pytest.mark.parametrize(("item", "step"), [("test_current", "discharge"), ("working_current", "load")])
def test_in_a_held_step_the_line_of_the_bench_is_said_and_nothing_entered(
        item: str, step: str, cleared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = cleared.with_name("second.toml")
    assert main(["new", str(path)]) == 0
    checklist = find_checklist("nickel-tool-pack")
    held = held_until(status_of_file(path).step(step), checklist)
    assert held.startswith("this step is held until ")
    assert held in refused(capsys, path, item, "3")


def test_behind_a_stop_too(cleared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drill = cleared.with_name("drill.toml")
    shutil.copy(shipped_samples() / "drill-not-cleared.toml", drill)
    for item in find_checklist("nickel-tool-pack").all_items():
        state = status_of_file(drill).step(item.step)
        if state.stopped_by and item.kind == "text" and not read_build(drill).build.entry(item.id).standing:
            assert "the stop" in refused(capsys, drill, item.id, "words").casefold()
            break
    else:
        pytest.fail("the drill has no step that a stop holds")


def test_a_reading_at_a_hold_point_is_replaced_only_where_that_is_said(
        cleared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = refused(capsys, cleared, "alarm_setting", "3.3")
    assert "hold point: 3.20 V stands; --replace puts 3.3 in its place" in told
    assert taken(capsys, cleared, "alarm_setting", "3.3", "--replace").startswith("Alarm setting per group: 3.3")
    told = refused(capsys, cleared, "taps", "3.9", "--row", "B1", "--column", "voltage")
    assert "tap B1, voltage: hold point: " in told and "--replace puts 3.9 in its place" in told


def test_a_reading_that_is_wanted_anew_replaces_nothing(cleared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    taken(capsys, cleared, "groups", "c03 c08", "--row", "g1", "--column", "cells")
    stale = [n for n, s in status_of_file(cleared).items.items() if s.state == "stale"]
    items = find_checklist("nickel-tool-pack").items
    name = next(n for n in stale if items[n].hold and items[n].kind == "reading" and items[n].several == 1)
    taken(capsys, cleared, name, read_build(cleared).build.entry(name).standing[-1].text)


@pytest.mark.parametrize(("typed", "says"), [
    (("bench_temperature", "21", "--with", "nosuch"), "'nosuch' is no instrument of this build for temperature; there are: "),
    (("candidates", "2100mAh", "--row", "c02", "--column", "capacity", "--with", "thermometer"),
     "'thermometer' is no instrument of this build for capacity; there are: tester"),
    (("maker_note", "x"), "the checklist has no item 'maker_note'"),
    (("fuse_rating", "10 A", "--with", "m1-10a"), "no instrument reads it; leave out --with"),
    (("may_be_modified", "yes", "--with", "m1"), "--with names the instrument of a reading, and this is none"),
])
def test_an_instrument_must_be_of_the_list_and_fit(
        typed: tuple[str, ...], says: str, cleared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert says in refused(capsys, cleared, *typed)


@pytest.mark.parametrize("name", ["tester", "m1"])
def test_an_instrument_is_named_by_its_range_or_its_meter(
        name: str, cleared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    column, text = ("capacity", "2100 mAh") if name == "tester" else ("arrival_voltage", "3.61 V")
    told = taken(capsys, cleared, "candidates", text, "--row", "c02", "--column", column, "--with", name, "--replace")
    assert told.startswith("Candidate cells, cell c02, ") and text in told


def test_where_none_is_listed_that_is_said(cleared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = cleared.with_name("second.toml")
    assert main(["new", str(path)]) == 0
    assert "none is listed in Instruments" in refused(capsys, path, "bench_temperature", "21", "--with", "m1")


def test_a_table_with_a_known_number_of_rows_takes_no_other(cleared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = refused(capsys, cleared, "taps", "3", "--row", "Q9", "--column", "voltage")
    assert "there is no tap 'Q9'; there are: B0, B1, B2, B3" in told


def test_a_new_row_is_made_where_their_number_is_free_and_that_is_said(
        cleared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = taken(capsys, cleared, "candidates", "2100 mAh", "--row", "c99", "--column", "capacity")
    assert told == "Candidate cells, cell c99 (new), Measured capacity: 2100 mAh\n"
    assert "(new)" not in taken(capsys, cleared, "candidates", "3.6", "--row", "c99", "--column", "arrival_voltage")


def test_a_reading_that_makes_a_stop_gives_way_to_another_only_with_a_reason(
    capsys: pytest.CaptureFixture[str], cleared: Path
) -> None:
    taken(capsys, cleared, "insulating_rings", "3", "--replace")
    told = refused(capsys, cleared, "insulating_rings", "6", "--replace")
    assert "3 stands and makes the stop 'Insulating rings are missing'; --note REASON says why" in told
    taken(capsys, cleared, "insulating_rings", "4", "--replace")  # the stop stays: nothing to explain
    taken(capsys, cleared, "insulating_rings", "6", "--replace", "--note", "three more were put on")
    standing = read_build(cleared).build.entry("insulating_rings").standing[-1]
    assert (standing.text, standing.note) == ("6", "three more were put on")
