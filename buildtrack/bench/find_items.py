"""The palette finds every item that is asked for by its words, and goes to it."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING, cast

from textual.command import Hit, Hits, Provider

from buildtrack.model.checklist import Item

if TYPE_CHECKING:
    from buildtrack.bench.app import BuildtrackApp


class ItemsByWord(Provider):
    """Items of the open build; nothing before a word is typed."""

    async def search(self, query: str) -> Hits:
        """The items whose name holds the word, the best first."""
        matcher = self.matcher(query)
        for item, step in self._asked():
            if (score := matcher.match(item.label)) > 0:
                told = f"{step}: go to this {'table' if item.kind == 'table' else 'item'}."
                yield Hit(score, matcher.highlight(item.label), partial(self._go, item.id), text=item.label, help=told)

    def _asked(self) -> Iterator[tuple[Item, str]]:
        """Every item that applies, with the title of its step."""
        desk = cast("BuildtrackApp", self.app).desk
        if desk is None:
            return
        for step in desk.checklist.steps:
            for item in step.items:
                if desk.item_state(item.id).state != "not needed":
                    yield item, step.title

    def _go(self, item: str) -> None:
        app = cast("BuildtrackApp", self.app)
        app.go_to_place("bench")
        app.call_after_refresh(app.jump, item)
