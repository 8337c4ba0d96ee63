"""What the bench shows: steps, the items of one step, the current item large, and what it means now."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.timer import Timer

from buildtrack.bench import commands, words
from buildtrack.bench.card_text import card_text
from buildtrack.bench.commands import Situation, bindings
from buildtrack.bench.desk import Desk
from buildtrack.bench.meaning import meaning_lines, open_cautions, standing_cautions, standing_faults
from buildtrack.bench.meters import fitting
from buildtrack.bench.onward import lacking_in, onward
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.place import Place
from buildtrack.bench.step_lines import NOT_FULL, item_line, rail_lines, step_strip, step_words
from buildtrack.bench.widgets.card import Card, CardText
from buildtrack.bench.widgets.head import Head, KeyLine
from buildtrack.bench.widgets.line_text import Line, Piece
from buildtrack.bench.widgets.lines import LineList
from buildtrack.bench.widgets.told import Notice
from buildtrack.checks.ruling import Result
from buildtrack.model.checklist import Item, Step


class BenchView(Place):
    """The bench, looked at; entering is added by its subclasses."""

    PLACE = "bench"
    BINDINGS: ClassVar[list[BindingType]] = bindings("bench")
    AUTO_FOCUS = "#items"
    CSS_PATH = "bench.tcss"

    def __init__(self) -> None:
        super().__init__()
        self.step_id = ""
        self.item_id = ""
        self.editing = ""
        """Item an answer of which is being corrected."""
        self.editing_at = -1
        self._corrected_at: dict[str, int] = {}
        """Which reading of an item was being corrected when the item was left."""
        """Place of that answer among all readings of the item, those withdrawn counted too."""
        self.letters_free = ""
        """The item of words on which letters run commands, because Esc was pressed there."""
        self.number_at = ""
        """The choice at which a number is being typed that is no answer there: its later digits mark nothing either."""
        self.notes_said = ""
        """What was said when the build was opened."""
        self.dropped_said = ""
        """What was said last of a text that was dropped."""
        self.settled_said = ""
        """What was said last when nothing more was asked for in a step."""
        self.stop_told = ""
        """The stop that was told of when it failed."""
        self.cautions: Mapping[str, Result] = {}
        """The cautions that stood when the build was judged last, by their check."""
        self.value_class = "measured"
        self.every_check = False
        """Whether the checks that passed or wait are listed one by one."""
        self._minute: Timer | None = None
        self._resumed_early = False
        """Whether the screen was to be shown before all of it was there."""
        self._shown: Desk | None = None
        self._item_lines: dict[str, tuple[tuple[object, ...], Line]] = {}
        """The line of each item with what it was made of: a key changes one or two of them."""
        self._panel_due = False
        self._panel_about: Item | None = None
        """The item that is nearest in the panel as it is shown."""

    def compose(self) -> ComposeResult:
        """Head; rail, items over card, meaning; what happened; keys."""
        yield Head()
        with Horizontal(id="body"):
            yield LineList(id="rail")
            with Vertical(id="middle"):
                yield LineList(id="items", choose_on_click=False)
                yield Card(id="card")
            yield Notice(lasting=True, ruled=True, id="between")  # the rule above what it means, where that is below
            yield LineList(id="meaning")
        yield Notice(lasting=True, id="notice")
        yield KeyLine()

    def on_mount(self) -> None:
        """Look at the clock from time to time; begin, where the screen was told of before all of it was there."""
        self._minute = self.set_interval(30.0, self._time_passes)
        if self._resumed_early:
            self.call_after_refresh(self.on_screen_resume)

    def on_screen_resume(self) -> None:
        """Another build begins at the next thing to do; the same one stays where it was."""
        if self.is_left():
            return
        self._resumed_early = not self.query("#field")
        if self._resumed_early:
            return  # it begins when it is mounted
        if self._shown is not self.desk:
            self._shown, self.item_id, self.editing = self.desk, "", ""  # a text in the field is of the build before
            self.cautions = standing_cautions(self.desk)
            self.go_to_next()
            if self.program.keeper.item:
                self.jump(self.program.keeper.item)
            key = "Esc, then k" if self.is_for_words else "k"
            self.notes_said = words.notes_text(self.notes(), 2 * self.size.width - 20, key)
            self.say(self.notes_said)
        else:
            self._say_no_stale_note()
            self.redraw()
        self.program.arrive()

    def _say_no_stale_note(self) -> None:
        """What was said on opening is said no longer once it is not so any more: a text typed before was taken."""
        if self.notes_said and self.said == self.notes_said:
            self.notes_said = words.notes_text(self.notes(), 2 * self.size.width - 20)
            self.say(self.notes_said)

    def notes(self) -> list[str]:
        """What was found when the file was opened."""
        return [n for n in (self.program.begun, *self.desk.session.notes, *self.program.keeper.notes()) if n]

    def _time_passes(self) -> None:
        if self.program.desk is not None and self.is_current:
            self.program.judge()

    @property
    def stands(self) -> bool:
        """Whether a key finds all of it in place, with the build that is open."""
        return super().stands and self._shown is self.program.desk

    # -- where we are ------------------------------------------------------------------------------------------------

    @property
    def step(self) -> Step:
        """The step on the screen."""
        found = self.desk.checklist.step(self.step_id)
        return found if found is not None else self.desk.checklist.steps[0]

    @property
    def item(self) -> Item | None:
        """The current item."""
        return self.desk.checklist.items.get(self.item_id)

    @property
    def card(self) -> Card:
        """The card."""
        return self.query_one(Card)

    @property
    def items(self) -> LineList:
        """The list of items."""
        return self.query_one("#items", LineList)

    @property
    def meaning(self) -> LineList:
        """The panel of workings and checks."""
        return self.query_one("#meaning", LineList)

    def asked_items(self, step: Step) -> list[Item]:
        """The items of a step that apply to this build."""
        return [i for i in step.items if self.desk.item_state(i.id).state != "not needed"]

    def go_to_next(self) -> None:
        """Go to the next thing that is asked for."""
        name = onward(self.desk).item
        item = self.desk.checklist.items.get(name)
        self.go_to(item.step if item else self.desk.checklist.steps[-1].id, name)

    def jump(self, name: str) -> None:
        """Go to an item, in whichever step it is."""
        item = self.desk.checklist.items.get(name)
        if item is not None:
            self.go_to(item.step, item.id)

    def go_to(self, step: str, item: str = "") -> None:
        """Show a step at one of its items: the one named, or the first that is not settled."""
        self.keep_typed()
        of_step = self.dropped_said and step != self.step_id and self.said.startswith(self.dropped_said)
        if of_step or self.settled_said and self.said == self.settled_said:
            self.say("")  # it was said of the step that is left
        self.step_id, self.letters_free = step, ""
        asked = self.asked_items(self.step)
        names = [i.id for i in asked]
        unsettled = [i.id for i in asked if not self.desk.item_state(i.id).settled]
        self.item_id = item if item in names else (unsettled or names or [""])[0]
        self.value_class = "measured"
        self.redraw()
        self.show_draft()
        self.set_focus(self.items)

    def keep_typed(self) -> None:
        """Keep what stands in the field but is no answer yet."""
        if self.item_id and self.is_mounted and self.desk is self._shown:
            self.keep_draft(self.item_id, "" if self._unchanged() else self.card.field.value)

    def keep_draft(self, item: str, text: str) -> None:
        """Keep a text typed for an item; where it corrects an answer, together with that."""
        self.desk.drafts.keep((item,), text, self._corrected(item))
        if self.editing == item:
            self._corrected_at[item] = self.editing_at

    def put_aside(self) -> str:
        """Another text goes into the field: what stands there comes back with u; returns it."""
        text = "" if self._unchanged() else self.card.field.value
        self.desk.drafts.drop((self.item_id,), text, self.desk.build, self._corrected(self.item_id))
        return text

    def begin_correcting(self, item: str, place: int) -> None:
        """The reading at `place` of an item is being corrected; none where it is below 0."""
        self.editing, self.editing_at = (item, place) if place >= 0 else ("", -1)

    def _corrected(self, item: str) -> str:
        """The answer of an item that is being corrected; empty where none is."""
        readings = self.desk.build.entry(item).readings if self.editing == item else ()
        found = readings[self.editing_at] if 0 <= self.editing_at < len(readings) else None
        return found.text if found is not None and not found.withdrawn else ""

    def _unchanged(self) -> bool:
        """Whether an answer that is being corrected still stands in the field as it was."""
        corrected = self._corrected(self.item_id)
        return bool(corrected) and corrected == self.card.field.value

    def show_draft(self) -> None:
        """Put the kept text of the current item into the field; a correction goes on where its answer still stands."""
        self.number_at = ""
        place = (self.item_id,)
        corrects, readings = self.desk.drafts.corrects(place), self.desk.build.entry(self.item_id).readings
        same = [n for n, r in enumerate(readings) if corrects and r.text == corrects and not r.withdrawn]
        at = self._corrected_at.get(self.item_id, -1)  # of two readings alike, the one that was chosen
        self.begin_correcting(self.item_id, at if at in same else same[-1] if same else -1)
        self.card.field.put(self.desk.drafts.of(place))
        self.card.tell("")

    # -- showing -----------------------------------------------------------------------------------------------------

    def situation(self) -> Situation:
        """Where the person is now."""
        desk, item = self.desk, self.item
        entry = desk.build.entry(self.item_id)
        return Situation(
            place="bench",
            kind=item.kind if item else "",
            need=item.need if item else "",
            answered=bool(entry.standing or entry.rows),
            refused=desk.refusal(item),
            read_only=bool(desk.refusal()),
            can_undo=desk.can_undo,
            can_redo=desk.can_redo,
            unsaved=desk.unsaved,
            changed_outside=self.program.outside.changed,
            cautions=bool(open_cautions(desk, self.step_id)),
            left_out=entry.left_out is not None,
            ended=desk.build.ended is not None,
            yes_no=item is not None and words.is_yes_no(item),
            typing=self._typing(),
            notes=bool(self.notes()),
            words=self.is_for_words,
            measured=item is None or item.metered,
            unmetered=item is not None and self._must_choose(item),
            from_review=desk.way_back is not None,
        )

    @property
    def is_for_words(self) -> bool:
        """Whether letters begin the text of the current item: it has none yet, and Esc was not pressed on it."""
        item = self.item
        if item is None or item.kind != "text" or self.focused is not self.items:
            return False
        open_ = not self.desk.build.entry(item.id).standing and not self.desk.refusal(item)
        return open_ and self.letters_free != item.id

    def _typing(self) -> str:
        """What has the keyboard beside the list of items."""
        focused = self.focused
        if focused is self.card.field:
            return "field" if self.card.field.value else "empty field"
        return "options" if focused is self.card.options else "panel" if focused is self.meaning else ""

    def redraw(self, panel: bool = True) -> None:
        """Show everything anew; without `panel` that follows when the item has been seen."""
        if self.desk.way_back is not None and not self.desk.way_back.holds(self.desk.build):
            self.desk.way_back = None
        self._redraw_items()
        self._redraw_card()
        self._redraw_rail()
        if panel:
            self._redraw_panel()
        else:
            self._redraw_panel_soon()
            if self._panel_due:
                self.meaning.show(self._meaning_lines(self._panel_about))  # what comes next is true at once
        super().redraw()

    def _redraw_panel_soon(self) -> None:
        """Put what is nearest to another item to the top of the panel, when the item itself has been seen."""
        if any(item is not None and item.beside for item in (self._panel_about, self.item)):
            self._redraw_panel("")  # what stands beside an item is read together with it
        elif not self._panel_due:
            self._panel_due = True
            self.program.when_quiet(partial(self._redraw_panel, ""))

    @property
    def panel_stands(self) -> bool:
        """Whether the panel is about the current item by now."""
        return not self._panel_due

    def _redraw_panel(self, current: str | None = None) -> None:
        self._panel_due = False
        if not self.is_left():
            self._panel_about = self.item
            self.meaning.show(self._meaning_lines(self.item), current)

    def _meaning_lines(self, about: Item | None) -> list[Line]:
        narrow = self.has_class("-narrow") and not self.has_class("-asking")
        return meaning_lines(self.desk, self.step, about, narrow, self.every_check)

    def on_resize(self) -> None:
        """Another size may need other lines."""
        if self.step_id and self.program.desk is not None:
            self.call_after_refresh(self.redraw)

    def _redraw_items(self) -> None:
        faults = {each.item: NOT_FULL for each in lacking_in(self.desk, self.step)}
        faults |= {r.item: r.severity for r in reversed(standing_faults(self.desk, self.step_id))}
        asked = self.asked_items(self.step)
        width = self._list_width()
        self.items.show([self._item_line(i, width, faults.get(i.id, "")) for i in asked], self.item_id)

    def _item_line(self, item: Item, width: int, fault: str) -> Line:
        desk, build = self.desk, self.desk.build
        state = desk.item_state(item.id)
        draft = "" if item.id == self.item_id else desk.drafts.of((item.id,))
        made_of = (item, state, draft, build.entry(item.id), build.currency, width, fault)
        kept = self._item_lines.get(item.id)
        if kept is None or any(was is not now and was != now for was, now in zip(kept[0], made_of, strict=True)):
            kept = self._item_lines[item.id] = (made_of, item_line(desk, item, state, draft, width, fault))
        return kept[1]

    def _list_width(self) -> int:
        """Width of the list of items, also before it was laid out (bench.tcss says the same)."""
        beside = 0 if self.has_class("-narrow") else 96 if self.has_class("-broad") else 68
        return self.size.width - beside

    def _redraw_rail(self) -> None:
        self.query_one("#rail", LineList).show(rail_lines(self.desk, self.step_id), self.step_id)

    def _redraw_card(self) -> None:
        item = self.item
        if item is None:
            self.card.says = CardText(label=self.step.title, how=self.step.intro)
            return
        self.card.says = card_text(self.desk, item, self._with(item), self._corrected(item.id),
                                   self.has_class("-narrow"))

    def _with(self, item: Item) -> str:
        parts = []
        if item.kind == "reading" and (name := self.instrument_for(item)):
            parts.append(f"with {plain(name)}")
        elif self._is_unnamed(item):
            key = commands.key_text(commands.key_of(commands.BY_ID["instrument"], self.program.around.keymap))
            chooses = self._must_choose(item)
            parts.append(f"{key} chooses the instrument" if chooses else f"no listed instrument fits: {key} names one")
        if self.value_class != "measured":
            parts.append(f"next answer: {self.value_class}")
        return ", ".join(parts)

    def instrument_for(self, item: Item, text: str = "") -> str:
        """The instrument the next reading of an item is taken with; text: what is read with it."""
        if self.value_class != "measured":
            return ""  # what is taken over or guessed was read from no instrument of this list
        return self.program.instruments.instrument_for(self.desk, item, None, text)

    def _is_unnamed(self, item: Item) -> bool:
        """Whether instruments for an item are listed, none fits, and nobody said that none is to be named."""
        if item.kind != "reading" or self.value_class != "measured":
            return False
        return self.program.instruments.is_unnamed(self.desk, item, None)

    def _must_choose(self, item: Item) -> bool:
        """Whether several listed instruments fit an item, and nobody chose one that does, nor none."""
        return self._is_unnamed(item) and len(fitting(self.desk.build, item)) > 1

    def where(self) -> tuple[tuple[Piece, str], ...]:
        """Narrow: the strip of steps. Wide: the step in words."""
        if self.has_class("-narrow"):
            return step_strip(self.desk, self.step)
        return ((Piece(step_words(self.desk, self.step), "plain"), ""),)
