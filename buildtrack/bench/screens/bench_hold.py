"""Hold points at the bench: answered only by what was pressed after they were seen, never by keys typed ahead."""

from __future__ import annotations

from buildtrack.bench import words
from buildtrack.bench.screens.bench_moving import BenchMoving
from buildtrack.bench.seen import Seen
from buildtrack.model.checklist import Item


class BenchHold(BenchMoving):
    """The bench that knows since when the current item is on the screen."""

    def __init__(self) -> None:
        super().__init__()
        self._seen = Seen()

    def _redraw_card(self) -> None:
        super()._redraw_card()
        self._seen.show((self.desk, self.item_id), self.program)

    def too_early(self, item: Item) -> bool:
        """Whether an item is a hold point, and what is on its way was pressed before that was seen."""
        return item.hold and self._seen.pressed_before((self.desk, item.id), self.program)

    def say_too_early(self, item: Item, text: str = "") -> None:
        """Say that it was; a text stays in its field, of answers none is marked."""
        self.card.options.unmark()
        if text:
            self.keep_draft(item.id, text)
        self.card.tell(words.early_text(item, text), "ask")
