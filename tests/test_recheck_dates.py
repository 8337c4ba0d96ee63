"""A re-check is dated as it is begun; one that has readings and no date is seen by table, drift and checks all the same."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

from buildtrack.bench.rows import with_row
from buildtrack.bench.screens.table import TableScreen
from buildtrack.checks.ruling import Result
from buildtrack.judging import Judged, judge
from buildtrack.model.build import Build, Cell, Entry, Row
from buildtrack.model.edit import Hand
from buildtrack.storage.checklist_file import find_checklist
from tests.bench_walk import NOW, Walk, walk
from tests.test_bench_entry import SIZES
from tests.test_bench_guidance import sample_build, with_entries
from tests.test_bench_typing_ahead import table

BUILD = sample_build("garden-screwdriver-cleared")
CHECKLIST = find_checklist(BUILD.checklist.id)
GROUPS = ("g1", "g2", "g3")
TODAY = NOW.astimezone().date().isoformat()


def read(name: str, on: str, volts: str, last: str, days: str) -> Row:
    """A re-check of three groups, the last of which differs; invented."""
    texts = {"days_since_charge": days, **dict.fromkeys(GROUPS[:-1], volts), GROUPS[-1]: last}
    cells = {column: Cell(text, NOW) for column, text in texts.items()}
    return Row(name, {**cells, **({"on": Cell(on, NOW)} if on else {})})


def kept(on: str, last: str) -> Build:
    """The build in use with two re-checks, a month apart."""
    rows = (read("a1", "2026-10-26", "4.10", "4.10", "3"), read("a2", on, "4.10", last, "33"))
    return with_entries(BUILD, rechecks=Entry(rows=rows))


def judged_of(build: Build, now: datetime = NOW) -> Judged:
    return judge(build, CHECKLIST, Path("/nowhere"), now)


def result(build: Build, check: str, now: datetime = NOW) -> Result:
    return next(r for r in judged_of(build, now).assessment.results if r.check == check)


def test_a_group_that_fell_is_stopped_whether_or_not_its_re_check_has_a_date() -> None:
    """150 mV in 30 days; a stop is said from 15 mV a month on (shared/limits.toml)."""
    dated, undated = (result(kept(on, "3.95"), "drift-stop") for on in ("2026-11-25", ""))
    assert dated.outcome == "fail"
    assert undated.outcome == "fail" and "at least" in undated.message and "a2 has no date" in undated.message


def test_a_re_check_without_a_date_is_an_open_caution_until_it_has_one() -> None:
    found = result(kept("", "4.10"), "recheck-undated")
    assert (found.outcome, found.severity, found.item) == ("fail", "caution", "rechecks")
    assert found.message.startswith("a2: readings without the day") and "Type the day it was read" in found.advice
    assert result(kept("2026-11-25", "4.10"), "recheck-undated").outcome == "pass"


def test_what_a_re_check_without_a_date_says_of_the_drift_is_told_by_the_drift_alone() -> None:
    assert result(kept("", "4.10"), "drift-watch").outcome == "pass", "the missing date has a check of its own"


def test_a_re_check_that_was_only_begun_is_no_fault() -> None:
    build = kept("2026-11-25", "4.10")
    rows = (*build.entry("rechecks").rows, Row("a3", {"remarks": Cell("not read yet", NOW)}))
    assert result(with_entries(build, rechecks=Entry(rows=rows)), "recheck-undated").outcome == "pass"


@SIZES
def test_a_new_re_check_is_dated_today_and_begins_at_its_first_reading(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "rechecks")
        await w.press("a")
        row = w.build.entry("rechecks").row("a3")
        assert row is not None and row.text("on") == TODAY
        assert screen.grid.row_id == "a3" and screen.grid.column_id == "days_since_charge"
        assert screen.focused is screen.field and "today is filled in. For another day ← goes there." in screen.said
        await w.press("left", "enter")
        assert (screen.grid.row_id, screen.grid.column_id, screen.field.value) == ("a3", "on", TODAY)
        await w.type("24.11.2026")
        row = w.build.entry("rechecks").row("a3")
        assert row is not None and row.text("on") == "24.11.2026"
        assert screen.grid.column_id == "days_since_charge", "and on to the first reading"

    walk(steps, kept("2026-11-24", "4.10"), CHECKLIST, size=size)


def test_the_date_that_was_filled_in_is_changed_like_any_other_and_a_row_left_untouched_goes_away() -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "rechecks")
        await w.press("a", "escape")
        assert [r.id for r in w.build.entry("rechecks").rows] == ["a1", "a2"], "nothing was read"
        await w.press("a", *"12", "enter", "escape")
        screen.grid.go([r.id for r in screen.grid.rows].index("a3"), 0)
        await w.settle()
        assert f"now {TODAY}, today, filled in with the new row" in " ".join(w.text().replace("▌", " ").split())
        await w.press("enter")
        await w.type("2026-11-20")
        row = w.build.entry("rechecks").row("a3")
        assert row is not None and (row.text("on"), row.text("days_since_charge")) == ("2026-11-20", "12")

    walk(steps, kept("2026-11-24", "4.10"), CHECKLIST)


@SIZES
def test_a_row_with_readings_and_no_date_says_so_in_the_table(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "rechecks")
        assert isinstance(screen, TableScreen)
        assert [r.sign for r in screen.grid.rows] == ["✓", "▲"]
        screen.grid.go(1, 2)
        await w.settle()
        assert "a2 has no date" in " ".join(w.text().replace("▌", " ").split())

    walk(steps, kept("", "4.10"), CHECKLIST, size=size)


def test_rows_that_are_imported_get_no_date_that_nobody_wrote() -> None:
    build = with_row(replace(BUILD, entries={}), CHECKLIST.items["rechecks"], "a1", Hand(NOW))
    (row,) = build.entry("rechecks").rows
    assert row.text("on") == ""
