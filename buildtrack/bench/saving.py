"""Opening, judging and saving off the loop: one attempt at a time, the newest wins, what failed is tried again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from textual.message import Message

if TYPE_CHECKING:  # what judges is loaded after the first frame
    from buildtrack.bench.desk import Desk
    from buildtrack.judging import Judged
    from buildtrack.model.build import Build

RETRY_S = 15.0
"""How long after a failed attempt the next one is made [s]."""


@dataclass
class Saving:
    """Where saving stands."""

    running: bool = False
    at: datetime | None = None
    """When everything was last safely on the disk."""
    failed: str = ""
    """Why the last attempt failed; empty where it did not."""


@dataclass
class SaveEnded(Message):
    """An attempt to save came to an end."""

    build: Build
    failed: str = ""
    outside: bool = False
    """Whether it failed because the file is another one by now."""


@dataclass
class OpenEnded(Message):
    """A build file was opened, or cannot be."""

    path: Path
    place: str
    wanted: tuple[str, bool]
    """The item it is opened for, and whether its table gets a new row."""
    desk: Desk | None = None
    refused: str = ""
    begun: str = ""
    """How it was begun just now, for the person."""


@dataclass
class JudgeEnded(Message):
    """The build of a desk was judged."""

    desk: Desk
    judged: Judged
