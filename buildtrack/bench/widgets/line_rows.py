"""How a list is drawn: its lines broken into rows, each row drawn once for all the times it is seen."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual.color import Color
from textual.geometry import Region, Size, Spacing
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


class Around(NamedTuple):
    """What stands around the rows of a list, the same at each of them; another one makes all drawn rows wrong."""

    outer: Size
    gutter: Spacing
    left: tuple[Segment, ...]
    right: tuple[Segment, ...]
    ground: Color
    base: Style
    look: str
    """Name of the theme, from which the inks are mixed."""


class LineRows(Inked):
    """Lines as rows of the screen, one of them current."""

    INKS = {**INKS, "current": Ink("foreground", 0.07), "chosen": Ink("primary", 0.17)}
    virtual_size: Reactive[Size] = Reactive(Size(0, 0), layout=False)
    """A list shows a part of its lines by itself; Textual would lay the screen out a second time at another height."""
    lines: reactive[tuple[Line, ...]] = reactive((), repaint=False)
    """What is shown."""
    current: reactive[int] = reactive(-1, repaint=False)
    """Index of the current line; -1 where nothing can be chosen."""
    top: reactive[int] = reactive(0, repaint=False)
    """First row shown."""

    def __init__(self, *, sign_width: int, id: str | None, classes: str | None) -> None:
        super().__init__(id=id, classes=classes)
        self.sign_width = sign_width
        self._rows: list[Row] = []
        self._rows_for: tuple[int, tuple[Line, ...]] | None = None
        self._of_line: list[tuple[Line, list[Row]]] = []
        """Every line with its rows."""
        self._drawn: list[Drawn] = []
        """The rows as they were last asked to be drawn: only those that differ are drawn again."""
        self._strips: dict[Drawn, Strip] = {}
        """Rows with what stands around them, as long as that is the same."""
        self._around: Around | None = None
        self._gutter: Spacing | None = None

    def rows(self, width: int) -> list[Row]:
        """The lines broken into rows of the screen."""
        if self._rows_for != (width, self.lines):
            before = self._of_line if self._rows_for is not None and self._rows_for[0] == width else []
            kept = len(before)
            self._of_line = [
                before[at] if at < kept and before[at][0] is entry else (entry, broken(at, entry, width))
                for at, entry in enumerate(self.lines)
            ]
            self._rows = [row for _, rows in self._of_line for row in rows]
            self._rows_for = (width, self.lines)
        return self._rows

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """As many rows as there are."""
        return len(self.rows(width - self.sign_width))

    def _text_width(self) -> int:
        return max(8, self.inner().width - self.sign_width)

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
        rows, (width, height) = self.rows(self._text_width()), self.inner()
        before, self._drawn = self._drawn, self._drawings(range(height), rows, height)
        if len(before) != len(self._drawn):
            self.refresh()
            return
        changed = [y for y, (was, now) in enumerate(zip(before, self._drawn, strict=True)) if was != now]
        if changed:
            self.refresh(*(Region(0, y, width, 1) for y in changed))

    def _drawings(self, ys: Iterable[int], rows: list[Row], height: int) -> list[Drawn]:
        """What these of `height` rows of the screen show."""
        top, current, beyond = self.top, self.current, len(rows)  # Textual looks each of them up in half a dozen calls
        band = "chosen" if self.has_focus else "current"
        if not 0 <= current < len(self.lines) or not self.lines[current].key:
            current = -1
        found = []
        for y in ys:
            number = top + y
            if not 0 <= number < beyond:
                found.append(NOTHING)
                continue
            row = rows[number]
            more = "↑" if y == 0 and top > 0 else "↓" if y == height - 1 and number < beyond - 1 else ""
            found.append(Drawn(row, band if row.line == current else "", more))
        return found

    def notify_style_update(self) -> None:
        """Perhaps other colours, another border."""
        self._gutter = None
        super().notify_style_update()

    def inner(self) -> Size:
        """Width and height within border and padding; Textual looks them up in its map of the screen."""
        if self._gutter is None:
            self._gutter = self.styles.gutter
        (width, height), gutter = self.outer_size, self._gutter
        return Size(max(0, width - gutter.width), max(0, height - gutter.height))

    def render_line(self, y: int) -> Strip:
        """One row of the screen, within border and padding."""
        width, height = self.inner()
        (drawn,) = self._drawings((y,), self.rows(self._text_width()), height)
        return self._strip(drawn, width)

    def render_lines(self, crop: Region) -> list[Strip]:
        """The rows of the screen as they are. By itself Textual makes border and padding anew for each drawn row."""
        around, (width, height) = self._what_is_around(), self.inner()
        rows, filters = self.rows(self._text_width()), self.get_line_filters()
        found = []
        first = crop.y - around.gutter.top
        drawings = self._drawings(range(first, first + crop.height), rows, height)
        for y, drawn in zip(crop.line_range, drawings, strict=True):
            if 0 <= y - around.gutter.top < height:
                strip = self._framed(drawn, width, around)
                for each in filters:
                    strip = strip.apply_filter(each, around.ground)
            else:
                (strip,) = super().render_lines(Region(0, y, around.outer.width, 1))
            found.append(strip)
        if crop.column_span == (0, around.outer.width):
            return found
        return [strip.crop(*crop.column_span) for strip in found]

    def _what_is_around(self) -> Around:
        """Border and padding as Textual draws them at the first row."""
        before, outer = self._around, self.outer_size
        if before is None or self._gutter is None or before.outer != outer:
            width, gutter = self.inner().width, self.styles.gutter
            self._gutter = gutter
            (row,) = super().render_lines(Region(0, gutter.top, outer.width, 1))
            left, right = row.crop(0, gutter.left), row.crop(gutter.left + width, outer.width)
            _, ground = self.background_colors
            self._around = Around(outer, gutter, tuple(left), tuple(right), ground, self.ground(), self.app.theme)
            if self._around != before:
                self._strips.clear()
        assert self._around is not None
        return self._around

    def _framed(self, drawn: Drawn, width: int, around: Around) -> Strip:
        strip = self._strips.get(drawn)
        if strip is None:
            if len(self._strips) > MOST_STRIPS:
                self._strips.clear()
            row = self._strip(drawn, width).adjust_cell_length(width, around.base)
            strip = self._strips[drawn] = Strip([*around.left, *row, *around.right], around.outer.width)
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

def _shortened(right: tuple[Piece, ...], room: int) -> tuple[Piece, ...]:
    """Pieces at the right in so many cells: the last one, which tells the state, stays whole in its place and look."""
    *longer, last = right
    if not longer:
        return (Piece(fit(last.text, room), last.look),)
    text = "".join(p.text for p in longer)
    gap = text[len(text.rstrip()) :]
    short = fit(text.rstrip(), room - cell_len(gap) - cell_len(last.text))
    return (Piece(short + gap, longer[0].look), last)
