"""Hold points at the bench: answered only by what was pressed after they were seen, never by keys typed ahead."""

from __future__ import annotations

import math
from functools import partial

from textual._time import get_time

from buildtrack.bench import words
from buildtrack.bench.desk import Desk
from buildtrack.bench.screens.bench_moving import BenchMoving
from buildtrack.model.checklist import Item


class BenchHold(BenchMoving):
    """The bench that knows since when the current item is on the screen."""

    _on_card: tuple[Desk | None, str] = (None, "")
    """The build and the item the card shows."""

    _seen_since = math.inf
    """When the frame with that card was drawn, by the clock of the keys [s]."""

    def _redraw_card(self) -> None:
        super()._redraw_card()
        if self._on_card != (self.desk, self.item_id):
            self._on_card, self._seen_since = (self.desk, self.item_id), math.inf
            self.program.when_drawn(partial(self._card_seen, self._on_card))

    def _card_seen(self, card: tuple[Desk, str]) -> None:
        if card == self._on_card and self._seen_since == math.inf:
            self._seen_since = get_time()

    def too_early(self, item: Item) -> bool:
        """Whether an item is a hold point, and what is on its way was pressed before that was seen."""
        seen = self._on_card == (self.desk, item.id) and self.program.acted_at > self._seen_since
        return item.hold and not seen

    def say_too_early(self, item: Item, text: str = "") -> None:
        """Say that it was; a text stays in its field, of answers none is marked."""
        self.card.options.unmark()
        if text:
            self.keep_draft(item.id, text)
        self.card.tell(words.early_text(item, text), "ask")
