"""Entering in a table: typed, chosen and pasted fields, refusals, the question asked once."""

from __future__ import annotations

from functools import partial

from textual import events, on
from textual.widgets import Input

from buildtrack.bench import rows
from buildtrack.bench.desk import Edit
from buildtrack.bench.entry import CONFIRMED, no_reason, try_column
from buildtrack.bench.screens.ask import AskText
from buildtrack.bench.screens.table_view import TableView
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.grid import Grid
from buildtrack.bench.words import in_money, is_yes_no
from buildtrack.model.checklist import Column
from buildtrack.model.edit import EditError

DITTO = '"'
"""Typed alone into a field: as above."""


class TableEntry(TableView):
    """A table with everything that fills its fields."""

    def on_key(self, event: events.Key) -> None:
        """On the table a digit begins a field, or chooses an option; y and n answer yes or no.

        Where something stands already, an option opens the field: Enter replaces it, Esc leaves it.
        """
        column, typed = self.column, event.character or ""
        if self.focused is not self.grid or column is None or len(typed) != 1 or not self.grid.row_id:
            return
        begins = column.kind in ("reading", "date") and typed in "0123456789.,-+"
        chooses = (column.kind == "choice" and typed in "123456789") or (is_yes_no(column) and typed in "yn")
        if begins or (chooses and self.standing()):
            event.stop()
            self.begin(typed)
        elif chooses:
            event.stop()
            self.enter(typed)

    # -- entering ----------------------------------------------------------------------------------------------------

    @on(Input.Submitted, "#field")
    def _submitted(self, event: Input.Submitted) -> None:
        self.enter(event.value)

    @on(Input.Changed, "#field")
    def _changed(self, event: Input.Changed) -> None:
        if self.told and self.focused is self.field and event.value != self.desk.drafts.of(self.place):
            self.tell("")
        self.refresh_keys()
        self.program.keeper.key_came()

    def enter(self, text: str) -> None:
        """Take a text for the current field, refuse it with a sentence, or ask once where it is unusual."""
        column, row = self.column, self.grid.row_id
        if column is None or not row:
            return
        if refused := self.desk.refusal(self.item):
            self.tell(refused)
            return
        if text.strip() == DITTO:
            self.field.put("")
            self.take_above()
            return
        tried = try_column(column, text)
        if tried.refused:
            self.desk.drafts.keep(self.place, text)
            self.tell(in_money(tried.refused, self.desk))
        elif tried.unusual:
            self._ask_unusual(row, column, tried.text, in_money(tried.unusual, self.desk))
        else:
            self._take(rows.Placed(row, column, tried.text))

    def take_above(self) -> None:
        """Take the value of the row above."""
        number, column = self.grid.at[0], self.column
        above = self.desk.build.entry(self.item_id).row(self.names()[number - 1]) if number > 0 else None
        if column is None or above is None or not above.text(column.id):
            self.tell("there is no value above")
        else:
            self.enter(above.text(column.id))

    def _ask_unusual(self, row: str, column: Column, text: str, sentence: str) -> None:
        def answered(reason: str | None) -> None:
            if reason is None:
                self.tell(sentence, "ask")
                self.set_focus(self.field)
            else:
                self._take(rows.Placed(row, column, text, reason))

        more = "Look at the meter again. If it is right, say why, or just press Enter; the answer is recorded."
        title = f"{row}, {column.label}: {sentence}"
        refuse = partial(no_reason, column)
        about = (self.item_id, row, column.id)
        asked = AskText(title, more, about=about, placeholder="why it is right", empty=CONFIRMED, refuse=refuse)
        self.app.push_screen(asked, answered)

    def _take(self, *fields: rows.Placed) -> None:
        typing = self.focused is self.field
        had = [self.desk.build.entry(self.item_id).row(f.row) for f in fields]
        if all(not f.text and (r is None or not r.text(f.column.id)) for f, r in zip(fields, had, strict=True)):
            self._forget_draft()  # an empty field left empty is no edit
        elif not self.fill(fields):
            return
        if self._next_field() and typing:
            self.begin()
        self._show_field()

    def fill(self, fields: tuple[rows.Placed, ...]) -> bool:
        """Enter fields as one edit."""
        meters = {c.dimension: self.instrument_for(c) for c in self.columns if c.kind == "reading"}
        at = self.desk.hand().at
        return self.edit(lambda build, hand: rows.fill(build, self.item, fields, meters, at, hand))

    def _forget_draft(self) -> None:
        self.desk.drafts.keep(self.place, "")
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
        shared = rows.share_block(text, self.names(), self.columns, *self.grid.at, not self.goes_down())
        if shared.fields and not self.fill(shared.fields):
            return
        number = len(shared.fields)
        told = f"{number} pasted field{'' if number == 1 else 's'} filled."
        if shared.left:
            kept = ", ".join(shared.left[:4]) + ("…" if len(shared.left) > 4 else "")
            told += f" Not taken: {kept} ({shared.why})."
        self.say(told, "bad" if shared.left else "")
