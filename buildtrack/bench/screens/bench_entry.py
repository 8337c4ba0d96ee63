"""Entering at the bench: typed, chosen, ticked and pasted answers, refusals, the question asked once."""

from __future__ import annotations

from textual import events, on
from textual.widgets import Input

from buildtrack.bench.attach import attached_reading
from buildtrack.bench.desk import Edit
from buildtrack.bench.entry import CONFIRMED, pasted_lines, share_out, try_item
from buildtrack.bench.screens.ask import AskText
from buildtrack.bench.screens.bench_view import BenchView
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.lines import LineList
from buildtrack.model.build import Build, Reading
from buildtrack.model.checklist import Item
from buildtrack.model.edit import EditError, Hand, add_reading, withdraw_reading

STARTS_READING = frozenset("0123456789.,-+")
"""Characters that begin a reading when they are typed on the list."""
STEP_SETTLED = "Everything asked for in this step is settled. ] goes on to the next step."


class BenchEntry(BenchView):
    """The bench with everything that makes answers."""

    editing = ""
    """Item whose last answer is being corrected."""

    # -- beginning to answer -----------------------------------------------------------------------------------------

    def action_answer(self) -> None:
        """Open the current item."""
        item = self.item
        if item is None:
            return
        if refused := self.desk.refusal(item):
            self.card.tell(refused)
            return
        if item.kind == "table":
            self.app.push_screen(TableScreen(item.id))
        elif item.kind in ("choice", "tick"):
            self.set_focus(self.card.options)
        else:
            self.set_focus(self.card.field)

    @on(LineList.Chosen, "#items")
    def _item_chosen(self, event: LineList.Chosen) -> None:
        self.action_answer()

    def on_key(self, event: events.Key) -> None:
        """On the list a digit begins a reading, or chooses an answer."""
        item, typed = self.item, event.character or ""
        if (
            item is None
            or self.focused not in (self.items, self.card.options)
            or typed not in STARTS_READING
            or not typed
        ):
            return
        if item.kind == "choice" and typed.isdigit() and 0 < int(typed) <= len(item.options):
            event.stop()
            self.enter(item, item.options[int(typed) - 1].id)
        elif item.kind == "reading" and self.focused is self.items:
            event.stop()
            self._begin_reading(item, typed)

    def _begin_reading(self, item: Item, typed: str) -> None:
        if refused := self.desk.refusal(item):
            self.card.tell(refused)
            return
        self.card.field.put(typed)
        self.set_focus(self.card.field)

    def action_say_yes(self) -> None:
        """Answer yes."""
        if self.item is not None and self.item.kind == "tick":
            self.enter(self.item, "yes")

    def action_say_no(self) -> None:
        """Answer no."""
        if self.item is not None and self.item.kind == "tick":
            self.enter(self.item, "no")

    @on(LineList.Chosen, "#card-options")
    def _option_chosen(self, event: LineList.Chosen) -> None:
        if self.item is not None:
            self.enter(self.item, event.key)

    @on(Input.Submitted, "#field")
    def _field_submitted(self, event: Input.Submitted) -> None:
        if self.item is None:
            return
        if self.item.kind in ("photo", "file"):
            self.enter_file(self.item, event.value)
        else:
            self.enter(self.item, event.value)

    @on(Input.Changed, "#field")
    def _field_changed(self, event: Input.Changed) -> None:
        if self.card.told and event.value != self.drafts.get(self.item_id):
            self.card.tell("")

    # -- taking an answer --------------------------------------------------------------------------------------------

    def enter(self, item: Item, text: str) -> None:
        """Take an answer, refuse it with a sentence, or ask once where it is unusual."""
        if refused := self.desk.refusal(item):
            self.card.tell(refused)
            return
        tried = try_item(item, text)
        if tried.refused:
            self.drafts[item.id] = text
            self.card.tell(tried.refused)
        elif tried.unusual:
            self.drafts[item.id] = text
            self._ask_unusual(item, tried.text, tried.unusual)
        else:
            self.take(item, tried.text)

    def _ask_unusual(self, item: Item, text: str, sentence: str) -> None:
        def answered(reason: str | None) -> None:
            if reason is None:
                self.card.tell(sentence, "ask")
                self.set_focus(self.card.field)
            else:
                self.take(item, text, reason)

        more = "Look at the meter again. If it is right, say why, or just press Enter; the answer is recorded."
        self.app.push_screen(AskText(sentence, more, placeholder="why it is right", empty=CONFIRMED), answered)

    def enter_file(self, item: Item, text: str) -> None:
        """Attach a photo or log by its name."""
        if refused := self.desk.refusal(item):
            self.card.tell(refused)
            return
        reading = attached_reading(self.desk.session.path, text, self.desk.hand().at, item.kind)
        if isinstance(reading, str):
            self.drafts[item.id] = text
            self.card.tell(reading)
        else:
            self.put(item, reading)

    def take(self, item: Item, text: str, accepted: str = "") -> None:
        """Make a reading of a text that fits, and go on."""
        instrument = self.instrument_for(item) if item.kind == "reading" else ""
        self.put(item, Reading(text, self.desk.hand().at, instrument, "", self.value_class, accepted=accepted))

    def put(self, item: Item, reading: Reading) -> None:
        """Put a reading into the build, and go on."""
        correcting = self.editing == item.id
        if self.edit(lambda build, hand: _put(build, item, reading, hand, correcting)):
            self.editing = ""
            self.drafts.pop(item.id, None)
            self.card.field.put("")
            self._go_on(item, reading)

    def edit(self, change: Edit) -> bool:
        """Make an edit and have it saved; where it cannot be made, say why under the field."""
        try:
            self.desk.change(change)
        except EditError as error:
            self.card.tell(str(error))
            return False
        self.value_class = "measured"
        self.say("")
        self.program.build_changed()
        return True

    def _go_on(self, item: Item, reading: Reading) -> None:
        standing = len(self.desk.build.entry(item.id).standing)
        if item.kind == "reading" and standing < item.several:
            self.card.tell(f"{standing} of {item.several} taken: the next one", "fine")
            self.set_focus(self.card.field)
            return
        self.set_focus(self.items)
        following = self._following(item)
        if following is None:
            self.say(STEP_SETTLED)
            return
        self.item_id = following.id
        self.redraw()
        self.show_draft()

    def judged_anew(self) -> None:
        """What was entered may ask for more, or for less, than was known when the next item was shown."""
        if self.program.keys_waiting:
            self.call_after_refresh(self.judged_anew)  # the key on its way is meant for the item that is seen
            return
        item = self.item
        following = self._following(item) if item is not None else None
        asked = item is not None and self.desk.item_state(item.id).state != "not needed"
        idle = self.is_current and self.focused is self.items
        if idle and following is not None and (not asked or self.said == STEP_SETTLED):
            self.say("")
            self.go_to(self.step_id, following.id)
        else:
            self.redraw()

    def _following(self, item: Item) -> Item | None:
        """The next item below that is not settled; else the first above."""
        asked = self.asked_items(self.step)
        place = next((n for n, i in enumerate(asked) if i.id == item.id), -1)
        order = [*asked[place + 1 :], *asked[: max(place, 0)]]
        return next((i for i in order if not self.desk.item_state(i.id).settled), None)

    # -- pasting -----------------------------------------------------------------------------------------------------

    @on(Field.PastedLines, "#field")
    def _lines_pasted(self, event: Field.PastedLines) -> None:
        item = self.item
        if item is None:
            return
        if item.kind != "reading":
            event.field.put(event.field.value + " ".join(event.text.split()))
            self.card.tell("several lines were pasted; they were joined to one", "ask")
            return
        shared = share_out(pasted_lines(event.text), self._places(item))
        for place, text in shared.taken:
            self._take_quietly(place, text)
        self._tell_pasted(len(shared.taken), shared.left, shared.why)

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

    def _take_quietly(self, item: Item, text: str) -> None:
        reading = Reading(text, self.desk.hand().at, self.instrument_for(item), "", self.value_class)
        self.desk.change(lambda build, hand: add_reading(build, item, reading, hand))

    def _tell_pasted(self, taken: int, left: tuple[str, ...], why: str) -> None:
        if taken:
            self.program.build_changed()
        told = f"{taken} pasted lines taken."
        if left:
            kept = ", ".join(left[:5]) + ("…" if len(left) > 5 else "")
            told += f" Not taken: {kept} ({why})."
            self.card.field.put(left[0])
        self.say(told, "bad" if left else "")


def _put(build: Build, item: Item, reading: Reading, hand: Hand, correcting: bool) -> Build:
    """Add a reading; a correction withdraws the one before where both would count."""
    places = [i for i, r in enumerate(build.entry(item.id).readings) if not r.withdrawn]
    if correcting and places and (item.several > 1 or item.use != "last"):
        build = withdraw_reading(build, item, places[-1], f"corrected to {reading.text}", hand)
    return add_reading(build, item, reading, hand)
