"""What a table of the bench shows: its rows, the current field, what it means; moving about in it."""

from __future__ import annotations

from dataclasses import replace
from typing import ClassVar

from rich.cells import cell_len
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Static

from buildtrack.bench import commands, proposals, rows, words
from buildtrack.bench.commands import Situation, bindings
from buildtrack.bench.field_words import PLACEHOLDERS, field_facts, unparted
from buildtrack.bench.meaning import meaning_lines
from buildtrack.bench.meters import fitting, meter_of, meter_words
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.place import NARROW_HEAD, Place
from buildtrack.bench.seen import Seen
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.grid import Grid
from buildtrack.bench.widgets.head import Head, KeyLine
from buildtrack.bench.widgets.line_text import Piece
from buildtrack.bench.widgets.lines import LineList
from buildtrack.bench.widgets.told import Notice, Told
from buildtrack.model.build import Build, Row
from buildtrack.model.checklist import Column, Item
from buildtrack.model.instruments import meter_column


class TableView(Place):
    """One table of the bench, looked at; entering is added by its subclasses."""

    PLACE = "table"
    BINDINGS: ClassVar[list[BindingType]] = bindings("table")
    AUTO_FOCUS = "#grid"
    CSS_PATH = "table.tcss"

    def __init__(self, item: str, row: str = "", column: str = "") -> None:
        """item: the table. row, column: the field to begin at; else the first empty one."""
        super().__init__()
        self.item_id = item
        self.begin_at = (row, column)
        self.sorted_by = ""
        self.backwards = False
        self.new_row = ""
        """A row that was just added: it is filled along, also in a narrow table."""
        self.row_added: Build | None = None
        """The build right after that row was added, and nothing else."""
        self.opened = False
        """Whether the field was opened with Enter, to correct what stands in it."""
        self.over = ""
        """A text that waits in the field in which another one is being typed."""
        self.ended_typing = False
        """Whether typing ended by itself, at the last field: then Esc leaves the typing, not the table."""
        self.ended_told = ""
        """What was said last of the end of typing."""
        self.stop_told = ""
        """The stop that was told of when it failed."""
        self.seen = Seen()

    def compose(self) -> ComposeResult:
        """Head; table over the field, meaning beside; what happened; keys."""
        yield Head()
        with Horizontal(id="body"):
            with Vertical(id="middle"):
                yield Told("", markup=False, id="table-head")
                yield Grid(id="grid")
                with Vertical(id="entry"):
                    yield Told("", markup=False, id="column-head")
                    yield Told("", markup=False, id="column-facts")
                    with Horizontal(id="entry-line"):
                        yield Static("› ", id="entry-sign")
                        yield Field(id="field")
                        yield Told("", markup=False, id="column-unit")
                    yield Told("", markup=False, id="message")
            yield LineList(id="meaning")
        yield Notice(id="notice")
        yield KeyLine()

    def on_mount(self) -> None:
        """Show the table at the field asked for, or its first empty one."""
        self.stop_told = self.desk.fresh_stop
        self.say("")
        self.redraw()
        self.seen.show(self.item_id, self.program)
        row, column = self.begin_at
        names, columns = self.names(), [c.id for c in self.columns]
        if row in names and column in columns:
            self.grid.go(names.index(row), columns.index(column))
        else:
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
        return next((c for c in self.columns if c.id == self.grid.column_id), None)

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
            proposed=proposals.best_grouping(desk, self.item) is not None,
            measured=any(c.kind == "reading" and c.metered for c in self.columns),
            unmetered=self._must_choose(),
            typing=self._typing(),
            onward="↓" if self.goes_down() else "→",
        )

    def help_situation(self) -> Situation:
        """What can be done in this table at some time, whatever stands in the way now."""
        return replace(self.situation(), refused="", read_only=False, can_undo=True, can_redo=True, unsaved=True,
                       changed_outside=True, typing="", proposed=proposals.is_grouped(self.item))

    def _typing(self) -> str:
        """What has the keyboard beside the table."""
        if self.focused is self.field:
            return "field" if self.field.value else "empty field"
        return "panel" if self.focused is self.query_one("#meaning") else ""

    def redraw(self) -> None:
        """Show everything anew."""
        columns, names = self.columns, self.names()
        self.grid.show(rows.grid_columns(columns, self.desk), rows.grid_rows(self.item, self.desk, columns, names))
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
        elif not self.desk.refusal(self.item):
            way = ("↓", "down the column") if self.goes_down() else ("→", "along the row")
            parts.append(f"Enter goes {way[0] if self.app.size.width < NARROW_HEAD else ' '.join(way)}")
        return " · ".join(parts)

    def _show_field(self) -> None:
        column, row = self.column, self.grid.row_id
        self.query_one("#entry").display = bool(row) and column is not None
        if column is None or not row:
            return
        self.query_one("#column-head", Static).update(self._column_words(row, column))
        self.query_one("#column-facts", Static).update(self._facts(row, column))
        self.query_one("#column-unit", Static).update(words.unit_text(column.unit, self.desk))
        typing = self.focused is self.field
        placeholder = PLACEHOLDERS.get(column.kind, "" if typing else "Enter, then type")
        self.field.placeholder = words.like_today(placeholder, self.desk)
        refused = self.desk.refusal(self.item)
        self.query_one("#entry-line").display = not refused
        if refused:
            self.tell(refused)

    def _facts(self, row: str, column: Column) -> str:
        """What is said of the current field; no choice is parted from its number at the end of a line."""
        room = self.query_one("#column-facts").content_size.width or self.app.size.width - 4
        return unparted(field_facts(self.desk, self.item, column, row), room)

    def _column_words(self, row: str, column: Column) -> Content:
        """The current field, and at the right end in quiet words what its reading is taken with."""
        head = plain(f"{row} · {column.label}")
        room = (self.query_one("#column-head").content_size.width or self.app.size.width - 4) - cell_len(head) - 2
        meter = self._meter_words(column, room) if column.kind == "reading" and column.metered else ""
        gap = " " * (room + 2 - cell_len(meter)) if meter else ""
        return Content.assemble(head, gap, (meter, "$foreground 75% not bold"))

    def _meter_words(self, column: Column, room: int) -> str:
        """Which instrument stamps the readings of a column; the key that changes it only where it is a key now."""
        is_key = self.focused is not self.field and not self.desk.refusal(self.item)
        command = commands.BY_ID["table-instrument"]
        key = commands.key_text(commands.key_of(command, self.program.around.keymap)) if is_key else ""
        meter = meter_of(self.desk.build, column, self.instrument_for(column, self.standing()), self.standing())
        return meter_words(meter, room, key)

    def _must_choose(self) -> bool:
        """Whether several listed instruments fit the current column, and nobody chose one that does, nor none."""
        column = self.column
        if column is None or column.kind != "reading" or len(fitting(self.desk.build, column)) < 2:
            return False
        if meter_column(self.item) is not None:
            return False  # each row names its own
        return self.program.instruments.is_unnamed(self.desk, self.item, column)

    def instrument_for(self, column: Column, text: str = "") -> str:
        """The instrument for a column: that of the row where each row names its own, else chosen once per step.

        text: what is read with it.
        """
        row = self.desk.build.entry(self.item_id).row(self.grid.row_id) if meter_column(self.item) is not None else None
        if row is not None and row.text("meter"):
            return row.text("meter")
        return self.program.instruments.instrument_for(self.desk, self.item, column, text)

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

    def judged_anew(self) -> None:
        """Show what follows, and say where a stop has just failed."""
        told, self.stop_told = self.stop_told, self.desk.fresh_stop
        self.redraw()
        if self.desk.fresh_stop and self.desk.fresh_stop != told:
            self.query_one("#meaning", LineList).select(f"check:{self.desk.fresh_stop}")
            self.say(words.stop_text(self.desk, "F2, then Enter shows it"), "bad")

    # -- moving ------------------------------------------------------------------------------------------------------

    def _to_first_empty(self) -> None:
        """To the first field one would fill; where all are filled, to the first.

        Rows that are dated events are not filled later: of them only the last one counts.
        """
        if self.item.dated_by is not None and self.names() and not self.sorted_by:
            self._to_last_row()
            return
        columns, empty, entry = self.columns, self._empty(), self.desk.build.entry(self.item_id)
        present = [entry.row(name) for name in self.names()]
        last = [rows.last_entered(row, columns) for row in present]
        required = [c.required for c in columns]
        asked = rows.moment_at(empty) if self.item.moments else None
        found = asked or rows.first_to_fill(empty, required, last, self.goes_down())
        if found is not None:
            self.grid.go(*found)
            self.say(rows.passed_over(present[found[0]], columns, found[1]))

    def _to_last_row(self) -> None:
        """To the last row: to its first field behind what was entered, where it is of today, else to its first."""
        names, columns, dated = self.names(), self.columns, self.item.dated_by
        row = self.desk.build.entry(self.item_id).row(names[-1])
        today = self.program.around.clock().astimezone().date().isoformat()
        if row is None or dated is None or row.text(dated.id) in ("", today):
            at = rows.last_entered(row, columns) + 1
            self.grid.go(len(names) - 1, at if at < len(columns) else 0)
        else:
            self.grid.go(len(names) - 1, 0)
            self.say(f"{names[-1]} is of {plain(row.text(dated.id))}: a begins a row for today.")

    @property
    def place(self) -> tuple[str, str, str]:
        """Where the current field is: table, row, column."""
        return self.item_id, self.grid.row_id, self.grid.column_id

    @on(Grid.Moved)
    def _moved(self) -> None:
        if self.focused is not self.field:  # an open field was filled when it was gone to
            self.field.put(self.desk.drafts.of(self.place))
        self.tell("")
        self._show_field()
        self.refresh_keys()

    def standing(self) -> str:
        """The text that stands in the current field of the table."""
        row = self.desk.build.entry(self.item_id).row(self.grid.row_id)
        return row.text(self.grid.column_id) if row is not None else ""

    def begin(self, typed: str | None = None) -> None:
        """Begin to fill the current field: with a typed character, or with what stands there."""
        column = self.column
        if column is None or not self.grid.row_id:
            return
        if refused := self.desk.refusal(self.item):
            self.tell(refused)
            return
        draft, standing = self.desk.drafts.of(self.place), self.standing()
        self.opened = False
        self.over = draft if typed is not None else ""
        self.field.put(typed if typed is not None else draft or standing)
        if self.over and typed is not None:
            self.say(words.over_text(self.over, typed))
        if typed is None and standing and not draft:
            self.field.select_all()  # what is typed takes its place; an arrow keeps it to be edited
        self.set_focus(self.field)
        self._show_field()

    @on(Field.Left)
    def _left(self, event: Field.Left) -> None:
        text, before = event.field.value, self.standing()
        changed = text if text != before else ""
        if event.escaped:
            self.ended_typing = False
            over, self.over = self.over, ""
            self.desk.drafts.drop(self.place, changed, self.desk.build)
            self.desk.drafts.keep(self.place, over)
            self.field.put(over)
            self.tell("")
            if over:
                self.say(f"'{plain(over)}' waits in its field as before.")
            elif changed:
                self.say(words.dropped_text(changed, before))
            elif gone := self.forget_new_row():
                self.say(gone)
                return
        else:
            if self.over and changed:
                self.desk.drafts.drop(self.place, self.over, self.desk.build)
                self.say(words.dropped_text(self.over))
            self.desk.drafts.keep(self.place, changed or self.over)
            self.over = ""
        self.set_focus(self.grid)
        self.redraw()
        self.grid.action_move(event.direction, event.across)

    def forget_new_row(self) -> str:
        """A row that was added and left untouched goes away again; returns what is said of that, or nothing.

        A text that was dropped in it comes back with u, and the row with it.
        """
        name, typed = self.new_row, any(place[:2] == (self.item_id, self.new_row) for place in self.desk.drafts.kept())
        if self.row_added is None or self.row_added is not self.desk.build or typed:
            return ""
        dropped = self.desk.drafts.last_dropped if self.desk.drafts.can_pick_up(self.desk.build) else None
        self.row_added, self.new_row = None, ""
        self.desk.undo()
        self.set_focus(self.grid)
        self.program.build_changed()
        if dropped is None or dropped.place[:2] != (self.item_id, name):
            return f"{name} was left empty: it is gone again."
        self.desk.drafts.rebind(self.desk.build)
        return f"{name} is gone again; u brings it back with '{plain(dropped.text)}'."

    def keep_typed(self) -> None:
        """Keep what stands in the field but is no answer yet."""
        if self.focused is self.field:
            self.desk.drafts.keep(self.place, self.field.value if self.field.value != self.standing() else "")

    # -- the way through the table -----------------------------------------------------------------------------------

    def goes_down(self) -> bool:
        """Whether Enter goes down the column: in narrow tables and those of moments, unless a row was just added."""
        return rows.goes_down(self.item, self.columns) and self.grid.row_id != self.new_row

    def _empty(self) -> list[list[bool]]:
        """Whether a field is to be filled, by row and column as shown."""
        entry, columns = self.desk.build.entry(self.item_id), self.columns
        return [[self._is_open(name, entry.row(name), c) for c in columns] for name in self.names()]

    def _is_open(self, name: str, row: Row | None, column: Column) -> bool:
        """Whether a field is empty; in a row just added also where it holds what is usual, to be seen and confirmed."""
        cell = row.cells.get(column.id) if row is not None else None
        usual = cell is not None and name == self.new_row and cell.value_class == "taken over"
        filled = cell is not None and bool(cell.text) and not (usual and cell.text == column.default)
        return not filled and not self.desk.drafts.of((self.item_id, name, column.id))

    def _next_field(self) -> bool:
        """Go to the next empty field: down a column in narrow tables, along the row in wide ones; False at the end."""
        following = rows.next_empty(self._empty(), self.grid.at, self.goes_down())
        if following is None:
            more = "" if self.item.rows_from else " a adds a row;"
            ended, back = (": typing has ended.", "Esc twice goes") if self.ended_typing else (".", "Esc goes")
            self.ended_told = f"That was the last field{ended}{more} {back} back."
            self.say(self.ended_told)
            return False
        self.grid.go(*following)
        return True
