"""Sentences that contradicted each other: what ends a stall and when, the load's stop voltage, and what is due."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from buildtrack.bench.due import due_lines
from buildtrack.judging import judge
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import shipped_samples
from tests.front import build, checklist, rule
from tests.make import Given

NOBODY: dict[str, Given | None] = {"current_limiter": "none", "fuse_family": "blade", "fuse_rating": "15 A",
                                   "board_trip_high": "25 A", "board_trip_delay": "200 ms"}


def said(**changed: Given | None) -> str:
    return rule("stall-exposure", build({**NOBODY, **changed})).facts["ends"]


def test_the_times_of_board_and_fuse_stand_in_one_sentence() -> None:
    # the stall is 29.3 A, 195 % of 15 A: by ISO 8820-3 a blade fuse may open at 135 % and must within 600 s
    told = said()
    assert told.startswith("Until the board opens (after 200 ms) or the fuse does (")
    assert told.endswith(") the cells carry it.") and "at the latest after 10 min" in told


def test_only_what_opens_is_named() -> None:
    assert said(board_trip_high="30 A").startswith("Until the fuse opens (")
    assert said(fuse_rating="40 A") == "Until the board opens (after 200 ms) the cells carry it."
    assert said(fuse_rating="40 A", board_trip_delay=None) == "Until the board opens (after its delay) the cells carry it."
    assert said(fuse_rating="40 A", board_trip_high="30 A") == "Neither fuse nor board ends it."
    assert said(fuse_family=None, fuse_rating=None, board_trip_high=None) == "What fuse and board do is not known yet."


def test_the_text_of_the_stop_voltage_is_its_working() -> None:
    how = checklist().items["tester_stop"].how
    assert "2.1 V" not in how and "Load must stop below" in how
    assert "2 to 5 A" not in checklist().items["test_current"].how


def test_nothing_to_do_is_not_said_over_an_open_item() -> None:
    path = shipped_samples() / "garden-screwdriver-cleared.toml"
    judged = judge(read_build(path).build, checklist(), path.parent, datetime(2026, 10, 1, 12, 0, tzinfo=UTC))
    done = replace(judged, assessment=replace(judged.assessment, status=replace(judged.assessment.status, next_item="")))
    open_one = replace(judged, assessment=replace(judged.assessment,
                                                  status=replace(judged.assessment.status, next_item="old_charger_fate")))
    assert any("nothing to do until" in each for each in due_lines(done))
    assert not any("nothing to do until" in each for each in due_lines(open_one))
    assert any(each.startswith("on ") for each in due_lines(open_one))
