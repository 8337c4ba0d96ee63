"""What the rules over cells share: the kept cells, and a judgement over several of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from buildtrack.checks.rules_general_words import listed
from buildtrack.checks.ruling import Context, Ruling, worst
from buildtrack.workings.asked import visible_columns
from buildtrack.workings.cells_facts import UNMARKED, CellFacts, without_print
from buildtrack.workings.cells_report import CellReport
from buildtrack.workings.inputs import answer
from buildtrack.workings.values import Record

SAY_SO = f"a cell without print: write '{UNMARKED}' as its print"


def report_of(context: Context) -> CellReport | None:
    """The report over all candidates, None where there is none yet."""
    report = context.known("cell_report")
    return report if isinstance(report, CellReport) else None


def kept_cells(context: Context) -> tuple[CellFacts, ...]:
    """The cells that were decided to be kept."""
    report = report_of(context)
    return report.kept if report else ()


def is_unmarked(row: Record) -> bool:
    """Whether it was answered that the cell bears no print; one whose rated capacity is given is judged by that."""
    return without_print(row) and not row.number("rated_capacity")


def unmarked_cells(context: Context) -> frozenset[str]:
    """Kept cells of which nobody knows the ratings, and of which that was said."""
    return frozenset(r.id for r in context.rows("candidates", "kept") if is_unmarked(r))


def asked_columns(context: Context) -> frozenset[str]:
    """The columns of the candidates that this build is asked for."""
    if "asked columns" not in context.memo:
        item = context.checklist.items.get("candidates")
        columns = visible_columns(item, context.build, context.sheet) if item else ()
        context.memo["asked columns"] = frozenset(c.id for c in columns)
    found: frozenset[str] = context.memo["asked columns"]
    return found


def unrested(context: Context) -> bool:
    """Whether nobody asks the cells for the rest test: new cells, or the quick test in its place."""
    return (answer(context.build, "cells_source") == "new" or context.number("quick_leak_ratio") is not None
            or "rest_2_voltage" not in asked_columns(context))


REST = ("rest_1_on", "rest_1_voltage", "rest_2_on", "rest_2_voltage")
"""The columns a rest test is made of."""


def rest_need(context: Context, otherwise: str = "rest_2_voltage") -> str:
    """The first column of the rest test that is empty in a kept cell; `otherwise` where none is."""
    rows = context.rows("candidates", "kept")
    return next((c for c in REST if any(r.number(c) is None for r in rows)), otherwise)


def over(context: Context, cells: Iterable[CellFacts], judge: Callable[[CellFacts], tuple[str, str]],
         limit: str = "", need: str = "") -> Ruling:
    """Judge every cell: `judge` gives its outcome and the words for it; cells with the worst outcome are listed.

    A cell that cannot be judged leaves the answer unknown, as long as the build is asked for the column `need`.
    """
    rulings = [(cell.id, *judge(cell)) for cell in cells]
    if not rulings:
        return Ruling("unknown", needs=("candidates",))
    open_too = not need or need in asked_columns(context)
    judged = [r for r in rulings if open_too or r[1] != "unknown"]
    if not judged:
        return Ruling("pass")
    outcome = worst(r[1] for r in judged)
    words = [f"{name} ({text})" if text else name for name, result, text in judged if result == outcome]
    facts = {"rows": listed(words), "count": str(len(words)), "limit": limit}
    if outcome == "unknown":
        return Ruling("unknown", facts, (f"candidates.{need}" if need else "candidates",))
    return Ruling(outcome, facts)
