"""One save: the text made, the generation before it kept, the file replaced; what went wrong is said, never raised."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from buildtrack import units
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist
from buildtrack.storage import backups, durable, write
from buildtrack.storage.build_file import Opened
from buildtrack.storage.opening import Snapshot, computed_summary

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


class Saver:
    """Writes one build file again and again, each time from the text that is in it."""

    def __init__(self, path: Path, opened: Opened, checklist: Checklist, state: Path, clock: Clock,
                 disk: durable.Disk) -> None:
        self.path = path
        self.opened = opened
        """The file as it was last read or written."""
        self.checklist = checklist
        self._state = state
        self._clock = clock
        self._disk = disk
        self._backup_at: datetime | None = None

    def text_of(self, build: Build) -> str:
        """The text that a save of `build` would write, LF line ends."""
        return write.rewrite(build, self.checklist, self.opened).text

    def with_line_ends(self, text: str) -> str:
        """A text with the line ends of the file."""
        return text.replace("\n", "\r\n") if self.opened.crlf else text

    def save(self, build: Build, summary: Mapping[str, object] | None, notes: list[str],
             journal_trouble: str) -> SaveState:
        """Save `build`; the state says when, or why not.

        summary: what becomes the snapshot. notes: what is to be told of this save, added to. journal_trouble: why the
        journal does not have the edit, so that the state can say what that means.
        """
        try:
            written = write.rewrite(build, self.checklist, self.opened, summary)
            if written.fresh:
                notes.append(f"the layout of the file could not be kept ({units.clip(written.report, 200)}): "
                             "it was written afresh, and the old one is kept as a backup")
            self._back_up(build.id, notes, written.fresh or self.opened.raw is not None)
            mark = durable.save_text(self.path, self.with_line_ends(written.text), self.opened.mark, self._disk)
        except durable.SaveError as error:
            if error.replaced is not None:
                self.opened = replace(written.opened, mark=error.replaced, crlf=self.opened.crlf)
            return _unsaved(error, journal_trouble)
        except write.WriteError as error:
            return _unsaved(error, journal_trouble)
        self.opened = replace(written.opened, mark=mark, crlf=self.opened.crlf)
        return SaveState(self._clock(), notes=tuple(notes))

    def _back_up(self, build_id: str, notes: list[str], needed: bool) -> None:
        """Keep the file as it is now, before it is replaced."""
        now = self._clock()
        if not needed and self._backup_at is not None and timedelta() <= now - self._backup_at < BACKUP_EVERY:
            return
        if trouble := self.keep(build_id, self.opened.text):
            notes.append(trouble)
        else:
            self._backup_at = now

    def keep(self, build_id: str, text: str) -> str:
        """Keep a text as a generation of the build; returns why that failed, or nothing."""
        try:
            real = os.path.realpath(self.path)
            backups.keep(self._state, build_id, self.with_line_ends(text).encode(), self._clock(), self._disk, real)
            backups.note_place(self._state, build_id, real)
        except OSError as error:
            return f"no backup was made: {durable.sentence(error, str(self._state / 'backups'))}"
        return ""


def _unsaved(error: Exception, journal_trouble: str) -> SaveState:
    kept = f"{ONLY_MEMORY} ({journal_trouble})" if journal_trouble else KEPT
    return SaveState(None, f"{units.clip(str(error), 400)}; {kept}", isinstance(error, durable.ChangedOutside))


def create(path: Path, build: Build, checklist: Checklist, *, clock: Clock = utc_now,
           snapshot: Snapshot | None = None, disk: durable.Disk = durable.REAL) -> None:
    """Write a new build file; SaveError where there is one already or it cannot be written."""
    summary = computed_summary(snapshot, build, checklist, Path(path), clock())
    text = write.rewrite(build, checklist, None, None if isinstance(summary, str) else summary).text
    durable.save_text(Path(path), text, None, disk)
