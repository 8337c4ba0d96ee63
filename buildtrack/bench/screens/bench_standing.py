"""Answers that stand: corrected, entered once more, left out, withdrawn, remarked on."""

from __future__ import annotations

from collections.abc import Callable

from buildtrack.bench import words
from buildtrack.bench.entry import note_reading
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.bench_entry import BenchEntry
from buildtrack.model.checklist import Item
from buildtrack.model.edit import leave_out, take_up_again, withdraw_reading


class BenchStanding(BenchEntry):
    """The bench with what can be done to an answer."""

    # -- answers that stand ------------------------------------------------------------------------------------------

    def action_correct(self) -> None:
        """Correct an answer; of several readings the person says which."""
        item = self.item
        if item is not None and item.kind != "table":
            self._which(item, "Which reading do you correct?", self._correct)

    def _correct(self, item: Item, place: int) -> None:
        self.put_aside()
        self.begin_correcting(item.id, place)
        if item.kind in ("choice", "tick"):
            self.set_focus(self.card.options)
            return
        self.card.field.put(self.desk.build.entry(item.id).readings[place].text)
        self.card.field.select_all()  # what is typed takes its place; an arrow keeps it to be edited
        self.redraw()
        self.set_focus(self.card.field)

    def _which(self, item: Item, title: str, do: Callable[[Item, int], None]) -> None:
        """Do something to an answer that stands; where several count, ask which. It gets the place of the reading."""
        readings = self.desk.build.entry(item.id).readings
        standing = [n for n, r in enumerate(readings) if not r.withdrawn]
        if not standing:
            return
        if len(standing) == 1 or item.use in ("last", "first"):
            do(item, standing[-1])
            return

        def chosen(name: str | None) -> None:
            if name:
                do(item, int(name))

        listed = words.in_place(self.desk.build.entry(item.id))
        choices = [(str(n), words.reading_text(item, readings[n], self.desk)) for n in listed]
        self.app.push_screen(AskOne(title, choices, plain(item.label), current=str(standing[-1])), chosen)

    def action_same(self) -> None:
        """Put the last reading into the field once more; Enter takes it, for nothing is entered before Enter."""
        item, standing = self.item, self.desk.build.entry(self.item_id).standing
        if item is None or not standing:
            return
        if refused := self.desk.refusal(item):
            self.card.tell(refused)
            return
        self.put_aside()
        self.told_of = standing[-1].text
        self.card.field.put(self.told_of)
        self.set_focus(self.card.field)
        self.card.tell("The last reading once more, if the meter shows it again: Enter takes it, Esc drops it.", "ask")

    def action_leave_out(self) -> None:
        """Leave the item out with a reason, or take it up again."""
        item = self.item
        if item is None:
            return
        if self.desk.build.entry(item.id).left_out:
            self.edit(lambda build, hand: take_up_again(build, item, hand))
            return

        def answered(reason: str | None) -> None:
            if reason is not None and self.edit(lambda build, hand: leave_out(build, item, reason, hand)):
                self._move_on(item)

        title = f"Leave out '{item.label}'?"
        if item.need == "optional":
            asked = AskText(title, "It is optional; a reason helps a later reader.", about=(item.id,), empty="")
        else:
            asked = AskText(title, "The reason becomes a condition of the verdict.", about=(item.id,))
        self.app.push_screen(asked, answered)

    def _move_on(self, item: Item) -> None:
        if (following := self._following(item)) is not None:
            self.go_to(self.step_id, following.id)

    def action_withdraw(self) -> None:
        """Withdraw an answer with a reason."""
        if self.item is not None:
            self._which(self.item, "Which reading do you withdraw?", self._withdraw)

    def _withdraw(self, item: Item, place: int) -> None:
        def answered(reason: str | None) -> None:
            if reason is not None:
                self.edit(lambda build, hand: withdraw_reading(build, item, place, reason, hand))

        text = plain(self.desk.build.entry(item.id).readings[place].text)
        title = f"Withdraw {item.label}: {text}?"
        self.app.push_screen(
            AskText(title, "It stays in the file and no longer counts.", about=(item.id,)), answered
        )

    def action_remark(self) -> None:
        """Write a remark beside an answer."""
        if self.item is not None:
            self._which(self.item, "Which reading is the remark about?", self._remark)

    def _remark(self, item: Item, place: int) -> None:
        def answered(text: str | None) -> None:
            if text is not None:
                self.edit(lambda build, hand: note_reading(build, item, place, text, hand))

        reading = self.desk.build.entry(item.id).readings[place]
        asked = AskText(
            f"Remark on {item.label}: {plain(reading.text)}",
            about=(item.id,),
            text=reading.note,
            needed="write a remark, or press Esc",
        )
        self.app.push_screen(asked, answered)

    def action_attach(self) -> None:
        """Type the name of a photo or log."""
        self.action_answer()
