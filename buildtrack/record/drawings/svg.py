"""The SVG elements the drawings are made of: plain attributes, escaped words, no reference to anything outside."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from buildtrack.record.text import line as one_line

FONT = "Record Sans"
INK = "#1b1f23"
SOFT = "#5c6670"
FAINT = "#c3cad0"
PALE = "#eef1f3"
BAND = "#d9dee2"
ACCENT = "#1f5673"
WHITE = "#ffffff"
DASHES = ("", "3 1", "0.9 0.9", "4 0.9 0.9 0.9", "5.5 1.4", "1.8 0.7", "3 0.7 0.7 0.7 0.7 0.7", "0.4 0.8", "6 1 1.5 1",
          "2.2 2.2")
"""Line patterns, so that curves are told apart without colour."""
_MOST_TEXT = 160


def number(value: float) -> str:
    """A coordinate with at most two decimals."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


def _attributes(given: dict[str, str | float]) -> str:
    parts = []
    for name, value in given.items():
        shown = number(value) if isinstance(value, (int, float)) else escape(value, quote=True)
        if shown:
            parts.append(f' {name.rstrip("_").replace("_", "-")}="{shown}"')
    return "".join(parts)


def element(name: str, **attributes: str | float) -> str:
    """One empty element."""
    return f"<{name}{_attributes(attributes)}/>"


def line(x1: float, y1: float, x2: float, y2: float, stroke: str = INK, width: float = 0.25, dash: str = "") -> str:
    """A straight line."""
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=stroke, stroke_width=width, stroke_dasharray=dash)


def rect(x: float, y: float, width: float, height: float, fill: str = "none", stroke: str = INK,
         line_width: float = 0.25, radius: float = 0.0, dash: str = "") -> str:
    """A rectangle."""
    return element("rect", x=x, y=y, width=width, height=height, rx=radius or "", fill=fill, stroke=stroke,
                   stroke_width=line_width, stroke_dasharray=dash)


def circle(x: float, y: float, radius: float, fill: str = "none", stroke: str = INK, width: float = 0.25) -> str:
    """A circle."""
    return element("circle", cx=x, cy=y, r=radius, fill=fill, stroke=stroke, stroke_width=width)


def path(points: Sequence[tuple[float, float]], stroke: str = INK, width: float = 0.35, dash: str = "",
         fill: str = "none", closed: bool = False) -> str:
    """A line through points."""
    if not points:
        return ""
    steps = " ".join(f"{number(x)} {number(y)}" for x, y in points)
    return element("path", d=f"M{steps.replace(' ', ' ', 1)}{'Z' if closed else ''}", fill=fill, stroke=stroke,
                   stroke_width=width, stroke_dasharray=dash, stroke_linejoin="round")


def text(x: float, y: float, words: str, size: float = 2.5, anchor: str = "start", fill: str = INK, weight: str = "",
         style: str = "") -> str:
    """Words at a baseline point; they come from a build and are never markup."""
    attributes = _attributes({
        "x": x, "y": y, "font_size": size, "text_anchor": "" if anchor == "start" else anchor, "fill": fill,
        "font_weight": weight, "font_style": style})
    return f"<text{attributes}>{escape(one_line(words, _MOST_TEXT))}</text>"


def text_width(words: str, size: float = 2.5) -> float:
    """About how wide words are [mm]: the bundled font is 0.5 em a character on average."""
    return 0.5 * size * len(words)


def fitted(words: str, room: float, size: float = 2.5) -> str:
    """Words that take no more than `room` [mm], cut with an ellipsis where they are longer."""
    shown = one_line(words, _MOST_TEXT)
    most = int(room / (0.5 * size))
    return shown if len(shown) <= most else shown[:max(1, most - 1)].rstrip() + "…"


def document(width: float, height: float, parts: Iterable[str], title: str) -> str:
    """A whole drawing; width and height in millimetres, which are also its user units."""
    body = "".join(parts)
    name = escape(one_line(title, _MOST_TEXT), quote=True)
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}mm" height="{number(height)}mm" '
            f'viewBox="0 0 {number(width)} {number(height)}" font-family="{FONT}" font-size="2.5" role="img" '
            f'aria-label="{name}"><title>{name}</title>{body}</svg>')


def marker(kind: int, x: float, y: float, size: float = 0.9, fill: str = WHITE, stroke: str = INK) -> str:
    """One of six marker shapes, so that points are told apart without colour."""
    shapes = {
        1: [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)], 2: [(0.0, -1.3), (1.2, 1.0), (-1.2, 1.0)],
        3: [(0.0, -1.4), (1.4, 0.0), (0.0, 1.4), (-1.4, 0.0)], 4: [(0.0, 1.3), (1.2, -1.0), (-1.2, -1.0)]}
    if kind % 6 in shapes:
        return path([(x + size * dx, y + size * dy) for dx, dy in shapes[kind % 6]], stroke, 0.25, "", fill, True)
    return circle(x, y, size, fill if kind % 6 == 0 else stroke, stroke)


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight axis: values from `low` to `high` lie from `start` to `end` on the paper [mm]."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Where a value lies."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


def ticks(low: float, high: float, most: int = 8) -> tuple[float, ...]:
    """Round values in steps of 1, 2 or 5 times a power of ten inside low..high, at most `most` of them."""
    if not high > low or not math.isfinite(high - low):
        return (low,)
    rough = (high - low) / max(1, most - 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= rough * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return tuple(round(n * step, 10) for n in range(first, last + 1))


def tick_label(value: float, all_ticks: Sequence[float]) -> str:
    """A tick with as many decimals as the steps of its axis need."""
    step = all_ticks[1] - all_ticks[0] if len(all_ticks) > 1 else abs(value) or 1.0
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    return f"{value:.{places}f}"


def spread_apart(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Positions near the wanted ones, in their order, at least `gap` apart and inside low..high where they fit."""
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    placed: list[float] = []
    for i in order:
        placed.append(max(wanted[i], placed[-1] + gap if placed else low))
    limit = high
    for k in range(len(placed) - 1, -1, -1):
        placed[k] = min(placed[k], limit)
        limit = placed[k] - gap
    found = [0.0] * len(wanted)
    for k, i in enumerate(order):
        found[i] = placed[k]
    return found
