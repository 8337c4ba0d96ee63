"""One build file while it is open: reading, committing, what a crash or somebody else did to it."""

from __future__ import annotations

import difflib
import os
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import TracebackType

from buildtrack import units
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist
from buildtrack.storage import backups, durable, journal, write
from buildtrack.storage import lock as locks
from buildtrack.storage.build_file import Opened, read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.opening import (
    Snapshot,
    about_checklist,
    about_summary,
    checklist_of,
    computed_summary,
    why_not_writable,
)
from buildtrack.storage.places import state_folder

Clock = Callable[[], datetime]
BACKUP_EVERY = timedelta(minutes=10)
"""At most how often a save keeps the generation before it (the first save after opening always does)."""
KEPT = "what was entered is kept in memory and in the journal"
ONLY_MEMORY = "what was entered is kept in memory only"


def utc_now() -> datetime:
    """The time now, UTC, whole seconds."""
    return datetime.now(UTC).replace(microsecond=0)


@dataclass(frozen=True, slots=True)
class SaveState:
    """Whether all that was committed is in the file."""

    saved_at: datetime | None
    """When it was saved; None while it is not."""
    reason: str = ""
    """Why it is not saved: one sentence."""
    changed_outside: bool = False
    """The file is another one by now: reload, keep both, or look at the differences."""
    notes: tuple[str, ...] = ()
    """What else is to be told of this save."""

    @property
    def saved(self) -> bool:
        """Whether it is saved."""
        return self.saved_at is not None


class BuildSession:
    """A build file that is open; every method may be called from any thread."""

    def __init__(self, path: Path, opened: Opened, checklist: Checklist, clock: Clock, snapshot: Snapshot | None,
                 state: Path, disk: durable.Disk) -> None:
        self.path = path
        self.checklist = checklist
        self.build = opened.build
        """The build as last committed."""
        self.read_only_reason = ""
        """Why nothing can be written; empty where it can."""
        self.notes: tuple[str, ...] = ()
        """What was repaired, replayed or found changed when the file was opened or loaded again."""
        self.state = SaveState(clock())
        self._opened = opened
        self._clock = clock
        self._snapshot = snapshot
        self._state = state
        self._disk = disk
        self._guard = threading.RLock()
        self._lock: locks.Lock | None = None
        self._backup_at: datetime | None = None
        self._journal = journal.Journal(journal.journal_path(state, opened.build.id, os.path.realpath(path)), disk)

    # --- the person's edits ---

    def commit(self, build: Build) -> SaveState:
        """Make `build` the current one: a line in the journal, then a durable save.

        Never raises for a disk that will not take it: the state says why, and the build stays current in memory.
        A build that is an earlier stage of the current one (a worker that came late) changes nothing.
        """
        with self._guard:
            if self.read_only_reason:
                return SaveState(None, self.read_only_reason)
            if build == self.build and self.state.saved or self._is_past(build):
                return self.state
            in_journal = self._note_down(build)
            self.build = build
            return self._save(in_journal)

    def retry(self) -> SaveState:
        """Try again to save what is not saved."""
        with self._guard:
            if self.read_only_reason or self.state.saved:
                return self.state
            return self._save("")

    def _is_past(self, build: Build) -> bool:
        length = len(build.history)
        return length < len(self.build.history) and self.build.history[:length] == build.history

    def _note_down(self, build: Build) -> str:
        """Write the edit into the journal; returns why that failed, or nothing."""
        try:
            self._journal.append(journal.edit(self.build, build, os.path.realpath(self.path)))
        except OSError as error:
            return f"the journal cannot be written: {durable.sentence(error, str(self._journal.path.parent))}"
        except TypeError as error:
            return f"the journal cannot be written: {error}"
        return ""

    # --- saving ---

    def _save(self, journal_trouble: str) -> SaveState:
        notes = [journal_trouble] if journal_trouble else []
        try:
            written = write.rewrite(self.build, self.checklist, self._opened, self._computed(notes))
            if written.fresh:
                notes.append(f"the layout of the file could not be kept ({units.clip(written.report, 200)}): "
                             "it was written afresh, and the old one is kept as a backup")
            self._back_up(notes, needed=written.fresh)
            mark = durable.save_text(self.path, self._lines(written.text), self._opened.mark, self._disk)
        except durable.ChangedOutside as error:
            self.state = self._unsaved(str(error), journal_trouble, changed_outside=True)
        except durable.SaveError as error:
            if error.replaced is not None:
                self._opened = replace(written.opened, mark=error.replaced, crlf=self._opened.crlf)
            self.state = self._unsaved(str(error), journal_trouble)
        except write.WriteError as error:
            self.state = self._unsaved(units.clip(str(error), 400), journal_trouble)
        else:
            self._opened = replace(written.opened, mark=mark, crlf=self._opened.crlf)
            self._forget_journal(notes)
            self.state = SaveState(self._clock(), notes=tuple(notes))
        return self.state

    def _lines(self, text: str) -> str:
        return text.replace("\n", "\r\n") if self._opened.crlf else text

    def _unsaved(self, reason: str, journal_trouble: str, changed_outside: bool = False) -> SaveState:
        kept = f"{ONLY_MEMORY} ({journal_trouble})" if journal_trouble else KEPT
        return SaveState(None, f"{reason}; {kept}", changed_outside)

    def _computed(self, notes: list[str]) -> Mapping[str, object] | None:
        """The summary for the file; where it cannot be computed, the one that is there stays, and a note says so."""
        found = computed_summary(self._snapshot, self.build, self.checklist, self.path, self._clock())
        if isinstance(found, str):
            notes.append(found)
            return None
        return found

    def _back_up(self, notes: list[str], needed: bool = False) -> None:
        """Keep the file as it is now, before it is replaced."""
        now = self._clock()
        if not needed and self._backup_at is not None and timedelta() <= now - self._backup_at < BACKUP_EVERY:
            return
        try:
            backups.keep(self._state, self.build.id, self._lines(self._opened.text).encode(), now)
            self._backup_at = now
        except OSError as error:
            notes.append(f"no backup was made: {durable.sentence(error, str(self._state / 'backups'))}")

    def _forget_journal(self, notes: list[str]) -> None:
        try:
            self._journal.clear()
        except OSError as error:
            notes.append(f"the journal stays: {durable.sentence(error, str(self._journal.path))}")

    # --- what others did to the file ---

    def is_changed_outside(self) -> bool:
        """Whether somebody else changed, moved or deleted the file (cheap: meant to be asked every few seconds)."""
        with self._guard:
            mark = self._opened.mark
            return mark is not None and durable.is_changed(self.path, mark, self._disk)

    def differences(self) -> list[str]:
        """Lines that differ between the file as it is now and as this session would write it."""
        theirs = read_build(self.path).text
        ours = write.rewrite(self.build, self.checklist, self._opened).text
        return list(difflib.unified_diff(theirs.splitlines(), ours.splitlines(), "the file now", "this program", "", "",
                                         lineterm=""))

    def reload(self) -> SaveState:
        """Take the file as it is now, and put in again what was not saved, where it still fits.

        What this session had is kept as a backup first. BuildFileError where the file is no build any more.
        """
        with self._guard:
            opened = read_build(self.path)
            if not self.state.saved:
                self._keep_mine()
            self._opened, self.build, self.notes = opened, opened.build, ()
            self.state = SaveState(self._clock())
            return self._take_up_journal() if not self.read_only_reason else self.state

    def _keep_mine(self) -> None:
        try:
            text = write.rewrite(self.build, self.checklist, self._opened).text
            backups.keep(self._state, self.build.id, text.encode(), self._clock())
        except (OSError, write.WriteError) as error:
            self.notes = (*self.notes, f"no backup of what was here: {error}")

    def keep_both(self) -> Path:
        """Write what this session has into a new file beside the other one, and take the other one as it is now.

        Returns the new file. SaveError where it cannot be written: then nothing has changed.
        """
        with self._guard:
            text = write.rewrite(self.build, self.checklist, self._opened).text
            beside = self.path.with_name(f"{self.path.stem}-mine-{self._clock():%Y%m%dT%H%M%SZ}.toml")
            durable.save_text(beside, self._lines(text), None, self._disk)
            self._journal.clear()
            self.state = SaveState(self._clock())
            self.reload()
            return beside

    # --- opening and closing ---

    def _compare(self) -> None:
        """Say where checklist or summary are not those the file was written with."""
        self.notes = (*self.notes, *about_checklist(self.build, self.checklist))
        found = computed_summary(self._snapshot, self.build, self.checklist, self.path, self._clock())
        if isinstance(found, str):
            self.notes = (*self.notes, found)
        elif found is not None:
            self.notes = (*self.notes, *about_summary(self.build, found))

    def _open_for_writing(self, take_over: bool) -> None:
        """Get the lock, or say why this session can only read."""
        self._lock = locks.acquire(self.path, self._state, self._clock(), take_over)
        self.notes = (*self.notes, *self._lock.notes)
        if self._lock.holder is not None:
            self.read_only_reason = f"opened for reading only: {self._lock.holder} is writing it"
            return
        blocked = why_not_writable(self.path)
        if blocked:
            self.read_only_reason = f"opened for reading only: {blocked}"
            return
        self._opened = read_build(self.path)  # once more, now that nobody else writes it
        self.build = self._opened.build
        durable.remove_left_overs(self.path)
        self._take_up_journal()

    def _take_up_journal(self) -> SaveState:
        """Put in what a crash left in the journal, and save it."""
        try:
            lines = self._journal.lines()
        except OSError as error:
            why = durable.sentence(error, str(self._journal.path))
            self.notes = (*self.notes, f"the journal cannot be read: {why}")
            return self.state
        if not lines:
            return self.state
        done = journal.replay(self.build, lines)
        self.notes = (*self.notes, *done.notes)
        if done.left:
            self._set_aside(list(done.left))
        if done.put_in:
            entered = "1 edit" if done.put_in == 1 else f"{done.put_in} edits"
            self.notes = (*self.notes, f"{entered} had not reached the file and were put in again from the journal")
        if done.build == self.build:
            self._forget_journal([])
            return self.state
        self.build = done.build
        return self._save("")

    def _set_aside(self, lines: list[str]) -> None:
        try:
            kept = self._journal.set_aside(lines, self._clock())
            self.notes = (*self.notes, f"what could not be put in is kept in {kept}")
        except OSError as error:
            self.notes = (*self.notes, durable.sentence(error, str(self._journal.path.parent)))

    def close(self) -> SaveState:
        """Try once more to save what is not saved, and give the lock back."""
        with self._guard:
            state = self.retry()
            if self._lock is not None:
                self._lock.release()
                self._lock = None
            self.read_only_reason = self.read_only_reason or "the file is closed"
            return state

    def __enter__(self) -> BuildSession:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        self.close()


def open_session(path: Path, *, read_only: bool = False, take_over: bool = False, clock: Clock = utc_now,
                 snapshot: Snapshot | None = None, find: Callable[[str], Checklist] = find_checklist,
                 disk: durable.Disk = durable.REAL) -> BuildSession:
    """Open a build file.

    read_only: nothing is locked, written or replayed. take_over: write even if another machine's lock file says that it
    writes. snapshot: gives the summary written into the file. Raises BuildFileError with one line.
    """
    path = Path(path)
    opened = read_build(path)
    checklist = checklist_of(opened, path, find)
    session = BuildSession(path, opened, checklist, clock, snapshot, state_folder(), disk)
    session._compare()
    if read_only:
        session.read_only_reason = "opened for reading only"
        return session
    try:
        session._open_for_writing(take_over)
    except BaseException:
        session.close()
        raise
    return session


def create(path: Path, build: Build, checklist: Checklist, *, clock: Clock = utc_now, snapshot: Snapshot | None = None,
           disk: durable.Disk = durable.REAL) -> None:
    """Write a new build file; SaveError where there is one already or it cannot be written."""
    summary = computed_summary(snapshot, build, checklist, Path(path), clock())
    text = write.rewrite(build, checklist, None, summary if not isinstance(summary, str) else None).text
    durable.save_text(Path(path), text, None, disk)
