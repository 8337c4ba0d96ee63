"""Moving about at the bench: among items and steps, out of the field, and what becomes of its text."""

from __future__ import annotations

from textual import on

from buildtrack.bench import words
from buildtrack.bench.screens.bench_view import BenchView
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.head import Head
from buildtrack.bench.widgets.lines import LineList


class BenchMoving(BenchView):
    """The bench with the ways through it."""

    # -- moving ------------------------------------------------------------------------------------------------------

    @on(LineList.Highlighted, "#items")
    def _item_highlighted(self, event: LineList.Highlighted) -> None:
        self.keep_typed()
        if self.desk.drafts.of((self.item_id,)):
            self.item_id = event.key
            self._redraw_items()  # what was typed for the one before is seen beside it
        self.item_id, self.letters_free = event.key, ""
        if self.said and self.said == self.said_why:
            self.say("")
        self.value_class = "measured"
        self._redraw_card()
        self._redraw_panel_soon()
        self.show_draft()
        self.refresh_keys()
        self.refresh_bindings()

    @on(LineList.Highlighted, "#rail")
    def _step_highlighted(self, event: LineList.Highlighted) -> None:
        self.go_to(event.key)

    @on(LineList.Chosen, "#rail")
    def _step_chosen(self, event: LineList.Chosen) -> None:
        self.go_to(event.key)

    @on(Head.StepClicked)
    def _step_clicked(self, event: Head.StepClicked) -> None:
        self.go_to(event.step)

    @on(Field.Left)
    def _field_left(self, event: Field.Left) -> None:
        if event.escaped:
            self.drop_draft()
            self.free_letters()
        else:
            self.keep_typed()
        self.set_focus(self.items)
        if event.direction:
            self.items.action_step(event.direction)

    def free_letters(self) -> None:
        """On an item of words without an answer letters run commands from now on; that is said."""
        was_free = self.letters_free == self.item_id
        item, self.letters_free = self.item, self.item_id
        if item is not None and item.kind == "text" and not was_free and not self.desk.build.entry(item.id).standing:
            self.say(f"{self.said} Letters are keys here now; Enter opens the field.".strip())

    def drop_draft(self) -> None:
        """What stands in the field is not wanted; say how it comes back."""
        text, entry = "" if self._unchanged() else self.card.field.value, self.desk.build.entry(self.item_id)
        self.desk.drafts.drop((self.item_id,), text, self.desk.build, self._corrected(self.item_id))
        self.show_draft()
        if text:
            single = self.item is not None and self.item.several == 1
            self.say(words.dropped_text(text, entry.standing[-1].text if single and entry.standing else ""))
            self.dropped_said = self.said
        self.redraw()

    def _turn(self, direction: int) -> None:
        ids = [s.id for s in self.desk.checklist.steps]
        place = ids.index(self.step.id) + direction
        if 0 <= place < len(ids):
            self.say("")  # what was said was of the step that is left
            self.go_to(ids[place])
        else:
            self.say("This is the first step." if direction < 0 else "This is the last step.")

    def action_previous_step(self) -> None:
        """Go to the step before."""
        self._turn(-1)

    def action_next_step(self) -> None:
        """Go to the step after."""
        self._turn(1)
