"""What every place shares: head, a line for what just happened, keys at the bottom; commands by one table."""

from __future__ import annotations

import threading
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar, cast

from textual import events
from textual.binding import BindingType
from textual.message import Message
from textual.messages import Update
from textual.reactive import Reactive
from textual.screen import Screen
from textual.widget import Widget

from buildtrack.bench import commands
from buildtrack.bench.commands import Situation
from buildtrack.bench.plain import plain
from buildtrack.bench.timers import clock_text
from buildtrack.bench.widgets.drawing import DirtyOnly
from buildtrack.bench.widgets.head import Head, HeadText, KeyLine
from buildtrack.bench.widgets.line_text import Piece
from buildtrack.bench.widgets.told import Notice

if TYPE_CHECKING:
    from buildtrack.bench.app import BuildtrackApp
    from buildtrack.bench.desk import Desk

W = TypeVar("W", bound=Widget)
NARROW_HEAD = 110
"""A head that is narrower has room for the first words of a notice [cells]."""
VERDICT_LOOKS = {"not cleared": "bad", "incomplete": "warn", "cleared with conditions": "good", "cleared": "good"}


class Place(Screen[None]):
    """A place of the program."""

    PLACE = "bench"
    TIMER_SHOWN: ClassVar[str] = ""
    """The count-down that this place shows elsewhere."""
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (110, "-wide"), (160, "-broad")]
    VERTICAL_BREAKPOINTS = [(0, "-low"), (32, "-tall")]
    BINDINGS: ClassVar[list[BindingType]] = []
    focused: Reactive[Widget | None] = Reactive(None, repaint=False)
    """What has the keyboard. Textual would draw the whole screen anew; the two widgets that look different do so."""

    def __init__(self) -> None:
        super().__init__()
        self._compositor = DirtyOnly()
        self.said_why = ""
        """What was said last of a key that did nothing: true only where it was pressed."""
        self._made_of: dict[tuple[type[Widget], str], list[Any]] = {}

    @cached_property
    def program(self) -> BuildtrackApp:
        """The app, typed. Textual looks it up anew each time, which is thousands of times for a key."""
        return cast("BuildtrackApp", self.app)

    @property
    def desk(self) -> Desk:
        """The open build."""
        desk = self.program.desk
        assert desk is not None, "this place is only entered with an open build"
        return desk

    def _own(self, kind: type[W], named: str = "") -> list[W]:
        """The widgets of a kind, or of an id too, that the place is made of: they stay as long as it does."""
        found: list[Any] = self._made_of.get((kind, named)) or list(self.query(named or kind).results(kind))
        self._made_of[kind, named] = found
        return found

    def post_message(self, message: Message) -> bool:
        """Note at once what is to be drawn at the end of a key; as messages these are most of those of a key."""
        if type(message) is Update and self.program.keys_waiting and threading.get_ident() == self._thread_id:
            if self in self._compositor:
                self._dirty_widgets.add(message.widget)
            return True
        return super().post_message(message)

    def is_left(self) -> bool:
        """Whether the build, or the program, was closed while something was still on its way to this place."""
        if not self.program.is_running:
            return True  # its widgets are going, or gone
        return self.program.desk is None and self.PLACE in commands.OPEN_PLACES

    @property
    def stands(self) -> bool:
        """Whether a key finds all of it in place."""
        return self.is_mounted and self.focused is not None

    def situation(self) -> Situation:
        """Where the person is now."""
        changed = self.program.outside.changed
        return Situation(place=self.PLACE, has_file=self.program.desk is not None, changed_outside=changed)

    def help_situation(self) -> Situation | None:
        """What help is told of, as far as it can ever be done here; None where that is every command of the place."""
        return None

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Availability by the table of commands."""
        return commands.allowed(action, self.situation())

    def say(self, text: str, look: str = "") -> None:
        """Say what just happened; it stays until something else happens."""
        for notice in self._own(Notice):
            notice.say(plain(text), look)

    @property
    def said(self) -> str:
        """What was said last."""
        return next((str(n.content) for n in self._own(Notice)), "")

    def refresh_keys(self) -> None:
        """Show the keys that do something now; of a key that changes them several times, only what comes of it."""
        self.program.before_frame(self._show_keys)

    def _show_keys(self) -> None:
        if not self.is_running or self.is_left():
            return  # the key left this place
        for keys in self._own(KeyLine):
            keys.entries = tuple(commands.footer(self.PLACE, self.situation(), self.program.around.keymap))
        self.refresh_timer()

    def refresh_timer(self) -> None:
        """Show the count-down that ends next, with the key that leads to them."""
        timers = self.program.timers
        nearest = timers.nearest(self.TIMER_SHOWN) if self.PLACE in commands.BY_ID["timers"].places else None
        for keys in self._own(KeyLine):
            keys.running = None if nearest is None else commands.running_entry(
                f"{plain(nearest.name)}: {clock_text(timers.left_s(nearest))} left", self.program.around.keymap)

    def on_key(self, event: events.Key) -> None:
        """A key whose command makes no sense now says why, and what would; Enter is left to what has the keyboard."""
        place, keymap, around = self.PLACE, self.program.around.keymap, self.situation()
        if event.key == "enter" or commands.of_key(event.key, place, around, keymap) is not None:
            return
        meant = next((c for c in commands.of_place(place) if event.key in commands.key_of(c, keymap).split(",")), None)
        if meant is not None:
            from buildtrack.bench.why_not import why_not  # asked for rarely; not loaded with the first frame

            event.stop()
            self.said_why = why_not(meant, around)
            self.say(self.said_why)

    def key_meant(self, text: str) -> str:
        """How a refused text would be a command, where it is the key of one; empty where it is none."""
        around, key = replace(self.situation(), typing=""), text.strip()
        found = commands.of_key(key, self.PLACE, around, self.program.around.keymap)
        return f". For the command '{found.footer}': Esc, then {key}" if found is not None and found.footer else ""

    def head_text(self) -> HeadText:
        """What the head says."""
        desk = self.program.desk
        if desk is None:
            return HeadText((Piece("buildtrack", "head"),))
        return HeadText(self.title_pieces(desk), self.verdict_piece(desk), self.where(), self.saved_piece(desk))

    def title_pieces(self, desk: Desk) -> tuple[Piece, ...]:
        """Title of the build and its notice."""
        notice = plain(desk.build.notice)
        if self.size.width < NARROW_HEAD:
            notice = notice.partition(":")[0]  # its whole stands in the record
        pieces = [Piece(plain(desk.build.title), "head")]
        return (*pieces, Piece(f"  {notice}", "warn")) if notice else tuple(pieces)

    def verdict_piece(self, desk: Desk) -> Piece:
        """The verdict so far."""
        from buildtrack.bench.words import VERDICT_GLYPHS  # loaded with the build, after the first frame

        verdict = desk.judged.assessment.verdict
        why = ": F5 says why" if verdict == "not cleared" and self.PLACE != "review" else ""
        return Piece(f"{VERDICT_GLYPHS.get(verdict, '·')} {verdict}{why}", VERDICT_LOOKS.get(verdict, "muted"))

    def where(self) -> tuple[tuple[Piece, str], ...]:
        """Where in the place the person is."""
        return ()

    def saved_piece(self, desk: Desk) -> Piece:
        """Whether all is safely on the disk."""
        if desk.session.read_only_reason:
            return Piece(f"■ read-only: {plain(desk.session.read_only_reason)}", "warn")
        if self.program.outside.changed:
            return Piece("▲ NOT SAVED: changed outside" if desk.unsaved else "▲ changed outside", "bad")
        saving = self.program.saving
        if desk.unsaved and saving.failed:
            return Piece(f"✗ NOT SAVED: {plain(saving.failed)}", "bad")
        if desk.unsaved:
            return Piece("… saving", "muted")
        return Piece(f"✓ saved {saving.at:%H:%M:%S}" if saving.at else "✓ saved", "muted")

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """Other keys do something where something else has the keyboard."""
        self.refresh_keys()

    def to_bench(self) -> None:
        """Leave what lies over the bench; the bench itself has nothing to leave."""

    def keep_typed(self) -> None:
        """Keep what stands in a field and is no answer yet."""

    def typed(self) -> list[str]:
        """What is typed and not taken yet, with where it was typed."""
        from buildtrack.bench.typed_places import told_all  # loaded with the build, as above

        self.keep_typed()
        return told_all(self.desk.drafts.kept(), self.desk)

    def refresh_head(self) -> None:
        """Show title, verdict, place and saved state anew."""
        for head in self._own(Head):
            head.says = self.head_text()

    def redraw(self) -> None:
        """Show everything anew after the build changed."""
        self.refresh_head()
        self.refresh_keys()
        self.refresh_bindings()

    def judged_anew(self) -> None:
        """Checks and verdict of the last edit have come."""
        self.redraw()

    def on_screen_suspend(self) -> None:
        """Another place comes: what is typed here is not lost with it."""
        if self.is_mounted and self.program.desk is not None:
            self.keep_typed()

    def on_screen_resume(self) -> None:
        """Coming back: the build may have changed elsewhere."""
        if self.is_mounted and not self.is_left():
            self.redraw()
