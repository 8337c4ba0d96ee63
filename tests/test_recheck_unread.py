"""A re-check of which only the date was written is no look at the pack: it settles nothing and nothing is judged by it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from buildtrack.checks.ruling import Result
from buildtrack.model.build import Build, Cell, Entry, Row
from buildtrack.workings.aftercare_rechecks import recheck_report
from buildtrack.workings.values import Record, Table
from tests.bench_walk import NOW
from tests.test_bench_guidance import sample_build, with_entries
from tests.test_recheck_dates import judged_of, read, result

SAMPLE = sample_build("garden-screwdriver-cleared")
LATER = datetime(2028, 1, 10, 12, 0, tzinfo=UTC)
JUDGED_BY = ("drift-watch", "drift-stop", "found-empty", "worn-out", "stored-full", "stored-low")


def bare(name: str, on: str, **more: str) -> Row:
    """A row that holds only its day, and what says nothing of the pack."""
    return Row(name, {column: Cell(text, NOW) for column, text in {"on": on, **more}.items()})


def kept(*rows: Row) -> Build:
    return with_entries(SAMPLE, rechecks=Entry(rows=rows))


def due(build: Build) -> Result:
    return result(build, "recheck-due", LATER)


def test_a_row_with_only_its_day_is_partly_answered() -> None:
    state = judged_of(kept(bare("a1", "2028-01-10"))).assessment.status.items["rechecks"]
    assert (state.state, state.why) == ("partly", "re-check a1: nothing was read")


def test_temperature_and_days_alone_are_no_re_check() -> None:
    only = bare("a1", "2028-01-10", temperature="18 °C", days_since_charge="30", remarks="looked good")
    assert judged_of(kept(only)).assessment.status.items["rechecks"].state == "partly"


def test_it_does_not_move_the_day_of_the_next_one() -> None:
    before = kept(read("a1", "2026-10-26", "4.10", "4.10", "3"))
    again = kept(*before.entry("rechecks").rows, bare("a2", "2028-01-10"))
    assert due(before).outcome == due(again).outcome == "fail"
    assert due(before).message == due(again).message
    looked = kept(*before.entry("rechecks").rows, read("a2", "2028-01-10", "4.10", "4.10", "3"))
    assert due(looked).outcome == "pass"


@pytest.mark.parametrize("check", JUDGED_BY)
def test_nothing_is_called_in_order_by_a_day_alone(check: str) -> None:
    found = result(kept(bare("a1", "2026-11-20")), check)
    assert found.outcome == "unknown" and "Group 1" in found.message


@pytest.mark.parametrize("check", JUDGED_BY)
def test_a_sound_re_check_before_it_still_counts(check: str) -> None:
    found = result(kept(read("a1", "2026-10-26", "3.80", "3.80", "20"), bare("a2", "2026-11-20")), check)
    assert found.outcome == "pass"


def test_the_level_in_storage_is_that_of_the_last_re_check_with_voltages() -> None:
    """4.15 V is above the storage limit for a month; a later row with a capacity alone does not hide it."""
    full = read("a1", "2026-10-26", "4.15", "4.15", "40")
    later = bare("a2", "2026-11-20", capacity="2.9 Ah")
    assert result(kept(full), "stored-full").outcome == result(kept(full, later), "stored-full").outcome == "fail"
    assert result(kept(later), "stored-full").outcome == "unknown"


def test_a_re_check_of_capacity_or_resistance_alone_is_one() -> None:
    day = {"on": 740000.0}
    assert recheck_report(Table((Record("a1", {**day, "capacity": 2.9}),))) is not None
    assert recheck_report(Table((Record("a1", {**day, "resistance": 0.08}),))) is not None
    assert recheck_report(Table((Record("a1", {**day, "temperature": 18.0, "days_since_charge": 9.0}),))) is None


def test_a_build_without_any_re_check_is_as_before() -> None:
    none = replace(SAMPLE, entries={k: v for k, v in SAMPLE.entries.items() if k != "rechecks"})
    assert judged_of(none).assessment.status.items["rechecks"].state == "open"
