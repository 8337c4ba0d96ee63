"""A table for fast entry: the first column stays, the others page sideways, one field is current."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.reactive import reactive
from textual.strip import Strip

from buildtrack.bench.plain import fit, pad, plain
from buildtrack.bench.widgets.inks import INKS, Ink, Inked

HEAD_ROWS = 2
GAP = 2


@dataclass(frozen=True, slots=True)
class GridColumn:
    """One column: short head, unit under it, whether numbers stand to the right."""

    id: str
    head: str
    unit: str = ""
    right: bool = False
    least: int = 4
    most: int = 16


@dataclass(frozen=True, slots=True)
class GridRow:
    """One row: its name, a sign with its look, and the texts with their looks."""

    id: str
    sign: str
    sign_look: str
    cells: tuple[tuple[str, str], ...]


class Grid(Inked, can_focus=True):
    """Rows and columns with a current field."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1, 0)", show=False),
        Binding("down", "move(1, 0)", show=False),
        Binding("left", "move(0, -1)", show=False),
        Binding("right", "move(0, 1)", show=False),
        Binding("pageup", "move(-8, 0)", show=False),
        Binding("pagedown", "move(8, 0)", show=False),
        Binding("home", "edge(-1)", show=False),
        Binding("end", "edge(1)", show=False),
        Binding("enter", "enter", show=False),
    ]
    DEFAULT_CSS = "Grid { height: 1fr; width: 1fr; }"
    INKS = {**INKS, "accent": Ink("accent", bold=True), "row": Ink("foreground", 0.06),
            "field": Ink("foreground", 0.12), "open field": Ink("primary", 0.22)}
    columns: reactive[tuple[GridColumn, ...]] = reactive(())
    """The columns beside the name."""
    rows: reactive[tuple[GridRow, ...]] = reactive(())
    """The rows."""
    at: reactive[tuple[int, int]] = reactive((0, 0))
    """Row and column of the current field."""
    top: reactive[int] = reactive(0)
    """First row shown."""
    first: reactive[int] = reactive(0)
    """First column shown."""

    @dataclass
    class Moved(Message):
        """Another field is current."""

        grid: Grid

    @dataclass
    class Entered(Message):
        """The current field is to be filled."""

        grid: Grid

    @dataclass
    class Pasted(Message):
        """Text was pasted onto the table."""

        grid: Grid
        text: str

    def show(self, columns: tuple[GridColumn, ...], rows: tuple[GridRow, ...]) -> None:
        """Show these rows; the current field stays where it is, as far as it can."""
        self.columns, self.rows = columns, rows
        self.at = self._inside(*self.at)
        self._keep_in_sight()

    @property
    def row_id(self) -> str:
        """Name of the current row."""
        return self.rows[self.at[0]].id if self.rows else ""

    @property
    def column_id(self) -> str:
        """Name of the current column."""
        return self.columns[self.at[1]].id if self.columns else ""

    def _inside(self, row: int, column: int) -> tuple[int, int]:
        return max(0, min(row, len(self.rows) - 1)), max(0, min(column, len(self.columns) - 1))

    def go(self, row: int, column: int) -> None:
        """Make another field the current one."""
        found = self._inside(row, column)
        if found != self.at:
            self.at = found
            self._keep_in_sight()
            self.post_message(self.Moved(self))

    def action_move(self, rows: int, columns: int) -> None:
        """Move by rows and columns."""
        self.go(self.at[0] + rows, self.at[1] + columns)

    def action_edge(self, direction: int) -> None:
        """To the first or last column."""
        self.go(self.at[0], 0 if direction < 0 else len(self.columns) - 1)

    def action_enter(self) -> None:
        """Fill the current field, or begin a table that has no row yet."""
        self.post_message(self.Entered(self))

    def on_paste(self, event: events.Paste) -> None:
        """Pasted text fills fields."""
        event.stop()
        self.post_message(self.Pasted(self, event.text))

    # -- layout ------------------------------------------------------------------------------------------------------

    def width_of(self, number: int) -> int:
        """Width of one column: its longest text within its bounds."""
        column = self.columns[number]
        longest = max((cell_len(row.cells[number][0]) for row in self.rows), default=0)
        return max(column.least, min(column.most, max(longest, cell_len(column.head), cell_len(column.unit))))

    @property
    def name_width(self) -> int:
        """Width of the names with their signs."""
        return min(18, max((cell_len(row.id) for row in self.rows), default=3)) + 4

    def shown(self) -> list[tuple[int, int, int]]:
        """The columns that fit from the first shown: number, x, width."""
        found: list[tuple[int, int, int]] = []
        x = self.name_width
        whole = x + sum(self.width_of(n) + GAP for n in range(len(self.columns))) - GAP
        limit = self.size.width - (1 if self.first == 0 and whole < self.size.width else 7)
        for number in range(self.first, len(self.columns)):
            width = self.width_of(number)
            if found and x + width > limit:
                break
            found.append((number, x, min(width, max(1, self.size.width - x - 2))))
            x += width + GAP
        return found

    def _keep_in_sight(self) -> None:
        height = max(1, self.size.height - HEAD_ROWS)
        row, column = self.at
        self.top = max(0, min(max(min(self.top, row), row - height + 1), max(0, len(self.rows) - height)))
        self.first = min(self.first, column, max(0, len(self.columns) - 1))
        while self.columns and self.first < column and column not in {n for n, _, _ in self.shown()}:
            self.first += 1

    def on_resize(self) -> None:
        """Keep the current field in sight."""
        self.first = 0
        self._keep_in_sight()

    # -- drawing -----------------------------------------------------------------------------------------------------

    def render_line(self, y: int) -> Strip:
        """Head, units, or one row."""
        width, base = self.size.width, self.ground()
        if y < HEAD_ROWS:
            return Strip(self._head(y, base)).adjust_cell_length(width, base)
        number = self.top + y - HEAD_ROWS
        if number >= len(self.rows):
            return Strip.blank(width, base)
        over = base
        if number == self.at[0]:
            over = base + self.wash("row")
        return Strip(self._row(self.rows[number], number == self.at[0], over)).adjust_cell_length(width, over)

    def _head(self, y: int, base: Style) -> list[Segment]:
        shown = self.shown()
        before, after = self.first, len(self.columns) - (shown[-1][0] + 1 if shown else 0)
        name = f"← {before}" if y == 0 and before else ""
        segments = [Segment(pad(name, self.name_width), base + self.ink("accent"))]
        at = self.name_width
        for number, x, width in shown:
            column = self.columns[number]
            text = fit(column.head if y == 0 else column.unit, width)
            placed = f"{text:>{width}}" if column.right else pad(text, width)
            look = "accent" if number == self.at[1] and y == 0 else "head" if y == 0 else "muted"
            segments.append(Segment(" " * (x - at) + placed, base + self.ink(look)))
            at = x + width
        if y == 0 and after:
            more = f"{after} →"
            segments.append(
                Segment(" " * max(1, self.size.width - at - cell_len(more)) + more, base + self.ink("accent"))
            )
        return segments

    def _row(self, row: GridRow, is_current: bool, over: Style) -> list[Segment]:
        mark = "▸" if is_current else " "
        segments = [
            Segment(f"{mark}{row.sign} ", over + self.ink(row.sign_look)),
            Segment(pad(plain(row.id), self.name_width - 3), over + self.ink("head" if is_current else "plain")),
        ]
        at = self.name_width
        field = self.wash("open field" if self.has_focus else "field")
        for number, x, width in self.shown():
            text, look = row.cells[number]
            shown = fit(plain(text), width)
            placed = (
                f"{shown:>{width}}" if self.columns[number].right and cell_len(shown) <= width else pad(shown, width)
            )
            style = over + self.ink(look)
            segments.append(Segment(" " * (x - at), over))
            segments.append(Segment(placed, style + field if is_current and number == self.at[1] else style))
            at = x + width
        return segments

    def on_click(self, event: events.Click) -> None:
        """A click makes a field current; a click on the current one fills it."""
        offset = event.get_content_offset(self)
        if offset is None or offset.y < HEAD_ROWS or self.top + offset.y - HEAD_ROWS >= len(self.rows):
            return
        column = next((n for n, x, w in self.shown() if offset.x < x + w + 1), self.at[1])
        place = (self.top + offset.y - HEAD_ROWS, column)
        if place == self.at:
            self.action_enter()
        self.go(*place)

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """The wheel moves by rows."""
        self.action_move(1, 0)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """The wheel moves by rows."""
        self.action_move(-1, 0)
