"""What the program proposes for a table: the best grouping of the kept cells, ready to be taken over."""

from __future__ import annotations

from buildtrack.bench.desk import Desk
from buildtrack.bench.meaning import result_sign
from buildtrack.bench.rows import Placed, row_names
from buildtrack.checks.ruling import Result
from buildtrack.model.checklist import Item
from buildtrack.workings.pack_best import BestGrouping
from buildtrack.workings.values import Known

GROUPING = "best_grouping"
"""Working that proposes which cells go into which group."""
CELLS = "cells"
"""Column of the table of groups that names the cells."""


def is_grouped(item: Item) -> bool:
    """Whether a table is that of the groups, for which a grouping can be proposed."""
    return item.rows_from == "series_count" and item.column(CELLS) is not None


def best_grouping(desk: Desk, item: Item) -> BestGrouping | None:
    """The proposed grouping, where `item` is the table of groups and it has a row for each."""
    value = desk.judged.assessment.sheet.value(GROUPING)
    if not is_grouped(item) or not isinstance(value, Known):
        return None
    best = value.value
    return best if isinstance(best, BestGrouping) and len(best.groups) == len(row_names(item, desk)) else None


def proposed(desk: Desk, item: Item) -> tuple[Placed, ...]:
    """The fields that taking the proposal over would change."""
    best, column = best_grouping(desk, item), item.column(CELLS)
    if best is None or column is None:
        return ()
    entry = desk.build.entry(item.id)
    wanted = [(name, " ".join(cells)) for name, cells in zip(row_names(item, desk), best.groups, strict=True)]
    present = {row.id: row.text(CELLS) for row in entry.rows}
    return tuple(Placed(name, column, text) for name, text in wanted if present.get(name, "") != text)


def question(best: BestGrouping) -> str:
    """What is asked before the proposal is put in; a grouping that no check lets pass is not called one."""
    if best.refused:
        return "No grouping without a stop was found. Fill in this one all the same?"
    return "Take the proposed grouping over?"


def raised(result: Result) -> str:
    """A check that the proposal would raise, with the sign and the word of its severity."""
    does = "It may be" if result.outcome == "unsure" else "It raises"
    return f"{result_sign(result)} {does} a {result.severity}: {result.title}: {result.message}"
