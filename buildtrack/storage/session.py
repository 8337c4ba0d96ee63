"""One build file while it is open: reading, committing, what a crash or somebody else did to it."""

from __future__ import annotations

import difflib
import os
import threading
from collections.abc import Callable, Mapping
from pathlib import Path
from types import TracebackType
from typing import Any

from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist
from buildtrack.storage import durable, journal, typed_file, write
from buildtrack.storage import lock as locks
from buildtrack.storage.build_file import BuildFileError, Opened, read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.collector import no_collection
from buildtrack.storage.misplaced import misplaced
from buildtrack.storage.opening import (
    Snapshot,
    about_checklist,
    about_format,
    about_summary,
    checklist_of,
    computed_summary,
    why_not_writable,
)
from buildtrack.storage.places import state_folder
from buildtrack.storage.saver import Clock, Saver, SaveState, create, utc_now

__all__ = ["BuildSession", "Clock", "SaveState", "Snapshot", "create", "open_session", "utc_now"]


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
        self._clock = clock
        self._snapshot = snapshot
        self._state_folder = state
        self._disk = disk
        self._guard = threading.RLock()
        self._lock: locks.Lock | None = None
        self._saver = Saver(path, opened, checklist, state, clock, disk)
        self._journal = journal.Journal(journal.journal_path(state, opened.build.id, os.path.realpath(path)), disk)
        self.typed: Mapping[typed_file.Place, str] = {}
        """What was typed when the build was open last, and is no answer yet."""
        self._typed_files: tuple[Path, ...] = (typed_file.typed_path(self._journal.path),)
        """Where it lies: the first is written; the others are of where the file was before it was moved."""
        self._typed_unread = False
        """Whether what lies there could be neither read nor set aside."""
        self._moved: list[journal.Journal] = []
        """Journals of this build from where its file was before it was moved."""
        self._noted = opened.build
        """The build as file and journal together have it."""
        self._holds_journal = False
        """Whether the journal has lines that must not be forgotten: they could be neither put in nor set aside."""

    def _tell(self, *notes: str) -> None:
        self.notes = (*self.notes, *(note for note in notes if note))

    # --- the person's edits ---

    def commit(self, build: Build) -> SaveState:
        """Make `build` the current one: a line in the journal, then a durable save.

        Never raises for a disk that will not take it: the state says why, and the build stays current in memory.
        A build that is an earlier stage of the current one (a worker that came late) changes nothing, and neither does
        one that no file can hold (half a character from a terminal): the answer says so.
        """
        with self._guard:
            if self.read_only_reason:
                return SaveState(None, self.read_only_reason)
            if (self.state.saved and build == self.build) or self._is_past(build):
                return self.state
            with no_collection():
                return self._commit(build)

    def _commit(self, build: Build) -> SaveState:
        line = self._line(build)
        if refusal := journal.why_not_text(line):
            return SaveState(None, refusal)
        trouble = self._note_down(line)
        self._noted = self._noted if trouble else build
        self.build = build
        return self._save(trouble)

    def retry(self) -> SaveState:
        """Try again to save what is not saved."""
        with self._guard:
            if self.read_only_reason or self.state.saved:
                return self.state
            return self._save(self._catch_up())

    def _is_past(self, build: Build) -> bool:
        length = len(build.history)
        return length < len(self.build.history) and self.build.history[:length] == build.history

    def _line(self, build: Build) -> dict[str, Any]:
        """What the journal does not have yet of `build`."""
        return journal.edit(self._noted, build, os.path.realpath(self.path))

    def _note_down(self, line: Mapping[str, Any]) -> str:
        """Write a line into the journal; returns why that failed, or nothing."""
        try:
            self._journal.append(line)
        except OSError as error:
            return f"the journal cannot be written: {durable.sentence(error, str(self._journal.path.parent))}"
        return ""

    def _catch_up(self) -> str:
        """Note down what an earlier failure kept out of the journal; returns why that failed again, or nothing."""
        if self._noted == self.build:
            return ""
        trouble = self._note_down(self._line(self.build))
        self._noted = self._noted if trouble else self.build
        return trouble

    def _save(self, journal_trouble: str = "") -> SaveState:
        notes = [journal_trouble] if journal_trouble else []
        self.state = self._saver.save(self.build, self._summary(notes), notes, journal_trouble)
        if self.state.saved and (trouble := self._forget_journal()):
            self.state = SaveState(self.state.saved_at, notes=(*self.state.notes, trouble))
        return self.state

    def _summary(self, notes: list[str]) -> Mapping[str, object] | None:
        """The summary for the file; where it cannot be computed, the one that is there stays, and a note says so."""
        found = computed_summary(self._snapshot, self.build, self.checklist, self.path, self._clock())
        if isinstance(found, str):
            notes.append(found)
            return None
        return found

    def _forget_journal(self) -> str:
        """Clear the journal: the file has it all. Returns why that failed, or nothing."""
        self._noted = self.build
        if self._holds_journal:
            return ""
        try:
            for each in (self._journal, *self._moved):
                each.clear()
            self._moved = []
        except OSError as error:
            return f"the journal stays: {durable.sentence(error, str(self._journal.path))}"
        return ""

    # --- what is typed and no answer yet ---

    def keep_typed(self, texts: Mapping[typed_file.Place, str]) -> str:
        """Keep typed texts for the next opening, outside the build file; returns why that failed, or nothing.

        A session that can only read keeps none.
        """
        with self._guard:
            if self.read_only_reason:
                return ""
            own, *moved = self._typed_files
            try:
                if self._typed_unread:
                    typed_file.move_aside(own)
                    self._typed_unread = False
                typed_file.write_typed(own, texts, self._clock(), os.path.realpath(self.path), self._disk)
                for path in moved:
                    path.unlink(missing_ok=True)
            except OSError as error:
                return f"what is typed cannot be kept: {durable.sentence(error, str(own.parent))}"
            self._typed_files = (own,)
            return ""

    def _take_up_typed(self) -> None:
        """What was typed when the program died, unless it is an answer by now."""
        own = self._typed_files[0]
        durable.remove_left_overs(own)
        found, self._typed_files = typed_file.find_typed(own, self.build.id)
        self._tell(found.note)
        self._typed_unread = found.unread
        self.typed = typed_file.not_taken(self.build, found)
        if self.typed != found.texts:  # at once: after an undo, a text that was taken would look like one that was not
            self._tell(self.keep_typed(self.typed))

    # --- what others did to the file ---

    def is_changed_outside(self) -> bool:
        """Whether somebody else changed, moved or deleted the file (cheap: meant to be asked every few seconds)."""
        with self._guard:
            mark = self._saver.opened.mark
            return mark is not None and durable.is_changed(self.path, mark, self._disk)

    def as_it_is(self) -> Build:
        """The build as the file has it now, whoever wrote it; BuildFileError where it is none."""
        return read_build(self.path).build

    def writer_left(self) -> bool:
        """Whether another writer kept this session read-only and is gone now; opened anew, it may be written."""
        with self._guard:
            if self._lock is None or self._lock.holder is None:
                return False
            holder = locks.read_holder(locks.sidecar_of(self.path))
            return holder is None or locks.is_dead(holder)

    def differences(self) -> list[str]:
        """Lines that differ between the file as it is now and as this session would write it."""
        with self._guard:
            theirs, ours = read_build(self.path).text, self._saver.text_of(self.build)
        return list(difflib.unified_diff(theirs.splitlines(), ours.splitlines(), "the file now", "this program",
                                         lineterm=""))

    def reload(self) -> SaveState:
        """Take the file as it is now, and put in again what was not saved, where it still fits.

        What this session had is kept as a backup first. BuildFileError where the file is no build any more.
        """
        with self._guard:
            opened = read_build(self.path)
            self.notes = ()
            if not self.state.saved:
                self._keep_mine()
            self._saver.opened = opened
            self.build = self._noted = opened.build
            self.state = SaveState(self._clock())
            return self.state if self.read_only_reason else self._take_up_journal()

    def _keep_mine(self) -> None:
        """Before the build in memory is given up: into the journal what is not there yet, and all of it as a backup."""
        self._tell(self._catch_up())
        try:
            self._tell(self._saver.keep(self.build.id, self._saver.text_of(self.build)))
        except write.WriteError as error:
            self._tell(f"no backup was made: {error}")

    def keep_both(self) -> Path:
        """Write what this session has into a new file beside the other one, and take the other one as it is now.

        Returns the new file. SaveError where it cannot be written: then nothing has changed.
        """
        with self._guard:
            beside = self.path.with_name(f"{self.path.stem}-mine-{self._clock():%Y%m%dT%H%M%SZ}.toml")
            text = self._saver.with_line_ends(self._saver.text_of(self.build))
            durable.save_text(beside, text, None, self._disk)
            self.state = SaveState(self._clock())
            trouble = self._forget_journal()
            try:
                self.reload()
            except BuildFileError as error:  # theirs is gone or no build: ours is safe beside it
                self._tell(f"what is in its place now cannot be used: {error}")
            self._tell(trouble)
            return beside

    # --- opening and closing ---

    def _compare(self) -> None:
        """Say where format, checklist or summary are not those the file was written with."""
        self._tell(*about_format(self._saver.opened), *misplaced(self._saver.opened.steps, self.checklist),
                   *about_checklist(self.build, self.checklist))
        found = computed_summary(self._snapshot, self.build, self.checklist, self.path, self._clock())
        if isinstance(found, str):
            self._tell(found)
        elif found is not None:
            self._tell(*about_summary(self.build, found))

    def _open_for_writing(self, take_over: bool) -> None:
        """Get the lock and put in what a crash left, or say why this session can only read."""
        self.read_only_reason = why_not_writable(self.path)
        if self.read_only_reason:
            return
        self._lock = locks.acquire(self.path, self._state_folder, self._clock(), take_over)
        self._tell(*self._lock.notes)
        if self._lock.holder is not None:
            self.read_only_reason = f"{self._lock.holder} is writing it"
        else:
            if self.is_changed_outside():  # until nobody else could write it
                self._saver.opened = read_build(self.path)
                self.build = self._noted = self._saver.opened.build
            durable.remove_left_overs(self.path)
            self._take_up_journal()
            self._take_up_typed()

    def _take_up_journal(self) -> SaveState:
        """Put in what a crash left in the journal, and save it."""
        try:
            self._moved = journal.orphans(self.build.id, self._journal.path)
            lines = [line for each in (*self._moved, self._journal) for line in each.lines()]
        except OSError as error:
            self._holds_journal = True
            self._tell(f"the journal cannot be read: {durable.sentence(error, str(self._journal.path), reading=True)}")
            return self.state
        if not lines:
            return self.state
        done = journal.replay(self.build, lines)
        self._tell(*done.notes)
        if done.left:
            self._set_aside(list(done.left))
        if done.put_in:
            entered = "1 edit" if done.put_in == 1 else f"{done.put_in} edits"
            self._tell(f"put in again from the journal, because it had not reached the file: {entered}")
        if done.build == self.build:
            self._tell(self._forget_journal())
            return self.state
        self.build = self._noted = done.build
        return self._save()

    def _set_aside(self, lines: list[str]) -> None:
        """Keep what could not be put in, in a file of its own; until that works, the journal is let alone."""
        try:
            kept = self._journal.set_aside(lines, self._clock())
        except OSError as error:
            self._holds_journal = True
            self._tell(f"the journal is let alone: {durable.sentence(error, str(self._journal.path.parent))}")
        else:
            self._tell(f"what could not be put in is kept in {kept}")

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
    writes. snapshot: makes the summary written into the file. Raises BuildFileError with one line.
    """
    path = Path(path)
    opened = read_build(path)
    session = BuildSession(path, opened, checklist_of(opened, path, find), clock, snapshot, state_folder(), disk)
    session._compare()
    if read_only:
        session.read_only_reason = "opened for reading only"
        return session
    try:
        session._open_for_writing(take_over)
    # whatever ends it, Ctrl+C too: no lock is left behind, and the error goes on
    except BaseException:
        session.close()
        raise
    return session
