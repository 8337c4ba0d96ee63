"""The desk: one open build, how it is judged now, and the way back. Knows no screen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from buildtrack.bench.surroundings import SaveState, Session, Surroundings
from buildtrack.judging import Judged
from buildtrack.model.build import Build, Event
from buildtrack.model.checklist import Checklist, Item
from buildtrack.model.edit import EditError, Hand
from buildtrack.workings.status import ItemState, Status, StepState

MOST_UNDO = 200
"""How many edits can be undone."""

Edit = Callable[[Build, Hand], Build]


class Desk:
    """One open build with its judgement, undo, redo and what is saved."""

    def __init__(self, session: Session, around: Surroundings) -> None:
        self.session = session
        self.around = around
        self.saved_build = session.build
        self.judged: Judged = around.judge(session.build, session.checklist, self.folder, around.clock())
        self._past: list[tuple[Build, Event]] = []
        self._future: list[tuple[Build, Event]] = []

    @property
    def build(self) -> Build:
        """The build as it stands, saved or not."""
        return self.judged.build

    @property
    def checklist(self) -> Checklist:
        """Its checklist."""
        return self.session.checklist

    @property
    def folder(self) -> Path:
        """Folder of the build file."""
        return self.session.path.parent

    @property
    def status(self) -> Status:
        """State of every item and step."""
        return self.judged.assessment.status

    @property
    def unsaved(self) -> bool:
        """Whether something is not yet on the disk."""
        return self.build is not self.saved_build

    @property
    def can_undo(self) -> bool:
        """Whether there is an edit to take back."""
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        """Whether there is an undone edit to bring back."""
        return bool(self._future)

    def item_state(self, item: str) -> ItemState:
        """State of one item."""
        return self.status.items[item]

    def step_state(self, step: str) -> StepState:
        """State of one step."""
        return self.status.step(step)

    def left(self, step: str) -> int:
        """How many items of a step still have to be settled; optional ones do not."""
        items = self.checklist.items
        return sum(1 for s in self.step_state(step).items if not s.settled and items[s.item].need != "optional")

    def hand(self) -> Hand:
        """Who edits, and when."""
        return Hand(self.around.clock(), self.build.maker)

    def refusal(self, item: Item | None = None) -> str:
        """Why nothing may be entered here; empty where it may.

        Looking into a held step is allowed, and so is correcting what is already answered there.
        """
        if self.session.read_only_reason:
            return f"read-only: {self.session.read_only_reason}"
        if item is None:
            return ""
        held_by = self.step_state(item.step).held_by
        entry = self.build.entry(item.id)
        if not held_by or entry.standing or entry.rows:
            return ""
        names = [f"'{self.checklist.items[name].label}'" for name in held_by]
        more = f" and {len(names) - 3} more" if len(names) > 3 else ""
        return f"this step is held until {', '.join(names[:3])}{more} {'is' if len(names) == 1 else 'are'} settled"

    def change(self, edit: Edit) -> None:
        """Make an edit; EditError says why where it cannot be made."""
        if refusal := self.refusal():
            raise EditError(refusal)
        before = self.build
        after = edit(before, self.hand())
        event = after.history[-1] if after.history else Event(self.around.clock(), "changed")
        self._past = [*self._past[-MOST_UNDO:], (before, event)]
        self._future = []
        self._judge(after)

    def undo(self) -> str:
        """Take the last edit back, keeping the history; returns what was taken back, in words."""
        if not self._past or self.refusal():
            return ""
        earlier, event = self._past.pop()
        self._future.append((self.build, event))
        back = replace(event, what="undone", before=event.after, after=event.before)
        self._judge(self._logged(earlier, back))
        return self._told("undone", event)

    def redo(self) -> str:
        """Bring the last undone edit back, keeping the history; returns what was brought back, in words."""
        if not self._future or self.refusal():
            return ""
        later, event = self._future.pop()
        self._past.append((self.build, event))
        self._judge(self._logged(later, replace(event, what="redone")))
        return self._told("brought back", event)

    def look_again(self) -> None:
        """Judge the same build at the present moment (rests end, readings expire)."""
        self._judge(self.build)

    def save_now(self) -> tuple[Build, SaveState]:
        """Save the build as it stands; for a worker thread."""
        build = self.build
        return build, self.session.commit(build)

    def _judge(self, build: Build) -> None:
        self.judged = self.around.judge_again(self.judged, build, self.around.clock())

    def _logged(self, content: Build, event: Event) -> Build:
        """`content` with the whole history up to now and one more event."""
        hand = self.hand()
        return replace(content, history=(*self.build.history, replace(event, at=hand.at, by=hand.by)))

    def _told(self, verb: str, event: Event) -> str:
        item = self.checklist.items.get(event.item)
        check = self.checklist.check.get(event.item)
        where = item.label if item else f"'{check.title}'" if check else event.item
        place = " ".join(p for p in (where, event.row, event.column.replace("_", " ")) if p)
        return " ".join(p for p in (f"{verb}: {place}", event.what, event.after) if p)
