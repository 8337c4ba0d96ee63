"""Cells in a box: counts by hand, no two cells ever closer than their clearance, none outside."""

from __future__ import annotations

from math import dist, sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.physics.fit import AXES, Box, Layout, draw, layouts, layouts_for, most_cells

SETTINGS = settings(derandomize=True, deadline=None, max_examples=60)


def by(found: tuple[Layout, ...], axis: str, pattern: str, row_axis: str) -> Layout:
    return next(x for x in found if (x.axis, x.pattern, x.row_axis) == (axis, pattern, row_axis))


def test_a_box_made_to_measure_holds_its_cells_and_a_hair_less_holds_fewer() -> None:
    assert most_cells(Box(4 * 18.5, 3 * 18.5, 65.5), 18.5, 65.5) == 12
    assert by(layouts(Box(4 * 18.5 - 0.1, 3 * 18.5, 65.5), 18.5, 65.5), "z", "rectangular", "x").count == 9


def test_staggered_rows_fit_where_square_ones_do_not() -> None:
    depth = 18.5 + 2 * 18.5 * sqrt(3) / 2
    found = layouts(Box(4.5 * 18.5, depth, 65.5), 18.5, 65.5)
    assert by(found, "z", "staggered", "x").rows == (4, 4, 4)
    assert by(found, "z", "rectangular", "x").rows == (4, 4)


def test_clearance_lies_between_cells_and_not_at_the_walls() -> None:
    assert most_cells(Box(2 * 18.5 + 1, 18.5, 65.5), 18.5, 65.5, 1.0) == 2
    assert most_cells(Box(2 * 18.5 + 0.9, 18.5, 65.5), 18.5, 65.5, 1.0) == 1


def test_reserved_room_is_taken_off_first() -> None:
    assert most_cells(Box(74, 55.5, 75.5, reserved_z_mm=10), 18.5, 65.5) == 12
    assert most_cells(Box(74, 55.5, 75.0, reserved_z_mm=10), 18.5, 65.5) == 9  # along x, three by three
    with pytest.raises(ValueError, match="the reserved room leaves nothing"):
        layouts(Box(74, 55.5, 70, reserved_z_mm=80), 18.5, 65.5)


@pytest.mark.parametrize(("size", "axis"), [((65.5, 37, 37), "x"), ((37, 65.5, 37), "y"), ((37, 37, 65.5), "z")])
def test_cells_lie_along_every_axis(size: tuple[float, float, float], axis: str) -> None:
    best = layouts(Box(*size), 18.5, 65.5)[0]
    assert (best.axis, best.count) == (axis, 4)


@SETTINGS
@given(st.floats(20, 150), st.floats(20, 150), st.floats(20, 150), st.floats(14, 27), st.floats(0, 2))
def test_no_cell_leaves_the_box_or_comes_too_near_another(
    x: float, y: float, z: float, diameter: float, clearance: float
) -> None:
    size = (x, y, z)
    for layout in layouts(Box(*size), diameter, 65.0, clearance):
        along = AXES.index(layout.axis)
        half = [diameter / 2] * 3
        half[along] = 32.5
        for centre in layout.positions_mm:
            assert all(h - 1e-6 <= c <= s - h + 1e-6 for c, s, h in zip(centre, size, half, strict=True))
        for number, one in enumerate(layout.positions_mm):
            for other in layout.positions_mm[:number]:
                across = [(a, b) for k, (a, b) in enumerate(zip(one, other, strict=True)) if k != along]
                apart = dist([a for a, _ in across], [b for _, b in across])
                end_to_end = abs(one[along] - other[along])
                assert apart >= diameter + clearance - 1e-6 or end_to_end >= 65.0 + clearance - 1e-6


@SETTINGS
@given(st.floats(40, 120), st.floats(40, 120), st.floats(0, 20))
def test_a_larger_box_never_holds_fewer(x: float, y: float, more: float) -> None:
    assert most_cells(Box(x + more, y, 66), 18.5, 65.5) >= most_cells(Box(x, y, 66), 18.5, 65.5)


def test_layouts_for_a_wanted_count_hold_just_that_many() -> None:
    found = layouts_for(Box(80, 60, 70), 18.5, 65.5, 10)
    assert found and all(layout.count == 10 for layout in found)
    assert layouts_for(Box(80, 60, 70), 18.5, 65.5, 100) == ()
    with pytest.raises(ValueError, match="at least 1"):
        layouts_for(Box(80, 60, 70), 18.5, 65.5, 0)


def test_the_drawing_shows_every_cell_of_a_layer() -> None:
    layout = layouts_for(Box(80, 60, 70), 18.5, 65.5, 10)[0]
    text = draw(layout)
    assert text.splitlines()[0].startswith("10 cells along ")
    assert text.count("(__)") == min(10, sum(layout.rows))
    staggered = by(layouts(Box(4 * 18.5, 52, 65.5), 18.5, 65.5), "z", "staggered", "x")
    assert draw(staggered).splitlines()[2].startswith("  (__)")


@pytest.mark.parametrize(("diameter", "length", "clearance"), [(0, 65, 0), (18, 0, 0), (18, 65, -1)])
def test_sizes_that_cannot_be_are_refused(diameter: float, length: float, clearance: float) -> None:
    with pytest.raises(ValueError, match="are needed"):
        layouts(Box(80, 60, 70), diameter, length, clearance)
