"""Words in a chart lie where they hide least of the curves."""

from __future__ import annotations

import pytest

from buildtrack.bench.chart import Chart, Limit, Moment, Series, draw

CURVE = Series("g1", tuple((float(t), 4.05 - 0.006 * t if t < 75 else 3.6 - 0.08 * (t - 75)) for t in range(84)))
MOMENTS = (Moment("alarm", 83.2), Moment("cutoff", 83.5), Moment("forecast from", 87.3), Moment("forecast to", 89.1))
BLANK = 0x2800
"""First of the Unicode block Braille Patterns."""


def _cells(moments: tuple[Moment, ...], width: int, height: int) -> list[str]:
    chart = Chart((CURVE,), (Limit("cutoff", 2.8),), moments)
    return ["".join(p.text for p in row.left) for row in draw(chart, width, height).lines()]


@pytest.mark.parametrize(("width", "height"), [(74, 10), (110, 20), (60, 8)])
def test_the_words_of_moments_hide_no_stretch_of_a_curve(width: int, height: int) -> None:
    """Four moments near the end of a test, as the pictures show them on the smallest screen."""
    same_scale = tuple(Moment("", m.at) for m in MOMENTS)
    bare, shown = _cells(same_scale, width, height), _cells(MOMENTS, width, height)
    text = "\n".join(shown)
    assert all(f"{m.name} {m.at:.3g}" in text for m in MOMENTS)
    before_the_end = slice(8, int(width * 0.5))
    hidden = [
        (row, column)
        for row, (was, now) in enumerate(zip(bare[:-3], shown[:-3], strict=True))
        for column, (a, b) in enumerate(zip(was[before_the_end], now[before_the_end], strict=False))
        if ord(a) > BLANK and ord(b) < BLANK
    ]
    assert len(hidden) <= 1
