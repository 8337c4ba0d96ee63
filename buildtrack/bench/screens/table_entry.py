"""Entering in a table: typed and chosen fields, refusals, the question asked once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from textual import events, on
from textual.widgets import Input

from buildtrack.bench import commands, rows
from buildtrack.bench.desk import Edit
from buildtrack.bench.entry import CONFIRMED, no_reason, option_named, try_column
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.ask import AskText
from buildtrack.bench.screens.money import ask_currency, is_asked
from buildtrack.bench.screens.table_view import TableView
from buildtrack.bench.words import (
    NO_WHY,
    dropped_text,
    early_text,
    in_money,
    in_place_of,
    is_yes_no,
    lifted_text,
    like_today,
    option_label,
)
from buildtrack.model.build import Build, Row
from buildtrack.model.checklist import Column
from buildtrack.model.edit import EditError, Hand
from buildtrack.workings.inputs import column_misfit

DITTO = '"'
"""Typed alone into a field: as above."""


class TableEntry(TableView):
    """A table with everything that fills its fields."""

    reasoned = False
    """Whether the reason for what is being entered was given just now."""
    told_of: tuple[tuple[str, str, str], str] = (("", "", ""), "")
    """A field and a text of which it was said that it takes the place of a reading at a hold point."""

    def on_key(self, event: events.Key) -> None:
        """On the table a digit, or y and n for yes and no, begins a field; nothing is entered before Enter."""
        self.ended_typing = self.ended_typing and event.key == "escape"
        if self.focused is self.grid and self._begins_words(event):
            event.stop().prevent_default()
            self.begin(event.character)
            return
        column, typed = self.column, event.character or ""
        if self.focused is not self.grid or column is None or len(typed) != 1 or not self.grid.row_id:
            return
        begins = column.kind in ("reading", "date") and typed in "0123456789.,-+"
        chooses = (column.kind == "choice" and typed in "123456789") or (is_yes_no(column) and typed in "yn")
        if begins or chooses:
            event.stop().prevent_default()
            self.begin(typed)

    def _begins_words(self, event: events.Key) -> bool:
        """Whether a key begins a text: a printable one that runs no command here, where words are asked for.

        In a table without a row it adds the first one.
        """
        command = commands.of_key(event.key, self.PLACE, self.situation(), self.program.around.keymap)
        if not event.is_printable or command is not None or self.desk.refusal(self.item):
            return False
        begins_row = not self.names() and not self.item.rows_from and bool(self.item.row_prefix)
        if begins_row and self.columns[0].kind in ("text", "choice"):
            self.add_row(rows.new_name(self.item, []))
            return bool(self.grid.row_id)
        return self.column is not None and self.column.kind == "text" and bool(self.grid.row_id)

    def add_row(self, name: str | None) -> None:
        """Add a row and begin its first field; none where it has no name."""
        if name and self.edit(lambda build, hand: rows.with_begun_row(build, self.item, name, hand)):
            names, dated = self.names(), self.item.dated_by
            self.new_row, self.row_added = name, self.desk.build
            at = names.index(name) if name in names else len(names) - 1
            self.redraw()
            self.grid.go(at, 0 if dated is None else min(1, len(self.columns) - 1))
            self.begin()
            self.redraw()
            if dated is not None:
                self.say(f"{dated.label}: today is filled in. For another day ← goes there.")

    # -- entering ----------------------------------------------------------------------------------------------------

    @on(Input.Submitted, "#field")
    def _submitted(self, event: Input.Submitted) -> None:
        event.stop()
        self.enter(event.value)

    @on(Input.Changed, "#field")
    def _changed(self, event: Input.Changed) -> None:
        if self.focused is self.field:
            if marked := self._marked(event.value):
                self.tell(marked, "ask")
            elif self.told and event.value != self.desk.drafts.of(self.place):
                self.tell("")
        self.refresh_keys()
        self.program.keeper.key_came()

    def _marked(self, text: str) -> str:
        """What Enter takes where an answer is typed by its number or first letters; empty where that is not known."""
        column, standing = self.column, self.standing()
        if column is None or column.kind not in ("choice", "tick") or not text.strip():
            return ""
        name = option_named(column, text.strip())
        if name == standing or column_misfit(column, name):
            return ""
        shown, now = (option_label(column.options, n) for n in (name, standing))
        return f"Now: {now}. Enter changes it to: {shown}" if now else f"Enter takes: {shown}"

    def enter(self, text: str) -> None:
        """Take a text for the current field, refuse it with a sentence, or ask once where it is unusual."""
        column, row = self.column, self.grid.row_id
        if column is None or not row:
            return
        if refused := self.desk.refusal(self.item):
            self.tell(refused)
            return
        if text.strip() and self.item.hold and self.seen.pressed_before(self.item_id, self.program):
            self.desk.drafts.keep(self.place, text)
            self.tell(early_text(None, text), "ask")
            return
        if text.strip() == DITTO:
            self.field.put("")
            if above := self.above():
                self.enter(above)
            return
        tried = try_column(column, text, self.desk.build.currency)
        if not tried.refused and self._puts_in_place(column, tried.text):
            self._tell_in_place(text)
        elif tried.refused:
            self.desk.drafts.keep(self.place, text)
            self.tell(like_today(in_money(tried.refused, self.desk), self.desk) + self.key_meant(text))
        elif tried.unusual:
            self._ask_unusual(row, column, tried.text, in_money(tried.unusual, self.desk))
        elif tried.text and is_asked(self, column.dimension):
            ask_currency(self, tried.text, partial(self._take, rows.Placed(row, column, tried.text)))
        else:
            self._take(rows.Placed(row, column, tried.text))
            if tried.read_as:
                self.tell(tried.read_as, "fine")

    def _puts_in_place(self, column: Column, text: str) -> bool:
        """Whether a reading would take the place of one at a hold point that was not opened to be corrected."""
        standing, typed = self.standing(), self.field.value
        if not (self.item.hold and column.kind == "reading" and standing and text != standing):
            return False
        settled = self.desk.item_state(self.item_id).state == "done"
        return settled and not self.opened and self.told_of != (self.place, typed)

    def _tell_in_place(self, text: str) -> None:
        self.told_of = (self.place, self.field.value)
        standing = plain(self.standing())
        said = f"Hold point: {standing} stands. Enter again puts {plain(text) or 'nothing'} in its place, Esc keeps it."
        self.tell(said, "ask")

    def above(self) -> str:
        """The value of the row above; where there is none, that is said."""
        number, column = self.grid.at[0], self.column
        row = self.desk.build.entry(self.item_id).row(self.names()[number - 1]) if number > 0 else None
        found = row.text(column.id) if column is not None and row is not None else ""
        if not found:
            self.tell("there is no value above")
        return found

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
        if len(fields) == 1 and (why := self._takes_stop_away(fields[0])):
            self._ask_why(fields[0], *why)
            return
        typing = self.ended_typing = self.focused is self.field
        place, (over, self.over) = self.place, (self.over, "")
        corrected = bool(self.standing()) and not self._is_usual()
        had = [self.desk.build.entry(self.item_id).row(f.row) for f in fields]
        again = self.desk.item_state(self.item_id).state in ("stale", "expired")  # read anew, whatever the meter shows
        if not again and all(_is_there(f, r) for f, r in zip(fields, had, strict=True)):
            self._forget_draft()  # an empty field left empty is no edit, nor is the same text again
        elif not self.fill(fields):
            return
        if corrected:
            self._beside_corrected(typing)
        elif self._next_field():
            self.ended_typing = False
            if typing:
                self.begin()
        self._show_field()
        if over:  # with the build as it is now: u brings it back first, then takes back what took its place
            self.desk.drafts.drop(place, over, self.desk.build)
            self.say(dropped_text(over))

    def _takes_stop_away(self, field: rows.Placed) -> tuple[str, list[str]] | None:
        """The reading that a text would replace, and the titles of the stops that go with it; None where none does."""
        old = self.standing()
        asked = field.column.kind != "reading" or not old or old == field.text or self.reasoned
        stops = [] if asked else self.desk.lifted(self.filling((field,)))
        return (old, [r.title for r in stops]) if stops else None

    def _ask_why(self, field: rows.Placed, old: str, titles: list[str]) -> None:
        """A reading that a stop rested on is not taken away without a reason."""

        def answered(reason: str | None) -> None:
            if reason is None:
                self.desk.drafts.keep(self.place, field.text)
                self.tell(f"{plain(old)} stands, and so does the stop: nothing was changed.", "ask")
                self.set_focus(self.field)
                return
            self.reasoned = True
            self._take(replace(field, note=in_place_of(old, reason, field.note)))
            self.reasoned = False

        title, more = lifted_text(old, field.text, titles)
        about, refuse = (self.item_id, field.row, field.column.id), partial(no_reason, field.column)
        self.app.push_screen(AskText(title, more, about=about, needed=NO_WHY, refuse=refuse), answered)

    def _is_usual(self) -> bool:
        """Whether the field holds what is usual, and nobody typed it: typed over, nothing is corrected."""
        column, row = self.column, self.desk.build.entry(self.item_id).row(self.grid.row_id)
        cell = row.cells.get(column.id) if row is not None and column is not None else None
        return cell is not None and column is not None and cell.value_class == "taken over" and bool(column.default)

    def _beside_corrected(self, typing: bool) -> None:
        """After a correction the field beside it, filled or not: never one elsewhere, which nobody looks at."""
        at, down = self.grid.at, self.goes_down()
        self.grid.action_move(int(down), int(not down))
        self.ended_typing = typing and self.grid.at == at
        if self.grid.at == at:
            self.say("Corrected. That was the last field of this way.")
        elif typing:
            self.begin()

    def fill(self, fields: tuple[rows.Placed, ...], new: Sequence[str] = ()) -> bool:
        """Enter fields as one edit, with new rows where they are named; what waited in the fields is answered."""
        if not self.edit(self.filling(fields, new)):
            return False
        for one in fields:
            self.desk.drafts.keep((self.item_id, one.row, one.column.id), "")
        return True

    def filling(self, fields: tuple[rows.Placed, ...], new: Sequence[str] = ()) -> Edit:
        """The edit that enters fields; new: names of rows to be added first."""
        at = self.desk.hand().at

        def change(build: Build, hand: Hand) -> Build:
            for name in new:
                build = rows.with_row(build, self.item, name, hand)
            return rows.fill(build, self.item, fields, self.instrument_for, at, hand)

        return change

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


def _is_there(field: rows.Placed, row: Row | None) -> bool:
    """Whether a field says already what is entered: measured, and with no other reason beside it."""
    cell = row.cells.get(field.column.id) if row is not None else None
    if cell is None or not cell.text:
        return not field.text
    return cell.text == field.text and cell.value_class == "measured" and field.note in ("", cell.note)
