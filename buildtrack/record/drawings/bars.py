"""Three small drawings on straight scales: load profile, charge spread, chain of ratings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.record.drawings import svg

WIDTH = 170.0
LEFT, RIGHT = 14.0, 34.0


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the duty cycle; the current runs straight from start to end."""

    start_a: float
    end_a: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Level:
    """A level drawn across."""

    name: str
    value: float
    dash: str = "2 1"


def profile_scales(stages: Sequence[Stage], levels: Sequence[Level]) -> tuple[svg.Scale, svg.Scale]:
    """Scales of time [s] and current [A]."""
    top = max([max(s.start_a, s.end_a) for s in stages] + [level.value for level in levels])
    return (svg.Scale(0.0, sum(s.seconds for s in stages), LEFT, WIDTH - RIGHT),
            svg.Scale(0.0, max(top, 0.1) * 1.08, 50.0, 4.0))


MOST_STAGES = 400
MOST_ROWS = 30
"""So many stages, groups or parts are drawn; more would not be told apart, the tables hold them all."""


def load_profile(stages: Sequence[Stage], levels: Sequence[Level]) -> str:
    """One duty cycle; ValueError where it lasts no time."""
    if sum(s.seconds for s in stages) <= 0:
        raise ValueError("no duty cycle is entered yet")
    if len(stages) > MOST_STAGES:
        raise ValueError(f"{len(stages)} stages are more than the drawing shows")
    x, y = profile_scales(stages, levels)
    spots: list[tuple[float, float]] = []
    at = 0.0
    for stage in stages:
        spots += [(x.at(at), y.at(stage.start_a)), (x.at(at + stage.seconds), y.at(stage.end_a))]
        at += stage.seconds
    parts = _grid(x, y, "A", "s")
    parts.append(svg.path([(x.start, y.at(0)), *spots, (x.end, y.at(0))], svg.INK, 0.45, fill=svg.PALE, closed=True))
    placed = svg.spread_apart([y.at(level.value) + 0.85 for level in levels], 3.3, y.end + 2, y.start)
    for level, label in zip(levels, placed, strict=True):
        parts.append(svg.line(x.start, y.at(level.value), x.end + 1, y.at(level.value), svg.ACCENT, 0.35, level.dash))
        parts.append(svg.line(x.end + 1, y.at(level.value), x.end + 3, label - 0.85, svg.ACCENT, 0.2))
        parts.append(svg.text(x.end + 3.5, label, f"{level.name} {level.value:.2f} A", 2.4, fill=svg.ACCENT))
    return svg.document(WIDTH, 58.0, parts, "Load profile")


def _grid(x: svg.Scale, y: svg.Scale, vertical_unit: str, horizontal_unit: str) -> list[str]:
    parts = []
    marks = svg.ticks(y.low, y.high, 6)
    for value in marks:
        parts.append(svg.line(x.start, y.at(value), x.end, y.at(value), svg.FAINT, 0.12))
        parts.append(svg.text(x.start - 1.5, y.at(value) + 0.85, svg.tick_label(value, marks), 2.4, "end"))
    marks = svg.ticks(x.low, x.high, 11)
    for value in marks:
        parts.append(svg.line(x.at(value), y.start, x.at(value), y.start + 1, svg.INK, 0.2))
        parts.append(svg.text(x.at(value), y.start + 4, svg.tick_label(value, marks), 2.4, "middle"))
    parts.append(svg.line(x.start, y.start, x.end, y.start, svg.INK, 0.25))
    parts.append(svg.text(x.end + 6, y.start + 4, horizontal_unit, 2.4, fill=svg.SOFT))
    parts.append(svg.text(x.start - 9, y.end + 1, vertical_unit, 2.4, "end", svg.SOFT))
    return parts


@dataclass(frozen=True, slots=True)
class GroupCharge:
    """One group through a charge: voltage at named moments."""

    name: str
    volts: tuple[tuple[str, float], ...]


def spread_scale(groups: Sequence[GroupCharge], target_v: float | None) -> svg.Scale:
    """Scale of the voltages at the end of the charge, never narrower than 40 mV."""
    every = [v for g in groups for _, v in g.volts] + ([target_v] if target_v is not None else [])
    low, high = min(every), max(every)
    pad = max(0.005, 0.12 * (high - low), (0.04 - (high - low)) / 2)
    return svg.Scale(low - pad, high + pad, LEFT, WIDTH - RIGHT)


def charge_spread(groups: Sequence[GroupCharge], target_v: float | None, limit_v: float | None) -> str:
    """Voltage of every group at the end of the charge and rested; ValueError where none was read."""
    shown = [g for g in groups if g.volts]
    if not shown:
        raise ValueError("no group was read at the end of the charge")
    if len(shown) > MOST_ROWS:
        raise ValueError(f"{len(shown)} groups are more than the drawing shows")
    x = spread_scale(shown, target_v)
    bottom = 8.0 + 7.0 * len(shown)
    parts = []
    marks = svg.ticks(x.low, x.high, 9)
    for value in marks:
        parts.append(svg.line(x.at(value), 5, x.at(value), bottom, svg.FAINT, 0.12))
        parts.append(svg.text(x.at(value), bottom + 4, svg.tick_label(value, marks), 2.4, "middle"))
    for limit, name, dash in ((target_v, "target", "2 1"), (limit_v, "limit", "")):
        if limit is not None and x.low <= limit <= x.high:
            parts.append(svg.line(x.at(limit), 4, x.at(limit), bottom, svg.ACCENT, 0.35, dash))
            parts.append(svg.text(x.at(limit), 3, f"{name} {limit:.3f} V", 2.3, "middle", svg.ACCENT))
    for row, group in enumerate(shown):
        y = 9.5 + 7.0 * row
        parts.append(svg.line(x.start, y, x.end, y, svg.FAINT, 0.15))
        parts.append(svg.text(x.start - 2, y + 0.9, group.name, 2.6, "end", weight="600"))
        spots = [(x.at(v), y) for _, v in group.volts]
        parts.append(svg.path(spots, svg.SOFT, 0.3))
        parts += [svg.marker(5 if n == 0 else 0, px, py, 1.1) for n, (px, py) in enumerate(spots)]
        told = ", ".join(f"{name} {v:.3f}" for name, v in group.volts)
        parts.append(svg.text(x.end + 2, y + 0.9, told, 2.2, fill=svg.SOFT))
    parts.append(svg.line(x.start, bottom, x.end, bottom, svg.INK, 0.25))
    parts.append(svg.text(x.end + 2, bottom + 4, "V per group", 2.4, fill=svg.SOFT))
    return svg.document(WIDTH, bottom + 6, parts, "Charge spread")


@dataclass(frozen=True, slots=True)
class Part:
    """One part the pack's current passes."""

    name: str
    rating_a: float | None
    governs: bool = False


def chain_scale(parts: Sequence[Part], currents: Sequence[Level]) -> svg.Scale:
    """Scale of the currents, from zero."""
    top = max([p.rating_a for p in parts if p.rating_a is not None] + [c.value for c in currents])
    return svg.Scale(0.0, top * 1.06, 58.0, WIDTH - 14)


def chain_of_ratings(links: Sequence[Part], currents: Sequence[Level]) -> str:
    """A bar per rated part beside the currents it has to carry; ValueError where no part has a rating."""
    if not any(p.rating_a is not None for p in links):
        raise ValueError("no part of the current path has a rating yet")
    if len(links) > MOST_ROWS:
        raise ValueError(f"{len(links)} parts are more than the drawing shows")
    x = chain_scale(links, currents)
    top, step = 11.0, 6.2
    bottom = top + step * len(links)
    drawn = [svg.line(x.start, top - 2, x.start, bottom, svg.INK, 0.25)]
    ratings: list[str] = []
    for row, part in enumerate(links):
        y = top + step * row
        drawn.append(svg.text(x.start - 2, y + 2.9, svg.fitted(part.name, 54, 2.5), 2.5, "end",
                              weight="600" if part.governs else ""))
        if part.rating_a is None:
            ratings.append(svg.rect(x.start + 1, y + 0.6, 12, 3.2, svg.WHITE, svg.WHITE, 0.1))
            ratings.append(svg.text(x.start + 1.5, y + 2.9, "not rated", 2.4, fill=svg.SOFT, style="italic"))
            continue
        end = x.at(part.rating_a)
        fill = svg.FAINT if part.governs else svg.PALE
        drawn.append(svg.rect(x.start, y + 0.4, end - x.start, 3.6, fill, svg.SOFT, 0.2))
        words = f"{part.rating_a:.3g} A" + (" governs" if part.governs else "")
        ratings.append(svg.rect(end + 0.6, y + 0.6, svg.text_width(words, 2.4) + 1, 3.2, svg.WHITE, svg.WHITE, 0.1))
        ratings.append(svg.text(end + 1, y + 2.9, words, 2.4, weight="600" if part.governs else ""))
    labels = svg.spread_apart([x.at(c.value) for c in currents], 21.0, x.start, x.end)
    for current, label in zip(currents, labels, strict=True):
        at = x.at(current.value)
        drawn.append(svg.line(at, top - 2, at, bottom, svg.ACCENT, 0.4, current.dash))
        drawn.append(svg.line(label, 6.0, at, top - 2, svg.ACCENT, 0.2))
        drawn.append(svg.text(label, 5.0, f"{current.name} {current.value:.3g} A", 2.4, "middle", svg.ACCENT))
    return svg.document(WIDTH, bottom + 2, [*drawn, *ratings], "Chain of ratings")
