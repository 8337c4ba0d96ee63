"""The desk: one open build, how it is judged now, and the way back. Knows no screen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from buildtrack.bench.drafts import Drafts
from buildtrack.bench.due import due_lines
from buildtrack.bench.surroundings import Session, Surroundings
from buildtrack.bench.way_back import WayBack
from buildtrack.checks.ruling import Result
from buildtrack.judging import Judge, Judged
from buildtrack.model import edit as edits
from buildtrack.model.build import Build, Event
from buildtrack.model.checklist import Checklist, Item
from buildtrack.model.edit import EditError, Hand
from buildtrack.workings.status import ItemState, Status, StepState, status_meanwhile, why_held

MOST_UNDO = 200
"""How many edits can be undone."""

Edit = Callable[[Build, Hand], Build]


@dataclass(frozen=True, slots=True)
class _Seen:
    """What every key asks of a judgement."""

    judged: Judged
    due: list[str]
    faults: list[Result]
    standing: list[Result]


class Desk:
    """One open build with its judgement, undo, redo and what is saved.

    An edit counts at once; checks and verdict follow when somebody has called `judge` and handed the answer to `take`.
    """

    def __init__(self, session: Session, around: Surroundings, judge: Judge | None = None) -> None:
        self.session = session
        self.around = around
        self.saved_build = session.build
        self.build: Build = session.build
        """The build as it stands, saved or not."""
        self._judge = judge if judge is not None else Judge(around.judge, around.judge_again)
        self.judged: Judged = self.judge()
        """The last judgement; behind the build while `pending`."""
        self.status: Status = self.judged.assessment.status
        """State of every item and step; right after an edit that of the steps it is about."""
        self._seen: _Seen | None = None
        self._past: list[Build] = []
        self._future: list[Build] = []
        self.fresh_stop = ""
        """The stop that failed last and was not looked at yet."""
        self.drafts = Drafts()
        """What was typed and is not taken yet."""
        self.finding = ""
        """The check that was explained last: a table that is opened from there begins at the field it is about."""
        self.way_back: WayBack | None = None
        """Where the review led to the bench, while Esc there leads back."""

    @classmethod
    def open(cls, path: Path, around: Surroundings, read_only: bool = False) -> Desk:
        """Open a build file; the session and the desk share one judgement."""
        judge = Judge(around.judge, around.judge_again)
        return cls(around.opener(path, read_only=read_only, summary=judge.summary), around, judge)

    @property
    def checklist(self) -> Checklist:
        """Its checklist."""
        return self.session.checklist

    @property
    def folder(self) -> Path:
        """Folder of the build file."""
        return self.session.path.parent

    @property
    def pending(self) -> bool:
        """Whether the judgement is that of an earlier build."""
        return self.judged.build is not self.build

    @property
    def unsaved(self) -> bool:
        """Whether something is not yet on the disk."""
        return self.build is not self.saved_build

    @property
    def can_undo(self) -> bool:
        """Whether there is an edit to take back, or a dropped text to bring back."""
        return bool(self._past) or self.drafts.can_pick_up(self.build)

    @property
    def has_edits(self) -> bool:
        """Whether there is an edit to take back."""
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        """Whether there is an undone edit, or a text, to bring back."""
        return bool(self._future) or self.drafts.can_pick_again(self.build)

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

    def due_lines(self) -> list[str]:
        """What is due, in sentences, as of the last judgement."""
        return self._seen_in_judgement().due

    def faults(self) -> list[Result]:
        """Stops and cautions that stand failed and are not accepted, as of the last judgement, the stops first."""
        return self._seen_in_judgement().faults

    def standing(self) -> list[Result]:
        """Stops and cautions that did not pass and are not accepted, as of the last judgement, the gravest first."""
        return self._seen_in_judgement().standing

    def _seen_in_judgement(self) -> _Seen:
        if self._seen is None or self._seen.judged is not self.judged:
            found = [r for r in self.judged.assessment.results
                     if r.severity != "note" and r.outcome in ("fail", "unsure") and r.waiver is None]
            found.sort(key=lambda r: r.severity != "stop")
            standing = [r for r in self.judged.assessment.findings if r.severity != "note" and r.waiver is None]
            self._seen = _Seen(self.judged, due_lines(self.judged), found, standing)
        return self._seen

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
        if self.pending and self.step_state(item.step).stopped_by:
            self.settle()  # the last edit may have mended the stop
        return why_held(item, self.build, self.checklist, self.status)

    def change(self, edit: Edit) -> None:
        """Make an edit; EditError says why where it cannot be made."""
        if refusal := self.refusal():
            raise EditError(refusal)
        before = self.build
        after = edit(before, self.hand())
        self._past = [*self._past[-MOST_UNDO:], before]
        self._future = []
        self._become(after)

    def begin_again(self) -> None:
        """Go on with what the session has now, after the file was changed outside; nothing before can be undone."""
        self.build = self.session.build
        self.saved_build = self.build
        self._past, self._future = [], []
        self.take(self.judge())

    def undo(self) -> str:
        """Take the last edit back, keeping the history; returns what was taken back, in words."""
        if not self._past or self.refusal():
            return ""
        earlier, now = self._past.pop(), self.build
        self._future.append(now)
        self._become(edits.undo(now, earlier, self.hand()))
        return self._told("undone", edits.edits_since(now, earlier))

    def redo(self) -> str:
        """Bring the last undone edit back, keeping the history; returns what was brought back, in words."""
        if not self._future or self.refusal():
            return ""
        later, now = self._future.pop(), self.build
        self._past.append(now)
        self._become(edits.redo(now, later, self.hand()))
        return self._told("brought back", self.build.history[len(now.history) :])

    def _become(self, build: Build) -> None:
        asked = {event.step for event in build.history[len(self.build.history) :]}
        self.build = build
        sheet = self.judged.assessment.sheet
        self.status = status_meanwhile(self.status, asked, build, self.checklist, sheet, self.around.clock())

    # -- judging -----------------------------------------------------------------------------------------------------

    def judge(self) -> Judged:
        """Judge the build as it stands at the present moment; for a worker thread as well."""
        return self._judge.of(self.build, self.checklist, self.folder, self.around.clock())

    def files_changed(self) -> bool:
        """Whether an attached file is another one since the build was judged; for a worker thread as well."""
        return self._judge.files_changed(self.build, self.checklist, self.folder)

    def take(self, judged: Judged) -> bool:
        """Take a judgement over, unless the build has changed meanwhile."""
        if judged.build is not self.build:
            return False
        before, now = _failed_stops(self.judged), _failed_stops(judged)
        self.fresh_stop = next((c for c in now if c not in before), self.fresh_stop if self.fresh_stop in now else "")
        self.judged, self.status = judged, judged.assessment.status
        return True

    def foreseen(self, edit: Edit) -> list[Result]:
        """The stops and cautions that an edit would raise, told before it is made."""
        judge = Judge(self.around.judge, self.around.judge_again)
        now = self.around.clock()
        after = judge.of(edit(self.build, self.hand()), self.checklist, self.folder, now)
        before = {r.check for r in self.judged.assessment.results if r.outcome in ("fail", "unsure")}
        return [r for r in after.assessment.results
                if r.severity != "note" and r.outcome in ("fail", "unsure") and r.check not in before]

    def lifted(self, edit: Edit) -> list[Result]:
        """The stops that stand failed and that an edit would take away, told before it is made."""
        self.settle()
        stands = any(r.severity == "stop" and r.outcome == "fail" for r in self.judged.assessment.results)
        if not stands or self.refusal():
            return []
        from buildtrack.judging import lifted  # what judges is loaded with the build

        after = self.around.judge_again(self.judged, edit(self.build, self.hand()), self.around.clock())
        return lifted(self.judged, after)

    def settle(self) -> None:
        """Judge now, where the judgement is that of an earlier build: for what rests on it being of this one."""
        if self.pending:
            self.take(self.judge())

    def _told(self, verb: str, events: tuple[Event, ...]) -> str:
        if not events:
            return verb
        event = events[-1]
        item = self.checklist.items.get(event.item)
        check = self.checklist.check.get(event.item)
        where = item.label if item else f"'{check.title}'" if check else event.item
        place = " ".join(p for p in (where, event.row, event.column.replace("_", " ")) if p)
        what = "" if event.what == "redone" else event.what
        more = f"and {len(events) - 1} more" if len(events) > 1 else ""
        return " ".join(p for p in (f"{verb}: {place}", what, event.after, more) if p)


def _failed_stops(judged: Judged) -> list[str]:
    return [r.check for r in judged.assessment.results if r.severity == "stop" and r.outcome == "fail"]
