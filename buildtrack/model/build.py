"""A build: everything that was entered about one retrofit. Frozen; every edit makes a new one (see edit.py)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

FORMAT = 1
"""Version of the build file format that this program writes."""
VALUE_CLASSES = ("measured", "computed", "taken over", "guessed")


@dataclass(frozen=True, slots=True)
class Reading:
    """One answer to an item: the text as typed, when, with which instrument."""

    text: str
    taken: datetime | None = None
    instrument: str = ""
    note: str = ""
    value_class: str = "measured"
    withdrawn: str = ""
    """Reason why this reading no longer counts; it stays in the file."""
    accepted: str = ""
    """The answer given when the value was outside what is plausible."""
    sha256: str = ""
    """For an attached photo or log: hash and size of the file named by `text`."""
    size: int | None = None
    columns: str = ""
    """For an attached log: columns set by hand, like `current=3 groups=4+5`; empty where all are told from the file."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One field of a table row."""

    text: str
    taken: datetime | None = None
    instrument: str = ""
    value_class: str = "measured"
    note: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table item: an object (a cell, a tap, a conductor, a re-check) and its readings."""

    id: str
    cells: Mapping[str, Cell] = field(default_factory=dict)

    def text(self, column: str) -> str:
        """Text of one column; empty where nothing was entered."""
        cell = self.cells.get(column)
        return cell.text if cell else ""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """An expected item that was left out, with the reason."""

    reason: str
    at: datetime | None = None
    by: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """All that was entered for one item."""

    readings: tuple[Reading, ...] = ()
    rows: tuple[Row, ...] = ()
    left_out: LeftOut | None = None
    expected: str = ""
    """Value of the past build this one was made from: an expectation, never a reading."""
    expected_rows: tuple[Row, ...] = ()

    @property
    def standing(self) -> tuple[Reading, ...]:
        """The readings that were not withdrawn."""
        for reading in self.readings:
            if reading.withdrawn:
                return tuple(r for r in self.readings if not r.withdrawn)
        return self.readings

    def row(self, name: str) -> Row | None:
        """The row called `name`."""
        return next((r for r in self.rows if r.id == name), None)


_EMPTY = Entry()
"""The one empty entry: what was read of it once need not be read again."""


@dataclass(frozen=True, slots=True)
class PolicyChange:
    """A policy value that was changed from its default, with the reason."""

    text: str
    reason: str
    at: datetime | None = None
    by: str = ""


@dataclass(frozen=True, slots=True)
class Waiver:
    """Why a failed caution was accepted."""

    check: str
    reason: str
    by: str = ""
    at: datetime | None = None
    finding: str = ""
    """What the check said when it was accepted; once it says something else, the waiver no longer stands."""


@dataclass(frozen=True, slots=True)
class Review:
    """A reviewer's decision about exactly the content of one hash."""

    reviewer: str
    decision: str
    """agree, agree with remarks, or do not agree; with which verdict, where the bench wrote it."""
    remarks: str = ""
    at: datetime | None = None
    content: str = ""
    """SHA-256 of what was judged (storage.content_hash)."""


@dataclass(frozen=True, slots=True)
class Event:
    """One line of the history."""

    at: datetime | None
    what: str
    step: str = ""
    item: str = ""
    row: str = ""
    column: str = ""
    before: str = ""
    after: str = ""
    instrument: str = ""
    by: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Origin:
    """The past build this one was made from."""

    title: str
    id: str
    sha256: str
    path: str = ""
    """Where it lay, in files of earlier states of the program; no longer recorded."""


@dataclass(frozen=True, slots=True)
class Ended:
    """A project that was stopped for a recorded reason."""

    reason: str
    at: datetime | None = None
    by: str = ""


@dataclass(frozen=True, slots=True)
class ChecklistRef:
    """Which checklist a build was made with."""

    id: str
    version: str = ""
    sha256: str = ""


@dataclass(frozen=True, slots=True)
class Build:
    """One retrofit as recorded."""

    id: str
    title: str
    checklist: ChecklistRef
    created: datetime | None = None
    maker: str = ""
    currency: str = ""
    notice: str = ""
    """Shown everywhere with the build, for instance that its data are invented."""
    entries: Mapping[str, Entry] = field(default_factory=dict)
    """What was entered, by item id."""
    policy: Mapping[str, PolicyChange] = field(default_factory=dict)
    waivers: tuple[Waiver, ...] = ()
    reviews: tuple[Review, ...] = ()
    history: tuple[Event, ...] = ()
    origin: Origin | None = None
    ended: Ended | None = None
    snapshot: Mapping[str, object] = field(default_factory=dict)
    """Verdict, workings and checklist version as last written; never read as truth."""

    def entry(self, item: str) -> Entry:
        """What was entered for `item`; an empty entry where nothing was."""
        return self.entries.get(item, _EMPTY)
