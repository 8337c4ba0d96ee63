"""What a table of the bench shows: its rows, the current field, what it means; moving about in it."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from buildtrack.bench import rows, words
from buildtrack.bench.commands import Situation, bindings
from buildtrack.bench.meaning import meaning_lines
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.place import Place
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.grid import Grid
from buildtrack.bench.widgets.head import Head, KeyLine
from buildtrack.bench.widgets.lines import LineList, Piece
from buildtrack.model.checklist import Column, Item


class TableView(Place):
    """One table of the bench, looked at; entering is added by its subclasses."""

    PLACE = "table"
    BINDINGS: ClassVar[list[BindingType]] = bindings("table")
    AUTO_FOCUS = "#grid"
    CSS_PATH = "table.tcss"

    def __init__(self, item: str) -> None:
        super().__init__()
        self.item_id = item
        self.sorted_by = ""
        self.backwards = False
        self.draft_at: tuple[str, str] = ("", "")
        """Field whose refused text stands in the field."""

    def compose(self) -> ComposeResult:
        """Head; table over the field, meaning beside; what happened; keys."""
        yield Head()
        with Horizontal(id="body"):
            with Vertical(id="middle"):
                yield Static("", markup=False, id="table-head")
                yield Grid(id="grid")
                with Vertical(id="entry"):
                    yield Static("", markup=False, id="column-head")
                    yield Static("", markup=False, id="column-facts")
                    with Horizontal(id="entry-line"):
                        yield Static("› ", id="entry-sign")
                        yield Field(id="field")
                        yield Static("", markup=False, id="column-unit")
                    yield Static("", markup=False, id="message")
            yield LineList(id="meaning")
        yield Static("", markup=False, id="notice")
        yield KeyLine()

    def on_mount(self) -> None:
        """Show the table at its first empty field."""
        self.say("")
        self.redraw()
        self._to_first_empty()
        self.redraw()

    # -- what is shown -----------------------------------------------------------------------------------------------

    @property
    def item(self) -> Item:
        """The table item."""
        return self.desk.checklist.items[self.item_id]

    @property
    def grid(self) -> Grid:
        """The table."""
        return self.query_one(Grid)

    @property
    def field(self) -> Field:
        """The field."""
        return self.query_one("#field", Field)

    @property
    def columns(self) -> tuple[Column, ...]:
        """The columns that apply."""
        return rows.columns_of(self.item, self.desk)

    @property
    def column(self) -> Column | None:
        """The current column."""
        return self.item.column(self.grid.column_id)

    def names(self) -> list[str]:
        """Names of the rows in the order shown."""
        found = rows.row_names(self.item, self.desk)
        column = self.item.column(self.sorted_by)
        if column is not None:
            entry = self.desk.build.entry(self.item_id)
            found.sort(key=lambda n: rows.sort_key(column, entry.row(n)), reverse=self.backwards)
        return found

    def situation(self) -> Situation:
        """Where the person is now."""
        desk = self.desk
        return Situation(
            place="table",
            kind="table",
            need=self.item.need,
            answered=bool(desk.build.entry(self.item_id).rows),
            refused=desk.refusal(self.item),
            read_only=bool(desk.refusal()),
            can_undo=desk.can_undo,
            can_redo=desk.can_redo,
            unsaved=desk.unsaved,
            changed_outside=self.program.outside.changed,
            rejectable=self.item.column("decision") is not None,
        )

    def redraw(self) -> None:
        """Show everything anew."""
        columns, names = self.columns, self.names()
        self.grid.show(rows.grid_columns(columns), rows.grid_rows(self.item, self.desk, columns, names))
        self.query_one("#table-head", Static).update(self._head_words())
        step = self.desk.checklist.step(self.item.step)
        if step is not None:
            self.query_one("#meaning", LineList).show(meaning_lines(self.desk, step, self.item, False))
        self._show_field()
        super().redraw()

    def _head_words(self) -> str:
        parts = [plain(self.item.label), words.table_text(self.item, self.desk).partition(" · columns")[0]]
        if self.sorted_by:
            parts.append(f"sorted by {self.sorted_by.replace('_', ' ')}")
        if not self.names():
            parts.append("a adds the first row")
        return " · ".join(parts)

    def _show_field(self) -> None:
        column, row = self.column, self.grid.row_id
        self.query_one("#entry").display = bool(row) and column is not None
        if column is None or not row:
            return
        self.query_one("#column-head", Static).update(plain(f"{row} · {column.label}"))
        self.query_one("#column-facts", Static).update(plain(self._facts(column, row)))
        self.query_one("#column-unit", Static).update(column.unit)
        refused = self.desk.refusal(self.item)
        self.query_one("#entry-line").display = not refused
        if refused:
            self.tell(refused)

    def _facts(self, column: Column, row: str) -> str:
        parts = []
        if column.kind == "choice":
            parts.append("  ".join(f"{n} {o.label}" for n, o in enumerate(column.options, 1)))
        if column.kind == "tick":
            parts.append("y yes  n no")
        if column.kind == "date":
            parts.append("like 2026-11-25")
        parts.append(words.usual_text(column))
        past = next((r for r in self.desk.build.entry(self.item_id).expected_rows if r.id == row), None)
        if past is not None and past.text(column.id):
            parts.append(f"in the past build: {past.text(column.id)}")
        present = self.desk.build.entry(self.item_id).row(row)
        cell = present.cells.get(column.id) if present is not None else None
        if cell is not None and cell.text:
            parts.append(
                " ".join(p for p in (cell.value_class, f"with {cell.instrument}" if cell.instrument else "") if p)
            )
        elif column.kind == "reading" and (meter := self.instrument_for(column)):
            parts.append(f"with {meter}")
        parts.append(column.why)
        return " · ".join(p for p in parts if p)

    def instrument_for(self, column: Column) -> str:
        """The instrument for a column, chosen once per step."""
        chosen = self.program.instruments.get((self.item.step, column.dimension))
        step = self.desk.checklist.step(self.item.step)
        if chosen is not None or step is None:
            return chosen or ""
        return words.last_instrument(self.desk, step, column.dimension)

    def where(self) -> tuple[tuple[Piece, str], ...]:
        """The step in words."""
        step = self.desk.checklist.step(self.item.step)
        return ((Piece(f"{plain(step.title) if step else ''} › {plain(self.item.label)}", "plain"), ""),)

    def tell(self, text: str, look: str = "") -> None:
        """Say something under the field."""
        message = self.query_one("#message", Static)
        message.update(plain(text))
        message.display = bool(text)
        message.set_class(look == "ask", "-ask")

    @property
    def told(self) -> str:
        """What is said under the field."""
        return str(self.query_one("#message", Static).content)

    # -- moving ------------------------------------------------------------------------------------------------------

    def _to_first_empty(self) -> None:
        entry, columns = self.desk.build.entry(self.item_id), self.columns
        for number, name in enumerate(self.names()):
            row = entry.row(name)
            for place, column in enumerate(columns):
                if column.required and (row is None or not row.text(column.id)):
                    self.grid.go(number, place)
                    return

    @on(Grid.Moved)
    def _moved(self) -> None:
        if self.draft_at != (self.grid.row_id, self.grid.column_id):
            self.field.put("")
            self.tell("")
        self._show_field()
        self.refresh_keys()

    @on(Grid.Entered)
    def _entered(self) -> None:
        self.begin()

    def begin(self, typed: str | None = None) -> None:
        """Begin to fill the current field: with a typed character, or with what stands there."""
        column = self.column
        if column is None or not self.grid.row_id:
            return
        if refused := self.desk.refusal(self.item):
            self.tell(refused)
            return
        row = self.desk.build.entry(self.item_id).row(self.grid.row_id)
        present = row.text(column.id) if row else ""
        if typed is None and self.draft_at == (self.grid.row_id, self.grid.column_id) and self.field.value:
            present = self.field.value
        self.field.put(present if typed is None else typed)
        self.set_focus(self.field)

    @on(Field.Left)
    def _left(self, event: Field.Left) -> None:
        self.draft_at = (self.grid.row_id, self.grid.column_id) if event.field.value else ("", "")
        self.set_focus(self.grid)
        if event.direction:
            self.grid.action_move(event.direction, 0)

    def _is_empty(self, row: int, column: int) -> bool:
        found = self.desk.build.entry(self.item_id).row(self.names()[row])
        return found is None or not found.text(self.columns[column].id)

    def _next_field(self) -> None:
        """Go to the next empty field: down a column in narrow tables, along the row in wide ones."""
        down = len([c for c in self.columns if c.kind != "text"]) <= 2
        row, column = self.grid.at
        here = (column, row) if down else (row, column)
        places = [(r, c) for r in range(len(self.grid.rows)) for c in range(len(self.columns))]
        after = sorted((c, r) if down else (r, c) for r, c in places)
        waiting = (place[::-1] if down else place for place in after if place > here)
        following = next((place for place in waiting if self._is_empty(*place)), None)
        if following is not None:
            self.grid.go(*following)
        else:
            self.say("That was the last field." + ("" if self.item.rows_from else " a adds a row; Esc goes back."))
