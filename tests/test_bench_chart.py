"""Words in a chart lie where they hide least of the curves."""

from __future__ import annotations

import re

import pytest

from buildtrack.bench.chart import Chart, Limit, Moment, Series, draw, group_curve

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


@pytest.mark.parametrize("width", [60, 74, 110])
@pytest.mark.parametrize("count", [2, 4, 8, 10])
def test_every_group_has_a_mark_of_its_own_upon_its_curve(count: int, width: int) -> None:
    """Straight lines 0.1 V apart: a mark lies at the height of its own line there, in every look (closed form)."""
    curves = tuple(group_curve(n, [(0.0, 4.0 - 0.1 * n), (100.0, 3.0 - 0.1 * n)]) for n in range(count))
    assert len({c.mark for c in curves}) == count
    rows = ["".join(p.text for p in row.left) for row in draw(Chart(curves), width, 24).lines()]
    low, high, right = 3.0 - 0.1 * (count - 1), 4.0, 20
    margin, across = (high - low) * 0.04, width - 7 - right
    for number, curve in enumerate(curves):
        places = [(row, at.start()) for row, text in enumerate(rows[:-2])
                  for at in re.finditer(rf"(?<![0-9.]){curve.mark}(?![0-9.])", text) if at.start() > 7]
        assert places, f"{curve.name} is marked"
        for row, at in places:
            volts = 4.0 - 0.1 * number - ((at - 7) / across * 104 - 2) / 100
            assert row + 0.5 == pytest.approx((high + margin - volts) / (high - low + 2 * margin) * 22, abs=0.8)


def test_a_curve_of_two_points_is_marked_between_them_and_a_short_one_at_its_end() -> None:
    long = group_curve(0, [(0.0, 4.0), (100.0, 3.0)])
    short = group_curve(1, [(0.0, 3.9), (1.0, 3.89)])
    text = "\n".join("".join(p.text for p in row.left) for row in draw(Chart((long, short)), 74, 10).lines())
    plot = "\n".join(row[8:] for row in text.splitlines()[:-3])
    assert plot.count("1") >= 2 and plot.count("2") >= 1


def test_the_legend_says_which_mark_is_whose_and_a_pack_alone_has_none() -> None:
    assert group_curve(3, [(0.0, 1.0)]).legend[0].strip() == "━4━ g4"
    assert Series("pack", ((0.0, 1.0),)).legend[0].strip() == "━ pack"
