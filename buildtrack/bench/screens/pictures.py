"""The pictures of a build, one at a time; the numbers stand beside."""

from __future__ import annotations

from typing import ClassVar, cast

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.pictures import PICTURES
from buildtrack.bench.screens.why import Why
from buildtrack.bench.widgets.lines import LineList

FIRST = {"cells": 2, "wire": 3, "alarm": 1, "discharge": 0, "charge": 4, "aftercare": 5}
"""Which picture a step begins with."""


class Pictures(ModalScreen[None]):
    """One picture after the other: left and right, or their numbers."""

    CSS = """
    Pictures { background: $background; }
    Pictures > Vertical { background: $surface; padding: 1 2; }
    Pictures .page-title { height: 1; text-style: bold; color: $primary; }
    Pictures .page-keys { height: 1; color: $foreground 75%; }
    Pictures LineList { height: 1fr; margin: 1 0; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q", "leave", "close", show=False),
        Binding("right,space", "turn(1)", "next", show=False),
        Binding("left", "turn(-1)", "previous", show=False),
        *(Binding(str(n + 1), f"go({n})", show=False) for n in range(len(PICTURES))),
    ]

    def __init__(self, step: str = "") -> None:
        super().__init__()
        self.number = FIRST.get(step, 0)

    def compose(self) -> ComposeResult:
        """Title, picture, keys."""
        with Vertical():
            yield Static("", markup=False, classes="page-title")
            yield LineList(gutter=False, id="picture")
            yield Static("", markup=False, classes="page-keys")

    def on_mount(self) -> None:
        """Show the first."""
        self.query_one(LineList).focus()

    def on_resize(self) -> None:
        """Draw for the new size."""
        self.call_after_refresh(self._show)

    def _show(self) -> None:
        desk = cast("BuildtrackApp", self.app).desk
        picture = self.query_one(LineList)
        width, height = picture.size.width - 1, picture.size.height
        if desk is None or width < 20:
            return
        _, title, drawing = PICTURES[self.number]
        self.query_one(".page-title", Static).update(title)
        marks = ("▸" if n == self.number else " " for n in range(len(PICTURES)))
        names = (f"{mark}{n} {name}" for n, (mark, (name, _, _)) in enumerate(zip(marks, PICTURES, strict=True), 1))
        self.query_one(".page-keys", Static).update(f"{'  '.join(names)}   Esc")
        picture.show(list(drawing(desk.judged, width, max(8, min(22, height - 8)))), "")

    def action_turn(self, direction: int) -> None:
        """The next or previous picture."""
        self.action_go((self.number + direction) % len(PICTURES))

    def action_go(self, number: int) -> None:
        """Show one picture."""
        self.number = number
        self.query_one(LineList).top = 0
        self._show()

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        kind, _, name = event.key.partition(":")
        if kind == "working":
            self.app.push_screen(Why(kind, name))

    def action_leave(self) -> None:
        """Close."""
        self.dismiss(None)
