"""A table item, filled field by field: Enter takes a text and goes on to the next field."""

from __future__ import annotations

from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Input, Static

from buildtrack.bench import rows, words
from buildtrack.bench.commands import Situation, bindings
from buildtrack.bench.desk import Edit
from buildtrack.bench.entry import CONFIRMED, try_column
from buildtrack.bench.meaning import meaning_lines
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.place import Place
from buildtrack.bench.screens.why import Why
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.grid import Grid
from buildtrack.bench.widgets.head import Head, KeyLine
from buildtrack.bench.widgets.lines import LineList, Piece
from buildtrack.model.checklist import Column, Item
from buildtrack.model.edit import EditError, delete_row


class TableScreen(Place):
    """One table of the bench."""

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
        self.field.focus()

    def on_key(self, event: events.Key) -> None:
        """On the table a digit begins a field, or chooses an option; y and n answer a tick."""
        column, typed = self.column, event.character or ""
        if self.focused is not self.grid or column is None or len(typed) != 1 or not self.grid.row_id:
            return
        if column.kind in ("reading", "date") and typed in "0123456789.,-+":
            event.stop()
            self.begin(typed)
        elif (column.kind == "choice" and typed in "123456789") or (column.kind == "tick" and typed in "yn"):
            event.stop()
            self.enter(typed)

    @on(Field.Left)
    def _left(self, event: Field.Left) -> None:
        self.draft_at = (self.grid.row_id, self.grid.column_id) if event.field.value else ("", "")
        self.grid.focus()
        if event.direction:
            self.grid.action_move(event.direction, 0)

    def _next_field(self) -> None:
        row, column = self.grid.at
        down = len([c for c in self.columns if c.kind != "text"]) <= 2
        if down and row + 1 < len(self.grid.rows):
            self.grid.go(row + 1, column)
        elif not down and column + 1 < len(self.columns):
            self.grid.go(row, column + 1)
        elif down and column + 1 < len(self.columns):
            self.grid.go(0, column + 1)
        elif row + 1 < len(self.grid.rows):
            self.grid.go(row + 1, 0)
        else:
            self.say("That was the last field." + ("" if self.item.rows_from else " a adds a row; Esc goes back."))

    # -- entering ----------------------------------------------------------------------------------------------------

    @on(Input.Submitted, "#field")
    def _submitted(self, event: Input.Submitted) -> None:
        self.enter(event.value)

    @on(Input.Changed, "#field")
    def _changed(self) -> None:
        if self.told and self.focused is self.field:
            self.tell("")

    def enter(self, text: str) -> None:
        """Take a text for the current field, refuse it with a sentence, or ask once where it is unusual."""
        column, row = self.column, self.grid.row_id
        if column is None or not row:
            return
        if refused := self.desk.refusal(self.item):
            self.tell(refused)
            return
        tried = try_column(column, text)
        if tried.refused:
            self.draft_at = (row, column.id)
            self.tell(tried.refused)
        elif tried.unusual:
            self._ask_unusual(row, column, tried.text, tried.unusual)
        else:
            self._take(rows.Placed(row, column, tried.text))

    def _ask_unusual(self, row: str, column: Column, text: str, sentence: str) -> None:
        def answered(reason: str | None) -> None:
            if reason is None:
                self.tell(sentence, "ask")
                self.field.focus()
            else:
                self._take(rows.Placed(row, column, text, reason))

        more = "Look at the meter again. If it is right, say why, or just press Enter; the answer is recorded."
        title = f"{row}, {column.label}: {sentence}"
        self.app.push_screen(AskText(title, more, placeholder="why it is right", empty=CONFIRMED), answered)

    def _take(self, *fields: rows.Placed) -> None:
        had = [self.desk.build.entry(self.item_id).row(f.row) for f in fields]
        if all(not f.text and (r is None or not r.text(f.column.id)) for f, r in zip(fields, had, strict=True)):
            self._forget_draft()
            self._next_field()  # an empty field left empty is no edit
            return
        if self.fill(fields):
            self._next_field()
            self._show_field()

    def fill(self, fields: tuple[rows.Placed, ...]) -> bool:
        """Enter fields as one edit."""
        meters = {c.dimension: self.instrument_for(c) for c in self.columns if c.kind == "reading"}
        at = self.desk.hand().at
        return self.edit(lambda build, hand: rows.fill(build, self.item, fields, meters, at, hand))

    def _forget_draft(self) -> None:
        self.draft_at = ("", "")
        self.field.put("")
        self.tell("")
        self.grid.focus()

    def edit(self, change: Edit) -> bool:
        """Make an edit and have it saved; where it cannot be made, say why under the field."""
        try:
            self.desk.change(change)
        except EditError as error:
            self.tell(str(error))
            return False
        self._forget_draft()
        self.say("")
        self.program.build_changed()
        return True

    @on(Grid.Pasted)
    def _pasted(self, event: Grid.Pasted) -> None:
        self._share(event.text)

    @on(Field.PastedLines, "#field")
    def _lines_pasted(self, event: Field.PastedLines) -> None:
        self._share(event.text)

    def _share(self, text: str) -> None:
        if refused := self.desk.refusal(self.item):
            self.tell(refused)
            return
        shared = rows.share_block(text, self.names(), self.columns, *self.grid.at)
        if shared.fields and not self.fill(shared.fields):
            return
        told = f"{len(shared.fields)} pasted fields filled."
        if shared.left:
            kept = ", ".join(shared.left[:4]) + ("…" if len(shared.left) > 4 else "")
            told += f" Not taken: {kept} ({shared.why})."
        self.say(told, "bad" if shared.left else "")

    # -- rows --------------------------------------------------------------------------------------------------------

    def action_fill_field(self) -> None:
        """Fill the current field."""
        self.begin()

    def action_add_row(self) -> None:
        """Add a row."""
        name = rows.new_name(self.item, rows.row_names(self.item, self.desk))
        if name:
            self._added(name)
        else:
            self.app.push_screen(
                AskText(f"Name of the new {self.item.row_name}", needed="a row needs a name"), self._added
            )

    def _added(self, name: str | None) -> None:
        if name and self.edit(lambda build, hand: rows.with_row(build, self.item, name, hand)):
            names = self.names()
            self.grid.go(names.index(name) if name in names else len(names) - 1, 0)
            self._show_field()

    def action_delete_row(self) -> None:
        """Delete the row with a reason."""
        name = self.grid.row_id
        if self.desk.build.entry(self.item_id).row(name) is None:
            self.tell("there is nothing in this row yet")
            return

        def answered(reason: str | None) -> None:
            if reason is not None:
                self.edit(lambda build, hand: delete_row(build, self.item, name, reason, hand))

        self.app.push_screen(
            AskText(f"Delete {self.item.row_name} {name}?", "What it held goes into the history."), answered
        )

    def action_reject(self) -> None:
        """Mark the row as rejected with a reason."""
        name = self.grid.row_id
        decision, why = self.item.column("decision"), self.item.column("reason")
        if decision is None or not name:
            return

        def answered(reason: str | None) -> None:
            if reason is not None:
                fields = [rows.Placed(name, decision, "reject")]
                self.fill((*fields, rows.Placed(name, why, reason)) if why is not None else tuple(fields))

        self.app.push_screen(AskText(f"Reject {self.item.row_name} {name}: why?"), answered)

    def action_same_above(self) -> None:
        """Take the value of the row above."""
        number, column = self.grid.at[0], self.column
        names = self.names()
        above = self.desk.build.entry(self.item_id).row(names[number - 1]) if number > 0 else None
        if column is None or above is None or not above.text(column.id):
            self.tell("there is no value above")
            return
        self.enter(above.text(column.id))

    def action_clear_field(self) -> None:
        """Empty the field."""
        row, column = self.desk.build.entry(self.item_id).row(self.grid.row_id), self.column
        if row is not None and column is not None and row.text(column.id):
            self.fill((rows.Placed(row.id, column, ""),))

    def action_sort_rows(self) -> None:
        """Sort by the current column; again turns the order round, once more ends it."""
        column = self.grid.column_id
        if self.sorted_by != column:
            self.sorted_by, self.backwards = column, False
        elif not self.backwards:
            self.backwards = True
        else:
            self.sorted_by, self.backwards = "", False
        self.redraw()

    def action_table_instrument(self) -> None:
        """Choose the instrument for this column's quantity in this step."""
        column = self.column
        if column is None or column.kind != "reading":
            self.tell("this column is not measured")
            return
        names = words.instrument_names(self.desk, column.dimension)
        if not names:
            self.tell(f"no instrument for {column.dimension} is listed yet: add it in the first step")
            return

        def answered(name: str | None) -> None:
            if name is not None:
                self.program.instruments[self.item.step, column.dimension] = name
                self.redraw()

        title = f"Which instrument reads the {column.dimension} in this step?"
        self.app.push_screen(AskOne(title, [*names, ("", "none named")], current=self.instrument_for(column)), answered)

    def action_import_rows(self) -> None:
        """Fill the table from a CSV file."""
        from buildtrack.bench.screens.import_rows import ask_import

        ask_import(self)

    # -- undo, looking, leaving --------------------------------------------------------------------------------------

    def action_undo(self) -> None:
        """Take the last edit back."""
        self._say_done(self.desk.undo())

    def action_redo(self) -> None:
        """Bring the last undone edit back."""
        self._say_done(self.desk.redo())

    def _say_done(self, text: str) -> None:
        if text:
            self.program.build_changed()
            self.say(text)

    def action_meaning(self) -> None:
        """To workings and checks, and back."""
        meaning = self.query_one("#meaning", LineList)
        if self.focused is meaning:
            self.grid.focus()
        else:
            self.add_class("-asking")
            meaning.focus()

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """The panel is seen while it is read, also where there is no room beside."""
        self.set_class(event.widget.id == "meaning", "-asking")

    @on(LineList.Chosen, "#meaning")
    def _meaning_chosen(self, event: LineList.Chosen) -> None:
        kind, _, name = event.key.partition(":")
        if kind in ("working", "check"):
            self.app.push_screen(Why(kind, name), self._after_why)
        elif kind == "item":
            self._leave_for(name)

    def _after_why(self, wish: str | None) -> None:
        kind, _, name = (wish or "").partition(":")
        if kind == "item" and name != self.item_id:
            self._leave_for(name)

    def _leave_for(self, item: str) -> None:
        self.app.pop_screen()
        self.program.call_after_refresh(self.program.jump, item)

    def action_back(self) -> None:
        """Back to the bench; from the panel back to the table."""
        if self.focused is not self.grid:
            self.grid.focus()
        else:
            self.app.pop_screen()
