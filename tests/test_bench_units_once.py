"""The head of a table's column does not say the unit that stands beneath it."""

from __future__ import annotations

from buildtrack.bench.rows import grid_columns
from buildtrack.bench.widgets.grid import GridColumn
from tests.bench_walk import Walk, walk
from tests.test_bench_review_told import CHECKLIST, DRILL


def test_no_unit_stands_in_the_head_of_a_column_and_beneath_it_too() -> None:
    async def steps(w: Walk) -> dict[str, GridColumn]:
        assert w.app.desk is not None
        tables = [i for i in CHECKLIST.all_items() if i.kind == "table"]
        return {f"{t.id}.{c.id}": c for t in tables for c in grid_columns(t.columns, w.app.desk)}

    found = walk(steps, DRILL, CHECKLIST)
    with_unit = {name: c for name, c in found.items() if c.unit}
    assert len(with_unit) > 20
    assert [name for name, c in with_unit.items() if c.head.split()[-1] == c.unit] == []
    assert any(c.head == "V" and not c.unit for c in found.values()), "a head that is the unit alone says it once"
    assert all(c.head.strip() for c in found.values()), "and a head is left"
    heads: dict[str, list[str]] = {}
    for name, c in found.items():
        heads.setdefault(name.partition(".")[0], []).append(f"{c.head} {c.unit}")
    assert [t for t, names in heads.items() if len(set(names)) != len(names)] == [], "heads still tell columns apart"
