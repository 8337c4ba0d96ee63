"""A table item, filled field by field: Enter takes a text and goes on to the next field."""

from __future__ import annotations

from collections.abc import Callable

from textual import events, on

from buildtrack import units
from buildtrack.bench import proposals, rows, words
from buildtrack.bench.drafts import Dropped
from buildtrack.bench.fault_field import finding_field
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.table_paste import PastedBlock
from buildtrack.bench.screens.table_timed import TimedTable
from buildtrack.bench.screens.why import Why
from buildtrack.bench.widgets.grid import Grid
from buildtrack.bench.widgets.lines import LineList
from buildtrack.model.edit import delete_row


class TableScreen(TimedTable):
    """One table of the bench."""

    def __init__(self, item: str, row: str = "", column: str = "", *, new_row: bool = False) -> None:
        """new_row: begin with a row added."""
        super().__init__(item, row, column)
        self._row_wanted = new_row

    def on_mount(self) -> None:
        """A row that is wanted is added once the table is shown."""
        if self._row_wanted:
            self.call_later(self._begin_new_row)

    def _begin_new_row(self) -> None:
        self._row_wanted = False
        self.action_add_row()

    @property
    def stands(self) -> bool:
        """Whether a key finds all of it in place, the wanted row too."""
        return super().stands and not self._row_wanted

    # -- rows --------------------------------------------------------------------------------------------------------

    @on(Grid.Entered)
    def action_fill_field(self) -> None:
        """Fill the current field; a table without a row gets its first one."""
        if self.names() or self.desk.refusal(self.item):
            self.begin()
            self.opened = True
        elif self.item.rows_from:
            self.tell("how many rows there are is not known yet; a adds one by hand")
        else:
            self.action_add_row()

    def action_add_row(self) -> None:
        """Add a row."""
        name = rows.new_name(self.item, rows.row_names(self.item, self.desk))
        if name:
            self.add_row(name)
        else:
            self.app.push_screen(
                AskText(f"Name of the new {self.item.row_name}", about=(self.item_id,), needed="a row needs a name"),
                self.add_row,
            )

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
            AskText(
                f"Delete {self.item.row_name} {name}?",
                "What it held goes into the history.",
                about=(self.item_id, name),
            ),
            answered,
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

        asked = AskText(f"Reject {self.item.row_name} {name}: why?", about=(self.item_id, name))
        self.app.push_screen(asked, answered)

    def action_same_above(self) -> None:
        """Type the value of the row above; Enter takes it."""
        if above := self.above():
            self.begin(above)

    def action_take_grouping(self) -> None:
        """Take the proposed grouping over, where that is confirmed; one undo takes it back."""
        self.desk.settle()
        fields, best = proposals.proposed(self.desk, self.item), proposals.best_grouping(self.desk, self.item)
        if best is None:
            self.tell("there is no proposal yet: it needs the kept cells with capacities, groups and cells in parallel")
            return
        if not fields:
            self.tell("the proposed grouping stands in the table already")
            return

        def answered(answer: str | None) -> None:
            if answer == "take" and self.fill(fields):
                filled = units.counted(len(fields), "group")
                self.say(f"{filled} filled as proposed. One undo takes it back.")

        shown = "\n".join(f"{f.row}: {f.text}" + self._instead_of(f) for f in fields)
        raised = [proposals.raised(r) for r in self.desk.foreseen(self.filling(fields))]
        more = "\n".join([best.summary, shown, *raised])
        choices = [("take", "take it over"), ("leave", "leave the table as it is")]
        self.app.push_screen(AskOne(proposals.question(best), choices, more), answered)

    def _instead_of(self, field: rows.Placed) -> str:
        row = self.desk.build.entry(self.item_id).row(field.row)
        before = row.text(field.column.id) if row is not None else ""
        return f"   instead of {before}" if before else ""

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
        if column is None or column.kind != "reading" or not column.metered:
            self.tell("no instrument of the list reads this column")
            return
        names = words.instrument_names(self.desk, column.dimension)
        if not names:
            self.tell(f"no instrument for {column.dimension} is listed yet: add it in the first step")
            return

        def answered(name: str | None) -> None:
            if name is not None:
                self.program.instruments.choose(self.item, column, name)
                self.redraw()

        title = f"Which instrument reads the {column.dimension} in this step?"
        self.app.push_screen(AskOne(title, [*names, ("", "none named")], current=self.instrument_for(column)), answered)

    def action_import_rows(self) -> None:
        """Fill the table from a CSV file."""
        from buildtrack.bench.screens.import_rows import ask_import

        ask_import(self)

    # -- undo, looking, leaving --------------------------------------------------------------------------------------

    def action_undo(self) -> None:
        """Take the last edit back; where a typed text was dropped since, bring that back."""
        dropped = self.desk.drafts.pick_up(self.desk.build) if self._dropped_here() else None
        if dropped is None:
            self._turn(self.desk.undo)
        else:
            self._bring_back(dropped)

    def _bring_back(self, dropped: Dropped) -> None:
        """Show a text that was dropped in its field; a row that went away when it was dropped comes back."""
        _, row, column = dropped.place
        if self.desk.build.entry(self.item_id).row(row) is None and row not in self.names():
            self.edit(lambda build, hand: rows.with_begun_row(build, self.item, row, hand))
            self.new_row, self.row_added = row, self.desk.build
        self._go_to_field(row, column)
        self.field.put(dropped.text)  # it stays closed: in an open field a second u would be a letter
        self.redraw()
        self.say(words.back_text(dropped.text))

    def _go_to_field(self, row: str, column: str) -> None:
        names, columns = self.names(), [c.id for c in self.columns]
        if row in names and column in columns:
            self.grid.go(names.index(row), columns.index(column))

    def _dropped_here(self) -> bool:
        """Whether the text dropped last was typed into this table."""
        dropped = self.desk.drafts.last_dropped
        return dropped is not None and dropped.place[0] == self.item_id and len(dropped.place) == len(self.place)

    def action_redo(self) -> None:
        """Bring the last undone edit back; or the text that another one was brought back in place of."""
        again = self.desk.drafts.pick_again(self.desk.build, self.item_id)
        if again is not None:
            self._bring_back(again)
        else:
            self._turn(self.desk.redo)

    def _turn(self, turn: Callable[[], str]) -> None:
        """Take an edit back, or bring it back, and go to the first field it was about."""
        before, pasted = self.desk.build, self.pasted
        text = turn()
        if not text:
            return
        if pasted is not None and pasted.build is before:
            self._forget_waiting(pasted)
        else:
            changed = rows.first_changed(before.entry(self.item_id), self.desk.build.entry(self.item_id))
            self._go_to_field(*changed)
        self.program.build_changed()
        self.say(text)

    def _forget_waiting(self, pasted: PastedBlock) -> None:
        """With a paste what of it waits in its fields is taken back too, and one stands where it began."""
        for place, waiting in pasted.waiting.items():
            if self.desk.drafts.of(place) == waiting:
                self.desk.drafts.keep(place, "")
        self.field.put("")
        self.grid.go(*pasted.at)

    def action_meaning(self) -> None:
        """To workings and checks, and back."""
        meaning = self.query_one("#meaning", LineList)
        if self.focused is meaning:
            self.set_focus(self.grid)
        else:
            if self.ended_told and self.said == self.ended_told:
                self.say("")  # of typing, which is not what is done there
            self.add_class("-asking")
            self.set_focus(meaning)

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
        elif kind == "item":
            self._go_to_field(*finding_field(self.desk, self.item))
            self.set_focus(self.grid)

    def _leave_for(self, item: str) -> None:
        self.app.pop_screen()
        self.program.call_later(self.program.jump, item)

    def to_bench(self) -> None:
        """Back to the bench at once; a text in the field waits there."""
        self.keep_typed()
        self._close()

    def action_back(self) -> None:
        """Back to the bench; from the panel back to the table."""
        if self.focused is not self.grid:
            self.set_focus(self.grid)
        elif self.ended_typing:
            self.ended_typing = False
            self.ended_told = "Typing has ended. Esc again goes back."
            self.say(self.ended_told)
        else:
            self._close()

    def _close(self) -> None:
        gone = self.forget_new_row()
        self.app.pop_screen()
        if gone:
            self.program.place_say(gone)
