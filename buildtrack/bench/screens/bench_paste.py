"""Pasting at the bench: a column of readings goes into this item and those below it."""

from __future__ import annotations

from textual import events, on

from buildtrack.bench.entry import Pasted, pasted_lines, share_out, told_once
from buildtrack.bench.plain import listed
from buildtrack.bench.screens.bench_hold import BenchHold
from buildtrack.bench.widgets.field import Field
from buildtrack.model.build import Reading
from buildtrack.model.checklist import Item
from buildtrack.model.edit import add_reading


class BenchPaste(BenchHold):
    """The bench with what pasted lines become."""

    # -- pasting -----------------------------------------------------------------------------------------------------

    def on_paste(self, event: events.Paste) -> None:
        """Pasted onto the list: it goes where it would in the field of the current item."""
        item = self.item
        if self.focused is not self.items or item is None or not event.text.strip():
            return
        event.stop()
        if item.kind in ("choice", "tick", "table"):
            self.card.tell("nothing can be pasted here: open a table first, and go to a number or a text")
        elif refused := self.desk.refusal(item):
            self.card.tell(refused)
        else:
            self.set_focus(self.card.field)
            if len(pasted_lines(event.text)) > 1:
                self._share(event.text)
            else:
                self.put_aside()
                self.card.field.put(event.text.strip())

    @on(Field.PastedLines, "#field")
    def _lines_pasted(self, event: Field.PastedLines) -> None:
        self._share(event.text)

    def _share(self, text: str) -> None:
        item, field = self.item, self.card.field
        if item is None:
            return
        if item.kind != "reading":
            field.put(field.value + " ".join(text.split()))
            self.card.tell("several lines were pasted; they were joined to one", "ask")
            return
        if self._corrected(item.id):
            field.put(pasted_lines(text)[0])
            self.card.tell("a reading is being corrected: the first line stands in the field, no other is taken", "ask")
            return
        shared = share_out(pasted_lines(text), self._places(item), self.desk.build.currency, self._unseen)
        for place, line in shared.taken:
            self._take_quietly(place, line)
        waiting: dict[str, str] = {}
        for place, line, _ in shared.apart:
            typed = field.value if place is item else self.desk.drafts.of((place.id,))
            if not typed:  # what stands there is never pasted over
                waiting.setdefault(place.id, line)
        for name, line in waiting.items():
            self.desk.drafts.keep((name,), line)
        if item.id in waiting:
            field.put(waiting[item.id])
        self._tell_pasted(shared, list(waiting.values()))

    def _places(self, item: Item) -> list[Item]:
        """Where pasted lines go: what is left of this item, then the readings below it."""
        asked = self.asked_items(self.step)
        below = asked[[i.id for i in asked].index(item.id) + 1 :]
        left = max(1, item.several - len(self.desk.build.entry(item.id).standing))
        found = [item] * left
        for other in below:
            if other.kind == "reading" and not self.desk.refusal(other):
                found += [other] * max(0, other.several - len(self.desk.build.entry(other.id).standing))
        return found

    def _unseen(self, item: Item) -> str:
        """Why a pasted line waits in the field of an item."""
        return "a hold point, not seen yet: read it, then Enter takes it" if self.too_early(item) else ""

    def _take_quietly(self, item: Item, text: str) -> None:
        reading = Reading(text, self.desk.hand().at, self.instrument_for(item, text), "", self.value_class)
        self.desk.change(lambda build, hand: add_reading(build, item, reading, hand))

    def _tell_pasted(self, shared: Pasted, waiting: list[str]) -> None:
        if shared.taken:
            self.program.build_changed()
        told = f"{len(shared.taken)} pasted line{'' if len(shared.taken) == 1 else 's'} taken"
        labels = [item.label for item, _ in shared.taken]
        if len(set(labels)) > 1:  # what went on into other items is never found out only later
            told += ": " + ", ".join(f"{labels.count(each)} for '{each}'" for each in dict.fromkeys(labels))
        told += ". " + told_once(shared.read_as) if shared.read_as else "."
        if shared.apart:
            item, line, why = shared.apart[0]
            waits = "; it waits in its field" if waiting[:1] == [line] else ""
            told += f" Not taken: {line} ({item.label}: {why}){waits}."
            others = [line for _, line, _ in shared.apart if line not in waiting] + [*shared.left]
            more = len(waiting) - 1
            told += f" {more} more wait in their fields." if more else ""
        else:
            others = [*shared.left]
        if others:
            told += f" Without a field: {listed(others, 5)}."
        self.say(told, "bad" if shared.apart or shared.left else "")
