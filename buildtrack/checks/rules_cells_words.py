"""What the rules over cells share: the kept cells, and a judgement over several of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from buildtrack.checks.rules_general_words import listed
from buildtrack.checks.ruling import Context, Ruling, worst
from buildtrack.workings.cells_facts import CellFacts
from buildtrack.workings.cells_report import CellReport


def report_of(context: Context) -> CellReport | None:
    """The report over all candidates, None where there is none yet."""
    report = context.known("cell_report")
    return report if isinstance(report, CellReport) else None


def kept_cells(context: Context) -> tuple[CellFacts, ...]:
    """The cells that were decided to be kept."""
    report = report_of(context)
    return report.kept if report else ()


def over(cells: Iterable[CellFacts], judge: Callable[[CellFacts], tuple[str, str]], limit: str = "",
         needs: tuple[str, ...] = ("candidates",), open_too: bool = False) -> Ruling:
    """Judge every cell: `judge` gives its outcome and the words for it; cells with the worst outcome are listed.

    Cells that cannot be judged count as unknown only with `open_too`.
    """
    rulings = [(cell.id, *judge(cell)) for cell in cells]
    if not rulings:
        return Ruling("unknown", needs=("candidates",))
    judged = [r for r in rulings if open_too or r[1] != "unknown"]
    if not judged:
        return Ruling("pass")
    outcome = worst(r[1] for r in judged)
    if outcome == "unknown":
        return Ruling("unknown", needs=needs)
    words = [f"{name} ({text})" if text else name for name, result, text in judged if result == outcome]
    return Ruling(outcome, {"rows": listed(words), "count": str(len(words)), "limit": limit})
