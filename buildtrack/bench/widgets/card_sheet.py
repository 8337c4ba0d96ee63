"""What the card says about an item, in one widget of a fixed place: for another item nothing is laid out anew."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from buildtrack.bench.widgets.line_rows import NOTHING, Drawn
from buildtrack.bench.widgets.line_text import Line, Row
from buildtrack.bench.widgets.lines import LineList


class CardSheet(LineList, can_focus=False):
    """Head lines at the top, facts at the bottom, prose between them; the wheel moves prose that has no room."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(gutter=False, id=id)
        self._said: tuple[tuple[Line, ...], tuple[Line, ...], tuple[Line, ...]] = ((), (), ())

    def say(self, head: Sequence[Line], prose: Sequence[Line], facts: Sequence[Line]) -> None:
        """Show these lines, the prose from its beginning."""
        said = (tuple(head), tuple(prose), tuple(facts))
        if said != self._said:
            if said[1] != self._said[1]:
                self.set_reactive(CardSheet.top, 0)
            self._said = said
            self.lines = said[0] + said[1] + said[2]

    def _parts(self, rows: list[Row], height: int) -> tuple[int, int, int]:
        """Rows of the head, rows of the prose, and how many of these are seen: at least one."""
        head, prose = len(self._said[0]), len(self._said[0]) + len(self._said[1])
        above = sum(1 for row in rows if row.line < head)
        below = sum(1 for row in rows if row.line >= prose)
        return above, len(rows) - above - below, max(1, height - above - below)

    def _drawings(self, ys: Iterable[int], rows: list[Row], height: int) -> list[Drawn]:
        above, prose, room = self._parts(rows, height)
        return [self._drawing(y, rows, above, prose, room) for y in ys]

    def _drawing(self, y: int, rows: list[Row], above: int, prose: int, room: int) -> Drawn:
        if y < above:
            return Drawn(rows[y])
        if y >= above + room:
            number = y - room + prose
            return Drawn(rows[number]) if number < len(rows) else NOTHING
        number = self.top + y - above
        if number >= prose:
            return NOTHING
        more = "↑" if y == above and self.top else "↓" if y == above + room - 1 and number < prose - 1 else ""
        return Drawn(rows[above + number], "", more)

    def _keep_in_sight(self) -> None:
        self._scroll(0)

    def _scroll(self, by: int) -> None:
        _, prose, room = self._parts(self.rows(self._text_width()), self.inner().height)
        self.top = max(0, min(prose - room, self.top + by))
