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
from buildtrack.bench.timers import CountDownTimer, clock_text
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
        nearest = timers.nearest()
        count = self.query_one("#count", Digits)
        count.update(clock_text(timers.left_s(nearest)) if nearest is not None else "")
        count.display = nearest is not None
        self.query_one(LineList).show(self._lines())

    def _lines(self) -> list[Line]:
        """Every count-down in its place, whether it runs or not: none moves away under the mark."""
        timers, presets = self.program.timers, {name for name, _, _ in PRESETS}
        running = {t.name: t for t in timers.running}
        found = []
        for name, seconds, again in PRESETS:
            length = clock_text(seconds) + (", again and again" if again else "")
            found.append(self._running_line(running[name]) if name in running else
                         line(f"  {name}", "plain", length, f"timer:{name}"))
        found += [self._running_line(t) for name, t in running.items() if name not in presets]
        found.append(line("  another length", "plain", "typed", "own:"))
        desk = self.program.desk
        due = due_lines(desk.judged) if desk is not None else []
        if due:
            found += [line(""), line("Days and weeks", "head"), *(line(text, "warn") for text in due)]
        return found

    def _running_line(self, timer: CountDownTimer) -> Line:
        left = f"{clock_text(self.program.timers.left_s(timer))} left"
        return line(f"● {timer.name}", "accent", left, f"timer:{timer.name}")

    @on(LineList.Chosen)
    def _chosen(self, event: LineList.Chosen) -> None:
        event.stop()
        kind, _, name = event.key.partition(":")
        timers = self.program.timers
        if kind == "timer" and name in {t.name for t in timers.running}:
            timers.stop(name)
        elif kind == "timer":
            timers.start(*next(p for p in PRESETS if p[0] == name))
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
        name = f"timer of {plain(text)}"
        self.program.timers.start(name, max(1.0, min(seconds, 30 * 86400.0)))
        self._show()
        self.query_one(LineList).select(f"timer:{name}")

    def action_leave(self) -> None:
        """Close; the count-downs run on."""
        self.dismiss(None)
