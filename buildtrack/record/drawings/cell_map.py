"""The cells as they stand in the pack: groups side by side from minus to plus, ends up or down, strips between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.record.drawings import svg

WIDTH = 170.0
_LEFT, _TOP = 15.0, 11.0
_LARGEST = 9.5
"""Largest radius of a cell on the paper [mm]."""
_LEAST = 2.9
"""Radius below which no id could be read [mm]."""
_TALLEST = 215.0
"""Height that a map may take, so that it fits a page of Letter [mm]."""


@dataclass(frozen=True, slots=True)
class MapCell:
    """One cell."""

    id: str
    capacity_ah: float | None = None
    resistance_ohm: float | None = None


@dataclass(frozen=True, slots=True)
class MapGroup:
    """The cells of one parallel group."""

    name: str
    cells: tuple[MapCell, ...]
    capacity_ah: float | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """How the groups are laid out: radius of a cell [mm], groups side by side in a row, most cells of a group."""

    r: float
    per_row: int
    most: int

    @property
    def row_height(self) -> float:
        """Height of one row of groups with its names [mm]."""
        return _TOP + self.most * 2.15 * self.r + 6

    def centre(self, group: int, cell: int) -> tuple[float, float]:
        """Where a cell stands."""
        row, place = divmod(group, self.per_row)
        return (_LEFT + 1.15 * self.r + place * 2.7 * self.r,
                row * self.row_height + _TOP + self.r + cell * 2.15 * self.r)


def plan(groups: Sequence[MapGroup]) -> Plan:
    """The rows that let the cells be drawn largest on one page."""
    most = max(len(g.cells) for g in groups)
    plans = []
    for rows in range(1, min(len(groups), 6) + 1):
        per_row = -(-len(groups) // rows)
        wide = (WIDTH - 2 * _LEFT) / (2.7 * per_row)
        high = (_TALLEST / rows - _TOP - 6) / (2.15 * most)
        plans.append(Plan(min(_LARGEST, wide, high), per_row, most))
    return max(plans, key=lambda p: (p.r, p.per_row))


def plus_up(group: int) -> bool:
    """Whether the plus end of a group shows: every second group is turned, so that a strip joins neighbours."""
    return group % 2 == 0


def _cell(cell: MapCell, x: float, y: float, r: float, up: bool) -> list[str]:
    size = min(2.9, 0.42 * r)
    parts = [svg.circle(x, y, r, svg.WHITE if up else svg.PALE, svg.INK, 0.3)]
    parts.append(svg.circle(x, y - 0.42 * r, 0.26 * r, svg.WHITE, svg.SOFT, 0.2) if up else
                 svg.line(x - 0.3 * r, y - 0.42 * r, x + 0.3 * r, y - 0.42 * r, svg.SOFT, 0.3))
    if up:
        parts.append(svg.line(x - 0.13 * r, y - 0.42 * r, x + 0.13 * r, y - 0.42 * r, svg.INK, 0.25))
        parts.append(svg.line(x, y - 0.55 * r, x, y - 0.29 * r, svg.INK, 0.25))
    parts.append(svg.text(x, y + 0.22 * r, svg.fitted(cell.id, 1.9 * r, size), size, "middle", weight="600"))
    if cell.capacity_ah is not None:
        shown = f"{1000 * cell.capacity_ah:.0f}"
        parts.append(svg.text(x, y + 0.62 * r, shown, min(2.3, 0.34 * r), "middle", svg.SOFT))
    return parts


def cell_map(groups: Sequence[MapGroup]) -> str:
    """Draw the map, seen from the end where the plus of the first group shows; ValueError where no cell is placed."""
    if not groups or not any(g.cells for g in groups):
        raise ValueError("no cell is assigned to a group yet")
    layout = plan(groups)
    if layout.r < _LEAST:
        raise ValueError(f"{len(groups)} groups of up to {layout.most} cells are more than the map shows")
    r = layout.r
    parts: list[str] = []
    for k, group in enumerate(groups):
        x0, y0 = layout.centre(k, 0)
        y1 = layout.centre(k, max(0, len(group.cells) - 1))[1]
        parts.append(svg.rect(x0 - 1.15 * r, y0 - 1.15 * r, 2.3 * r, y1 - y0 + 2.3 * r, "none", svg.FAINT, 0.3,
                              0.3 * r, "1.5 1"))
        for n, cell in enumerate(group.cells):
            parts += _cell(cell, *layout.centre(k, n), r, plus_up(k))
        parts.append(svg.text(x0, y0 - r - 2.6, svg.fitted(group.name, 2.6 * r, 2.7), 2.7, "middle", weight="600"))
        if group.capacity_ah is not None:
            shown = f"{1000 * group.capacity_ah:.0f} mAh"
            parts.append(svg.text(x0, y1 + 1.15 * r + 3.2, shown, min(2.4, 0.65 * r), "middle", svg.SOFT))
    rows = -(-len(groups) // layout.per_row)
    return svg.document(WIDTH, rows * layout.row_height + 2, [*parts, *_strips(groups, layout)], "Cell map")


def _strips(groups: Sequence[MapGroup], layout: Plan) -> list[str]:
    """Series links: on the shown end after even groups drawn whole, on the far end dashed; terminals at both ends."""
    parts = []
    edge = 1.15 * layout.r

    def stub(group: int, right: bool, words: str, dashed: bool) -> None:
        x, y = layout.centre(group, 0)
        begin, end = (x + edge, x + edge + 4) if right else (x - edge - 4, x - edge)
        parts.append(svg.line(begin, y, end, y, svg.ACCENT, 0.9, "1 0.7" if dashed else ""))
        parts.append(svg.text(end + 1 if right else begin - 1, y + 1, words, 2.6, "start" if right else "end",
                              weight="600"))

    for k in range(len(groups) - 1):
        if (k + 1) % layout.per_row:
            (x0, y), (x1, _) = layout.centre(k, 0), layout.centre(k + 1, 0)
            parts.append(svg.line(x0 + edge, y, x1 - edge, y, svg.ACCENT, 0.9, "" if plus_up(k) else "1 0.7"))
        else:  # the row ends: the link goes on at the begin of the next
            stub(k, True, svg.fitted(f"to {groups[k + 1].name}", 9, 2.6), not plus_up(k))
            stub(k + 1, False, svg.fitted(f"{groups[k].name} to", 9, 2.6), not plus_up(k))
    stub(0, False, "B−", plus_up(0))
    stub(len(groups) - 1, True, "B+", not plus_up(len(groups) - 1))
    return parts
