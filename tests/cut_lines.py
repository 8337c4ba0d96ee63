"""Lines of the bench that are cut at a size: on the card, the next thing to do, the head and the list of items."""

from __future__ import annotations

from dataclasses import dataclass

from textual.widget import Widget

from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.widgets.head import Head
from tests.bench_walk import Walk

CUT = "…"


@dataclass(frozen=True, order=True)
class CutLine:
    """A line that is cut."""

    where: str
    item: str
    text: str


def rows_of(widget: Widget) -> list[str]:
    """The rows of a widget as they stand on the screen."""
    rows = widget.screen._compositor.render_strips()
    region = widget.region
    shown = ["".join(s.text for s in row) for row in rows[region.y : region.bottom]]
    return [row[region.x : region.right].rstrip() for row in shown]


async def cut_at(w: Walk, item: str) -> list[CutLine]:
    """What is cut while an item is the current one."""
    bench = w.screen
    assert isinstance(bench, BenchScreen)
    bench.jump(item)
    await w.pilot.pause()
    places = [("card", bench.card), ("next", bench.meaning), ("head", bench.query_one(Head))]
    return [CutLine(where, item, row) for where, widget in places for row in rows_of(widget) if CUT in row]
