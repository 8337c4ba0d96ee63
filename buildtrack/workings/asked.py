"""What is asked for in a build: items, columns and rows, by conditions and counts."""

from __future__ import annotations

from buildtrack.model.build import Build
from buildtrack.model.checklist import Column, Condition, Item
from buildtrack.workings.graph import Sheet
from buildtrack.workings.inputs import condition_holds


def applies(conditions: tuple[Condition, ...], build: Build, sheet: Sheet) -> bool:
    """Whether every condition of an item, column or check holds."""
    for condition in conditions:
        number = sheet.number(condition.item or condition.working)
        if not condition_holds(condition, build, number):
            return False
    return True


def visible_columns(item: Item, build: Build, sheet: Sheet) -> tuple[Column, ...]:
    """The columns of a table that apply to this build."""
    return tuple(c for c in item.columns if applies(c.only_if, build, sheet))


def wanted_rows(item: Item, sheet: Sheet) -> tuple[str, ...]:
    """Names of the rows a table is to have where a working says how many; empty where it is free."""
    count = sheet.number(item.rows_from) if item.rows_from else None
    if count is None or not 0 < count <= 400:
        return ()
    return tuple(f"{item.row_prefix}{item.first_row + n}" for n in range(int(count)))
