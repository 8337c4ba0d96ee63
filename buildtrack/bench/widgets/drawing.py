"""How a screen is drawn: of every widget only what is drawn anew and seen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from textual._compositor import ChopsUpdate, Compositor
from textual.geometry import Region
from textual.strip import Strip


class DirtyOnly(Compositor):
    """Asks widgets for no more rows than it draws.

    Textual 8.2 asks every widget of the screen for all its rows, also those that others cover, and drops what was not
    to be drawn anew: three quarters of the time of drawing what Enter changes.
    """

    _wanted: Sequence[Region] | None = None
    """What the next drawing is to draw: runs of rows, each as wide as what has changed in it; None for all."""

    def render_partial_update(self) -> ChopsUpdate | None:
        """The parts of the screen that have changed."""
        if not self._dirty_regions:
            return None
        self._wanted = list(_runs(self._dirty_regions))
        return super().render_partial_update()

    def _get_renders(self, crop: Region | None = None) -> Iterable[tuple[Region, Region, list[Strip]]]:
        wanted, self._wanted = self._wanted, None
        open_ = [self.size.region] if wanted is None else wanted
        for widget, (region, clip) in self.visible_widgets.items():  # those in front first
            seen = region.intersection(clip)
            left: list[Region] = []
            for part in open_:
                if not seen.overlaps(part):
                    left.append(part)
                    continue
                rows = seen.intersection(Region(seen.x, part.y, seen.width, part.height))
                yield region, rows, widget.render_lines(rows.translate(-region.offset))
                if not rows.contains_region(part):
                    left.append(part)
            open_ = left


def _runs(regions: Iterable[Region]) -> Iterator[Region]:
    """What has changed, as runs of rows that have changed from the same to the same column."""
    spans: dict[int, tuple[int, int]] = {}
    for region in regions:
        for y in range(region.y, region.bottom):
            start, end = spans.get(y, (region.x, region.right))
            spans[y] = min(start, region.x), max(end, region.right)
    run: Region | None = None
    for y, (start, end) in sorted(spans.items()):
        if run is not None and run.bottom == y and run.column_span == (start, end):
            run = run.grow((0, 0, 1, 0))
            continue
        if run is not None:
            yield run
        run = Region(start, y, end - start, 1)
    if run is not None:
        yield run
