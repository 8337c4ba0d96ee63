"""Everything the screens take from outside, so that tests pass in their own: clock, opener, judge, render job."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:  # what judges is loaded after the first frame
    from buildtrack.judging import Judged
    from buildtrack.model.build import Build
    from buildtrack.model.checklist import Checklist

Clock = Callable[[], datetime]
Summary = Callable[["Build", "Checklist", Path, datetime], Mapping[str, object]]
"""Makes the summary that is written into the file."""


def judge(build: Build, checklist: Checklist, folder: Path, now: datetime) -> Judged:
    """Judge a build from nothing."""
    from buildtrack import judging

    return judging.judge(build, checklist, folder, now)


def judge_again(before: Judged, build: Build, now: datetime) -> Judged:
    """Judge a build after an edit."""
    from buildtrack import judging

    return judging.judge_again(before, build, now)


def summary_of(build: Build, checklist: Checklist, path: Path, now: datetime) -> Mapping[str, object]:
    """The summary of a build, judged for it."""
    from buildtrack import judging

    return judging.summary(build, checklist, path, now)


class SaveState(Protocol):
    """What came of one attempt to save."""

    @property
    def saved(self) -> bool:
        """Whether the build is safely on the disk."""

    @property
    def reason(self) -> str:
        """Why not, in one sentence; empty where it was saved."""

    @property
    def changed_outside(self) -> bool:
        """Whether it was not saved because the file is another one by now."""


class Session(Protocol):
    """An open build file."""

    @property
    def build(self) -> Build:
        """The build as last read or saved."""

    @property
    def checklist(self) -> Checklist:
        """Its checklist."""

    @property
    def path(self) -> Path:
        """Where the build file is."""

    @property
    def read_only_reason(self) -> str:
        """Why nothing can be written; empty where it can."""

    @property
    def notes(self) -> Sequence[str]:
        """What the person should know about the opening."""

    @property
    def typed(self) -> Mapping[tuple[str, ...], str]:
        """What was typed when the build was open last and is no answer yet, by where it was typed."""

    def keep_typed(self, texts: Mapping[tuple[str, ...], str]) -> str:
        """Keep what is typed for the next opening; called from a worker thread. Why that failed, or nothing."""

    def commit(self, build: Build) -> SaveState:
        """Save a build durably; called from a worker thread, never raises for what a disk can do."""

    def writer_left(self) -> bool:
        """Whether whoever wrote it when it was opened here writes it no more; for a worker thread as well."""

    def is_changed_outside(self) -> bool:
        """Whether somebody else changed, moved or deleted the file; may take as long as the folder takes."""

    def as_it_is(self) -> Build:
        """The build as the file has it now; ValueError where it is none."""

    def differences(self) -> list[str]:
        """Lines that differ between the file as it is and what this program has; ValueError where it is no build."""

    def reload(self) -> object:
        """Take the file as it is now, with what was not saved put in again; ValueError where it is no build."""

    def keep_both(self) -> Path:
        """Write what this program has beside, and take the file as it is now; ValueError where that cannot be."""

    def close(self) -> object:
        """Let go of the lock."""


class Opener(Protocol):
    """Opens a build file."""

    def __call__(self, path: Path, *, read_only: bool = False, summary: Summary = summary_of) -> Session:
        """Open `path`; ValueError with one clear line where it cannot be used. summary: made for every save."""


def now_utc() -> datetime:
    """The present moment, UTC, whole seconds."""
    return datetime.now(UTC).replace(microsecond=0)


def open_file(path: Path, *, read_only: bool = False, summary: Summary = summary_of) -> Session:
    """Open a build file with the program's own storage."""
    from buildtrack.storage.session import open_session

    return open_session(path, read_only=read_only, clock=now_utc, snapshot=summary)


def record_command(path: Path, target: Path) -> tuple[str, ...]:
    """The child process that renders the record of a build file."""
    return (sys.executable, "-m", "buildtrack", "record", "--progress", str(path), "-o", str(target))


def no_viewer(_path: Path) -> Sequence[str]:
    """Where files are not to be opened."""
    return ()


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the program takes from outside."""

    clock: Clock = now_utc
    opener: Opener = open_file
    judge: Callable[[Build, Checklist, Path, datetime], Judged] = judge
    judge_again: Callable[[Judged, Build, datetime], Judged] = judge_again
    record_command: Callable[[Path, Path], Sequence[str]] = record_command
    viewer: Callable[[Path], Sequence[str]] = no_viewer
    """The command that shows a written record to the person; empty for none."""
    keymap: Mapping[str, str] = field(default_factory=dict)
    theme: str = ""
    typed_after_s: float = 0.5
    """How long after a key what is typed is put on the disk [s]."""
    remarks: tuple[str, ...] = ()
    """What was found wrong with the person's own settings."""
