"""Two builds side by side, to be gone through: from difference to difference, or only these; a row in full."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from buildtrack.bench.compare_view import side_by_side, whole
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.help import keys_page
from buildtrack.bench.screens.reading import PAGE_BREAKPOINTS, PAGE_CSS, WIDE_PAGE, ReadOn
from buildtrack.bench.shelf_list import Compared
from buildtrack.bench.widgets.lines import LineList

KEYS = (
    ("x", "Go to the next row that differs; after the last one to the first."),
    ("d", "Show only the rows that differ; again shows all."),
    ("Enter", "Read both values of the row in full."),
    ("↑ ↓ Page", "Move from row to row, or by a page."),
    ("Esc", "Back to the shelf."),
)
SIGNS = (("≠", "what the two builds say otherwise, or only one of them says"),)


class Comparison(ModalScreen[None]):
    """What two builds say, row by row."""

    CSS = PAGE_CSS.format(name="Comparison")
    HORIZONTAL_BREAKPOINTS = PAGE_BREAKPOINTS
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q", "leave", "close", show=False),
        Binding("x", "next_difference", "next difference", show=False),
        Binding("d", "only_differing", "only what differs", show=False),
        Binding("f1,question_mark", "explain", "help", show=False),
    ]

    def __init__(self, rows: Sequence[Compared]) -> None:
        super().__init__(classes="-whole")
        self.rows = rows
        self.only = False
        """Whether only what differs is shown."""

    def compose(self) -> ComposeResult:
        """Title, rows, keys."""
        with Vertical():
            yield Static("Side by side; ≠ marks what differs", markup=False, classes="page-title")
            yield LineList(id="compared")
            yield Static("", markup=False, classes="page-keys")

    def on_resize(self) -> None:
        """Another width breaks the values otherwise."""
        self.call_after_refresh(self._show)

    def _show(self) -> None:
        width = self.size.width if self.size.width < WIDE_PAGE else self.size.width * 96 // 100
        self._list.show(list(side_by_side(self.rows, width - 10, self.only)))
        every = "d: all rows" if self.only else "d: only what differs"
        self.query_one(".page-keys", Static).update(f"x: next difference   {every}   Enter: in full   F1   Esc")

    @property
    def _list(self) -> LineList:
        return self.query_one(LineList)

    def _row(self, key: str) -> Compared | None:
        _, _, number = key.partition(":")
        return self.rows[int(number)] if number else None

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        row = self._row(event.key)
        if row is not None:
            title = self.rows[0]
            self.app.push_screen(ReadOn(row.label, whole(row, (plain(title.first), plain(title.second)))))

    def action_next_difference(self) -> None:
        """Go to the next row that differs; after the last one to the first."""
        keys = [each.key for each in self._list.lines]
        apart = [n for n, key in enumerate(keys) if (row := self._row(key)) is not None and row.differs]
        if apart:
            following = next((n for n in apart if n > self._list.current), apart[0])
            self._list.select(keys[following])
            further = next((n for n, key in enumerate(keys[following + 1 :]) if key), len(keys) - following - 1)
            self._list.reach(keys[following], further)

    def action_only_differing(self) -> None:
        """Only the rows that differ, or all."""
        self.only = not self.only
        self._show()

    def action_explain(self) -> None:
        """Every key of this page."""
        self.app.push_screen(ReadOn("Help", keys_page("Side by side", KEYS, SIGNS, self.size.width - 8)))

    def action_leave(self) -> None:
        """Close."""
        self.dismiss(None)
