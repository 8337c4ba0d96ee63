"""What was drawn bit by bit while keys came is what the screen would show if it were drawn whole."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from unittest.mock import patch

import pytest
from rich.console import RenderableType
from rich.segment import Segment
from textual._compositor import ChopsUpdate, Compositor, LayoutUpdate
from textual.screen import Screen
from textual.widget import Widget

from buildtrack.bench.app import BuildtrackApp
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
    """The cells of the screen as they were last sent to the terminal."""

    def __init__(self) -> None:
        self.rows: list[list[str]] = []

    def take(self, update: object) -> None:
        """Take what is sent: a whole screen, or parts of it, every cell of which is there."""
        if isinstance(update, LayoutUpdate):
            self.rows = [[letter for strip in row for letter in letters(strip)] for row in update.strips]
        elif isinstance(update, ChopsUpdate):
            for y, start, end in update.spans:
                drawn = {}
                for x, strip in update.chops[y].items():
                    drawn.update({x + n: letter for n, letter in enumerate(letters(strip or ()))})
                self.rows[y][start:end] = [drawn[x] for x in range(start, end)]


def cells(compositor: Compositor) -> list[list[str]]:
    """Every cell with its style: a colour that was not drawn anew is as wrong as a letter."""
    return [letters(strip) for strip in compositor.render_strips()]


def letters(strip: Iterable[Segment]) -> list[str]:
    """The cells of a strip."""
    return [f"{letter}{segment.style}" for segment in strip for letter in segment.text]


@contextmanager
def paper_of() -> Iterator[Paper]:
    """Note what is drawn of the screen on top."""
    paper, display = Paper(), BuildtrackApp._display

    def _display(self: BuildtrackApp, screen: Screen[object], update: RenderableType | None) -> None:
        if not self._batch_count:  # Textual sends nothing then
            paper.take(update)
        display(self, screen, update)

    with patch.object(BuildtrackApp, "_display", _display):
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
