"""A calm list of lines: some can be chosen, one is current; the base of every list on the screens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.message import Message

from buildtrack.bench.widgets.line_rows import GUTTER, LineRows
from buildtrack.bench.widgets.line_text import Line


class LineList(LineRows, can_focus=True):
    """A list of lines with a current one."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "step(-1)", "up", show=False),
        Binding("down", "step(1)", "down", show=False),
        Binding("pageup", "page(-1)", "page up", show=False),
        Binding("pagedown", "page(1)", "page down", show=False),
        Binding("home", "edge(-1)", "first", show=False),
        Binding("end", "edge(1)", "last", show=False),
        Binding("enter", "choose", "choose", show=False),
    ]
    DEFAULT_CSS = "LineList { height: 1fr; width: 1fr; }"

    @dataclass
    class Highlighted(Message):
        """Another line became the current one."""

        list: LineList
        key: str

        @property
        def control(self) -> LineList:
            """The list."""
            return self.list

    @dataclass
    class Unchosen(Message):
        """Enter was pressed while no line was current."""

        list: LineList

        @property
        def control(self) -> LineList:
            """The list."""
            return self.list

    @dataclass
    class Chosen(Message):
        """A line was chosen by Enter or a click."""

        list: LineList
        key: str

        @property
        def control(self) -> LineList:
            """The list."""
            return self.list

    def __init__(
        self,
        lines: Sequence[Line] = (),
        *,
        gutter: bool = True,
        choose_on_click: bool = True,
        starts_blank: bool = False,
        wraps: bool = False,
        id: str | None = None,
        classes: str | None = None,
    ) -> None:
        super().__init__(sign_width=GUTTER if gutter else 0, id=id, classes=classes)
        self.choose_on_click = choose_on_click
        self.starts_blank = starts_blank
        """Whether no line is current until somebody moves to one, or one of that key is shown."""
        self.wraps = wraps
        """Whether an arrow goes on from the last line to the first, and the other way."""
        self._untouched = True
        """Whether nobody moved yet: then the list is seen from its top."""
        self.set_reactive(LineList.lines, tuple(lines))
        self.set_reactive(LineList.current, -1 if starts_blank else self._nearest(0, 1))

    def show(self, lines: Sequence[Line], key: str | None = None) -> None:
        """Show these lines; the current one stays, or becomes the one with `key`; an empty one is the first."""
        wanted = self.current_key if key is None else key
        shown = tuple(lines)
        if shown == self.lines and wanted == self.current_key and (wanted or self.current < 0):
            self._keep_in_sight()
            return
        width = self._text_width()
        before = len(self.rows(width))
        earlier = sum(entry.key == wanted for entry in self.lines[: max(self.current, 0)])
        self.set_reactive(LineList.lines, shown)
        if self.styles.is_auto_height and len(self.rows(width)) != before:
            self.refresh(layout=True)  # only a list as high as its lines moves what stands around it
        alike = [i for i, entry in enumerate(self.lines) if entry.key and entry.key == wanted]
        found = alike[min(earlier, len(alike) - 1)] if alike else None  # of lines of one key the one that was current
        if found is None and not self.starts_blank:
            found = self._nearest(0 if key == "" else min(max(self.current, 0), len(self.lines) - 1), 1)
        self.set_reactive(LineList.current, -1 if found is None else found)
        self.set_reactive(LineList.top, self._top_in_sight())
        self._draw_changed()

    @property
    def current_key(self) -> str:
        """Key of the current line."""
        return self.lines[self.current].key if 0 <= self.current < len(self.lines) else ""

    def select(self, key: str) -> None:
        """Make the line with `key` the current one."""
        found = next((i for i, entry in enumerate(self.lines) if entry.key == key), None)
        if found is not None:
            self.current = found
            self._keep_in_sight()

    def unmark(self) -> None:
        """No line is current any more."""
        self.current = -1

    def _nearest(self, start: int, direction: int) -> int:
        order = [*range(start, len(self.lines)), *range(start - 1, -1, -1)]
        if direction < 0:
            order = [*range(start, -1, -1), *range(start + 1, len(self.lines))]
        return next((i for i in order if 0 <= i < len(self.lines) and self.lines[i].key), -1)

    def on_resize(self) -> None:
        self._keep_in_sight()

    def on_focus(self, event: events.Focus) -> None:
        """Getting the keyboard changes the look of one row; by itself Textual would draw them all."""
        self._keyboard(event, True)
        self.screen.post_message(events.DescendantFocus(self))  # what lies between does not ask for it

    def on_blur(self, event: events.Blur) -> None:
        """The same when it goes."""
        self._keyboard(event, False)

    def _keyboard(self, event: events.Event, here: bool) -> None:
        event.prevent_default()
        self.set_reactive(LineList.has_focus, here)  # no style of a list depends on it but the band of its current row
        self._draw_changed()

    def _keep_in_sight(self) -> None:
        self.top = self._top_in_sight()

    def _top_in_sight(self) -> int:
        """The first row to be shown, so that the current line is seen."""
        height = self.inner().height
        rows = self.rows(self._text_width())
        if height <= 0 or not rows:
            return self.top
        places = [n for n, row in enumerate(rows) if row.line == self.current]
        top = self.top
        if places:
            top = max(min(top, places[0]), min(places[-1], places[0] + height - 1) - height + 1)
            if self.current == self._nearest(0, 1) and (self._untouched or places[-1] < height):
                top = 0
        return max(0, min(top, len(rows) - height))

    def action_step(self, direction: int) -> None:
        """Move to the next line that can be chosen; what lies between and beyond is not passed over unseen."""
        following = self._following(direction)
        if following is None and self.wraps:
            self.action_edge(-direction)
            return
        if following is None or not self._beside_what_is_seen(following):
            self._scroll(direction if following is None else direction * 3)
            return
        self._go(following)

    def _following(self, direction: int) -> int | None:
        start = len(self.lines) - 1 if self.current < 0 and direction < 0 else self.current + direction
        order = range(start, len(self.lines)) if direction > 0 else range(start, -1, -1)
        return next((i for i in order if 0 <= i < len(self.lines) and self.lines[i].key), None)

    def _beside_what_is_seen(self, number: int) -> bool:
        """Whether a line is on the screen, or begins in the row next to what is."""
        places = [n for n, row in enumerate(self.rows(self._text_width())) if row.line == number]
        return bool(places) and places[0] <= self.top + self.inner().height and places[-1] >= self.top - 1

    def action_page(self, direction: int) -> None:
        """Move by a screenful of rows, one of them seen again; the first line there that can be chosen is current."""
        before, height = self.top, max(1, self.inner().height)
        self._scroll(direction * max(1, height - 1))
        if self.top == before:
            self.action_edge(direction)
            return
        rows = self.rows(self._text_width())[self.top : self.top + height]
        seen = list(dict.fromkeys(row.line for row in rows if row.first and self.lines[row.line].key))
        if seen:
            self._make_current(seen[0] if direction > 0 else seen[-1])

    def action_edge(self, direction: int) -> None:
        """To the top or the bottom, and to the first or last line that can be chosen."""
        number = self._nearest(0 if direction < 0 else len(self.lines) - 1, -direction)
        if number != self.current and number >= 0:
            self._make_current(number)
        self._scroll(direction * len(self.rows(self._text_width())))

    def reach(self, key: str, further: int) -> None:
        """Bring the line with `key` into sight and so many lines after it, as far as they fit below it."""
        first = next((n for n, entry in enumerate(self.lines) if entry.key == key), None)
        if first is None:
            return
        places = [n for n, row in enumerate(self.rows(self._text_width())) if first <= row.line <= first + further]
        self.top = min(places[0], max(self.top, places[-1] - self.inner().height + 1))

    def lift(self, key: str) -> None:
        """Show the line with `key` at the top, as far as there are lines below it."""
        rows = self.rows(self._text_width())
        self.top = next((n for n, row in enumerate(rows) if self.lines[row.line].key == key), self.top)
        self._scroll(0)

    def _make_current(self, number: int) -> None:
        """Make a line current where it is, without moving what is seen."""
        self.current = number
        self._untouched = False
        self.post_message(self.Highlighted(self, self.current_key))

    def _go(self, number: int) -> None:
        if number == self.current or number < 0:
            return
        self.current = number
        self._untouched = False
        self._keep_in_sight()
        self.post_message(self.Highlighted(self, self.current_key))

    def action_choose(self) -> None:
        """Choose the current line."""
        if self.current_key:
            self.post_message(self.Chosen(self, self.current_key))
        elif self.starts_blank:
            self.post_message(self.Unchosen(self))

    def on_click(self, event: events.Click) -> None:
        """A click makes a line current and chooses it."""
        offset = event.get_content_offset(self)
        rows = self.rows(self._text_width())
        if offset is None or not 0 <= self.top + offset.y < len(rows):
            return
        number = rows[self.top + offset.y].line
        if not self.lines[number].key:
            return
        was_current = number == self.current
        self._go(number)
        if self.choose_on_click or was_current:
            self.action_choose()

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """The wheel moves what is seen, not what is current."""
        self._scroll(3)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """The wheel moves what is seen, not what is current."""
        self._scroll(-3)

    def _scroll(self, by: int) -> None:
        limit = max(0, len(self.rows(self._text_width())) - self.inner().height)
        self.top = max(0, min(limit, self.top + by))

