"""Readings put into a build file as they are, in whatever order: what is held is refused by every way in but this one."""

from __future__ import annotations

from pathlib import Path

from buildtrack.model import edit
from buildtrack.model.build import Reading
from buildtrack.storage.session import open_session
from tests.make import NOW


def put(path: Path, item: str, what: str | Reading) -> None:
    """Add a reading of a simple item to the file, held or not."""
    with open_session(path) as session:
        reading = Reading(what, NOW) if isinstance(what, str) else what
        assert session.commit(
            edit.add_reading(session.build, session.checklist.items[item], reading, edit.Hand(NOW))).saved
