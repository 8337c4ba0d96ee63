"""Pasting into a table: a column goes down, a row across; what stands is replaced only once that was asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from textual import on

from buildtrack.bench import pasted_block as block
from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.screens.table_entry import TableEntry
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.grid import Grid
from buildtrack.bench.words import like_today
from buildtrack.model.build import Build


@dataclass(frozen=True, slots=True)
class PastedBlock:
    """A paste that was taken: the build with it, where it began, and what of it waits in which field."""

    build: Build
    at: tuple[int, int]
    waiting: Mapping[tuple[str, ...], str]


class PastingTable(TableEntry):
    """A table with what a paste becomes in it."""

    pasted: PastedBlock | None = None
    """The last paste."""

    @on(Grid.Pasted)
    def _pasted(self, event: Grid.Pasted) -> None:
        self._ask_share(event.text)

    @on(Field.PastedLines, "#field")
    def _lines_pasted(self, event: Field.PastedLines) -> None:
        self._ask_share(event.text)

    def _ask_share(self, text: str) -> None:
        """Put a paste in, or ask first: nothing is put in before."""
        if refused := self.desk.refusal(self.item):
            self.tell(refused)
            return
        names = self.names()
        if not text.strip():
            return
        shared, entry = self._shared(text, names), self.desk.build.entry(self.item_id)
        asked = block.question(text, self.item, self.columns, self.grid.at, names, shared, entry)
        if asked is None:
            self._put_in(shared)
            return
        page = AskOne(asked.title, asked.choices, asked.more, firm=True, seen_first=True)
        self.app.push_screen(page, partial(self._answered, text, shared))

    def _shared(self, text: str, names: list[str]) -> block.SharedOut:
        return block.share_block(text, names, self.columns, *self.grid.at, self.desk.build.currency)

    def _answered(self, text: str, shared: block.SharedOut, answer: str | None) -> None:
        if answer in (None, "leave"):
            self.say("The paste was left; the table is as it was.")
        elif answer == "all":
            names = self.names()
            new = block.lacking(text, self.item, names, self.grid.at[0])
            self._put_in(self._shared(text, [*names, *new]), new)
        elif answer == "along":
            self._ask_share(block.along(text))  # what it would replace there is asked as well
        else:
            entry = self.desk.build.entry(self.item_id)
            self._put_in(block.only_empty(shared, entry) if answer == "empty" else shared)

    def _put_in(self, shared: block.SharedOut, new: Sequence[str] = ()) -> None:
        at = self.grid.at
        if (shared.fields or new) and not self.fill(shared.fields, new):
            return
        self.redraw()
        names, columns = self.names(), [c.id for c in self.columns]
        waiting: dict[tuple[str, ...], str] = {(self.item_id, one.row, one.column.id): one.text for one in shared.apart}
        self.pasted = PastedBlock(self.desk.build, at, waiting)
        for one in reversed(shared.apart):  # each waits in its field; the first of them is gone to
            self.desk.drafts.keep((self.item_id, one.row, one.column.id), one.text)
            self.grid.go(names.index(one.row), columns.index(one.column.id))
        self.redraw()
        if shared.apart:
            self.field.put(shared.apart[0].text)
        self.say(like_today(block.pasted_text(shared), self.desk), "bad" if shared.apart or shared.left else "")
