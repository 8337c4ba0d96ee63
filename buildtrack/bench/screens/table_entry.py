"""Entering in a table: typed, chosen and pasted fields, refusals, the question asked once."""

from __future__ import annotations

from textual import events, on
from textual.widgets import Input

from buildtrack.bench import rows
from buildtrack.bench.desk import Edit
from buildtrack.bench.entry import CONFIRMED, try_column
from buildtrack.bench.screens.ask import AskText
from buildtrack.bench.screens.table_view import TableView
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.grid import Grid
from buildtrack.model.checklist import Column
from buildtrack.model.edit import EditError


class TableEntry(TableView):
    """A table with everything that fills its fields."""

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
                self.set_focus(self.field)
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
        self.set_focus(self.grid)

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
