"""A table begins where it is wanted: at the field a finding is about, and at a new row where a re-check is due."""

from __future__ import annotations

from datetime import timedelta

from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.screens.why import Why
from buildtrack.model.build import Build
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import NOW, Clock, Walk, main_checklist, walk
from tests.test_bench_entry import CHECKLIST
from tests.test_bench_stray_keys import bench
from tests.test_bench_table_paste import cells

MAIN = main_checklist()


def sample(name: str) -> Build:
    return read_build(shipped_samples() / f"{name}.toml").build


def test_a_table_opened_from_a_stop_begins_at_the_field_the_stop_is_about() -> None:
    async def steps(w: Walk) -> None:
        bench(w).desk.finding = ""
        bench(w).jump("taps")
        await w.settle()
        bench(w)._open("check:taps-wrong")
        await w.settle()
        assert isinstance(w.screen, Why)
        screen = w.app.screen
        assert isinstance(screen, Why)
        message = next(r.message for r in screen.desk.judged.assessment.results if r.check == "taps-wrong")
        await w.press("escape")
        await w.press("enter")
        table = w.app.screen
        assert isinstance(table, TableScreen) and table.grid.column_id == "voltage"
        assert table.grid.row_id in message, message

    walk(steps, sample("drill-not-cleared"), MAIN)


def test_the_second_cell_that_arrived_too_full_is_gone_to_in_its_column() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("candidates")
        await w.settle()
        await w.press("enter")
        table = w.app.screen
        assert isinstance(table, TableScreen)
        names = [c.id for c in table.columns]
        table.grid.go(1, names.index("arrival_voltage"))
        await w.settle()
        await w.press("4", ".", "2", "2", "enter", "enter", *["escape"] * 3)
        assert isinstance(w.screen, BenchScreen)
        await w.press("x", "escape", "enter")
        begun = w.app.screen
        assert isinstance(begun, TableScreen) and (begun.grid.row_id, begun.grid.column_id) == ("c02", "arrival_voltage")

    walk(steps, cells(3, "3.8"), CHECKLIST)


def test_where_a_re_check_is_due_enter_begins_its_row_and_else_stands_at_the_last_one() -> None:
    build = sample("garden-screwdriver-cleared")
    rows = len(build.entry("rechecks").rows)
    last = build.entry("rechecks").rows[-1].text("on")
    late = Clock(NOW + timedelta(days=900))
    on_the_day = Clock(NOW.fromisoformat(f"{last}T12:00:00+00:00") + timedelta(days=1))

    async def due(w: Walk) -> None:
        bench(w).jump("rechecks")
        await w.settle()
        await w.press("enter")
        table = w.app.screen
        assert isinstance(table, TableScreen) and len(w.build.entry("rechecks").rows) == rows + 1
        assert w.build.entry("rechecks").rows[-1].text("on") == late().astimezone().date().isoformat()
        assert table.focused is table.field and table.grid.row_id == w.build.entry("rechecks").rows[-1].id

    async def not_due(w: Walk) -> None:
        bench(w).jump("rechecks")
        await w.settle()
        await w.press("enter")
        table = w.app.screen
        assert isinstance(table, TableScreen) and len(w.build.entry("rechecks").rows) == rows
        assert (table.grid.row_id, table.grid.column_id) == (build.entry("rechecks").rows[-1].id, "on")
        assert f"is of {last}: a begins a row for today" in table.said

    walk(due, build, MAIN, clock=late)
    walk(not_due, build, MAIN, clock=on_the_day)
