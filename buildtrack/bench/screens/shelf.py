"""The shelf: past builds of a folder, filtered, sorted, opened, compared, or begun again from one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.message import Message
from textual.widgets import Static

from buildtrack.bench import shelf_due, shelf_list, starting
from buildtrack.bench.commands import Situation, bindings
from buildtrack.bench.desk import Desk
from buildtrack.bench.plain import fit, plain
from buildtrack.bench.screens.ask import AskText
from buildtrack.bench.screens.comparison import Comparison
from buildtrack.bench.screens.place import Place
from buildtrack.bench.shelf_files import refusal
from buildtrack.bench.shelf_list import COLUMNS, Compared, Shelved
from buildtrack.bench.widgets.head import Head, HeadText, KeyLine
from buildtrack.bench.widgets.line_text import Line, Piece, line
from buildtrack.bench.widgets.lines import LineList
from buildtrack.bench.widgets.told import Notice

VERDICT_LOOKS = {"not cleared": "bad", "cleared": "good", "cleared with conditions": "good", "incomplete": "warn"}
CHOOSE = "Enter takes the build that the new one starts from; a title is asked next. Esc leaves it."
"""Said where a new build starts from a past one."""


@dataclass
class Listed(Message):
    """A look at the folder: its builds, or how far it has come."""

    folder: Path
    rows: list[Shelved] | None
    told: str = ""


@dataclass
class BothCompared(Message):
    """Two builds were opened and compared, or why not."""

    rows: Sequence[Compared] = ()
    refused: str = ""


class ShelfScreen(Place):
    """The place of past builds."""

    PLACE = "shelf"
    BINDINGS: ClassVar[list[BindingType]] = bindings("shelf")
    AUTO_FOCUS = "#shelf-lines"
    CSS_PATH = "shelf.tcss"

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[Shelved] = []
        self.words = ""
        self.sorted_by = shelf_due.kept_order([name for name, _, _ in COLUMNS], "due")
        self.marked: list[str] = []
        self.listed = False
        """Whether the folder was looked at before."""

    def compose(self) -> ComposeResult:
        """Head; columns' heads over the builds; what happened; keys."""
        yield Head()
        with Vertical(id="shelf"):
            yield Static("", markup=False, id="shelf-head")
            yield LineList(id="shelf-lines", choose_on_click=False)
            yield Static("", markup=False, id="shelf-more")
        yield Notice(id="notice")
        yield KeyLine()

    def on_screen_resume(self) -> None:
        """Look at the folder again."""
        self.say("Looking at the folder …")
        self.redraw()
        self._list(self.program.folder)

    @work(thread=True, exclusive=True, group="shelf", exit_on_error=True)
    def _list(self, folder: Path) -> None:
        def progress(done: int, total: int) -> None:
            self.post_message(Listed(folder, None, f"Looking at the folder … {done} of {total}"))

        try:
            found = shelf_list.list_files(folder, progress=progress)
        except OSError as error:
            self.post_message(Listed(folder, [], refusal(error)))
        else:
            rows = [row for row in found if row.title or row.problem]
            self.post_message(Listed(folder, rows, shelf_list.no_builds(found, spoiled_only=True)))

    @on(Listed)
    def _listed(self, event: Listed) -> None:
        if event.folder != self.program.folder or self.listed and event.rows is None:
            return
        if event.rows is not None:
            self.rows, self.listed = event.rows, True
            self.redraw()
        self.say(event.told or (CHOOSE if self.program.choosing_past else ""))

    def head_text(self) -> HeadText:
        """The folder, how many, by what."""
        all_ = "1 build" if len(self.rows) == 1 else f"{len(self.rows)} builds"
        shown = f"{len(self._shown())} of {all_}" if self.words else all_
        sort = next(head for name, head, _ in COLUMNS if name == self.sorted_by)
        where = f"sorted by {sort}" + (f" · holding: {plain(self.words)}" if self.words else "")
        stopped = sum(bool(r.stop) for r in self._shown())
        late = sum(not r.stop and shelf_due.is_late(r.due, self._today()) for r in self._shown())
        counts = (f"  ✗ {stopped} stop open" if stopped else "") + (f"  ▲ {late} overdue" if late else "")
        name = "Start from which build?  " if self.program.choosing_past else "Shelf  "
        overdue = (Piece(counts, "bad" if stopped else "warn"), "")
        return HeadText(
            (Piece(name, "head"), Piece(plain(str(self.program.folder.resolve())), "muted")),
            Piece(shown, "muted"),
            ((Piece(where), ""), overdue) if counts else ((Piece(where), ""),),
            self.saved_piece(self.program.desk) if self.program.desk else Piece(""),
        )

    def situation(self) -> Situation:
        """Where the person is now."""
        return replace(super().situation(), choosing=self.program.choosing_past)

    def _today(self) -> date:
        return self.program.around.clock().date()

    def _shown(self) -> list[Shelved]:
        return shelf_list.ordered(shelf_list.matching(self.rows, self.words), self.sorted_by)

    def redraw(self) -> None:
        """Show everything anew."""
        rows = self._shown()
        widths = shelf_list.column_widths(rows, max(40, self.size.width - 7), self.sorted_by)
        self.query_one("#shelf-head", Static).update(f"    {shelf_list.head_words(widths)}" if rows else "")
        lines = [self._line(row, widths) for row in rows]
        none = "There are no builds in this folder." if self.listed else ""
        self.query_one(LineList).show(lines or [line(none, "muted")])
        self._tell(self.query_one(LineList).current_key)
        super().redraw()

    def on_resize(self) -> None:
        """Another width has room for other columns."""
        if self.rows:
            self.call_after_refresh(self.redraw)

    def _line(self, row: Shelved, widths: list[int]) -> Line:
        mark = "* " if row.path in self.marked else "  "
        look = "bad" if row.problem or row.stop else "plain"
        words = shelf_list.row_words(row, widths, self._today())
        return Line((Piece(mark, "accent"), Piece(words, look)), (), row.path)

    @on(LineList.Highlighted)
    def _moved(self, event: LineList.Highlighted) -> None:
        self._tell(event.key)

    def _tell(self, path: str) -> None:
        row = next((r for r in self.rows if r.path == path), None)
        due = shelf_due.told(row.due, row.due_for, self._today()) if row is not None else ""
        parts = [] if row is None else [Path(row.path).name, due, row.checklist, row.notice]
        if row is not None and row.stop:
            parts[:2] = [f"due now, before it is used: {row.stop}", Path(row.path).name]
        told = " · ".join(plain(p) for p in parts if p)
        self.query_one("#shelf-more", Static).update(fit(told, max(20, self.size.width - 6)))

    # -- what can be done with one -----------------------------------------------------------------------------------

    @property
    def path(self) -> Path | None:
        """The current build file."""
        key = self.query_one(LineList).current_key
        return Path(key) if key else None

    def action_open_build(self) -> None:
        """Open the current build."""
        if self.path is not None:
            self.program.open_build(self.path)

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        if self.program.choosing_past:
            self.action_template_build()
        else:
            self.action_open_build()

    def action_recheck_build(self) -> None:
        """Open the current build at a new row of its dated re-checks."""
        if self.path is not None:
            self.program.open_build(self.path, item="rechecks", new_row=True)

    def action_template_build(self) -> None:
        """Start a new build from the current one."""
        past = self.path
        if past is None:
            return

        def answered(title: str | None) -> None:
            if title is None:
                return
            try:
                path = starting.from_past(past, self.program.own_folder, title, self.program.around.clock())
            except (OSError, ValueError) as error:
                self.say(str(error), "bad")
                return
            told = f"{path.name} begins with the design of {past.name}; every reading is asked for again."
            self.program.open_build(path, begun=told)

        more = "Its design is taken over. Every reading is asked for again; the old value stands beside as expectation."
        refuse = partial(starting.no_title, self.program.own_folder)
        title = "What is the new build to be called?"
        self.app.push_screen(AskText(title, more, needed="a build needs a title", refuse=refuse), answered)

    def action_compare_builds(self) -> None:
        """Mark a build; with two marked, show them side by side."""
        if self.path is None:
            return
        name = str(self.path)
        if name in self.marked:
            self.marked.remove(name)
        else:
            self.marked = [*self.marked[-1:], name]
        self.redraw()
        if len(self.marked) == 2:
            self._compare(*self.marked)
        else:
            self.say("Marked. Go to another build and press c to see both." if self.marked else "")

    def _compare(self, first: str, second: str) -> None:
        self.marked = []
        self.say(f"Opening {Path(first).name} and {Path(second).name} …")
        self._open_both(Path(first), Path(second))

    @work(thread=True, exclusive=True, group="compare", exit_on_error=True)
    def _open_both(self, first: Path, second: Path) -> None:
        try:
            both = [Desk.open(path, self.program.around, read_only=True) for path in (first, second)]
        except (OSError, ValueError) as error:
            self.post_message(BothCompared(refused=str(error)))
            return
        for desk in both:
            desk.session.close()
        self.post_message(BothCompared(shelf_list.compare(both[0].judged, both[1].judged)))

    @on(BothCompared)
    def _compared(self, event: BothCompared) -> None:
        self.redraw()
        self.say(event.refused, "bad")
        if event.rows and self.is_current:
            self.app.push_screen(Comparison(event.rows))

    # -- the list ----------------------------------------------------------------------------------------------------

    def action_filter_builds(self) -> None:
        """Show only builds that hold a word."""

        def answered(words: str | None) -> None:
            if words is not None:
                self.words = words
                self.redraw()

        self.app.push_screen(AskText("Show builds that hold", "Empty shows all.", text=self.words, empty=""), answered)

    def action_sort_builds(self) -> None:
        """Sort by the next column."""
        names = [name for name, _, _ in COLUMNS]
        self.sorted_by = names[(names.index(self.sorted_by) + 1) % len(names)]
        shelf_due.keep_order(self.sorted_by)
        self.redraw()

    def action_back(self) -> None:
        """First every build is shown again, where a filter leaves some out; then back to where one came from."""
        if self.words:
            self.words = ""
            self.say("Every build is shown again. Esc again leaves the shelf.")
            self.redraw()
            return
        if self.program.choosing_past:
            self.program.go_to_place("welcome")
            return
        self.program.go_to_place("bench" if self.program.desk is not None else "welcome")
