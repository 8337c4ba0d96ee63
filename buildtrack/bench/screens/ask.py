"""Small questions: a reason, a yes or no, one of a list. Keys stand on what they answer."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, ClassVar, cast

from textual import events, on
from textual._time import get_time
from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from buildtrack.bench.drafts import Place
from buildtrack.bench.plain import plain
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.line_text import Line, prose
from buildtrack.bench.widgets.lines import LineList
from buildtrack.storage.typed_file import QUESTION

if TYPE_CHECKING:
    from buildtrack.bench.app import BuildtrackApp
    from buildtrack.bench.desk import Desk

ASK_CSS = """
AskText, AskOne { align: center middle; background: $background 70%; }
AskText > Vertical, AskOne > Vertical {
    width: 76; max-width: 96%; height: auto; max-height: 92%; background: $surface; padding: 1 2;
    border-left: outer $accent;
}
AskText Static, AskOne Static { height: auto; }
AskText .ask-title, AskOne .ask-title { text-style: bold; color: $primary; }
AskText .ask-more, AskOne .ask-more { color: $foreground 80%; }
AskText .ask-refused { color: $error; text-style: bold; }
AskOne .ask-refused { color: $warning; text-style: bold; display: none; }
AskText .ask-keys, AskOne .ask-keys { color: $foreground 75%; margin-top: 1; }
AskText Field { margin-top: 1; background: $panel; width: 1fr; }
AskOne LineList { height: auto; max-height: 14; margin-top: 1; }
"""


def question_place(title: str, about: Place) -> Place:
    """Where the text typed in a question is kept."""
    return (QUESTION, title, *about)


class AskText(ModalScreen[str | None]):
    """Asks for a line of text; None where it was left."""

    CSS = ASK_CSS
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "leave", show=False)]

    def __init__(
        self,
        title: str,
        more: str = "",
        *,
        about: Place = (),
        text: str = "",
        placeholder: str = "",
        empty: str | None = None,
        needed: str = "write a reason, or press Esc",
        refuse: Callable[[str], str] = lambda _: "",
        stays: bool = False,
    ) -> None:
        super().__init__()
        self.title_text, self.more, self.text, self.placeholder = title, more, text, placeholder
        self.stays = stays
        """Whether what is typed stays when the question is closed: who asks forgets it once it is written down."""
        self.about = about
        """The item, row and column, check, limit or build it is about; what is typed is kept for no other.

        Empty: what is typed is not kept.
        """
        self.empty = empty
        """What an empty answer means; None where one is refused."""
        self.needed = needed
        self.refuse = refuse
        """Says why a text is no answer; empty where it is one."""

    def compose(self) -> ComposeResult:
        """Title, more, field, refusal, keys."""
        with Vertical():
            yield Static(plain(self.title_text), markup=False, classes="ask-title")
            if self.more:
                yield Static(_lines(self.more), markup=False, classes="ask-more")
            yield Field(id="ask-field", placeholder=self.placeholder)
            yield Static("", markup=False, classes="ask-refused")
            keys = "Enter: take it    typing replaces it, an arrow keeps it    Esc: leave it"
            shown = keys if self.text and not self._kept() else "Enter: take it    Esc: leave it"
            yield Static(shown, markup=False, classes="ask-keys")

    def on_mount(self) -> None:
        """Begin in the field, with what was typed there when the program died; else what stands is typed over."""
        field = self.query_one(Field)
        kept = self._kept()
        field.put(kept or self.text)
        if not kept and self.text:
            field.select_all()  # what is typed takes its place; an arrow keeps it to be edited
        self.set_focus(field)

    @property
    def _desk(self) -> Desk | None:
        return cast("BuildtrackApp", self.app).desk

    def _kept(self) -> str:
        return self._desk.drafts.of(self._place) if self._desk is not None and self.about else ""

    @property
    def _place(self) -> Place:
        return question_place(self.title_text, self.about)

    @on(Input.Changed)
    def _keep(self, event: Input.Changed) -> None:
        event.stop()
        self.query_one(".ask-refused", Static).update("")
        self._note(event.value if event.value != self.text else "")

    def _note(self, text: str) -> None:
        """What is typed here outlasts the program, until it is taken or left."""
        if self._desk is not None and self.about:
            self._desk.drafts.keep(self._place, text)
            cast("BuildtrackApp", self.app).keeper.key_came()

    def dismiss(self, result: str | None = None) -> AwaitComplete:
        """Close with an answer, or with None."""
        if not self.stays:
            self._note("")
        return super().dismiss(result)

    @on(Input.Submitted)
    def _take(self, event: Input.Submitted) -> None:
        event.stop()
        text = event.value.strip()
        if text and (refused := self.refuse(text)):
            self.query_one(".ask-refused", Static).update(plain(refused))
        elif text:
            self.dismiss(text)
        elif self.empty is not None:
            self.dismiss(self.empty)
        else:
            self.query_one(".ask-refused", Static).update(self.needed)

    @on(Field.PastedLines)
    def _join(self, event: Field.PastedLines) -> None:
        event.stop()
        event.field.put(event.field.value + " ".join(event.text.split()))

    @on(Field.Left)
    def _leave(self, event: Field.Left) -> None:
        event.stop()
        if event.escaped:
            self.dismiss(None)

    def action_leave(self) -> None:
        """Leave without an answer."""
        self.dismiss(None)


class AskOne(ModalScreen[str | None]):
    """Asks for one of a list; None where it was left. Digits choose at once, or mark where a choice loses something.

    Text typed here is no choice: a digit in it chooses nothing, nor does the Enter behind it.
    """

    CSS = ASK_CSS
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "leave", show=False)]

    def __init__(self, title: str, choices: Sequence[tuple[str, str]], more: str = "", current: str = "",
                 firm: bool = False, *, holds: str = "", held: str = "", seen_first: bool = False) -> None:
        """holds: what the text is for that is asked for next; then it is kept, in `held`. Others choose by no letter.

        seen_first: whether only keys count that were pressed after the question was seen.
        """
        super().__init__()
        self.holds, self.held, self.seen_first = holds, held, seen_first
        self._digits = ""
        """Digits typed last: the beginning of a text, where letters follow."""
        self._within_text = False
        """Whether a text is being typed: until Enter or an arrow."""
        self._seen_since = math.inf
        """When it was drawn, by the clock of the keys [s]."""
        self.firm = firm
        """Whether a digit only marks, and Enter takes: for questions of which an answer throws something away."""
        self.title_text, self.choices, self.more, self.current = title, list(choices), more, current

    def compose(self) -> ComposeResult:
        """Title, more, list, keys."""
        with Vertical():
            yield Static(plain(self.title_text), markup=False, classes="ask-title")
            if self.more:
                yield Static(_lines(self.more), markup=False, classes="ask-more")
            yield LineList(self._lines(), wraps=True)
            yield Static("", markup=False, classes="ask-refused")
            taken = "The number marks, Enter takes it" if self.firm else "Enter or the number: take it"
            yield Static(f"{taken}    Esc: leave it", markup=False, classes="ask-keys")

    def _lines(self) -> list[Line]:
        return [
            prose(f"{n if n < 10 else ' '}  {plain(text)}", key=f"{n}:{name}", hang=3)
            for n, (name, text) in enumerate(self.choices, 1)
        ]

    def on_mount(self) -> None:
        """Begin at the present choice."""
        names = [name for name, _ in self.choices]
        if self.current in names:
            self.query_one(LineList).select(f"{names.index(self.current) + 1}:{self.current}")
        self.set_focus(self.query_one(LineList))
        cast("BuildtrackApp", self.app).when_drawn(self._seen)
        if self.held:
            self._tell_held()

    def _seen(self) -> None:
        self._seen_since = get_time()

    @property
    def _too_early(self) -> bool:
        """Whether the key that is dealt with was pressed before the question was seen."""
        return self.seen_first and cast("BuildtrackApp", self.app).acted_at <= self._seen_since

    @on(LineList.Highlighted)
    def _moved(self, event: LineList.Highlighted) -> None:
        event.stop()
        self._within_text, self._digits = False, ""

    @on(LineList.Chosen)
    def _take(self, event: LineList.Chosen) -> None:
        event.stop()
        if self._too_early:
            self._tell("Pressed before this question was seen: nothing is chosen yet.")
        elif self._within_text:
            self._within_text = False
            self._tell(f"{self._held_words()}Nothing is chosen yet: ↑ ↓ marks, Enter takes what is marked.")
        else:
            self.dismiss(event.key.partition(":")[2])

    def on_key(self, event: events.Key) -> None:
        """A digit chooses at once, or marks; letters choose nothing, nor do digits among them."""
        typed = event.character or ""
        if event.key == "backspace" and self.held:
            self.held = self.held[:-1]
            self._tell_held()
        if not event.is_printable or not typed:
            return
        if self._too_early:
            self._tell("Pressed before this question was seen: nothing is chosen yet.")
        elif not self._within_text and typed.isascii() and typed.isdigit():
            self._digits += typed
            self._choose_by(typed)
        else:
            self._within_text = True
            self._keep_letters(self._digits + typed)

    def _choose_by(self, digit: str) -> None:
        if not 0 < int(digit) <= min(9, len(self.choices)):
            return
        name = self.choices[int(digit) - 1][0]
        if self.firm:
            self.query_one(LineList).select(f"{digit}:{name}")
        else:
            self.dismiss(name)

    def _keep_letters(self, typed: str) -> None:
        self._digits = ""
        if self.holds:
            self.held += typed
            self._tell_held()
        else:
            self._tell("Letters choose nothing here: ↑ ↓ marks one, then Enter takes it.")

    @on(events.Paste)
    def _pasted(self, event: events.Paste) -> None:
        self._within_text = True
        self._keep_letters(self._digits + " ".join(event.text.split()))

    def _held_words(self) -> str:
        return f"Typed for {self.holds}, and kept: {plain(self.held)}\n" if self.held else ""

    def _tell_held(self) -> None:
        self._tell(f"{self._held_words()}↑ ↓ marks one, then Enter takes it." if self.held else "")

    def _tell(self, text: str) -> None:
        line = self.query_one(".ask-refused", Static)
        line.update(text)
        line.display = bool(text)

    def action_leave(self) -> None:
        """Leave without an answer."""
        self.dismiss(None)


def _lines(text: str) -> str:
    """A text of several lines, each made harmless."""
    return "\n".join(plain(part) for part in text.splitlines())
