"""A page to read, over whatever was there: long texts, help."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from buildtrack.bench.plain import plain
from buildtrack.bench.widgets.line_text import Line
from buildtrack.bench.widgets.lines import LineList

PAGE_CSS = """
{name} {{ align: center middle; background: $background 70%; }}
{name} > Vertical {{ width: 94; max-width: 96%; height: 92%; background: $surface; padding: 1 2; }}
{name} > Vertical {{ border-left: outer $primary; }}
{name}.-whole > Vertical {{ width: 96%; }}
{name}.-narrow > Vertical {{ width: 100%; max-width: 100%; height: 100%; max-height: 100%; }}
{name} .page-title {{ height: 1; text-style: bold; color: $primary; }}
{name} .page-keys {{ height: 1; color: $foreground 75%; }}
{name} LineList {{ height: 1fr; margin: 1 0; }}
"""
WIDE_PAGE = 100
"""From so many cells on a page does not fill the screen."""
PAGE_BREAKPOINTS = [(0, "-narrow"), (WIDE_PAGE, "-wide")]
"""A page fills a narrow screen, and lies over a wide one."""


class ReadOn(ModalScreen[None]):
    """Lines to read; Esc, Enter or q closes."""

    CSS = PAGE_CSS.format(name="ReadOn")
    HORIZONTAL_BREAKPOINTS = PAGE_BREAKPOINTS
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,q,enter,f1", "leave", "close", show=False)]

    def __init__(self, title: str, lines: Sequence[Line]) -> None:
        super().__init__()
        self.title_text, self.lines = title, lines

    def compose(self) -> ComposeResult:
        """Title, lines, keys."""
        with Vertical():
            yield Static(plain(self.title_text), markup=False, classes="page-title")
            yield LineList(self.lines, gutter=False)
            yield Static("↑ ↓ Page: read on    Esc: close", markup=False, classes="page-keys")

    def action_leave(self) -> None:
        """Close."""
        self.dismiss(None)
