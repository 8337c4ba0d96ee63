"""The ladder of voltages: every threshold per cell with its tolerance on one scale, the pack's voltage beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.record.drawings import svg

WIDTH, HEIGHT = 170.0, 104.0
AXIS, TOP, BOTTOM = 34.0, 7.0, 100.0
_BAR = 7.0
_NAMES = 58.0
_GAP = 4.4


@dataclass(frozen=True, slots=True)
class Rung:
    """One threshold of one cell or group."""

    name: str
    voltage_v: float
    minus_v: float = 0.0
    plus_v: float = 0.0
    strong: bool = False
    """Drawn heavy: what the maker set or what the board does."""


def scale(rungs: Sequence[Rung]) -> svg.Scale:
    """Scale of the voltage per cell."""
    low = min(r.voltage_v - r.minus_v for r in rungs)
    high = max(r.voltage_v + r.plus_v for r in rungs)
    pad = max(0.05, 0.04 * (high - low))
    return svg.Scale(low - pad, high + pad, BOTTOM, TOP)


def _axis(y: svg.Scale, series: int) -> list[str]:
    parts = [svg.text(AXIS - 17, TOP - 3, "pack V", 2.3, "end", svg.SOFT),
             svg.text(AXIS - 3, TOP - 3, "cell V", 2.3, "end", svg.SOFT)]
    marks = svg.ticks(y.low, y.high, 12)
    for value in marks:
        parts.append(svg.line(AXIS - 1.2, y.at(value), AXIS, y.at(value), svg.INK, 0.2))
        parts.append(svg.text(AXIS - 3, y.at(value) + 0.85, svg.tick_label(value, marks), 2.3, "end"))
        parts.append(svg.text(AXIS - 17, y.at(value) + 0.85, f"{value * series:.2f}", 2.3, "end", svg.SOFT))
    parts.append(svg.line(AXIS, y.start, AXIS, y.end, svg.INK, 0.25))
    return parts


def _rung(rung: Rung, y: svg.Scale, label_y: float, series: int) -> list[str]:
    at = y.at(rung.voltage_v)
    parts = []
    if rung.plus_v or rung.minus_v:
        top, bottom = y.at(rung.voltage_v + rung.plus_v), y.at(rung.voltage_v - rung.minus_v)
        fill = svg.FAINT if rung.strong else svg.PALE
        parts.append(svg.rect(AXIS + 1.5, top, _BAR, bottom - top, fill, svg.SOFT, 0.15))
    parts.append(svg.line(AXIS + 0.5, at, AXIS + 2.5 + _BAR, at, svg.ACCENT if rung.strong else svg.INK,
                          0.7 if rung.strong else 0.3, "" if rung.strong else "1.6 0.6"))
    parts.append(svg.path([(AXIS + 3 + _BAR, at), (AXIS + 7 + _BAR, at), (_NAMES - 4, label_y), (_NAMES - 1, label_y)],
                          svg.FAINT, 0.2))
    tolerance = ""
    if rung.plus_v or rung.minus_v:
        up, down = f"{1000 * rung.plus_v:.0f}", f"{1000 * rung.minus_v:.0f}"
        tolerance = f" ± {up} mV" if up == down else f" +{up} −{down} mV"
    weight = "600" if rung.strong else ""
    parts.append(svg.text(_NAMES, label_y + 0.9, rung.name, 2.7, weight=weight))
    parts.append(svg.text(_NAMES + 54, label_y + 0.9, f"{rung.voltage_v:.3f} V{tolerance}", 2.7, weight=weight))
    parts.append(svg.text(_NAMES + 88, label_y + 0.9, f"{rung.voltage_v * series:.2f} V", 2.7, "start", svg.SOFT))
    return parts


def threshold_ladder(rungs: Sequence[Rung], series: int) -> str:
    """Draw the ladder; ValueError where there is no rung or no cell."""
    if not rungs or series < 1:
        raise ValueError("no threshold is known yet")
    y = scale(rungs)
    ordered = sorted(rungs, key=lambda r: -r.voltage_v)
    labels = svg.spread_apart([y.at(r.voltage_v) for r in ordered], _GAP, TOP + 1, BOTTOM)
    parts = _axis(y, series)
    parts += [svg.text(_NAMES, TOP - 3, "threshold", 2.3, fill=svg.SOFT),
              svg.text(_NAMES + 54, TOP - 3, "per cell", 2.3, fill=svg.SOFT),
              svg.text(_NAMES + 88, TOP - 3, f"pack of {series}", 2.3, fill=svg.SOFT)]
    for rung, label_y in zip(ordered, labels, strict=True):
        parts += _rung(rung, y, label_y, series)
    return svg.document(WIDTH, HEIGHT, parts, "Ladder of voltages")
