"""The field: typed text with its unit behind it. Pasted lines are handed on instead of being lost."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Size
from textual.message import Message
from textual.reactive import Reactive
from textual.widgets import Input


class Field(Input):
    """A one-line field of the bench."""

    virtual_size = Reactive(Size(0, 0))
    """Room of the text, as of any widget; a longer text scrolls in the field, and nothing around it is laid out anew.

    Textual 8.2 lays the whole screen out at each typed character, which is half of the time of a key.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "drop what was typed", show=False),
        Binding("up", "step(-1)", "up", show=False),
        Binding("down", "step(1)", "down", show=False),
    ]

    @dataclass
    class Left(Message):
        """The field was left with Esc or an arrow; its text is still in it."""

        field: Field
        direction: int = 0
        """Rows further down."""
        across: int = 0
        """Fields further to the right."""

        @property
        def escaped(self) -> bool:
            """Whether it was left with Esc: what was typed is not wanted."""
            return self.direction == 0 and self.across == 0

        @property
        def control(self) -> Field:
            """The field."""
            return self.field

    @dataclass
    class PastedLines(Message):
        """Several lines, or several fields of a sheet, were pasted."""

        field: Field
        text: str

        @property
        def control(self) -> Field:
            """The field."""
            return self.field

    def __init__(self, *, id: str | None = None, placeholder: str = "") -> None:
        super().__init__(id=id, placeholder=placeholder, compact=True, select_on_focus=False)
        self.cursor_blink = False

    def action_leave(self) -> None:
        """Leave the field, not wanting what was typed."""
        self.post_message(self.Left(self))

    def action_step(self, direction: int) -> None:
        """Leave the field for the item above or below; what was typed stays in it."""
        self.post_message(self.Left(self, direction))

    def action_cursor_left(self, select: bool = False) -> None:
        """Within the text; in an empty field to the field at the left."""
        if self.value:
            super().action_cursor_left(select)
        else:
            self.post_message(self.Left(self, across=-1))

    def action_cursor_right(self, select: bool = False) -> None:
        """Within the text; in an empty field to the field at the right."""
        if self.value:
            super().action_cursor_right(select)
        else:
            self.post_message(self.Left(self, across=1))

    def _on_paste(self, event: events.Paste) -> None:
        if len(event.text.splitlines()) > 1 or "\t" in event.text.strip():
            event.stop()
            event.prevent_default()
            self.post_message(self.PastedLines(self, event.text))
        # one line is left to Input, whose handler Textual calls as well: from here it would come in twice

    def put(self, text: str) -> None:
        """Set the text, the cursor behind it."""
        self.value = text
        self.cursor_position = len(text)
