"""The field: typed text with its unit behind it. Pasted lines are handed on instead of being lost."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from rich.control import strip_control_codes
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Size
from textual.message import Message
from textual.reactive import Reactive
from textual.strip import Strip
from textual.widgets import Input

from buildtrack.bench.pasted_fields import fields_of
from buildtrack.bench.plain import fit
from buildtrack.bench.widgets.inks import INKS, Ink, Inked


class Field(Input, Inked):
    """A one-line field of the bench.

    It draws itself: Textual works out its styles and those of its five parts at each gain and loss of the keyboard.
    """

    DEFAULT_CSS = "Field:focus { background-tint: $foreground 0%; }"
    INKS = {"plain": INKS["plain"], "asked": Ink("foreground", 0.75), "open": Ink("primary", 0.15),
            "chosen": Ink("primary", 0.35), "cursor": Ink("input-cursor-background"), "on cursor": Ink("background")}

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

    # -- the keyboard ------------------------------------------------------------------------------------------------

    def on_focus(self, event: events.Focus) -> None:
        """The field is open: what changes is how it draws itself."""
        self._keyboard(event, True)
        self._tell_parent(events.DescendantFocus(self))
        self.app.cursor_position = self.cursor_screen_offset

    def on_blur(self, event: events.Blur) -> None:
        """The field was left."""
        self._keyboard(event, False)
        self._tell_parent(events.DescendantBlur(self))

    def _keyboard(self, event: events.Event, here: bool) -> None:
        event.prevent_default()
        self.set_reactive(Field.has_focus, here)
        self.refresh()

    def _tell_parent(self, message: Message) -> None:
        if self.parent is not None:
            self.parent.post_message(message)

    # -- how it looks ------------------------------------------------------------------------------------------------

    def render_line(self, y: int) -> Strip:
        """The text with the cursor, or what is asked for."""
        width = self.size.width
        if y:
            return Strip.blank(width, self.ground())
        ground = self.ground() + self.wash("open") if self.has_focus else self.ground()
        text, look = (self.value, "plain") if self.value else (fit(self.placeholder, width), "asked")
        segments = list(self._segments(strip_control_codes(text), ground, look))
        start = self.scroll_offset.x if self.value else 0
        return Strip(segments).crop(start, start + width).adjust_cell_length(width, ground)

    def _segments(self, text: str, ground: Style, look: str) -> Iterator[Segment]:
        """The text in stretches: before what is chosen, chosen, at the cursor, behind."""
        style = ground + self.ink(look)
        if not self.has_focus:
            yield Segment(text, style)
            return
        cursor = self.cursor_position if self.value else 0
        first, last = sorted(self.selection) if self.value else (0, 0)
        on_cursor = style + self.wash("cursor") + self.ink("on cursor")
        text += " " * (cursor + 1 - len(text))
        edges = sorted({0, first, last, cursor, cursor + 1, len(text)})
        for start, end in zip(edges, edges[1:], strict=False):
            here = style + self.wash("chosen") if first <= start < last else style
            yield Segment(text[start:end], on_cursor if start == cursor else here)

    # -- keys --------------------------------------------------------------------------------------------------------

    async def on_key(self, event: events.Key) -> None:
        """Enter is taken here; Textual would first ask everything around the field for it."""
        if event.key == "enter":
            event.stop()
            event.prevent_default()
            await self.action_submit()

    async def action_submit(self) -> None:
        """Tell the screen, which is who asks for it; by itself the message would go through all that lies between."""
        self.screen.post_message(self.Submitted(self, self.value))

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
        if len(event.text.splitlines()) > 1 or "\t" in event.text.strip() or len(fields_of(event.text)) > 1:
            event.stop()
            event.prevent_default()
            self.post_message(self.PastedLines(self, event.text))
        # one line is left to Input, whose handler Textual calls as well: from here it would come in twice

    def put(self, text: str) -> None:
        """Set the text, the cursor behind it."""
        self.value = text
        self.cursor_position = len(text)
