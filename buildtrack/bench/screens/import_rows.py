"""Filling a table from a CSV file: what goes where is shown, and changed column by column, before anything is taken."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from buildtrack.bench import csv_rows, rows
from buildtrack.bench.csv_rows import NOWHERE, ROW_NAME, Planned, Sheet
from buildtrack.bench.entry import told_once
from buildtrack.bench.pasted_block import over_words, replaced
from buildtrack.bench.plain import fit, listed, plain
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.reading import PAGE_BREAKPOINTS, PAGE_CSS
from buildtrack.bench.widgets.line_text import Line, Piece, line, prose
from buildtrack.bench.widgets.lines import LineList
from buildtrack.bench.words import like_today, unit_text
from buildtrack.model.checklist import Column
from buildtrack.units import counted
from buildtrack.workings.typed_days import EXAMPLE

if TYPE_CHECKING:
    from buildtrack.bench.screens.table import TableScreen

TAKE = "take"
KEYS = "Enter: take over, or change a column   ← →: next target   Esc: leave it"


class Mapping(ModalScreen[Planned | None]):
    """What the import would do; answers with it, or with None."""

    CSS = PAGE_CSS.format(name="Mapping")
    HORIZONTAL_BREAKPOINTS = PAGE_BREAKPOINTS
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q", "leave", show=False),
        Binding("left", "turn(-1)", show=False),
        Binding("right", "turn(1)", show=False),
    ]

    def __init__(self, sheet: Sheet, file: str, table: TableScreen) -> None:
        super().__init__()
        self.sheet, self.file, self.table = sheet, file, table
        self.columns = table.columns
        self.planned = self._plan(csv_rows.targets_of(sheet, self.columns))

    def _plan(self, targets: tuple[str, ...]) -> Planned:
        table = self.table
        names = rows.row_names(table.item, table.desk)
        return csv_rows.plan(self.sheet, targets, self.columns, names, table.item.row_prefix,
                             table.desk.build.currency)

    def compose(self) -> ComposeResult:
        """Title, mapping, keys."""
        with Vertical():
            yield Static(plain(f"Import {self.file} into: {self.table.item.label}"), markup=False, classes="page-title")
            yield LineList(list(self._lines()), id="mapping")
            yield Static(KEYS, markup=False, classes="page-keys")

    # -- what is shown -----------------------------------------------------------------------------------------------

    def _lines(self) -> Iterator[Line]:
        fields, refused = self.planned.fields, self.planned.refused
        number = len({f.row for f in fields})
        counts = f"{counted(len(fields), 'field')} in {counted(number, 'row')}"
        yield line(f"Take it over: {counts}" if fields else "Nothing would be filled", "accent", key=TAKE)
        yield from (prose(plain(text), "warn") for text in self._about_rows())
        if refused:
            what = "1 field does not fit and is" if len(refused) == 1 else f"{len(refused)} fields do not fit and are"
            yield line(f"{what} left away: told at the end", "warn")
        if told := told_once(self.planned.read_as):
            yield prose(plain(told), "warn")
        yield line("")
        yield line("Column of the file, with its first texts", "head", "goes to")
        yield from (self._column_line(n) for n in range(len(self.sheet.head)))
        if fields:
            yield line("")
            yield line("The first rows as they will stand", "head")
            yield from (prose(plain(f"{name}: {text}"), "plain", 2, hang=2)
                        for name, text in csv_rows.preview(self.planned))
        if refused:
            yield line("")
            yield line("Left away, because it does not fit", "head")
            for head, number, first in self.planned.by_column:
                where = f"in '{head}'" if head else "whole rows"
                yield line(plain(f"  {counted(number, 'field' if head else 'row')} {where}"), "warn")
                example = like_today(first, self.table.desk)
                yield prose(plain(example if number == 1 else f"the first: {example}"), "muted", 4, hang=4)

    def _about_rows(self) -> Iterator[str]:
        """What is to be known of the rows before it is taken: those meant, those new, and values replaced."""
        planned, table = self.planned, self.table
        if planned.meant:
            shown = listed([f"{written} → {name}" for written, name in planned.meant], 3)
            yield f"Names of the file are taken as those of the table: {shown}."
        if planned.new:
            names = rows.row_names(table.item, table.desk)
            filled = {f.row for f in planned.fields}
            idle = [n for n in names if n not in filled]
            many = len(planned.new) > 1
            yield (f"{counted(len(planned.new), 'row')} {'are' if many else 'is'} NEW in the table: "
                   f"{listed([*planned.new], 3)}.")
            if idle:
                yield f"{listed(idle, 3)} of the table {'get' if len(idle) > 1 else 'gets'} nothing."
        if over := over_words(replaced(planned.fields, table.desk.build.entry(table.item_id))):
            yield over.replace("\n", " · ").replace(": ·", ":")

    def _column_line(self, number: int) -> Line:
        head, target = self.sheet.head[number], self.planned.targets[number]
        look = "plain" if target else "muted"
        shown = fit(plain(csv_rows.examples(self.sheet, number)), 28)
        left = (Piece(fit(plain(head) or f"column {number + 1}", 26), look), Piece(f"  {shown}", "muted"))
        return Line(left, (Piece(f"→ {self._target_words(number, target)}", look),), f"column:{number}")

    def _target_words(self, number: int, target: str) -> str:
        column = next((c for c in self.columns if c.id == target), None)
        if column is None:
            return "name of the row" if target == ROW_NAME else "nothing: left away"
        unit = csv_rows.unit_in(self.sheet.head[number]) or unit_text(column.unit, self.table.desk)
        return plain(f"{column.label}, in {unit}" if column.kind == "reading" and unit else column.label)

    # -- changing ----------------------------------------------------------------------------------------------------

    def _choices(self) -> list[tuple[str, str]]:
        found = [(NOWHERE, "nothing: left away"), (ROW_NAME, f"name of the row ({self.table.item.row_name})")]
        return [*found, *((c.id, fit(plain(f"{c.label}{self._accepts(c)}"), 66)) for c in self.columns)]

    def _accepts(self, column: Column) -> str:
        if column.kind in ("choice", "tick"):
            return f": {listed([o.label for o in column.options], 5)}" if column.options else ": yes or no"
        if column.kind == "date":
            return like_today(f": a date like {EXAMPLE}", self.table.desk)
        unit = unit_text(column.unit, self.table.desk)
        return f", in {unit} where the head names no unit" if unit else ""

    def _set(self, number: int, target: str) -> None:
        self.planned = self._plan(csv_rows.retargeted(self.planned.targets, number, target))
        self.query_one("#mapping", LineList).show(list(self._lines()))

    def _current(self) -> int | None:
        kind, _, number = self.query_one("#mapping", LineList).current_key.partition(":")
        return int(number) if kind == "column" else None

    def action_turn(self, direction: int) -> None:
        """The next target, or the one before, for the marked column."""
        number, names = self._current(), [name for name, _ in self._choices()]
        if number is not None:
            at = names.index(self.planned.targets[number])
            self._set(number, names[(at + direction) % len(names)])

    @on(LineList.Chosen, "#mapping")
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        number = self._current()
        if number is None:
            if self.planned.fields:
                self.dismiss(self.planned)
            return

        def chosen(target: str | None) -> None:
            if target is not None:
                self._set(number, target)

        title = plain(f"Where does '{self.sheet.head[number]}' go?")
        more = plain(f"It begins with: {csv_rows.examples(self.sheet, number)}")
        self.app.push_screen(AskOne(title, self._choices(), more, current=self.planned.targets[number]), chosen)

    def action_leave(self) -> None:
        """Leave the table as it is."""
        self.dismiss(None)


def ask_import(table: TableScreen) -> None:
    """Ask for a file, show its mapping, fill the table."""

    def path_of(text: str) -> Path:
        return Path(text) if Path(text).is_absolute() else table.desk.folder / text

    def refuse(text: str) -> str:
        try:
            csv_rows.read_csv(path_of(text))
        except csv_rows.SheetError as error:
            return str(error)
        return ""

    def named(text: str | None) -> None:
        if text is None:
            return
        try:
            sheet = csv_rows.read_csv(path_of(text))
        except csv_rows.SheetError as error:  # it changed since it was looked at
            table.say(str(error), "bad")
            return
        table.app.push_screen(Mapping(sheet, path_of(text).name, table), lambda planned: _answered(table, planned))

    asked = AskText(
        "Which CSV file?",
        _about_files(table),
        about=(table.item_id,),
        placeholder="name of a file beside the build file",
        needed="type the name of a file",
        refuse=refuse,
    )
    table.app.push_screen(asked, named)


def _about_files(table: TableScreen) -> str:
    """What the file must hold, the heads that are known, and the files there are."""
    heads = ", ".join(dict.fromkeys(c.label for c in table.columns))
    try:
        found = sorted(p.name for p in table.desk.folder.glob("*.csv"))
    except OSError:
        found = []  # a folder that cannot be listed names no files; the one typed is refused with its reason
    files = f"\nIn the folder: {listed(found, 6)}." if found else ""
    return ("A line of heads, then one row each. On the next page every column can be sent elsewhere.\n"
            f"Heads that find their place by themselves: {heads}.{files}")


def _answered(table: TableScreen, planned: Planned | None) -> None:
    if planned is None or not table.fill(planned.fields):
        return
    refused = planned.refused
    left = f" {len(refused)} did not fit: {like_today(refused[0], table.desk)}" if refused else ""
    read_as = f" {told_once(planned.read_as)}" if planned.read_as else ""
    back = "One undo takes them back." if len(planned.fields) > 1 else "One undo takes it back."
    table.say(f"{counted(len(planned.fields), 'field')} imported. {back}{read_as}{left}", "bad" if left else "")
