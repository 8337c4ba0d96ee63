"""Where in a table the finding lies that led there: its row and column. Knows no screen."""

from __future__ import annotations

import re

from buildtrack.bench import rows
from buildtrack.bench.desk import Desk
from buildtrack.bench.meaning import item_about, touches
from buildtrack.bench.onward import wanted
from buildtrack.checks.ruling import Result
from buildtrack.model.checklist import Item


def finding_field(desk: Desk, item: Item) -> tuple[str, str]:
    """Row and column of a table that the check explained last is about; both empty where it is about no field of it.

    The row is the first that its sentence names; the column the one it compares, else the first that is read there.
    """
    result = next((r for r in desk.judged.assessment.results if r.check == desk.finding), None)
    if result is None or result.outcome == "pass" or item.kind != "table":
        return "", ""
    if not (touches(desk, result, item.id) or item_about(desk, result.check) == item.id):
        return "", ""
    if result.outcome == "unknown":
        waits = wanted(desk, result)
        return waits.field if waits is not None and waits.item == item.id and waits.field else ("", "")
    names, column = rows.row_names(item, desk), _column(desk, item, result)
    named = [n for n in names if re.search(rf"(?<!\w){re.escape(n)}(?!\w)", result.message)]
    return ((named or names)[0], column) if names and column else ("", "")


def _column(desk: Desk, item: Item, result: Result) -> str:
    rule = desk.checklist.check.get(result.check)
    compared = (rule.value, rule.at_most, rule.at_least) if rule is not None else ()
    named = [name.partition(".")[2] for name in (*compared, *result.needs) if name.partition(".")[0] == item.id]
    columns = rows.columns_of(item, desk)
    read = sorted((c for c in columns if c.kind == "reading"), key=lambda c: not c.required)
    known = [c.id for c in columns]
    return next((n for n in named if n in known), read[0].id if read else "")
