"""Tables whose columns are moments at which all groups are read: entry goes down, and begins at the moment that is now."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.bench.rows import goes_down, moment_at
from buildtrack.model.build import Cell, Entry, Row
from buildtrack.model.checklist import Checklist
from buildtrack.storage.checklist_file import find_checklist, parse_checklist, read_checklist
from tests.bench_walk import SMALL, Walk, main_checklist, walk
from tests.test_bench_guidance import READY, with_entries
from tests.test_bench_typing_ahead import table

CHARGE = '\n[[steps.items]]\nid = "charging"\nkind = "table"\nneed = "optional"\nlabel = "Charge"\nrow_name = "group"\n' \
         'row_prefix = "g"\nrows_from = "series_count"\nmoments = true\ncolumns = [' \
         '{ id = "before", label = "Before", kind = "reading", unit = "V", required = true }, ' \
         '{ id = "at_5", label = "After 5 minutes", kind = "reading", unit = "V" }, ' \
         '{ id = "at_15", label = "After 15 minutes", kind = "reading", unit = "V", required = true }, ' \
         '{ id = "at_end", label = "End", kind = "reading", unit = "V", required = true }]\n\n[[checks]]\nid = "supply-high"'


def charging(tmp_path: Path) -> Checklist:
    path = tmp_path / "small.toml"
    path.write_text(SMALL.read_text(encoding="utf-8").replace('\n[[checks]]\nid = "supply-high"', CHARGE), encoding="utf-8")
    return read_checklist(path)


def test_all_groups_of_one_moment_are_typed_one_under_another_before_the_next_moment(tmp_path: Path) -> None:
    async def steps(w: Walk) -> None:
        screen = await table(w, "charging")
        assert "Enter goes ↓" in w.text()
        await w.burst("3.70", "enter", "3.71", "enter", "3.72", "enter")
        assert [r.text("before") for r in w.build.entry("charging").rows] == ["3.70", "3.71", "3.72"]
        assert (screen.grid.row_id, screen.grid.column_id) == ("g1", "at_5")

    walk(steps, READY, charging(tmp_path))


def test_the_table_opens_again_at_the_moment_that_is_being_read(tmp_path: Path) -> None:
    begun = Entry(rows=(Row("g1", {"before": Cell("3.70"), "at_15": Cell("3.80")}), Row("g2", {"before": Cell("3.71")}),
                        Row("g3", {"before": Cell("3.72")})))

    async def steps(w: Walk) -> None:
        screen = await table(w, "charging")
        assert (screen.grid.row_id, screen.grid.column_id) == ("g2", "at_15")

    walk(steps, with_entries(READY, charging=begun), charging(tmp_path))


@pytest.mark.parametrize(("empty", "at"), [
    ([[True, True], [True, True]], (0, 0)),  # nothing read yet
    ([[False, True], [True, True]], (1, 0)),  # in the middle of a moment
    ([[False, True], [False, True]], (0, 1)),  # the next moment
    ([[True, False], [True, True]], (1, 1)),  # a moment was missed: the one that was begun after it goes on
    ([[True, False], [True, False]], (0, 0)),  # the last moment is full: what was missed
    ([[False, False], [False, False]], None),
    ([], None)])
def test_the_moment_being_read_is_the_last_one_begun_then_the_next_then_what_was_missed(
        empty: list[list[bool]], at: tuple[int, int] | None) -> None:
    assert moment_at(empty) == at


def test_charges_and_turning_points_are_read_moment_by_moment_and_points_of_a_log_row_by_row() -> None:
    items = main_checklist().items
    for name in ("first_charge_groups", "charge_groups", "event_groups"):
        assert goes_down(items[name], items[name].columns), name
    for name in ("discharge_points", "rechecks", "candidates", "alarm_channels"):
        assert not goes_down(items[name], items[name].columns), name
    shed = find_checklist("shed-light-lfp").items["float_groups"]
    assert shed.moments


def test_only_the_columns_of_a_table_can_be_moments() -> None:
    text = SMALL.read_text(encoding="utf-8").replace('kind = "choice"', 'kind = "choice"\nmoments = true', 1)
    _, problems = parse_checklist(text)
    assert any("only the columns of a table can be moments" in str(p) for p in problems)
