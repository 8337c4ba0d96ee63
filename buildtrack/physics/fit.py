"""How equal cylinders fit into a box: every axis, rectangular and staggered, with the positions for drawing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import floor, sqrt

AXES = ("x", "y", "z")
ROUNDING_MM = 1e-9
LARGEST_MM = 1000.0
"""Larger boxes are refused: they hold hundreds of thousands of cells, and come from a slip of the unit."""


@dataclass(frozen=True, slots=True)
class Box:
    """Free inside of a housing [mm], room reserved along each axis for board, insulation and wires taken off."""

    x_mm: float
    y_mm: float
    z_mm: float
    reserved_x_mm: float = 0.0
    reserved_y_mm: float = 0.0
    reserved_z_mm: float = 0.0

    def free_mm(self) -> tuple[float, float, float]:
        """What is left for cells [mm]."""
        if max(self.x_mm, self.y_mm, self.z_mm) > LARGEST_MM:
            raise ValueError(f"a housing of more than {LARGEST_MM:g} mm is no tool's: check the units")
        left = (self.x_mm - self.reserved_x_mm, self.y_mm - self.reserved_y_mm, self.z_mm - self.reserved_z_mm)
        if min(self.x_mm, self.y_mm, self.z_mm) <= 0 or min(left) < 0:
            raise ValueError(f"free space {left[0]:g} x {left[1]:g} x {left[2]:g} mm; the reserved room leaves nothing")
        return left


@dataclass(frozen=True, slots=True)
class Layout:
    """One way to place cells: axis they lie along, pattern, rows of cells, layers, and the centre of every cell [mm].

    `rows` are the counts of one layer's rows; `row_axis` is the axis the rows run along.
    """

    axis: str
    pattern: str
    row_axis: str
    rows: tuple[int, ...]
    layers: int
    positions_mm: tuple[tuple[float, float, float], ...]
    diameter_mm: float
    length_mm: float

    @property
    def count(self) -> int:
        """How many cells are placed."""
        return len(self.positions_mm)


def layouts(box: Box, diameter_mm: float, length_mm: float, clearance_mm: float = 0.0) -> tuple[Layout, ...]:
    """All layouts of equal cylinders, most cells first: three axes, rectangular and staggered rows both ways.

    Along a line of n: n d + (n - 1) c <= width. Staggered rows lie (d + c) sqrt(3) / 2 apart, every other row shifted
    by half a pitch. Layers: n L + (n - 1) c <= length. Clearance is kept between cells, not to the walls.
    Range: simple patterns, not a proof of the densest packing. Source: plane geometry.
    """
    if not diameter_mm > 0 or not length_mm > 0 or clearance_mm < 0:
        raise ValueError("diameter and length above zero, and clearance zero or more, are needed")
    free = box.free_mm()
    found: list[Layout] = []
    for axis in range(3):
        layers = _in_line(free[axis], length_mm, clearance_mm)
        across = [k for k in range(3) if k != axis]
        for row_axis, stack_axis in (across, across[::-1]):
            for pattern in ("rectangular", "staggered"):
                if pattern == "rectangular" and row_axis > stack_axis:
                    continue  # the same grid read the other way
                rows = _rows(pattern, free[row_axis], free[stack_axis], diameter_mm, clearance_mm)
                if layers and rows:
                    found.append(
                        _placed(axis, row_axis, stack_axis, pattern, rows, layers, diameter_mm, length_mm, clearance_mm)
                    )
    return tuple(sorted(found, key=lambda layout: (-layout.count, layout.pattern, layout.axis, layout.row_axis)))


def most_cells(box: Box, diameter_mm: float, length_mm: float, clearance_mm: float = 0.0) -> int:
    """Most cells any of the layouts holds; 0 if none fits."""
    return max((layout.count for layout in layouts(box, diameter_mm, length_mm, clearance_mm)), default=0)


def layouts_for(
    box: Box, diameter_mm: float, length_mm: float, wanted: int, clearance_mm: float = 0.0
) -> tuple[Layout, ...]:
    """Layouts that hold the wanted number of cells, the fewest spare places first, cut down to that number."""
    if wanted < 1:
        raise ValueError(f"{wanted} cells wanted; at least 1 is needed")
    enough = [layout for layout in layouts(box, diameter_mm, length_mm, clearance_mm) if layout.count >= wanted]
    enough.sort(key=lambda layout: (layout.count, layout.pattern, layout.axis))
    return tuple(replace(layout, positions_mm=layout.positions_mm[:wanted]) for layout in enough)


def _in_line(width_mm: float, size_mm: float, clearance_mm: float) -> int:
    return max(0, floor((width_mm + clearance_mm + ROUNDING_MM) / (size_mm + clearance_mm)))


def _rows(pattern: str, width_mm: float, depth_mm: float, diameter_mm: float, clearance_mm: float) -> tuple[int, ...]:
    full = _in_line(width_mm, diameter_mm, clearance_mm)
    if not full:
        return ()
    if pattern == "rectangular":
        return (full,) * _in_line(depth_mm, diameter_mm, clearance_mm)
    pitch = diameter_mm + clearance_mm
    if depth_mm + ROUNDING_MM < diameter_mm:
        return ()
    count = 1 + floor((depth_mm - diameter_mm + ROUNDING_MM) / (pitch * sqrt(3) / 2))
    shifted = _in_line(width_mm - pitch / 2, diameter_mm, clearance_mm)
    rows = [full if k % 2 == 0 else shifted for k in range(count)]
    return tuple(rows) if count > 1 and shifted else ()


def _placed(
    axis: int,
    row_axis: int,
    stack_axis: int,
    pattern: str,
    rows: tuple[int, ...],
    layers: int,
    diameter_mm: float,
    length_mm: float,
    clearance_mm: float,
) -> Layout:
    pitch = diameter_mm + clearance_mm
    height = pitch if pattern == "rectangular" else pitch * sqrt(3) / 2
    positions = []
    for layer in range(layers):
        for number, row in enumerate(rows):
            shift = pitch / 2 if pattern == "staggered" and number % 2 else 0.0
            for place in range(row):
                centre = [0.0, 0.0, 0.0]
                centre[axis] = length_mm / 2 + layer * (length_mm + clearance_mm)
                centre[row_axis] = diameter_mm / 2 + shift + place * pitch
                centre[stack_axis] = diameter_mm / 2 + number * height
                positions.append((centre[0], centre[1], centre[2]))
    names = AXES[axis], AXES[row_axis]
    return Layout(names[0], pattern, names[1], rows, layers, tuple(positions), diameter_mm, length_mm)


def draw(layout: Layout) -> str:
    """One layer seen along the cells, as text: a pair of brackets per cell, shifted rows shifted by half a cell.

    Places of the layer that hold no cell are dots.
    """
    per_layer = sum(layout.rows)
    here = min(per_layer, layout.count)
    words = f"{layout.count} cells along {layout.axis}, {layout.pattern}, rows along {layout.row_axis}"
    lines = [f"{words}, layers: {-(-layout.count // per_layer)}"]
    left = here
    for number, row in enumerate(layout.rows):
        shift = "  " if layout.pattern == "staggered" and number % 2 else ""
        filled = min(row, left)
        lines.append((shift + "(__)" * filled + " .. " * (row - filled)).rstrip())
        left -= filled
    return "\n".join(lines)
