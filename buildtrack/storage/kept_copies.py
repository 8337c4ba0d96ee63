"""Earlier generations of a build file that is damaged, emptied or gone: found by its place, and put back beside it."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from buildtrack.plain_file import open_plain
from buildtrack.storage import backups, durable

_MOMENT = re.compile(r"-(\d{8}T\d{6}Z)-")
_ID = re.compile(rb'^id = "([^"\\\n]{1,200})"', re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Copy:
    """One generation kept of a build file."""

    path: Path
    at: datetime
    """When it was kept, UTC."""

    @property
    def told(self) -> str:
        """When it was kept, and how large it is."""
        return f"{self.at:%Y-%m-%d %H:%M} UTC, {self.path.stat().st_size} bytes"


def copies_of(path: Path, state: Path) -> list[Copy]:
    """The copies kept of the file at `path`, the newest first; found by where it lies, else by the id left in it.

    state: the folder of the program's own files. A copy that is empty is none. OSError is none either: it is only a
    remedy that is looked for.
    """
    try:
        names = {*backups.placed(state, os.path.realpath(path)), *_id_left(path)}
        found = [p for name in names for p in backups.generations(state, name) if p.stat().st_size]
    except (OSError, ValueError):
        return []  # what cannot be listed, or is no name that a file can have, cannot be given back
    return sorted((Copy(p, _moment(p.name)) for p in found), key=lambda c: (c.at, c.path.name), reverse=True)


def _id_left(path: Path) -> list[str]:
    """The id that a damaged file still bears at its beginning."""
    with open_plain(path) as file:
        match = _ID.search(file.read(4096))
    return [match.group(1).decode("utf-8", "replace")] if match else []


def _moment(name: str) -> datetime:
    match = _MOMENT.search(name)
    assert match is not None, name  # generations() gives no other names
    return datetime.strptime(match.group(1), "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)


def about_copies(path: Path, state: Path) -> str:
    """One sentence: how many copies there are, of when, and how to get one back; empty where there is none."""
    found = copies_of(path, state)
    if not found:
        return ""
    count = "1 copy is" if len(found) == 1 else f"{len(found)} copies are"
    return (f"{count} kept, the latest of {found[0].at:%Y-%m-%d %H:%M} UTC: "
            f"'buildtrack restore FILE' writes it beside")


def put_beside(path: Path, copy: Copy) -> Path:
    """Write a copy as a new file beside the damaged one, which stays as it is; returns it.

    OSError or SaveError where it cannot be written, BuildFileError where the copy is no build any more.
    """
    from buildtrack.storage.build_file import parse_build

    data = copy.path.read_bytes()
    parse_build(data.decode("utf-8-sig", "replace"), str(copy.path))
    made = path.with_name(f"{path.stem}-kept-{copy.at:%Y%m%dT%H%M%SZ}.toml")
    if not made.exists() or made.read_bytes() != data:
        durable.write_new(str(made), data, 0o644, durable.REAL)
        durable.sync_folder(str(made.parent), durable.REAL)
    return made
