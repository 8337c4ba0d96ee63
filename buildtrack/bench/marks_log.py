"""Which log a mark belongs to: by its name, and by how the log began when it was marked. Knows no screen."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path, PurePath

from buildtrack.bench.marks import ALARM, END, LOG, Kind, marked_s
from buildtrack.model.build import Build, Reading

HEAD_BYTES = 4096
"""So much of the beginning of a log tells it from others: its header and some fifty rows."""
PART_BYTES = 1 << 20

_NOTE = re.compile(
    r"marked by key at row (\d+) of (.+?)(?:; its first (\d+) bytes: SHA-256 ([0-9a-f]{12}))?", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Log:
    """A log as it is now."""

    name: str
    head: bytes | None = None
    """Its first bytes, at most HEAD_BYTES; None where they are not known."""
    rows: int | None = None
    """Rows in it; None while they are not all read."""


@dataclass(frozen=True, slots=True)
class Marked:
    """What the note of a mark says of its log."""

    row: int
    file: str
    size: int = 0
    """So many bytes at its beginning are known; none in builds of before."""
    sha256: str = ""

    @classmethod
    def of(cls, note: str) -> Marked | None:
        """What a note says; None where it is none of a mark in a log."""
        told = _NOTE.fullmatch(note)
        return cls(int(told[1]), told[2], int(told[3] or 0), told[4] or "") if told is not None else None

    def fits(self, log: Log) -> bool:
        """Whether nothing speaks against its being this log: name, beginning, and as many rows as there were."""
        if self.file != log.name:
            return False
        if self.size and log.head is not None:
            return len(log.head) >= self.size and _sha256(log.head[: self.size]) == self.sha256
        return log.rows is None or log.rows >= self.row


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:12]


def note_of(row: int, log: Log) -> str:
    """The note of a moment that was marked while a log was followed: it says which log it belongs to."""
    known = f"; its first {len(log.head)} bytes: SHA-256 {_sha256(log.head)}" if log.head else ""
    return f"marked by key at row {row} of {log.name}{known}"


def head_of(path: Path | None) -> bytes | None:
    """The first bytes of a file; None where it cannot be read."""
    if path is None or not path.is_file():
        return None
    try:
        with path.open("rb") as file:
            return file.read(HEAD_BYTES)
    except OSError:
        return None  # following it, or attaching it, says what is wrong


def is_attached(path: Path, attached: Reading) -> bool:
    """Whether a file begins with all that the attached one holds: the same log, which may have grown since."""
    digest, left = hashlib.sha256(), attached.size or 0
    try:
        with path.open("rb") as file:
            while left > 0 and (part := file.read(min(left, PART_BYTES))):
                digest.update(part)
                left -= len(part)
    except OSError:
        return True  # nothing is known against it; following it says what is wrong
    return left == 0 and digest.hexdigest() == attached.sha256


def log_of(kind: Kind, build: Build, log: Log | None = None) -> str:
    """Name of the log a moment belongs to: the one it was marked in, else the attached one; empty where none is.

    log: the one that is followed; of one of its name it is said that its contents are others.
    """
    standing, attached = build.entry(kind.item).standing, build.entry(LOG).standing
    marked = Marked.of(standing[-1].note) if standing else None
    if marked is None:
        return PurePath(attached[-1].text).name if standing and attached else ""
    other = log is not None and marked.file == log.name and not marked.fits(log)
    return f"{marked.file} with other contents" if other else marked.file


def of_others(build: Build, log: Log) -> tuple[tuple[str, float, str], ...]:
    """The moments in the build that belong to another log than this: alarm or end, seconds, whose they are."""
    found = []
    for name, kind in (("alarm", ALARM), ("end", END)):
        at, owner = marked_s(kind, build), log_of(kind, build, log)
        if at is not None and owner not in ("", log.name):
            found.append((name, at, owner))
    return tuple(found)


def others_text(build: Build, log: Log) -> str:
    """One line of them, for who attaches this log; empty where there are none."""
    found = of_others(build, log)
    told = " and ".join(f"{name} at {at / 60:.2f} min" for name, at, _ in found)
    if not found:
        return ""
    owners = " and ".join(dict.fromkeys(owner for _, _, owner in found))
    verb, them = ("are", "them") if len(found) > 1 else ("is", "it")
    return f"{told[0].upper()}{told[1:]} {verb} of {owners}: enter {them} anew for this log."
