"""The two lines at the top that are always there: what build, its verdict; where in the work, saved or not."""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import cell_len
from rich.segment import Segment
from textual import events
from textual.message import Message
from textual.reactive import reactive
from textual.strip import Strip

from buildtrack.bench.plain import fit
from buildtrack.bench.widgets.inks import INKS, Ink, Inked
from buildtrack.bench.widgets.line_text import Piece


@dataclass(frozen=True, slots=True)
class HeadText:
    """What the head says."""

    title: tuple[Piece, ...] = ()
    verdict: Piece = Piece("")
    where: tuple[tuple[Piece, str], ...] = ()
    """Pieces of the second line; each with what a click on it means (a step id, or nothing)."""
    saved: Piece = Piece("")


class Head(Inked):
    """Title, verdict, steps, saved state."""

    DEFAULT_CSS = "Head { height: 2; width: 1fr; background: $panel; padding: 0 1; }"
    INKS = {**INKS, "muted": Ink("foreground", 0.8), "head": Ink("foreground", bold=True),
            "accent": Ink("accent", bold=True)}
    says: reactive[HeadText] = reactive(HeadText())
    """What is shown."""

    @dataclass
    class StepClicked(Message):
        """A step was clicked."""

        step: str

    def render_line(self, y: int) -> Strip:
        """The first or the second line."""
        width = self.size.width
        says = self.says
        left = says.title if y == 0 else tuple(p for p, _ in says.where)
        right = says.verdict if y == 0 else says.saved
        room = width - min(cell_len(right.text), width * 3 // 5) - 2
        segments: list[Segment] = []
        for piece in left:
            text = fit(piece.text, room)
            segments.append(self._segment(text, piece.look))
            room -= cell_len(text)
        used = sum(cell_len(s.text) for s in segments)
        right_text = fit(right.text, width - used - 1)
        segments.append(Segment(" " * (width - used - cell_len(right_text)), self.ground()))
        segments.append(self._segment(right_text, right.look))
        return Strip(segments).adjust_cell_length(width, self.ground())

    def _segment(self, text: str, look: str) -> Segment:
        return Segment(text, self.ground() + self.ink(look))

    def on_click(self, event: events.Click) -> None:
        """A click on a step goes there."""
        offset = event.get_content_offset(self)
        if offset is None or offset.y != 1:
            return
        x = 0
        for piece, step in self.says.where:
            x += cell_len(piece.text)
            if offset.x < x:
                if step:
                    self.post_message(self.StepClicked(step))
                return


class KeyLine(Inked):
    """The bottom line: keys and what they do now; a click does the same."""

    DEFAULT_CSS = "KeyLine { height: 1; width: 1fr; background: $panel; padding: 0 1; }"
    INKS = {"key": Ink("accent", bold=True), "words": Ink("foreground", 0.85)}
    entries: reactive[tuple[tuple[str, str, str], ...]] = reactive(())
    """Key, words, action; the last stands at the right and is never dropped."""
    running: reactive[tuple[str, str, str] | None] = reactive(None)
    """A count-down that runs, in the same way; it stands before the last and is never dropped."""

    def _laid_out(self) -> list[tuple[int, int, tuple[str, str, str]]]:
        """The entries that fit: where each begins and ends."""
        if not self.entries:
            return []
        at_right = [self.running] if self.running is not None else []
        at_right.append(self.entries[-1])
        start = self.size.width - sum(_width(e) for e in at_right) - 2 * (len(at_right) - 1)
        limit, found, x = start - 1, [], 0
        for entry in self.entries[:-1]:
            if x + _width(entry) > limit:
                continue
            found.append((x, x + _width(entry), entry))
            x += _width(entry) + 2
        for entry in at_right:
            found.append((start, start + _width(entry), entry))
            start += _width(entry) + 2
        return found

    def render_line(self, y: int) -> Strip:
        """The whole line."""
        key, words = (self.ground() + self.ink(n) for n in ("key", "words"))
        segments, at = [], 0
        for start, end, (name, text, _) in self._laid_out():
            segments.append(Segment(" " * (start - at), self.ground()))
            segments += [Segment(name, key), Segment(f" {text}", words)]
            at = end
        return Strip(segments).adjust_cell_length(self.size.width, self.ground())

    async def on_click(self, event: events.Click) -> None:
        """Do what is written there."""
        offset = event.get_content_offset(self)
        if offset is None:
            return
        for start, end, (_, _, action) in self._laid_out():
            if start <= offset.x < end and action:
                await self.screen.run_action(action)
                return


def _width(entry: tuple[str, str, str]) -> int:
    return cell_len(entry[0]) + 1 + cell_len(entry[1])
