"""What stands beside an item while it is settled: the lines of a working that its checklist names, as the label."""

from __future__ import annotations

from collections.abc import Iterator

from buildtrack.bench.desk import Desk
from buildtrack.bench.plain import listed, plain
from buildtrack.bench.widgets.line_text import Line, line, prose
from buildtrack.model.checklist import Item
from buildtrack.workings.explain import label_of
from buildtrack.workings.values import Known, Missing


def beside_lines(desk: Desk, item: Item | None, more: str = "") -> Iterator[Line]:
    """The lines of the working an item shows, or what that still needs; nothing for most items.

    more: said behind the head, where not all lines are seen at once.
    """
    sheet = desk.judged.assessment.sheet
    if item is None or item.beside not in sheet.workings:
        return
    value, head = sheet.value(item.beside), sheet.workings[item.beside].label
    key = f"working:{item.beside}"
    if isinstance(value, Known):
        yield line(head + more, "head", key=key)
        for row in getattr(value.value, "lines", ()):
            yield prose(plain(" · ".join(str(cell) for cell in row)), indent=1, hang=2)
    elif isinstance(value, Missing):
        names = listed([label_of(n, sheet, desk.checklist) for n in sorted(value.inputs)])
        yield prose(f"{head}: not yet, it needs {plain(names)}", "muted", key=key)
    else:
        yield prose(f"{head}: {plain(value.why)}", "warn", key=key)
