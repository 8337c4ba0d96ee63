"""Entering at the bench: typed, chosen, ticked and pasted answers, refusals, the question asked once."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from textual import events, on
from textual.widgets import Input

from buildtrack.bench import commands, words
from buildtrack.bench.desk import Edit
from buildtrack.bench.due import due
from buildtrack.bench.entry import CONFIRMED, no_reason, try_item
from buildtrack.bench.fault_field import finding_field
from buildtrack.bench.meaning import standing_cautions
from buildtrack.bench.onward import settled_text
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.ask import AskText
from buildtrack.bench.screens.attaching import enter_file
from buildtrack.bench.screens.bench_paste import BenchPaste
from buildtrack.bench.screens.money import ask_currency, is_asked
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.widgets.lines import LineList
from buildtrack.model.build import Build, Entry, Reading
from buildtrack.model.checklist import Item
from buildtrack.model.edit import EditError, Hand, add_reading, withdraw_reading

STARTS_READING = frozenset("0123456789.,-+")
"""Characters that begin a reading when they are typed on the list."""


class BenchEntry(BenchPaste):
    """The bench with everything that makes answers."""

    _had_text = False
    """Whether something stood in the field when the keys at the bottom were shown last."""

    told_of = ""
    """The text in the field that is told of on purpose: what is said goes when another stands there."""

    aside = ("", "")
    """An item and the text that waited in its field until another one was begun there."""

    refused_text = ""
    """The text in the field where it was refused just now and nothing was pressed since."""

    # -- beginning to answer -----------------------------------------------------------------------------------------

    def action_answer(self) -> None:
        """Open the current item."""
        item = self.item
        if item is None:
            return
        if self.desk.refusal(item):
            self.card.tell(words.held_text(item, self.desk))
            return
        if item.kind == "table":
            row, column = finding_field(self.desk, item)
            self.desk.finding = ""
            self.app.push_screen(TableScreen(item.id, row, column, new_row=not row and self._asks_for_row(item)))
        elif item.kind in ("choice", "tick"):
            self.set_focus(self.card.options)
        else:
            self.set_focus(self.card.field)

    def _asks_for_row(self, item: Item) -> bool:
        """Whether a row of a table of dated events is due today, and none of today is there."""
        entry, today = self.desk.build.entry(item.id), self.desk.around.clock().astimezone().date()
        if item.dated_by is None or not entry.rows or entry.rows[-1].text(item.dated_by.id) == today.isoformat():
            return False
        return any(each.item == item.id and each.on <= today for each in due(self.desk.judged))

    def open_at_new_row(self, name: str) -> None:
        """Open a table with a new row in it; where nothing may be entered, as it is."""
        item = self.desk.checklist.items.get(name)
        if item is not None and item.kind == "table" and item.id == self.item_id:
            self.app.push_screen(TableScreen(item.id, new_row=not self.desk.refusal(item)))

    @on(LineList.Chosen, "#items")
    def _item_chosen(self, event: LineList.Chosen) -> None:
        self.action_answer()

    def on_key(self, event: events.Key) -> None:
        """On the list a digit begins a reading or marks an answer, and what is no command begins a text.

        Nothing is entered before Enter.
        """
        item, typed = self.item, event.character or ""
        if item is None or self.focused not in (self.items, self.card.options) or not typed:
            return
        if self.is_for_words and event.is_printable and self._begins_text(event):
            event.stop().prevent_default()
            self._begin_typing(item, typed)
        if typed not in STARTS_READING:
            return
        within_number = self.number_at == item.id and self.card.options.current < 0
        marked = next((name for name, key in words.option_keys(item).items() if key == typed), "")
        if item.kind == "choice" and not within_number and marked:
            event.stop().prevent_default()
            self._mark(item, marked)
        elif item.kind == "reading" and self.focused is self.items:
            event.stop().prevent_default()
            self._begin_typing(item, typed)
        elif item.kind in ("choice", "tick"):
            event.stop().prevent_default()
            self._no_answer(item, typed)

    def _no_answer(self, item: Item, typed: str) -> None:
        """A number typed where no number is asked for: what it marked on its way is not meant."""
        self.number_at = item.id
        if self.focused is self.card.options:
            self.card.options.unmark()
        how = "y or n" if words.is_yes_no(item) else f"after Esc, 1 to {min(len(item.options), 9)}"
        said = f"'{plain(typed)}' is no answer here, and nothing is marked: {how} marks one, Enter takes it."
        self.card.tell(said, "ask")

    def _begins_text(self, event: events.Key) -> bool:
        """Whether a key is a first letter of a text: a letter is one, and what is no command."""
        typed, keymap = event.character or "", self.program.around.keymap
        if typed.isalnum() or typed.isspace():
            return typed.isalnum()
        return commands.of_key(event.key, self.PLACE, self.situation(), keymap) is None

    def _begin_typing(self, item: Item, typed: str) -> None:
        if refused := self.desk.refusal(item):
            self.card.tell(refused)
            return
        if aside := self.put_aside():
            self.aside = (item.id, aside)
            self.say(words.dropped_text(aside))
        self.card.field.put(typed)
        self.set_focus(self.card.field)

    def _mark(self, item: Item, name: str) -> None:
        """Mark an answer by its key. Enter takes it, here as everywhere: a key that is held down enters nothing."""
        if refused := self.desk.refusal(item):
            self.card.tell(refused)
            return
        if self.too_early(item):
            self.number_at = "" if words.is_yes_no(item) else item.id  # a digit may be the first of several
            self.say_too_early(item)
            return
        self.card.options.select(name)
        self.set_focus(self.card.options)
        self.card.tell(words.marked_text(item, name, self.desk.build.entry(item.id)), "ask")

    def action_say_yes(self) -> None:
        """Mark yes."""
        if self.item is not None and words.is_yes_no(self.item):
            self._mark(self.item, "yes")

    def action_say_no(self) -> None:
        """Mark no."""
        if self.item is not None and words.is_yes_no(self.item):
            self._mark(self.item, "no")

    @on(LineList.Unchosen, "#card-options")
    def _nothing_chosen(self, event: LineList.Unchosen) -> None:
        self.number_at = ""
        if self.item is not None and self.too_early(self.item):
            self.say_too_early(self.item)
            return
        self.card.tell("nothing is marked yet: ↑ ↓ or the key before an answer marks it, Enter takes it", "ask")

    @on(LineList.Chosen, "#card-options")
    def _option_chosen(self, event: LineList.Chosen) -> None:
        if self.item is not None and self.too_early(self.item):
            self.say_too_early(self.item)
        elif self.item is not None:
            self.enter(self.item, event.key)

    @on(Input.Submitted, "#field")
    def _field_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        if self.item is None:
            return
        if event.value.strip() and self.too_early(self.item):
            self.say_too_early(self.item, event.value)
            self.refused_text = self.card.field.value
        elif self.item.kind in ("photo", "file"):
            enter_file(self, self.item, event.value)
        else:
            self.enter(self.item, event.value)

    @on(Input.Changed, "#field")
    def _field_changed(self, event: Input.Changed) -> None:
        if self._begins_anew(event.value):
            return
        told = {self.desk.drafts.of((self.item_id,)), self.told_of} - {""}
        if self.card.told and event.value not in told:
            self.told_of = ""
            self.card.tell("")
        if bool(event.value) is not self._had_text:
            self._had_text = bool(event.value)
            self.refresh_keys()
        self.program.keeper.key_came()

    def _begins_anew(self, text: str) -> bool:
        """A digit right behind a refused reading begins the next one; it does not lengthen the refused one."""
        refused, self.refused_text = self.refused_text, ""
        if not refused or self.item is None or self.item.kind != "reading":
            return False
        if text[:-1] != refused or text[-1] not in STARTS_READING:
            return False
        self.desk.drafts.drop((self.item_id,), refused, self.desk.build, self._corrected(self.item_id))
        self.card.field.put(text[-1])
        self.say(words.dropped_text(refused))
        return True

    # -- taking an answer --------------------------------------------------------------------------------------------

    def enter(self, item: Item, text: str) -> None:
        """Take an answer, refuse it with a sentence, or ask once where it is unusual."""
        if refused := self.desk.refusal(item):
            self.card.tell(refused)
            return
        tried = try_item(item, text, self.desk.build.currency)
        if tried.refused:
            self.keep_draft(item.id, text)
            self.refused_text = self.card.field.value
            self.card.tell(words.in_money(tried.refused, self.desk) + self.key_meant(text))
        elif self._puts_in_place(item, text):
            self._tell_in_place(item, text)
        elif tried.unusual:
            self.keep_draft(item.id, text)
            self._ask_unusual(item, tried.text, words.in_money(tried.unusual, self.desk))
        elif since := self._already(item, tried.text):
            self._tell_already(item, since)
        elif is_asked(self, item.dimension):
            ask_currency(self, tried.text, partial(self.take, item, tried.text))
        else:
            self.take(item, tried.text)
            if tried.read_as:
                self.say(tried.read_as)

    def _already(self, item: Item, text: str) -> str:
        """The day since which an answer is this one; empty where it is another, or is to be confirmed anew."""
        standing = self.desk.build.entry(item.id).standing
        again = self.editing == item.id or self.desk.item_state(item.id).state in ("stale", "expired")
        if item.kind not in ("choice", "tick", "text") or again or not standing or standing[-1].text != text:
            return ""
        taken = standing[-1].taken
        return f"{taken:%Y-%m-%d}" if taken is not None and self.value_class == standing[-1].value_class else ""

    def _tell_already(self, item: Item, since: str) -> None:
        """The same answer again is none: its day stays. Confirmed anew it is on purpose, by correcting it."""
        self.back_to_list(item)
        self.card.tell(f"That is the answer already, since {since}: its day stays. e, then Enter confirms it today.",
                       "fine")

    def back_to_list(self, item: Item) -> None:
        """Close the field of an item without an answer: what was typed is one already."""
        self.desk.drafts.keep((item.id,), "")
        self._empty_field()
        self.set_focus(self.items)
        self.redraw()

    def _puts_in_place(self, item: Item, text: str) -> bool:
        """Whether a typed reading would take the place of one at a hold point, and that was not said before."""
        standing, said = self.desk.build.entry(item.id).standing, self.told_of == text
        settled = self.desk.item_state(item.id).state == "done"
        single = item.hold and item.kind == "reading" and item.several == 1
        return single and settled and bool(standing) and self.editing != item.id and not said

    def _tell_in_place(self, item: Item, text: str) -> None:
        """A reading typed on an answered item may be meant for the next one."""
        self.keep_draft(item.id, text)
        self.told_of = text
        shown = plain(words.in_money(words.answer_text(item, self.desk.build.entry(item.id)), self.desk))
        said = f"Hold point: {shown} stands. Enter again puts {plain(text)} in its place, Esc keeps {shown}."
        self.card.tell(said, "ask")

    def _ask_unusual(self, item: Item, text: str, sentence: str) -> None:
        def answered(reason: str | None) -> None:
            if reason is None:
                self.card.tell(sentence, "ask")
                self.set_focus(self.card.field)
            else:
                self.take(item, text, reason)

        more = "Look at the meter again. If it is right, say why, or just press Enter; the answer is recorded."
        refuse = partial(no_reason, item)
        asked = AskText(
            sentence, more, about=(item.id,), placeholder="why it is right", empty=CONFIRMED, refuse=refuse
        )
        self.app.push_screen(asked, answered)

    def take(self, item: Item, text: str, accepted: str = "") -> None:
        """Make a reading of a text that fits, and go on."""
        instrument = self.instrument_for(item, text) if item.kind == "reading" else ""
        reading = Reading(text, self.desk.hand().at, instrument, "", self.value_class, accepted=accepted)
        if old := self._corrects(item):
            correcting = self.editing_at if self.editing == item.id else -1
            stops = self.desk.lifted(lambda build, hand: _put(build, item, reading, hand, correcting))
            if stops:
                self._ask_why(item, old, reading, [r.title for r in stops])
                return
        self.put(item, reading)

    def _corrects(self, item: Item) -> str:
        """The reading in whose place the next one of an item comes; empty where it comes beside others, or is first."""
        standing = self.desk.build.entry(item.id).standing
        if item.kind != "reading":
            return ""
        return self._corrected(item.id) or (standing[-1].text if standing and item.several == 1 else "")

    def _ask_why(self, item: Item, old: str, reading: Reading, titles: list[str]) -> None:
        """A reading that a stop rested on is not taken away without a reason."""

        def answered(reason: str | None) -> None:
            if reason is None:
                self.keep_draft(item.id, reading.text)
                self.card.field.put(reading.text)
                self.set_focus(self.card.field)
                self.card.tell(f"{plain(old)} stands, and so does the stop: nothing was changed.", "ask")
            else:
                self.put(item, replace(reading, note=words.in_place_of(old, reason)))

        title, more = words.lifted_text(old, reading.text, titles)
        refuse = partial(no_reason, item)
        self.app.push_screen(AskText(title, more, about=(item.id,), needed=words.NO_WHY, refuse=refuse), answered)

    def put(self, item: Item, reading: Reading) -> None:
        """Put a reading into the build, and go on."""
        usual = self.instrument_for(item) if item.kind == "reading" and not reading.instrument else ""
        correcting = self.editing_at if self.editing == item.id else -1
        settled = self.desk.item_state(item.id).state == "done" and item.several == 1
        if self.edit(lambda build, hand: _put(build, item, reading, hand, correcting), shown=False):
            self.begin_correcting("", -1)
            self.desk.drafts.keep((item.id,), "")
            self._empty_field()
            self.card.tell("")
            if correcting >= 0 or settled:
                self._stay(item, reading)
            else:
                self._go_on(item, reading)
            self._tell_aside(item)
            self._say_unfit(item, reading, usual)

    def _say_unfit(self, item: Item, reading: Reading, usual: str) -> None:
        """Where the instrument of the step does not show such a reading, say that none was noted."""
        if usual:
            key = commands.key_text(commands.key_of(commands.BY_ID["instrument"], self.program.around.keymap))
            way = f"taken without an instrument. {key} at '{item.label}' names one."
            self.say(f"{usual} does not show {words.with_unit(reading.text.strip(), item.unit)} well: {way}")

    def _tell_aside(self, item: Item) -> None:
        """What waited in the field is not lost with the answer that was taken there: u brings it back."""
        (name, text), self.aside = self.aside, ("", "")
        if name == item.id:
            self.desk.drafts.drop((item.id,), text, self.desk.build)
            self.say(f"{words.dropped_text(text)} {self.said}".strip())

    def _empty_field(self) -> None:
        """What was typed is taken: nothing is to be told of it, as it is of a text that somebody changes."""
        field = self.card.field
        with field.prevent(Input.Changed):
            field.put("")
        self._had_text = False
        self.program.keeper.key_came()

    def _stay(self, item: Item, reading: Reading) -> None:
        """After a correction: on the item, where its effect is seen; the next thing to do is one key away."""
        self.set_focus(self.items)
        self.redraw(panel=False)
        shown = words.in_money(words.answer_text(item, Entry((reading,))), self.desk)
        self.card.tell(f"Now it is {plain(shown)}. u takes it back, x goes on to the next thing to do.", "fine")
        if self._following(item) is None:
            self._say_settled()

    def edit(self, change: Edit, shown: bool = True) -> bool:
        """Make an edit and have it saved; where it cannot be made, say why under the field.

        Not `shown`: whoever asked for it shows it, together with what comes of it.
        """
        try:
            self.desk.change(change)
        except EditError as error:
            self.card.tell(str(error))
            return False
        self.value_class = "measured"
        self.say("")
        self.program.build_changed(shown)
        return True

    def _go_on(self, item: Item, reading: Reading) -> None:
        standing = len(self.desk.build.entry(item.id).standing)
        self.set_focus(self.items)  # the field closes at each Enter: on the list u is undo, a digit the next reading
        if item.kind == "reading" and standing < item.several:
            self.card.tell(f"{standing} of {item.several} taken: type the next one. u takes this one back.", "fine")
            self.redraw(panel=False)
            return
        if self.desk.item_state(item.id).lacks:  # said at once, where it was answered: x goes to what it rests on
            self.redraw(panel=False)
            return
        following = self._following(item)
        if following is None:
            self.redraw(panel=False)
            self._say_settled()
            return
        self.item_id = following.id
        self.redraw(panel=False)
        self.show_draft()

    def judged_anew(self) -> None:
        """What was entered may ask for more, or for less, than was known when the next item was shown."""
        self.program.when_quiet(self._show_judged)  # a key on its way is meant for the item that is seen

    def _show_judged(self) -> None:
        if self.is_left():
            return
        item, settled = self.item, bool(self.said) and self.said == self.settled_said
        following = self._following(item) if item is not None else None
        asked = item is not None and self.desk.item_state(item.id).state != "not needed"
        idle = self.is_current and self.focused is self.items
        if idle and following is not None and (not asked or settled):
            self.say("")
            self.go_to(self.step_id, following.id)
        else:
            self.redraw()
            if settled:
                self._say_settled()
        self._show_fresh_stop()
        self._say_fresh_caution()

    def _say_fresh_caution(self) -> None:
        """A caution that was not there before is said, where nothing else was: it may lie outside of what is seen."""
        before, self.cautions = self.cautions, standing_cautions(self.desk)
        fresh = next((r for name, r in self.cautions.items() if name not in before), None)
        if fresh is not None and not self.said:
            where = "F2, then Enter shows it" if fresh.step == self.step_id else "F5 shows it"
            self.say(f"▲ Caution: {plain(fresh.title)}. {where}.")

    def _say_settled(self) -> None:
        """Say that nothing more is asked for here, or what a stop still waits for."""
        self.settled_said = settled_text(self.desk, self.step)
        self.say(self.settled_said)

    def _show_fresh_stop(self) -> None:
        """A stop that has just failed is seen in the panel, and said."""
        told, self.stop_told = self.stop_told, self.desk.fresh_stop
        if self.desk.fresh_stop and self.desk.fresh_stop != told:
            self.meaning.select(f"check:{self.desk.fresh_stop}")
            self.say(words.stop_text(self.desk, "x shows it"), "bad")

    def _following(self, item: Item) -> Item | None:
        """The next item below that is not settled; else the first above."""
        asked = self.asked_items(self.step)
        place = next((n for n, i in enumerate(asked) if i.id == item.id), -1)
        order = [*asked[place + 1 :], *asked[: max(place, 0)]]
        return next((i for i in order if not self.desk.item_state(i.id).settled), None)


def _put(build: Build, item: Item, reading: Reading, hand: Hand, correcting: int) -> Build:
    """Add a reading; a correction withdraws the one at its place where both would count. correcting: below 0, none."""
    readings = build.entry(item.id).readings
    stands = 0 <= correcting < len(readings) and not readings[correcting].withdrawn
    if stands and (item.several > 1 or item.use != "last"):
        build = withdraw_reading(build, item, correcting, f"{words.CORRECTED}{reading.text}", hand)
    return add_reading(build, item, reading, hand)
