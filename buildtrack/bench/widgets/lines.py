"""A calm list of lines: some can be chosen, one is current; the base of every list on the screens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import Reactive, reactive
from textual.strip import Strip

from buildtrack.bench.plain import fit
from buildtrack.bench.widgets.inks import INKS, Ink, Inked
from buildtrack.bench.widgets.line_text import Line, Piece, Row, broken

GUTTER = 2
MOST_STRIPS = 500
"""How many drawn rows a list keeps."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """What one row of the screen shows; nothing below the last line."""

    row: Row | None
    band: str = ""
    """Behind the current line: `current`, or `chosen` where the list has the keyboard too."""
    more: str = ""
    """↑ or ↓ at its end where there is more beyond it."""


NOTHING = Drawn(None)


class LineList(Inked, can_focus=True):
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
    INKS = {**INKS, "current": Ink("foreground", 0.07), "chosen": Ink("primary", 0.24)}

    virtual_size: Reactive[Size] = Reactive(Size(0, 0), layout=False)
    """A list shows a part of its lines by itself; Textual would lay the screen out a second time at another height."""
    lines: reactive[tuple[Line, ...]] = reactive((), repaint=False)
    """What is shown."""
    current: reactive[int] = reactive(-1, repaint=False)
    """Index of the current line; -1 where nothing can be chosen."""
    top: reactive[int] = reactive(0, repaint=False)
    """First row shown."""

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
        super().__init__(id=id, classes=classes)
        self.sign_width = GUTTER if gutter else 0
        self.choose_on_click = choose_on_click
        self.starts_blank = starts_blank
        """Whether no line is current until somebody moves to one, or one of that key is shown."""
        self.wraps = wraps
        """Whether an arrow goes on from the last line to the first, and the other way."""
        self._rows: list[Row] = []
        self._rows_for: tuple[int, tuple[Line, ...]] | None = None
        self._drawn: list[Drawn] = []
        """The rows as they were last asked to be drawn: only those that differ are drawn again."""
        self._strips: dict[tuple[Drawn, int], Strip] = {}
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
        self.set_reactive(LineList.lines, shown)
        if self.styles.is_auto_height and len(self.rows(width)) != before:
            self.refresh(layout=True)  # only a list as high as its lines moves what stands around it
        found = next((i for i, entry in enumerate(self.lines) if entry.key and entry.key == wanted), None)
        if found is None and not self.starts_blank:
            found = self._nearest(0 if key == "" else min(max(self.current, 0), len(self.lines) - 1), 1)
        self.set_reactive(LineList.current, -1 if found is None else found)
        self._keep_in_sight()
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

    def _nearest(self, start: int, direction: int) -> int:
        order = [*range(start, len(self.lines)), *range(start - 1, -1, -1)]
        if direction < 0:
            order = [*range(start, -1, -1), *range(start + 1, len(self.lines))]
        return next((i for i in order if 0 <= i < len(self.lines) and self.lines[i].key), -1)

    def rows(self, width: int) -> list[Row]:
        """The lines broken into rows of the screen."""
        if self._rows_for != (width, self.lines):
            self._rows = [row for number, entry in enumerate(self.lines) for row in broken(number, entry, width)]
            self._rows_for = (width, self.lines)
        return self._rows

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """As many rows as there are."""
        return len(self.rows(width - self.sign_width))

    def _text_width(self) -> int:
        return max(8, self.size.width - self.sign_width)

    def on_resize(self) -> None:
        self._keep_in_sight()

    def on_focus(self, event: events.Focus) -> None:
        """Getting the keyboard changes the look of one row; by itself Textual would draw them all."""
        self._keyboard(event, True)
        self._tell_parent(events.DescendantFocus(self))

    def on_blur(self, event: events.Blur) -> None:
        """The same when it goes."""
        self._keyboard(event, False)
        self._tell_parent(events.DescendantBlur(self))

    def _keyboard(self, event: events.Event, here: bool) -> None:
        event.prevent_default()
        self.set_reactive(LineList.has_focus, here)  # no style of a list depends on it but the band of its current row
        self._draw_changed()

    def _tell_parent(self, message: Message) -> None:
        """What Textual does with it where it is not prevented."""
        if self.parent is not None:
            self.parent.post_message(message)

    def watch_lines(self) -> None:
        """Other lines: draw the rows that differ."""
        self._draw_changed()

    def watch_current(self) -> None:
        """Another current line: draw the rows that differ."""
        self._draw_changed()

    def watch_top(self) -> None:
        """Another part of the lines: draw the rows that differ."""
        self._draw_changed()

    def _draw_changed(self) -> None:
        """Have those rows drawn that no longer look as they were drawn last."""
        rows, (width, height) = self.rows(self._text_width()), self.size
        before, self._drawn = self._drawn, [self._drawing(y, rows, height) for y in range(height)]
        if len(before) != len(self._drawn):
            self.refresh()
            return
        changed = [y for y, (was, now) in enumerate(zip(before, self._drawn, strict=True)) if was != now]
        if changed:
            self.refresh(*(Region(0, y, width, 1) for y in changed))

    def _drawing(self, y: int, rows: list[Row], height: int) -> Drawn:
        """What one of `height` rows of the screen shows."""
        number = self.top + y
        if number >= len(rows):
            return NOTHING
        row = rows[number]
        more = "↑" if y == 0 and self.top > 0 else ""
        if y == height - 1 and number < len(rows) - 1:
            more = more or "↓"
        is_current = row.line == self.current and self.lines[row.line].key != ""
        return Drawn(row, ("chosen" if self.has_focus else "current") if is_current else "", more)

    def notify_style_update(self) -> None:
        """Other colours: nothing drawn before is right any more."""
        self._strips.clear()
        super().notify_style_update()

    def render_line(self, y: int) -> Strip:
        """One row of the screen."""
        width, height = self.size
        drawn = self._drawing(y, self.rows(self._text_width()), height)
        strip = self._strips.get((drawn, width))
        if strip is None:
            if len(self._strips) > MOST_STRIPS:
                self._strips.clear()
            strip = self._strips[drawn, width] = self._strip(drawn, width)
        return strip

    def _strip(self, drawn: Drawn, width: int) -> Strip:
        base, row = self.ground(), drawn.row
        if row is None:
            return Strip.blank(width, base)
        over = base
        if drawn.band:
            over = base + self.wash(drawn.band)
        segments = [Segment(self._sign(row, bool(drawn.band))[: self.sign_width], over)] if self.sign_width else []
        segments += self._pieces(row, self._text_width(), over)
        strip = Strip(segments).adjust_cell_length(width, over)
        if not drawn.more:
            return strip
        cut = strip.crop(0, strip.cell_length - 1)
        return Strip([*cut, Segment(drawn.more, over + self.ink("accent"))])

    @staticmethod
    def _sign(row: Row, is_current: bool) -> str:
        return "▸ " if is_current and row.first else "  "

    def _pieces(self, row: Row, width: int, over: Style) -> list[Segment]:
        right_width = sum(cell_len(p.text) for p in row.right)
        room = width - right_width - (2 if right_width else 1)
        right = row.right
        if right_width > width // 2:  # a number is never cut; a sentence at the right leaves half to the left
            wanted = sum(cell_len(p.text) for p in row.left)
            room = max(room, min(wanted, width // 2))
            right = _shortened(right, width - room - 2)
            room = max(room, width - sum(cell_len(p.text) for p in right) - 2)
        segments: list[Segment] = []
        for piece in row.left:
            text = fit(piece.text, room)
            segments.append(Segment(text, over + self.ink(piece.look)))
            room -= cell_len(text)
        if right:
            segments.append(Segment(" " * (room + 1), over))
            segments += [Segment(p.text, over + self.ink(p.look)) for p in right]
        return segments

    def _keep_in_sight(self) -> None:
        height = self.size.height
        rows = self.rows(self._text_width())
        places = [n for n, row in enumerate(rows) if row.line == self.current]
        if height <= 0 or not rows:
            return
        top = self.top
        if places:
            top = max(min(top, places[0]), min(places[-1], places[0] + height - 1) - height + 1)
            if self.current == self._nearest(0, 1) and (self._untouched or places[-1] < height):
                top = 0
        self.top = max(0, min(top, len(rows) - height))

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
        return bool(places) and places[0] <= self.top + self.size.height and places[-1] >= self.top - 1

    def action_page(self, direction: int) -> None:
        """Move by a screenful of rows, one of them seen again; the first line there that can be chosen is current."""
        before, height = self.top, max(1, self.size.height)
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
        limit = max(0, len(self.rows(self._text_width())) - self.size.height)
        self.top = max(0, min(limit, self.top + by))


def _shortened(right: tuple[Piece, ...], room: int) -> tuple[Piece, ...]:
    """Pieces at the right in so many cells: the last one, which tells the state, stays whole in its place and look."""
    *longer, last = right
    if not longer:
        return (Piece(fit(last.text, room), last.look),)
    text = "".join(p.text for p in longer)
    gap = text[len(text.rstrip()) :]
    short = fit(text.rstrip(), room - cell_len(gap) - cell_len(last.text))
    return (Piece(short + gap, longer[0].look), last)
