"""Small questions: a reason, a yes or no, one of a list. Keys stand on what they answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, ClassVar, cast

from textual import on
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
    """Asks for one of a list; None where it was left. Digits choose at once, or mark where a choice loses something."""

    CSS = ASK_CSS
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "leave", show=False)]

    def __init__(self, title: str, choices: Sequence[tuple[str, str]], more: str = "", current: str = "",
                 firm: bool = False) -> None:
        super().__init__()
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

    @on(LineList.Chosen)
    def _take(self, event: LineList.Chosen) -> None:
        event.stop()
        self.dismiss(event.key.partition(":")[2])

    def on_key(self, event: object) -> None:
        """A digit chooses at once, or marks."""
        key = getattr(event, "key", "")
        if len(key) == 1 and key.isascii() and key.isdigit() and 0 < int(key) <= min(9, len(self.choices)):
            name = self.choices[int(key) - 1][0]
            if self.firm:
                self.query_one(LineList).select(f"{key}:{name}")
            else:
                self.dismiss(name)

    def action_leave(self) -> None:
        """Leave without an answer."""
        self.dismiss(None)


def _lines(text: str) -> str:
    """A text of several lines, each made harmless."""
    return "\n".join(plain(part) for part in text.splitlines())
