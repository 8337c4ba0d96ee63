"""The card: the current item, large and calm. What it is, how it is done, what is usual, and where the answer goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.cells import cell_len
from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.reactive import reactive
from textual.widgets import Static

from buildtrack.bench.plain import plain
from buildtrack.bench.widgets.card_sheet import CardSheet
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.line_text import Line, Piece, line, prose
from buildtrack.bench.widgets.lines import LineList
from buildtrack.bench.widgets.told import Told

FEW_OPTIONS = 3
"""So many answers fit in a card of the usual height."""
BEFORE_TYPING, WHILE_TYPING = "Enter, then type", "type, then Enter"
BEFORE_NAME, WHILE_NAME = "Enter, then the name of a file beside the build file", "name of a file beside the build file"
WHILE = {BEFORE_TYPING: WHILE_TYPING, BEFORE_NAME: WHILE_NAME}
"""What stands in an empty field while it is open, by what stands there before."""


@dataclass(frozen=True, slots=True)
class CardText:
    """What the card says about one item."""

    item: str = ""
    label: str = ""
    mark: str = ""
    """must, hold point, optional."""
    why: str = ""
    how: str = ""
    caution: str = ""
    facts: tuple[Piece, ...] = ()
    """Readings so far, expectation, usual range, instrument: one line each."""
    unit: str = ""
    input: str = ""
    """`field`, `options` or nothing."""
    sign: str = "› "
    """What stands before the field."""
    placeholder: str = ""
    options: tuple[Line, ...] = ()
    chosen: str = ""


class Card(Vertical):
    """The current item with its field."""

    DEFAULT_CSS = """
    Card { background: $surface; border-left: outer $accent; padding: 0 1; }
    Card > #card-sheet { height: 1fr; min-height: 3; }
    Card > #card-entry { height: 1; }
    Card #card-entry Field { width: 1fr; background: $panel; }
    Card #card-entry #card-sign { width: auto; color: $accent; text-style: bold; }
    Card #card-entry #card-unit { width: auto; min-width: 5; padding: 0 1; color: $foreground 80%; }
    Card > #card-options { height: auto; max-height: 9; }
    Card > #card-message { height: auto; max-height: 3; color: $error; text-style: bold; }
    Card > #card-message.-ask { color: $warning; }
    Card > #card-message.-fine { color: $success; text-style: none; }
    Card.-roomy { padding: 1 2; }
    """
    says: reactive[CardText] = reactive(CardText(), init=False, repaint=False)
    """What is shown."""

    def compose(self) -> ComposeResult:
        """Head, prose, facts, field or options, message."""
        yield CardSheet(id="card-sheet")
        yield LineList(id="card-options", starts_blank=True)
        with Horizontal(id="card-entry"):
            yield Told("› ", markup=False, id="card-sign")
            yield Field(id="field")
            yield Told("", markup=False, id="card-unit")
        yield Told("", markup=False, id="card-message")

    @property
    def sheet(self) -> CardSheet:
        """What is said about the item."""
        return self.query_one("#card-sheet", CardSheet)

    @property
    def field(self) -> Field:
        """The field."""
        return self.query_one("#field", Field)

    @property
    def options(self) -> LineList:
        """The list of answers of a choice."""
        return self.query_one("#card-options", LineList)

    def watch_says(self, before: CardText, says: CardText) -> None:
        """Show another item, or the same one anew."""
        self._show_sheet()
        self.query_one("#card-entry").display = says.input == "field"
        self.query_one("#card-unit", Static).update(says.unit)
        self.query_one("#card-sign", Static).update(says.sign)
        self._show_placeholder()
        self.options.display = says.input == "options"
        self.set_class(len(says.options) > FEW_OPTIONS, "-options")
        moved = before.item == says.item and before.chosen == says.chosen
        self.options.show(says.options, None if moved else says.chosen)

    def _show_placeholder(self) -> None:
        """What is to be pressed: before the field is open, and while it is."""
        asked = self.says.placeholder
        self.field.placeholder = WHILE.get(asked, asked) if self.field.has_focus else asked

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """The field is open."""
        self._show_placeholder()

    def on_descendant_blur(self, event: events.DescendantBlur) -> None:
        """The field was left; around the card nobody asks for that."""
        event.stop()
        self._show_placeholder()

    def on_resize(self) -> None:
        """Another width may need another row for the label."""
        self._show_sheet()

    def _show_sheet(self) -> None:
        facts = [Line((fact,), wrapped=True) for fact in self.says.facts]
        self.sheet.say(self._head(self.says), self._prose(self.says), facts)

    def _head(self, says: CardText) -> Sequence[Line]:
        """Label and mark in one row, or below each other: a label is never cut."""
        width = self.sheet.size.width
        if cell_len(says.label) + cell_len(says.mark) + 4 <= width or not width:
            return [line(says.label, "head", says.mark, right_look="accent")]
        return [prose(says.label, "head"), line(says.mark, "accent")]

    @staticmethod
    def _prose(says: CardText) -> Sequence[Line]:
        found = []
        if says.caution:
            found.append(prose(f"▲ {says.caution}", "warn", hang=2))
        if says.how:
            found.append(prose(says.how))
        if says.why:
            found.append(prose(says.why, "muted"))
        return found

    def tell(self, text: str, look: str = "") -> None:
        """Say something under the field: a refusal, a question (`ask`) or that all is well (`fine`)."""
        message = self.query_one("#card-message", Static)
        message.update(plain(text))
        message.display = bool(text)
        message.set_class(look == "ask", "-ask")
        message.set_class(look == "fine", "-fine")

    @property
    def told(self) -> str:
        """What is said under the field."""
        return str(self.query_one("#card-message", Static).content)

