"""The cells as they stand in the pack: groups side by side from minus to plus, ends up or down, strips between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.record.drawings import svg

WIDTH = 170.0
_TOP = 11.0
_LOWEST, _LARGEST = 5.0, 9.5
"""Smallest and largest radius of a cell on the paper [mm]."""


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


def radius(groups: Sequence[MapGroup]) -> float:
    """Radius of a cell so that all groups stand side by side."""
    return min(_LARGEST, max(_LOWEST, (WIDTH - 24) / (len(groups) * 2.7)))


def centre(group: int, cell: int, r: float) -> tuple[float, float]:
    """Where a cell stands."""
    return 14 + r + group * 2.7 * r, _TOP + r + cell * 2.15 * r


def plus_up(group: int) -> bool:
    """Whether the plus end of a group shows: every second group is turned, so that a strip joins neighbours."""
    return group % 2 == 0


def _cell(cell: MapCell, x: float, y: float, r: float, up: bool) -> list[str]:
    parts = [svg.circle(x, y, r, svg.WHITE if up else svg.PALE, svg.INK, 0.3)]
    parts.append(svg.circle(x, y - 0.42 * r, 0.26 * r, svg.WHITE, svg.SOFT, 0.2) if up else
                 svg.line(x - 0.3 * r, y - 0.42 * r, x + 0.3 * r, y - 0.42 * r, svg.SOFT, 0.3))
    if up:
        parts.append(svg.line(x - 0.13 * r, y - 0.42 * r, x + 0.13 * r, y - 0.42 * r, svg.INK, 0.25))
        parts.append(svg.line(x, y - 0.55 * r, x, y - 0.29 * r, svg.INK, 0.25))
    parts.append(svg.text(x, y + 0.22 * r, cell.id, min(2.9, 0.42 * r), "middle", weight="600"))
    if cell.capacity_ah is not None:
        shown = f"{1000 * cell.capacity_ah:.0f}"
        parts.append(svg.text(x, y + 0.62 * r, shown, min(2.3, 0.34 * r), "middle", svg.SOFT))
    return parts


def cell_map(groups: Sequence[MapGroup]) -> str:
    """Draw the map, seen from the end where the plus of the first group shows; ValueError where no cell is placed."""
    if not groups or not any(g.cells for g in groups):
        raise ValueError("no cell is assigned to a group yet")
    r = radius(groups)
    most = max(len(g.cells) for g in groups)
    height = _TOP + most * 2.15 * r + 13
    parts: list[str] = []
    for k, group in enumerate(groups):
        x0, y0 = centre(k, 0, r)
        y1 = centre(k, max(0, len(group.cells) - 1), r)[1]
        parts.append(svg.rect(x0 - 1.15 * r, y0 - 1.15 * r, 2.3 * r, y1 - y0 + 2.3 * r, "none", svg.FAINT, 0.3,
                              0.3 * r, "1.5 1"))
        for n, cell in enumerate(group.cells):
            parts += _cell(cell, *centre(k, n, r), r, plus_up(k))
        parts.append(svg.text(x0, _TOP - 4.2, group.name, 2.9, "middle", weight="600"))
        if group.capacity_ah is not None:
            shown = f"{1000 * group.capacity_ah:.0f} mAh"
            parts.append(svg.text(x0, y1 + 1.15 * r + 3.4, shown, 2.5, "middle", svg.SOFT))
    parts += _strips(groups, r)
    return svg.document(WIDTH, height, parts, "Cell map")


def _strips(groups: Sequence[MapGroup], r: float) -> list[str]:
    """Series links: on the shown end after even groups drawn whole, on the far end dashed; terminals at both ends."""
    parts = []
    for k in range(len(groups) - 1):
        x0, y = centre(k, 0, r)
        right = centre(k + 1, 0, r)[0] - 1.15 * r
        parts.append(svg.line(x0 + 1.15 * r, y, right, y, svg.ACCENT, 0.9, "" if plus_up(k) else "1 0.7"))
    first, y = centre(0, 0, r)
    last = centre(len(groups) - 1, 0, r)[0]
    far = "1 0.7" if plus_up(0) else ""
    parts.append(svg.line(first - 1.15 * r - 4, y, first - 1.15 * r, y, svg.ACCENT, 0.9, far))
    near_end = plus_up(len(groups) - 1)
    parts.append(svg.line(last + 1.15 * r, y, last + 1.15 * r + 4, y, svg.ACCENT, 0.9, "" if near_end else "1 0.7"))
    parts.append(svg.text(first - 1.15 * r - 5, y + 1, "B−", 2.7, "end", weight="600"))
    parts.append(svg.text(last + 1.15 * r + 5, y + 1, "B+", 2.7, weight="600"))
    return parts
