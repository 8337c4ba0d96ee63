"""A build file that somebody else changed while it is open: noticed, told, and settled as the person wishes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from textual.message import Message
from textual.widgets import Input

from buildtrack.bench.plain import plain
from buildtrack.bench.widgets.line_text import Line, line, prose

if TYPE_CHECKING:
    from buildtrack.bench.app import BuildtrackApp
    from buildtrack.bench.desk import Desk
    from buildtrack.bench.differences import Difference

EVERY = timedelta(seconds=10)
"""How often the file is looked at while nothing else gives reason to."""
MOST_LINES = 2000
CHOICES = [
    ("see", "see the differences"),
    ("reload", "take the file as it is now; what was not saved is put in again where it fits"),
    ("both", "keep both: write what this program has into a file of its own, and go on with the other"),
    ("later", "decide later; until then nothing is written into the file"),
]


@dataclass
class LookedOutside(Message):
    """The file of a desk was looked at."""

    desk: Desk
    changed: bool
    writer_left: bool = False
    """Whether another writer kept it read-only here, and is gone."""
    files: bool = False
    """Whether a file that is attached to the build was changed, is gone, or came back."""


class Outside:
    """What others did to the open file."""

    def __init__(self, program: BuildtrackApp) -> None:
        self.program = program
        self.changed = False
        """Whether the file is another one than this program knows."""
        self._told = False
        self._looking = False
        self._looked: datetime | None = None

    def forget(self) -> None:
        """Another file is open, or this one is settled."""
        self.changed = self._told = self._looking = False

    def tick(self) -> None:
        """Look, where the last look is some time ago and nobody types.

        The save that follows the typing looks in any case.
        """
        if self._typing():
            return
        now = self.program.around.clock()
        if self._looked is None or abs(now - self._looked) >= EVERY:
            self._looked = now
            self.look()

    def look(self) -> None:
        """Look in a thread: the folder may be on a network."""
        desk = self.program.desk
        if desk is None or self._looking or self.changed:
            return
        self._looking = True

        def looked() -> None:
            left = bool(desk.session.read_only_reason) and desk.session.writer_left()
            changed, files = desk.session.is_changed_outside(), desk.files_changed()
            self.program.post_message(LookedOutside(desk, changed, left, files))

        self.program.run_worker(looked, thread=True, group="outside", exit_on_error=True)

    def looked(self, event: LookedOutside) -> None:
        """Take what a look found."""
        if event.desk is self.program.desk:
            self._looking = False
            if event.writer_left and not self.program.read_only:
                self._open_to_write(event.desk)
            elif event.changed:
                self.found()
            if event.files:
                self.program.judge()

    def _open_to_write(self, desk: Desk) -> None:
        """Open the file anew, at the same place: nothing can have been entered here."""
        seen = getattr(self.program.screen, "item_id", "")
        self.program.open_build(desk.session.path, item=seen, begun="The other window has left: this one writes now.")

    def found(self) -> None:
        """The file was changed: say so once; where nothing can be entered here, just show it as it is now.

        No question opens by itself: it would take the next key of a reading as its answer.
        """
        self.changed = True
        desk = self.program.desk
        if desk is not None and desk.session.read_only_reason and not desk.unsaved:
            self._settle(desk, "reload")
            if not self.changed:
                return
        self.program.refresh_heads()
        if not self._told:
            self._told = True
            self.program.place_say("The file was changed outside. F8 asks what is to be done with it.", "bad")

    def _typing(self) -> bool:
        """Whether the keys belong to a field: a question must not take them."""
        field = self.program.focused
        return isinstance(field, Input) and bool(field.value)

    def ask(self) -> None:
        """Ask what is to be done."""
        from buildtrack.bench.screens.ask import AskOne

        desk = self.program.desk
        if desk is None:
            return
        more = "It was changed, moved or deleted by someone else. This program never writes over that."
        choices = CHOICES
        if desk.session.read_only_reason:
            choices = [c for c in CHOICES if c[0] != "both"]
        title = f"{plain(desk.session.path.name)} is another file now"
        self.program.push_screen(AskOne(title, choices, more, firm=True), self._answered)

    def _answered(self, answer: str | None) -> None:
        from buildtrack.bench.screens.reading import ReadOn

        desk = self.program.desk
        if desk is None:
            return
        if answer == "see":
            self.program.push_screen(ReadOn("What differs", self._differences(desk)),
                                     lambda _none: self.ask())
        elif answer in ("reload", "both"):
            self._settle(desk, answer)
        else:
            self.program.place_say("Not settled: F8 asks again. Nothing is written into the file until then.", "bad")

    def _differences(self, desk: Desk) -> list[Line]:
        from buildtrack.bench.differences import differences  # loaded with the build, after the first frame

        try:
            told = differences(desk.build, desk.session.as_it_is(), desk.checklist)
            found = desk.session.differences() if not told else []
        except (ValueError, OSError) as error:
            return [line(str(error), "bad")]
        if told:
            return list(_told_apart(told))
        return list(_written_apart(found))

    def _settle(self, desk: Desk, wish: str) -> None:
        """Done on the loop, so that no edit can be made meanwhile; what is not noted down yet is noted down first."""
        told = "The file was taken as it is now."
        try:
            if desk.unsaved:
                desk.session.commit(desk.build)
            if wish == "both":
                told = f"What this program had is kept in {desk.session.keep_both().name}."
            else:
                desk.session.reload()
        except (ValueError, OSError) as error:
            self.program.place_say(str(error), "bad")
            return
        desk.begin_again()
        self.forget()
        self.program.saving.failed = ""
        self.program.show_changed()
        self.program.place_say(" ".join([told, *(f"{note}." for note in desk.session.notes)]))


def _told_apart(found: Sequence[Difference]) -> Iterator[Line]:
    """Each thing that differs: what this program has, and what the file has now."""
    yield line("1 thing differs" if len(found) == 1 else f"{len(found)} things differ", "head")
    for each in found[:MOST_LINES]:
        yield line("")
        yield prose(each.where, "accent")
        yield prose(f"here             {each.before or 'nothing'}", "plain", 2, hang=17)
        yield prose(f"in the file now  {each.after or 'nothing'}", "plain", 2, hang=17)
    if len(found) > MOST_LINES:
        yield line(f"and {len(found) - MOST_LINES} more", "muted")


def _written_apart(found: Sequence[str]) -> Iterator[Line]:
    """Lines of the file that are written otherwise and say the same: comments, blanks, their order."""
    changed = [text for text in found if text[:1] in "-+" and not text.startswith(("---", "+++"))]
    if not changed:
        yield line("There is no difference.", "head")
        return
    yield line("They say the same; only comments or the way it is written differ", "head")
    for text in changed[:MOST_LINES]:
        where = "in the file now  " if text.startswith("-") else "here             "
        yield prose(f"{where}{text[1:].strip() or '(an empty line)'}", "plain", 2, hang=17)
    if len(changed) > MOST_LINES:
        yield line(f"and {len(changed) - MOST_LINES} more lines", "muted")
