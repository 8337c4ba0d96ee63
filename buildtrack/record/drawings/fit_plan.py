"""Places of the cells in the housing, one layer seen along the cells, to scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.record.drawings import svg

WIDTH, HEIGHT = 170.0, 62.0
_EDGE = 14.0


@dataclass(frozen=True, slots=True)
class FitPlan:
    """One layer: centres of the places [mm], the free space across the cells [mm] and what its sides are called."""

    centres_mm: tuple[tuple[float, float], ...]
    diameter_mm: float
    free_mm: tuple[float, float]
    sides: tuple[str, str]
    layers: int


def factor(plan: FitPlan) -> float:
    """Millimetres on the paper for a millimetre of the housing."""
    return min((WIDTH - 2 * _EDGE) / plan.free_mm[0], (HEIGHT - _EDGE) / plan.free_mm[1], 1.0)


def spots(plan: FitPlan) -> Sequence[tuple[float, float]]:
    """Where the centres lie on the paper."""
    f = factor(plan)
    return tuple((_EDGE + x * f, 4 + y * f) for x, y in plan.centres_mm)


def fit_plan(plan: FitPlan) -> str:
    """Draw it; ValueError where nothing fits."""
    if not plan.centres_mm:
        raise ValueError("the cells do not fit in the housing as measured")
    f = factor(plan)
    wide, high = plan.free_mm[0] * f, plan.free_mm[1] * f
    parts = [svg.rect(_EDGE, 4, wide, high, svg.WHITE, svg.ACCENT, 0.4, 1.0)]
    parts += [svg.circle(x, y, plan.diameter_mm * f / 2, svg.PALE, svg.INK, 0.3) for x, y in spots(plan)]
    across, along = (f"{side} {free:.4g} mm free" for side, free in zip(plan.sides, plan.free_mm, strict=True))
    parts.append(svg.text(_EDGE + wide / 2, 4 + high + 4, across, 2.5, "middle", svg.SOFT))
    parts.append(svg.text(_EDGE + wide + 2, 4 + high / 2, along, 2.5, fill=svg.SOFT))
    scale = "scale 1:1" if f == 1.0 else f"scale 1:{1 / f:.2f}"
    layers = f"{plan.layers} layers one behind another, " if plan.layers > 1 else ""
    parts.append(svg.text(_EDGE + wide + 2, 8, f"{layers}{scale}", 2.5, fill=svg.SOFT))
    return svg.document(WIDTH, 4 + high + 7, parts, "Places of the cells in the housing")
