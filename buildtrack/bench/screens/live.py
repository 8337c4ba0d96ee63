"""A discharge test while its logger writes: the curve grows, the numbers stand beside, alarm and end are one key each.

Nothing depends on this screen staying open: marks are saved at once, and coming back reads the file again.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.geometry import Size
from textual.message import Message

from buildtrack.bench import live_view, marks
from buildtrack.bench.attach import attached_reading
from buildtrack.bench.commands import Situation, bindings
from buildtrack.bench.desk import Edit
from buildtrack.bench.followed import Followed, recall, remember
from buildtrack.bench.marks_log import Log, head_of, is_attached, note_of, others_text
from buildtrack.bench.plain import plain
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.attaching import ask_at_the_end, ask_replaced, attached_already, attached_text
from buildtrack.bench.screens.live_curve import Curve
from buildtrack.bench.screens.marking import Marking
from buildtrack.bench.widgets.head import Head, KeyLine
from buildtrack.bench.widgets.line_text import Line, Piece
from buildtrack.bench.widgets.lines import LineList
from buildtrack.bench.widgets.told import Notice
from buildtrack.model.build import Reading
from buildtrack.model.checklist import Item
from buildtrack.model.edit import EditError, add_reading
from buildtrack.physics.log_follow import Follower, Seen

EVERY_S = 1.0
"""How often the file is looked at [s]."""


@dataclass
class Looked(Message):
    """A look at the file came to an end."""

    follower: Follower
    seen: Seen
    chart: list[Line]
    room: Size
    """The room it was drawn for."""
    head: bytes | None
    """The first bytes of the file."""


class LiveLog(Marking):
    """One log, followed."""

    PLACE = "live"
    BINDINGS: ClassVar[list[BindingType]] = bindings("live")
    AUTO_FOCUS = "#curve"
    CSS_PATH = "live.tcss"

    def __init__(self, item: str) -> None:
        super().__init__()
        self.item_id = item
        self.followed: Followed | None = None
        self.seen = Seen("", "no file is named yet: l names it")
        self._follower: Follower | None = None
        self._looking = False
        self._grew_at: datetime | None = None
        self._caught_up = False
        """Whether all was read that was written before the file was followed here."""
        self._grown = False
        """Whether a row has come since the file is followed here."""
        self._told = ""
        self._head: bytes | None = None
        """The first bytes of the file, as far as they are known."""

    def compose(self) -> ComposeResult:
        """Head; numbers beside or over the curve; what happened; keys."""
        yield Head()
        with Vertical(id="live"):
            yield LineList(id="numbers", gutter=False)
            yield Curve(id="curve", gutter=False)
        yield Notice(id="notice")
        yield KeyLine()

    def on_mount(self) -> None:
        """Go on with what was followed, or ask for the file."""
        self.query_one("#numbers").can_focus = False
        self.say("")
        standing = self.desk.build.entry(self.item_id).standing
        known = recall(self.desk.session.path, self.item_id)
        if known is None and standing:
            known = Followed(standing[-1].text, standing[-1].columns)
        if known is not None:
            self.follow(known)
        else:
            self.call_after_refresh(self.action_name_log)
        self.set_interval(EVERY_S, self.look)
        self.redraw()

    # -- following ---------------------------------------------------------------------------------------------------

    @property
    def item(self) -> Item:
        """The item the log belongs to."""
        return self.desk.checklist.items[self.item_id]

    @property
    def of_test(self) -> bool:
        """Whether it is the log of the discharge test, which has an alarm and an end."""
        return self.item_id == marks.LOG

    @property
    def path(self) -> Path | None:
        """The file."""
        return self.desk.folder / self.followed.path if self.followed is not None else None

    @property
    def log_now(self) -> Log:
        """The file as it was at the last look."""
        name = self.path.name if self.path is not None else ""
        whole = self._caught_up and not self.seen.behind and self.seen.file == name
        return Log(name, self._head, self.seen.rows if whole else None)

    def follow(self, followed: Followed) -> None:
        """Follow a file from its beginning."""
        self.followed, self._told, self._caught_up, self._grown, self._head = followed, "", False, False, None
        self._follower = Follower(self.desk.folder / followed.path, followed.columns)
        self._grew_at = self.program.around.clock()
        self.look()

    def look(self) -> None:
        """Look at the file in a thread, unless a look is under way."""
        if self._follower is not None and not self._looking and self.is_mounted:
            self._looking = True
            self._look(self._follower, self._levels(), self.query_one("#curve").size)

    @work(thread=True, group="live", exit_on_error=True)
    def _look(self, follower: Follower, levels: live_view.Levels, room: Size) -> None:
        seen = follower.look()
        chart = live_view.chart(seen, levels, room.width - 1, room.height)
        self.post_message(Looked(follower, seen, chart, room, head_of(self.path)))

    @on(Looked)
    def _looked(self, event: Looked) -> None:
        self._looking = False
        if event.follower is not self._follower:
            self.look()
            return
        if event.seen.grew:
            self._grew_at = self.program.around.clock()
            self._grown = self._grown or self._caught_up
        self._caught_up = self._caught_up or not event.seen.behind
        before, self.seen, self._head = self.seen, event.seen, event.head
        if (before.now is None) != (self.seen.now is None):
            self.refresh_keys()
            self.refresh_bindings()
        curve = self.query_one("#curve", LineList)
        fits = curve.size == event.room  # on opening, and at another size of the screen, it was laid out meanwhile
        if fits:
            curve.show(event.chart)
        self._show_numbers()
        self._tell_what_to_do()
        if event.seen.behind or not fits:
            self.look()

    def _still_s(self) -> float:
        return (self.program.around.clock() - self._grew_at).total_seconds() if self._grew_at is not None else 0.0

    def _levels(self) -> live_view.Levels:
        return live_view.levels_of(self.desk, self.log_now)

    def _show_numbers(self) -> None:
        levels = self._levels()
        narrow = self.has_class("-narrow")
        told = live_view.numbers(self.seen, levels, self._still_s(), narrow, self._grown)
        self.query_one("#numbers", LineList).show(told)

    def _tell_what_to_do(self) -> None:
        """Say it once, with a bell; it stands until something else happens."""
        if not self.of_test:
            return
        what, sentence, look = live_view.to_do(self.seen, self._levels())
        if what and what != self._told:
            self.program.bell()
            self.say(sentence, look)
        self._told = what

    # -- what is shown -----------------------------------------------------------------------------------------------

    def situation(self) -> Situation:
        """Where the person is now."""
        desk = self.desk
        return Situation(
            place="live",
            kind="file",
            answered=self.seen.now is not None,
            refused=desk.refusal(self.item),
            read_only=bool(desk.refusal()),
            can_undo=desk.has_edits,
            can_redo=desk.can_redo,
            unsaved=desk.unsaved,
            changed_outside=self.program.outside.changed,
            timed=self.of_test,
        )

    def where(self) -> tuple[tuple[Piece, str], ...]:
        """The step, the item, the file."""
        step = self.desk.checklist.step(self.item.step)
        name = f" › {plain(self.followed.path)}" if self.followed is not None else ""
        return ((Piece(f"{plain(step.title) if step else ''} › {plain(self.item.label)}{name}"), ""),)

    def redraw(self) -> None:
        """Show everything anew."""
        if self.is_mounted:
            self._show_numbers()
        super().redraw()

    @on(Curve.OtherRoom)
    def _draw_anew(self, event: Curve.OtherRoom) -> None:
        event.stop()
        self.look()

    def on_resize(self) -> None:
        """Another size has room for other numbers."""
        self.call_after_refresh(self.redraw)

    # -- what can be done --------------------------------------------------------------------------------------------

    def moment_now(self, kind: marks.Kind) -> marks.Moment | None:
        """The latest row of the log; for the end, the latest under load."""
        row = self.seen.loaded if kind is marks.END or self.seen.under_load else self.seen.now
        if row is None:
            self.say("There is no row in the log yet: nothing to mark.", "bad")
            return None
        return marks.Moment(row.time_s, row.groups_v, note_of(self.seen.rows, self.log_now))

    def take_mark(self, kind: marks.Kind, moment: marks.Moment) -> None:
        """Record a moment with the groups of its row."""
        if self._edit(marks.mark(kind, moment, self.desk)):
            groups = f", with {len(moment.groups)} groups of the latest row" if moment.groups else ""
            self.say(f"Marked: {kind.name} at {moment.seconds / 60:.2f} min{groups}. u takes it back.")

    def not_its_log(self) -> str:
        """Which log of the test is attached, where another one is followed here."""
        standing = self.desk.build.entry(self.item_id).standing
        if not standing or self.path is None:
            return ""
        if Path(standing[-1].text).name == self.path.name:
            return "" if is_attached(self.path, standing[-1]) else self._other_contents()
        more = f"{plain(standing[-1].text)} is the log of the test; {plain(self.path.name)}, followed here, is not."
        return f"{more} A mark from here replaces the one of the test, and belongs to {plain(self.path.name)}."

    def _other_contents(self) -> str:
        name = plain(self.log_now.name)
        return f"What is followed here has other contents than the {name} attached. A mark belongs to what is followed."

    def _edit(self, change: Edit) -> bool:
        try:
            self.desk.change(change)
        except EditError as error:
            self.say(str(error), "bad")
            return False
        self.program.build_changed()
        self.look()
        return True

    def action_name_log(self) -> None:
        """Name the file to follow."""

        def answered(name: str | None) -> None:
            if name is None:
                return
            followed = Followed(name.strip(), self.followed.columns if self.followed is not None else "")
            remember(self.desk.session.path, self.item_id, followed)
            self.say("")
            self.follow(followed)

        more = "The CSV file the logger writes; it need not be there yet. A name counts from the build file's folder."
        self.app.push_screen(
            AskText("Which log is to be followed?", more, about=(self.item_id,),
                    text=self.followed.path if self.followed else "",
                    placeholder="for instance discharge.csv", needed="type the name of the file"),
            answered,
        )  # fmt: skip

    def action_set_columns(self) -> None:
        """See which column is what, and set it."""
        if self.followed is None:
            return

        def answered(text: str | None) -> None:
            if text is not None and self.followed is not None:
                followed = Followed(self.followed.path, text.strip())
                remember(self.desk.session.path, self.item_id, followed)
                self.follow(followed)

        understood = live_view.columns_lines(self.seen.columns, self.seen.notes) or plain(self.seen.problem)
        how = "current=3:mA voltage=2 groups=4+5+6 positive=charge, a column by number or name, a unit behind a colon"
        more = f"{understood}\nSet with {how}. Empty: all from the file."
        about = (self.item_id,)
        asked = AskText("Columns as understood", more, about=about, text=self.followed.columns, empty="")
        self.app.push_screen(asked, answered)

    def action_attach_log(self) -> None:
        """Attach the file to the build, as any log."""
        if self.path is None or self.seen.now is None:
            self.say("There is nothing to attach yet.", "bad")
        elif self._is_growing():
            choices = [("no", "not yet: I stop the logger first"), ("yes", "attach it as it is now")]
            more = "What it writes afterwards would not be in the record; the file would have to be attached again."
            self.app.push_screen(AskOne("The file is still growing", choices, more),
                                 lambda answer: self._put_file() if answer == "yes" else None)  # fmt: skip
        else:
            self._put_file()

    def _is_growing(self) -> bool:
        return self._still_s() < max(2.0, 2 * self.seen.interval_s)

    def _put_file(self) -> None:
        """Attach the file; where another log stands, that is asked first."""
        made = self._made()
        if made is not None and attached_already(self.desk, self.item, made):
            remember(self.desk.session.path, self.item_id, None)
            self.say(attached_text(made))
        elif made is not None:
            ask_replaced(self, self.item, made, partial(self._put, made), self.say)

    def _made(self) -> Reading | None:
        """The reading that names the file; None, and it is said why, where it cannot be attached."""
        if self.followed is None:
            return None
        refused = self.desk.refusal(self.item)
        made = refused or attached_reading(self.desk.session.path, _typed(self.followed), self.desk.hand().at, "file")
        if isinstance(made, str):
            self.say(made, "bad")
            return None
        return made

    def _put(self, made: Reading) -> None:
        item = self.item
        if self._edit(lambda build, hand: add_reading(build, item, made, hand)):
            remember(self.desk.session.path, self.item_id, None)
            self.say(f"Attached: {plain(made.text)}. {others_text(self.desk.build, self.log_now)}".rstrip())

    def _is_attached(self) -> bool:
        standing = self.desk.build.entry(self.item_id).standing
        return bool(standing) and recall(self.desk.session.path, self.item_id) is None

    def action_undo(self) -> None:
        """Take the last edit back."""
        self._say_done(self.desk.undo())

    def action_redo(self) -> None:
        """Bring the last undone edit back."""
        self._say_done(self.desk.redo())

    def _say_done(self, text: str) -> None:
        if text:
            self.program.build_changed()
            self.say(text)
            self.look()

    def to_bench(self) -> None:
        """The key of the bench leads back as Esc does."""
        self.action_back()

    def action_back(self) -> None:
        """Back to the bench; where the test has ended, the file is offered to be attached first."""
        ended = self._levels().end_s is not None
        if not (self.of_test and ended and self.seen.now is not None and not self._is_attached()):
            self.app.pop_screen()
            return

        def answered(answer: str | None) -> None:
            if answer == "yes" and (made := self._made()) is not None:
                self._put(made)
            if answer != "yes" or self._is_attached():
                self.app.pop_screen()

        ask_at_the_end(self, self.item, self.seen.file, self._is_growing(), answered)


def _typed(followed: Followed) -> str:
    """What would be typed to attach it."""
    return f"{followed.path} {followed.columns}".strip()
