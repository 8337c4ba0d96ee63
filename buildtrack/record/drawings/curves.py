"""Discharge curves per group over time, with alarm, cutoff and forecast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.record.drawings import svg

WIDTH, HEIGHT = 170.0, 92.0
LEFT, RIGHT, TOP, BOTTOM = 13.0, 27.0, 4.0, 12.0
MOST_POINTS = 600
"""Points drawn of one curve; more of them would fall on the same spot of the paper."""
_LABEL_GAP = 3.2


@dataclass(frozen=True, slots=True)
class Curve:
    """One voltage over time."""

    name: str
    points: tuple[tuple[float, float], ...]
    """Time [min] and voltage [V]."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment on the time axis."""

    name: str
    at_min: float


@dataclass(frozen=True, slots=True)
class Curves:
    """Everything one discharge drawing shows."""

    measured: tuple[Curve, ...]
    forecast: tuple[Curve, ...] = ()
    doubt_share: float = 0.0
    """The forecast's own error: the true curve may end by this share of the time sooner."""
    alarm_v: float | None = None
    cutoff_v: float | None = None
    moments: tuple[Mark, ...] = ()
    title: str = "Discharge curves"


def thinned(points: Sequence[tuple[float, float]], most: int = MOST_POINTS) -> tuple[tuple[float, float], ...]:
    """At most about `most` points that keep every dip and peak: first, lowest, highest and last of equal shares."""
    if len(points) <= most:
        return tuple(points)
    share = len(points) / (most // 4)
    kept: list[tuple[float, float]] = []
    for n in range(most // 4):
        part = points[int(n * share):int((n + 1) * share)]
        if part:
            chosen = {part[0], min(part, key=lambda p: p[1]), max(part, key=lambda p: p[1]), part[-1]}
            kept.extend(sorted(chosen))
    return tuple(kept)


def axes(curves: Curves) -> tuple[svg.Scale, svg.Scale]:
    """Scales of time and voltage; every value of the drawing lies inside."""
    every = [p for c in (*curves.measured, *curves.forecast) for p in c.points]
    times = [t for t, _ in every] + [m.at_min for m in curves.moments]
    volts = [v for _, v in every] + [v for v in (curves.alarm_v, curves.cutoff_v) if v is not None]
    low, high = min(volts), max(volts)
    pad = max(0.05, 0.06 * (high - low))
    return (svg.Scale(0.0, max(max(times), 1.0) * 1.01, LEFT, WIDTH - RIGHT),
            svg.Scale(low - pad, high + pad, HEIGHT - BOTTOM, TOP))


def _frame(x: svg.Scale, y: svg.Scale) -> list[str]:
    parts = []
    vertical = svg.ticks(y.low, y.high, 9)
    for value in vertical:
        parts.append(svg.line(x.start, y.at(value), x.end, y.at(value), svg.FAINT, 0.12))
        parts.append(svg.text(x.start - 1.5, y.at(value) + 0.85, svg.tick_label(value, vertical), anchor="end"))
    horizontal = svg.ticks(x.low, x.high, 11)
    for value in horizontal:
        parts.append(svg.line(x.at(value), y.start, x.at(value), y.start + 1, svg.INK, 0.2))
        parts.append(svg.text(x.at(value), y.start + 4, svg.tick_label(value, horizontal), anchor="middle"))
    parts.append(svg.line(x.start, y.start, x.end, y.start, svg.INK, 0.25))
    parts.append(svg.line(x.start, y.start, x.start, y.end, svg.INK, 0.25))
    parts.append(svg.text(x.end, y.start + 8, "minutes", anchor="end", fill=svg.SOFT))
    parts.append(svg.text(x.start - 11, y.end + 1.5, "V", fill=svg.SOFT))
    return parts


def _limit(x: svg.Scale, y: svg.Scale, volts: float | None, words: str, dash: str, below: bool = False) -> list[str]:
    if volts is None:
        return []
    at = y.at(volts)
    label = at + 2.6 if below else at - 0.9
    return [svg.line(x.start, at, x.end, at, svg.ACCENT, 0.35, dash),
            svg.text(x.start + 1.5, label, f"{words} {volts:.2f} V", 2.4, fill=svg.ACCENT)]


def _measured(curve: Curve, number: int, x: svg.Scale, y: svg.Scale) -> list[str]:
    spots = [(x.at(t), y.at(v)) for t, v in thinned(curve.points)]
    parts = [svg.path(spots, svg.INK, 0.4, svg.DASHES[number % len(svg.DASHES)])]
    step = max(1, len(spots) // 9)
    return parts + [svg.marker(number, px, py) for px, py in spots[::step]]


def discharge_curves(curves: Curves) -> str:
    """Draw them; ValueError where there is no point at all."""
    if not any(c.points for c in (*curves.measured, *curves.forecast)):
        raise ValueError("there are no readings to draw")
    x, y = axes(curves)
    parts = _frame(x, y)
    parts += _limit(x, y, curves.alarm_v, "alarm", "3 1.2")
    close = curves.alarm_v is not None and curves.cutoff_v is not None and abs(
        y.at(curves.alarm_v) - y.at(curves.cutoff_v)) < _LABEL_GAP
    parts += _limit(x, y, curves.cutoff_v, "cutoff", "", below=close)
    parts += _moments(curves, x, y)
    for curve in curves.forecast:
        parts += _band(curve, curves.doubt_share, x, y)
    for curve in curves.forecast:
        spots = [(x.at(t), y.at(v)) for t, v in thinned(curve.points)]
        parts.append(svg.path(spots, svg.SOFT, 0.25, "0.5 0.9"))
    for number, curve in enumerate(curves.measured):
        parts += _measured(curve, number, x, y)
    return svg.document(WIDTH, HEIGHT, [*parts, *_names(curves, x, y)], curves.title)


def _moments(curves: Curves, x: svg.Scale, y: svg.Scale) -> list[str]:
    """Upright lines of the moments, then their names over all of them, so that no line crosses a name."""
    later_first = sorted(curves.moments, key=lambda m: -m.at_min)
    parts = [svg.line(x.at(m.at_min), y.start, x.at(m.at_min), y.end, svg.SOFT, 0.2, "0.6 0.8") for m in later_first]
    for row, moment in enumerate(later_first):
        at = x.at(moment.at_min)
        words, height = f"{moment.name} {moment.at_min:.0f} min", y.end + 2 + 3.2 * row
        wide = svg.text_width(words, 2.3)
        parts.append(svg.rect(at - 1.2 - wide, height - 2, wide + 0.8, 2.8, svg.WHITE, svg.WHITE, 0.1))
        parts.append(svg.text(at - 0.8, height, words, 2.3, "end", svg.SOFT))
    return parts


def _band(curve: Curve, doubt_share: float, x: svg.Scale, y: svg.Scale) -> list[str]:
    """Between a forecast and the same curve run through faster by its doubt."""
    if doubt_share <= 0:
        return []
    spots = thinned(curve.points)
    sooner = [(x.at(t * (1 - doubt_share)), y.at(v)) for t, v in reversed(spots)]
    return [svg.path([*((x.at(t), y.at(v)) for t, v in spots), *sooner], "none", 0, fill=svg.BAND, closed=True)]


def _names(curves: Curves, x: svg.Scale, y: svg.Scale) -> list[str]:
    """Names at the ends of the curves, kept apart, with a thin line to where each ends."""
    named = [(c.name, c.points[-1], n) for n, c in enumerate(curves.measured) if c.points]
    ends = [(f"{c.name} forecast", c.points[-1], -1) for c in curves.forecast if c.points]
    named += ends if len(ends) < 2 else [("forecast", ends[0][1], -1)]
    wanted = [y.at(p[1]) + 0.85 for _, p, _ in named]
    placed = svg.spread_apart(wanted, _LABEL_GAP, y.end + 2, y.start - 0.5)
    parts = []
    for (name, (time, volts), number), at in zip(named, placed, strict=True):
        left = x.end + 3.5
        parts.append(svg.line(x.at(time) + 1, y.at(volts), left - 0.6, at - 0.85, svg.FAINT, 0.15))
        if number >= 0:
            parts.append(svg.marker(number, left + 1, at - 0.85))
        fill, weight = (svg.INK, "600") if number >= 0 else (svg.SOFT, "")
        parts.append(svg.text(left + 3, at, name, 2.5, fill=fill, weight=weight))
    return parts
