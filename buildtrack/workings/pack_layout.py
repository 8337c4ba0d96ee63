"""How the cells of the pack lie in the housing."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics import fit
from buildtrack.physics.fit import Box, Layout

USUAL_DIAMETER_M = 0.0185
USUAL_LENGTH_M = 0.0655
"""A wrapped 18650 where none was measured (makers' sheets: 18.3 to 18.6 mm by 65.2 mm)."""
AROUND_MM = 2.0
"""Room taken off every axis: 1 mm on each side (common practice, no source)."""
BETWEEN_MM = 0.5
"""Room between cells for insulation: common practice, no source."""
SHOWN = 4
ALONG = {"x": "length", "y": "width", "z": "height"}


@dataclass(frozen=True, slots=True)
class PackLayout:
    """The layouts that hold all cells of the pack, the tightest first."""

    wanted: int
    most: int
    """Most cells that any of the layouts holds."""
    layouts: tuple[Layout, ...]
    free_mm: tuple[float, float, float]

    @property
    def fits(self) -> bool:
        """Whether all cells find a place."""
        return bool(self.layouts)

    @property
    def drawing(self) -> str:
        """The tightest layout as text, one layer seen along the cells; empty where none fits."""
        return fit.draw(self.layouts[0]) if self.layouts else ""

    @property
    def summary(self) -> str:
        """The whole in one line."""
        space = " × ".join(f"{side:.4g}" for side in self.free_mm)
        if not self.layouts:
            does = "does" if self.wanted == 1 else "do"
            return f"{units.counted(self.wanted, 'cell')} {does} not fit: at most {self.most} lie in {space} mm"
        first = self.layouts[0]
        cells = f"{units.counted(self.wanted, 'cell')} {'fits' if self.wanted == 1 else 'fit'}"
        return f"{cells} in {space} mm, {first.pattern}, along the {ALONG[first.axis]}"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("cells along", "pattern", "rows along", "cells per row", "layers", "places")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per layout."""
        return tuple((
            ALONG[found.axis], found.pattern, ALONG[found.row_axis], " ".join(str(row) for row in found.rows),
            str(found.layers), str(sum(found.rows) * found.layers)) for found in self.layouts)


def housing_box(length_m: float, width_m: float, height_m: float) -> Box:
    """The inside of the housing with the room around the cells taken off."""
    return Box(length_m * 1000, width_m * 1000, height_m * 1000, AROUND_MM, AROUND_MM, AROUND_MM)


def layout(housing_length: float, housing_width: float, housing_height: float, series_count: float,
           parallel_count: float, cell_diameter: float = USUAL_DIAMETER_M,
           cell_length: float = USUAL_LENGTH_M) -> PackLayout:
    """Layouts of the pack's cells in the free inside of the housing, along all three axes."""
    box = housing_box(housing_length, housing_width, housing_height)
    size = (cell_diameter * 1000, cell_length * 1000)
    wanted = int(series_count * parallel_count)
    if min(box.x_mm, box.y_mm, box.z_mm) <= AROUND_MM:
        raise ValueError(f"The housing is {units.show(min(housing_length, housing_width, housing_height), 'mm')} "
                         "inside at its narrowest; nothing is left for cells.")
    found = fit.layouts_for(box, *size, wanted, BETWEEN_MM)
    return PackLayout(wanted, fit.most_cells(box, *size, BETWEEN_MM), found[:SHOWN], box.free_mm())
