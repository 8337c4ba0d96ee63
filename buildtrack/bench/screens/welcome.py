"""The first screen where no build is open: begin from a sample, from nothing, or from a past build."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical

from buildtrack.bench import starting
from buildtrack.bench.commands import bindings
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.place import Place
from buildtrack.bench.widgets.head import Head, KeyLine
from buildtrack.bench.widgets.line_text import Line, line, prose
from buildtrack.bench.widgets.lines import LineList
from buildtrack.bench.widgets.told import Notice
from buildtrack.storage.samples import another_copy, left_at, own_copy


class WelcomeScreen(Place):
    """Three ways to begin."""

    PLACE = "welcome"
    BINDINGS: ClassVar[list[BindingType]] = bindings("welcome")
    CSS_PATH = "welcome.tcss"
    AUTO_FOCUS = "#ways"

    def compose(self) -> ComposeResult:
        """Head; what this is; the ways; what happened; keys."""
        yield Head()
        with Vertical(id="welcome"):
            about = LineList(
                [
                    line("Rebuild a worn tool pack, one step at a time.", "head"),
                    line(""),
                    prose(
                        "You are asked for readings in the order of the work. While the meter is still in your hand "
                        "you see what they mean, and a dangerous step does not pass quietly. At the end there is one "
                        "build file, and a record that somebody else can check."
                    ),
                    line(""),
                ],
                gutter=False,
                id="about",
            )
            about.can_focus = False
            yield about
            yield LineList(self._ways(), id="ways", wraps=True)
        yield Notice(id="notice")
        yield KeyLine()

    def _ways(self) -> list[Line]:
        """The ways to begin; where none is open, a build in work comes first."""
        latest = starting.latest_build(self.program.own_folder) if self.program.desk is None else None
        go_on = [line(f"Go on with {latest[1]}", "plain", latest[0].name, f"open:{latest[0]}")] if latest else []
        return [
            *go_on,
            line("Look at a sample", "plain", "your own copy; its data are invented", "sample"),
            line("Start a new build", "plain", "an empty build file in your folder", "new"),
            line("Start from a past build", "plain", "its design, every reading asked for again", "shelf"),
            line("Open a build of your folder", "plain", str(self.program.own_folder.resolve()), "shelf:open"),
        ]

    def action_back(self) -> None:
        """Back to the work, where a build is open."""
        if self.program.desk is not None:
            self.program.go_to_place("bench")

    def on_mount(self) -> None:
        """Nothing happened yet."""
        self.say("")
        self.redraw()

    def on_screen_resume(self) -> None:
        """Coming back: what there is to go on with may have changed; the mark begins at the first way."""
        super().on_screen_resume()
        if self.is_mounted and (ways := self.query("#ways")):
            ways.only_one(LineList).show(self._ways())
            ways.only_one(LineList).action_edge(-1)

    @on(LineList.Chosen, "#ways")
    def _chosen(self, event: LineList.Chosen) -> None:
        if event.key == "sample":
            self._samples()
        elif event.key == "new":
            self._new()
        elif event.key.startswith("open:"):
            self.program.open_build(Path(event.key.removeprefix("open:")))
        else:
            self.program.folder = self.program.own_folder
            self.program.choosing_past = event.key == "shelf"
            self.program.go_to_place("shelf")

    def _samples(self) -> None:
        found = starting.samples()
        if not found:
            self.say("No samples came with this program.", "bad")
            return

        def chosen(name: str | None) -> None:
            if name and (left := left_at(name)) is not None:
                self._ask_which_copy(name, left)
            elif name:
                self._open_copy(own_copy, name)

        self.app.push_screen(
            AskOne("Which sample?", found, "You get a copy; the sample itself stays as it is."), chosen
        )

    def _ask_which_copy(self, name: str, left: datetime) -> None:
        """The copy the person has worked in, or the sample as it is shipped."""
        choices = [("own", f"Go on with my copy, as I left it on {left.astimezone():%-d %b %Y, %H:%M}"),
                   ("another", "A fresh copy beside it, as the sample is")]

        def chosen(which: str | None) -> None:
            if which:
                self._open_copy(own_copy if which == "own" else another_copy, name)

        self.app.push_screen(AskOne("You have worked in your copy of this sample", choices), chosen)

    def _open_copy(self, copied: Callable[[str], Path], name: str) -> None:
        try:
            path = copied(name)
        except (OSError, ValueError) as error:
            self.say(str(error), "bad")
            return
        self.program.open_build(path)

    def _new(self) -> None:
        checklists = starting.checklists()
        if len(checklists) == 1:
            self._ask_title(*checklists[0])
            return
        kinds = dict(checklists)
        self.app.push_screen(
            AskOne("Which kind of work?", checklists), lambda name: self._ask_title(name, kinds[name]) if name else None
        )

    def _ask_title(self, checklist: str, kind: str) -> None:
        """Ask for the title; nothing is made before it is given, and Esc goes back to the kinds."""
        several = len(starting.checklists()) > 1

        def answered(title: str | None) -> None:
            if title is not None:
                self._make(checklist, kind, title)
            elif several:
                self._new()

        back = "\nEsc goes back to the kinds of work." if several else ""
        self.app.push_screen(
            AskText(
                "What is it to be called?",
                f"{kind}.\nThe build file is made in {self.program.own_folder.resolve()}{back}",
                placeholder="for instance the tool and its voltage",
                needed="a build needs a title",
                refuse=partial(starting.no_title, self.program.own_folder),
            ),
            answered,
        )

    def _make(self, checklist: str, kind: str, title: str) -> None:
        try:
            path = starting.new_build(self.program.own_folder, checklist, title, self.program.around.clock())
        except (OSError, ValueError) as error:
            self.say(str(error), "bad")
            return
        begun = f"{path.name} was made for: {kind}. Another kind? Ctrl-N begins anew; then delete this file."
        self.program.open_build(path, begun=begun)
