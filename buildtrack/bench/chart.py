"""Where things lie in a chart: scales, round numbers on the axes, series, limits. Geometry only; canvas.py draws."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.bench.widgets.canvas import Canvas

LEFT = 7
"""Characters kept for the numbers of the upright axis."""
RIGHT = 20
"""Characters kept for the words of limits."""
MARK_EVERY = 16
"""Characters between two marks of a curve."""


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale from values to positions."""

    low: float
    high: float

    def at(self, value: float, length: int) -> int:
        """Position of a value on `length` places, 0 for the lowest."""
        span = self.high - self.low
        return round((value - self.low) / span * (length - 1)) if span > 0 else 0


def scale_for(values: Sequence[float], margin: float = 0.04) -> Scale:
    """A scale that holds all values with a little room; a single value gets room around it."""
    low, high = min(values), max(values)
    room = (high - low) * margin if high > low else max(abs(high) * 0.05, 0.5)
    return Scale(low - room, high + room)


def round_steps(low: float, high: float, most: int) -> list[float]:
    """Round numbers between two values, at most so many: 1, 2 or 5 times a power of ten apart."""
    if not (math.isfinite(low) and math.isfinite(high)) or high <= low or most < 1:
        return []
    raw = (high - low) / most
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(s * power for s in (1.0, 2.0, 5.0, 10.0) if s * power >= raw * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    return [n * step for n in range(first, math.floor(high / step + 1e-9) + 1)]


@dataclass(frozen=True, slots=True)
class Series:
    """One curve."""

    name: str
    points: tuple[tuple[float, float], ...]
    look: str = "plain"
    mark: str = ""
    """What tells the curve from the others, laid upon it now and then: colour alone never does."""

    @property
    def legend(self) -> tuple[str, str]:
        """Words and look under the chart."""
        return f"{f'━{self.mark}' if self.mark else ''}━ {self.name}  ", self.look


LOOKS = ("plain", "accent", "good", "muted")
"""Looks of the curves of groups in turn."""


def group_curve(number: int, points: Sequence[tuple[float, float]]) -> Series:
    """The curve of a group, counted from 0; its number is its mark."""
    return Series(f"g{number + 1}", tuple(points), LOOKS[number % len(LOOKS)], f"{number + 1}")


@dataclass(frozen=True, slots=True)
class Limit:
    """A value that must not be passed, drawn as a dotted line with its words."""

    name: str
    value: float
    unit: str = "V"
    look: str = "warn"


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment on the lying axis, drawn as an upright dotted line with its words."""

    name: str
    at: float
    look: str = "accent"


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart of curves over one lying axis."""

    series: tuple[Series, ...]
    limits: tuple[Limit, ...] = ()
    moments: tuple[Moment, ...] = ()
    x_unit: str = "min"
    y_unit: str = "V"


def thinned(points: Sequence[tuple[float, float]], most: int) -> list[tuple[float, float]]:
    """Points made few enough to draw: lowest and highest of each stretch stay."""
    if len(points) <= 2 * most:
        return list(points)
    size = math.ceil(len(points) / most)
    found: list[tuple[float, float]] = []
    for start in range(0, len(points), size):
        part = points[start : start + size]
        found += sorted({min(part, key=lambda p: p[1]), max(part, key=lambda p: p[1])})
    return found


def draw(chart: Chart, width: int, height: int) -> Canvas:
    """Draw a chart on so many characters; ValueError where it holds no point."""
    points = [p for s in chart.series for p in s.points]
    if not points:
        raise ValueError("there is nothing to draw yet")
    x_scale = scale_for([*(p[0] for p in points), *(m.at for m in chart.moments)], 0.02)
    y_scale = scale_for([*(p[1] for p in points), *(limit.value for limit in chart.limits)])
    canvas = Canvas(width, height)
    plot = _Plot(canvas, x_scale, y_scale)
    plot.axes(chart)
    for limit in chart.limits:
        plot.limit(limit)
    for moment in chart.moments:
        plot.moment(moment)
    for series in chart.series:
        plot.curve(series)
    plot.moment_words(chart.moments)
    plot.marks(chart.series)
    return canvas


class _Plot:
    """Places values on a canvas."""

    def __init__(self, canvas: Canvas, x_scale: Scale, y_scale: Scale) -> None:
        self.canvas, self.x_scale, self.y_scale = canvas, x_scale, y_scale
        self.right = RIGHT if canvas.width >= 60 else 0
        self.across = max(2, (canvas.width - LEFT - self.right) * 2)
        self.down = max(2, (canvas.height - 2) * 4)

    def x(self, value: float) -> int:
        """Dot column of a value."""
        return LEFT * 2 + self.x_scale.at(value, self.across)

    def y(self, value: float) -> int:
        """Dot row of a value."""
        return self.down - 1 - self.y_scale.at(value, self.down)

    def axes(self, chart: Chart) -> None:
        """Both axes with round numbers."""
        canvas = self.canvas
        canvas.stroke(LEFT * 2, 0, LEFT * 2, self.down - 1, "muted")
        canvas.stroke(LEFT * 2, self.down - 1, LEFT * 2 + self.across, self.down - 1, "muted")
        for value in round_steps(self.y_scale.low, self.y_scale.high, max(2, canvas.height // 3)):
            text = f"{value:.4g}"
            canvas.text(LEFT - 1 - len(text), self.y(value) // 4, text)
        canvas.text(0, 0, chart.y_unit)
        row = canvas.height - 2
        steps = round_steps(self.x_scale.low, self.x_scale.high, max(2, self.across // 2 // 10))
        for value in steps:
            text = f"{value:.4g}"
            canvas.text(self.x(value) // 2 - len(text) // 2, row, text)
        canvas.text(LEFT + self.across // 2 - len(chart.x_unit), row + 1, chart.x_unit)

    def limit(self, limit: Limit) -> None:
        """A dotted line with its words at the right."""
        y = self.y(limit.value)
        self.canvas.stroke(LEFT * 2 + 1, y, LEFT * 2 + self.across, y, limit.look, every=3)
        words = f"{limit.value:.4g} {limit.unit} {limit.name}"
        if not self.right:
            words = words[: self.across // 2 - 2]
        column = LEFT + self.across // 2 + 1 if self.right else self.canvas.width - len(words)
        row = next((r for r in (y // 4, y // 4 - 1, y // 4 + 1) if self.canvas.free(column, r, len(words))), y // 4)
        self.canvas.text(column, row, words, limit.look)

    def moment(self, moment: Moment) -> None:
        """An upright dotted line."""
        x = self.x(moment.at)
        self.canvas.stroke(x, 0, x, self.down - 1, moment.look, every=3)

    def moment_words(self, moments: Sequence[Moment]) -> None:
        """Words of the moments beside their lines, each on a row of its own, where they hide least."""
        for number, moment in enumerate(moments):
            words = f"{moment.name} {moment.at:.3g}"
            line, edge = self.x(moment.at) // 2, LEFT + self.across // 2
            right, left = line + 1, max(LEFT + 1, line - len(words) - 1)
            columns = [right, left] if right + len(words) <= edge else [left]
            rows = [number, *range(self.down // 4)]
            places = [(column, row) for row in rows for column in columns]
            free = [p for p in places if self.canvas.free(*p, len(words))] or places[:1]
            column, row = min(free, key=lambda p: self.canvas.covered(p[0], p[1], len(words)))
            self.canvas.text(column, row, words, moment.look)

    def marks(self, series: Sequence[Series]) -> None:
        """The mark of each curve upon it, again and again; those of two curves are not in one column."""
        marked = [s for s in series if s.mark and s.points]
        room = max(MARK_EVERY, 3 * len(marked))
        for number, each in enumerate(marked):
            dots = [(self.x(x), self.y(y)) for x, y in thinned(each.points, self.across)]
            columns = range(LEFT + 2 + number * room // len(marked), LEFT + self.across // 2, room)
            laid = [self._mark(each, dots, column) for column in columns]
            if not any(laid):  # a short curve: at its end, one beside the other
                self._mark(each, dots, max(dots[0][0], dots[-1][0] - 4 * (len(marked) - number)) // 2)

    def _mark(self, series: Series, dots: Sequence[tuple[int, int]], column: int) -> bool:
        """Lay the mark on a curve where it passes a column, unless words stand there."""
        across = column * 2
        pairs = zip(dots, dots[1:] or dots, strict=False)
        passed = next(((a, b) for a, b in pairs if a[0] // 2 <= column <= b[0] // 2), None)
        if passed is None:
            return False
        (x0, y0), (x1, y1) = passed
        y = round(y0 + (y1 - y0) * min(1.0, max(0.0, (across - x0) / (x1 - x0)))) if x1 > x0 else y1
        if not self.canvas.free(column, y // 4, len(series.mark)):
            return False
        self.canvas.text(column, y // 4, series.mark, series.look)
        return True

    def curve(self, series: Series) -> None:
        """One curve with its name at the end."""
        points = thinned(series.points, self.across)
        for (x0, y0), (x1, y1) in zip(points, points[1:], strict=False):
            self.canvas.stroke(self.x(x0), self.y(y0), self.x(x1), self.y(y1), series.look)
        if len(points) == 1:
            self.canvas.dot(self.x(points[0][0]), self.y(points[0][1]), series.look)
