"""Count-downs: seconds at a joint, the interval of a log. They ring; nothing depends on them."""

from __future__ import annotations

from typing import ClassVar, cast

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Digits, Static

from buildtrack import units
from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.due import due_lines
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.ask import AskText
from buildtrack.bench.screens.reading import PAGE_BREAKPOINTS, PAGE_CSS
from buildtrack.bench.timers import clock_text
from buildtrack.bench.widgets.line_text import Line, line
from buildtrack.bench.widgets.lines import LineList

PRESETS = (
    ("solder joint", 3.0, False),
    ("cool down", 30.0, False),
    ("log interval 1 min", 60.0, True),
    ("log interval 5 min", 300.0, True),
    ("charge readings 5 min", 300.0, False),
    ("charge readings 15 min", 900.0, False),
    ("rebound 60 min", 3600.0, False),
)
"""Name, seconds, whether it begins anew by itself."""


class CountDown(ModalScreen[None]):
    """Running count-downs and those that can be started."""

    CSS = PAGE_CSS.format(name="CountDown") + "CountDown Digits { width: auto; color: $accent; height: 3; }"
    HORIZONTAL_BREAKPOINTS = PAGE_BREAKPOINTS
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,q", "leave", "close", show=False)]

    def compose(self) -> ComposeResult:
        """Title, the next to end in large digits, list, keys."""
        with Vertical():
            yield Static("Timers", markup=False, classes="page-title")
            yield Digits("", id="count")
            yield LineList(id="timer-lines", starts_blank=True)
            yield Static("↑ ↓ choose    Enter start, or stop a running one    Esc close; they run on",
                         markup=False, classes="page-keys")

    @property
    def program(self) -> BuildtrackApp:
        """The app, typed."""
        return cast("BuildtrackApp", self.app)

    def on_mount(self) -> None:
        """Show, and look at the clock."""
        self._show()
        self.query_one(LineList).focus()
        self.set_interval(0.5, self._show)

    def _show(self) -> None:
        timers = self.program.timers
        running = sorted(timers.running, key=timers.left_s)
        count = self.query_one("#count", Digits)
        count.update(clock_text(timers.left_s(running[0])) if running else "")
        count.display = bool(running)
        self.query_one(LineList).show(self._lines())

    def _lines(self) -> list[Line]:
        timers = self.program.timers
        found = [line(f"● {t.name}", "accent", clock_text(timers.left_s(t)), f"stop:{t.name}") for t in timers.running]
        names = {t.name for t in timers.running}
        found += [
            line(f"  {name}", "plain", clock_text(seconds) + (", again and again" if again else ""), f"start:{n}")
            for n, (name, seconds, again) in enumerate(PRESETS)
            if name not in names
        ]
        found.append(line("  another length", "plain", "typed", "own:"))
        desk = self.program.desk
        due = due_lines(desk.judged) if desk is not None else []
        if due:
            found += [line(""), line("Days and weeks", "head"), *(line(text, "warn") for text in due)]
        return found

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        kind, _, name = event.key.partition(":")
        if kind == "stop":
            self.program.timers.stop(name)
        elif kind == "start":
            self.program.timers.start(*PRESETS[int(name)])
            self._show()
            self.query_one(LineList).select(f"stop:{PRESETS[int(name)][0]}")  # the mark stays with what it stood on
            return
        else:
            self.app.push_screen(
                AskText("How long?", "like 90 s, 10 min or 1.5 h", needed="type a length of time"), self._typed
            )
        self._show()

    def _typed(self, text: str | None) -> None:
        if text is None:
            return
        try:
            seconds = units.parse(text, "time", "min").value
        except units.QuantityError as error:
            self.app.push_screen(
                AskText("How long?", str(error), text=text, needed="type a length of time"), self._typed
            )
            return
        self.program.timers.start(plain(text), max(1.0, min(seconds, 30 * 86400.0)))
        self._show()

    def action_leave(self) -> None:
        """Close; the count-downs run on."""
        self.dismiss(None)
