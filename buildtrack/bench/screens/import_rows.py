"""Filling a table from a CSV file: the mapping is shown before anything is taken."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from buildtrack.bench import csv_rows, rows
from buildtrack.bench.csv_rows import Planned
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.ask import AskText
from buildtrack.bench.screens.reading import PAGE_BREAKPOINTS, PAGE_CSS
from buildtrack.bench.widgets.line_text import Line, line, prose
from buildtrack.bench.widgets.lines import LineList

if TYPE_CHECKING:
    from buildtrack.bench.screens.table import TableScreen


class Mapping(ModalScreen[bool]):
    """What the import would do; Enter does it."""

    CSS = PAGE_CSS.format(name="Mapping")
    HORIZONTAL_BREAKPOINTS = PAGE_BREAKPOINTS
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q", "answer(False)", show=False),
        Binding("enter", "answer(True)", show=False, priority=True),
    ]

    def __init__(self, planned: Planned, name: str) -> None:
        super().__init__()
        self.planned, self.file = planned, name

    def compose(self) -> ComposeResult:
        """Title, mapping, keys."""
        with Vertical():
            yield Static(plain(f"Import {self.file}"), markup=False, classes="page-title")
            yield LineList(self._lines(), gutter=False)
            yield Static("Enter: take it    Esc: leave it", markup=False, classes="page-keys")

    def _lines(self) -> list[Line]:
        found = [line("Column of the file", "head", "goes to")]
        found += [
            line(head, "plain" if to else "muted", to or "nothing: left away") for head, to in self.planned.mapping
        ]
        names = {f.row for f in self.planned.fields}
        found += [line(""), line(f"{len(self.planned.fields)} fields in {len(names)} rows will be filled.", "accent")]
        if self.planned.refused:
            found += [line(""), line(f"{len(self.planned.refused)} fields do not fit and are left away:", "warn")]
            found += [prose(text, "warn", 2) for text in self.planned.refused[:50]]
        return found

    def action_answer(self, yes: bool) -> None:
        """Take it or leave it."""
        self.dismiss(yes)


def ask_import(table: TableScreen) -> None:
    """Ask for a file, show its mapping, fill the table."""

    def named(text: str | None) -> None:
        if text is None:
            return
        path = Path(text) if Path(text).is_absolute() else table.desk.folder / text
        try:
            sheet = csv_rows.read_csv(path)
        except csv_rows.SheetError as error:
            table.say(str(error), "bad")
            return
        names = rows.row_names(table.item, table.desk)
        planned = csv_rows.plan(sheet, table.columns, names, table.item.row_prefix)
        table.app.push_screen(Mapping(planned, path.name), lambda yes: _answered(table, planned, yes))

    more = "A line of heads, then one row each; heads are matched with the columns by their names."
    table.app.push_screen(
        AskText(
            "Which CSV file?",
            more,
            about=(table.item_id,),
            placeholder="name of a file beside the build file",
            needed="type the name of a file",
        ),
        named,
    )


def _answered(table: TableScreen, planned: Planned, yes: bool | None) -> None:
    if not yes or not planned.fields:
        return
    if table.fill(planned.fields):
        left = f" {len(planned.refused)} did not fit: {planned.refused[0]}" if planned.refused else ""
        table.say(f"{len(planned.fields)} fields imported.{left}", "bad" if left else "")
