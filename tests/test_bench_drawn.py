"""What was drawn bit by bit while keys came is what the screen would show if it were drawn whole."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from unittest.mock import patch

import pytest
from textual._compositor import Compositor
from textual.geometry import Region
from textual.widget import Widget

from tests.bench_walk import Walk, walk
from tests.test_bench_golden import BUILD, CHECKLIST, KEYS

WAYS: dict[str, tuple[str, ...]] = {
    "down and up the list": ("[", "down", "down", "down", "up", "end", "home", "pagedown"),
    "readings taken, refused and dropped": ("[", "down", "down", "1", "2", "enter", "x", "enter", "escape", "3", "enter"),
    "a choice and the step after": ("[", "[", "down", "1", "enter", "]", "down", "enter", "escape"),
    "panel and why": ("[", "f2", "down", "down", "enter", "escape", "escape", "u"),
    "other places and back": ("f5", "down", "down", "f4", "f4", "f3", "4", "escape"),
    "a table": ("up", "enter", "down", "right", "3", "enter", "escape"),
}


class Paper:
    """The cells of the screen as they were drawn last."""

    def __init__(self) -> None:
        self.rows: list[list[str]] = []

    def draw(self, compositor: Compositor, regions: list[Region]) -> None:
        """Take the cells of these regions from what the widgets show now."""
        now = cells(compositor)
        if len(now) != len(self.rows) or any(len(a) != len(b) for a, b in zip(now, self.rows, strict=True)):
            self.rows = now
            return
        for region in regions:
            for y in range(max(0, region.y), min(region.bottom, len(now))):
                self.rows[y][region.x : region.right] = now[y][region.x : region.right]


def cells(compositor: Compositor) -> list[list[str]]:
    """Every cell with its style: a colour that was not drawn anew is as wrong as a letter."""
    return [
        [f"{letter}{segment.style}" for segment in strip for letter in segment.text]
        for strip in compositor.render_strips()
    ]


@contextmanager
def paper_of() -> Iterator[Paper]:
    """Note what is drawn of the screen on top."""
    paper = Paper()
    partly, wholly = Compositor.render_partial_update, Compositor.render_full_update

    def render_partial_update(self: Compositor) -> object:
        regions = list(self._dirty_regions)
        drawn = partly(self)
        paper.draw(self, regions)
        return drawn

    def render_full_update(self: Compositor, simplify: bool = False) -> object:
        drawn = wholly(self, simplify)
        paper.draw(self, [self.size.region])
        return drawn

    with patch.object(Compositor, "render_partial_update", render_partial_update), \
            patch.object(Compositor, "render_full_update", render_full_update):
        yield paper


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
@pytest.mark.parametrize("way", WAYS)
def test_nothing_old_is_left_on_the_screen(way: str, size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> int:
        changed = 0
        with paper_of() as paper:
            w.app.screen.refresh(layout=True)
            await w.pilot.pause()
            for key in WAYS[way]:
                before = [list(row) for row in paper.rows]
                await w.press(KEYS.get(key, key))
                for widget in w.app.screen.walk_children(Widget, with_self=True):
                    widget._styles_cache.clear()  # else rows kept by Textual would be compared with themselves
                whole = cells(w.app.screen._compositor)
                differ = [y for y, (drawn, now) in enumerate(zip(paper.rows, whole, strict=True)) if drawn != now]
                assert not differ, f"after {key}, rows {differ} were not drawn anew"
                changed += before != paper.rows
        return changed

    assert walk(steps, BUILD, CHECKLIST, size=size) >= len(WAYS[way]) // 2  # the keys did something at all
