"""Earlier generations of a build file that is damaged, emptied or gone: found by its place, and put back beside it.

Copies of one file have its id. What was kept of them is named with its title and place, and given back only when asked
for: it holds somebody else's readings.
"""

from __future__ import annotations

import os
import re
import tomllib
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from buildtrack import units
from buildtrack.plain_file import open_plain
from buildtrack.storage import backups, durable

_MOMENT = re.compile(r"-(\d{8}T\d{6}Z)-")
_HEAD = 4096
"""So much of a file is looked into for its id and title [bytes]."""
_TITLE = re.compile(rb'^title = "(?:[^"\\\n]|\\.)*"', re.MULTILINE)
_ID = re.compile(rb'^id = "([^"\\\n]{1,200})"', re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Copy:
    """One generation kept of a build file."""

    path: Path
    at: datetime
    """When it was kept, UTC."""
    own: bool = True
    """Whether it was kept of this very file, not of another one with its id: a copy, or the same one elsewhere."""
    place: str = ""
    """Where the file lay that it was kept of; empty where that was not noted."""

    @property
    def told(self) -> str:
        """When it was kept, and how large it is; of which build and file, where that is not the file asked for."""
        said = f"{self.at:%Y-%m-%d %H:%M} UTC, {self.path.stat().st_size} bytes"
        if self.own:
            return said
        return f"{said}, of another file with its id: '{_title(self.path)}', {self.place or 'place not known'}"


def copies_of(path: Path, state: Path) -> list[Copy]:
    """The copies kept of the file at `path`, the newest first, then those of other files with the id left in it.

    state: the folder of the program's own files. A copy that is empty is none. OSError is none either: it is only a
    remedy that is looked for.
    """
    try:
        real = os.path.realpath(path)
        names = {*backups.placed(state, real), *_id_left(path)}
        found = [_copy(p, real) for name in names for p in backups.generations(state, name) if p.stat().st_size]
    except (OSError, ValueError):
        return []  # what cannot be listed, or is no name that a file can have, cannot be given back
    return sorted(found, key=lambda c: (c.own, c.at, c.path.name), reverse=True)


def _copy(generation: Path, real: str) -> Copy:
    code, place = backups.place_of(generation)
    return Copy(generation, _moment(generation.name), code == backups.place_code(real), place)


def _id_left(path: Path) -> list[str]:
    """The id that a damaged file still bears at its beginning; none of one that is gone."""
    try:
        with open_plain(path) as file:
            match = _ID.search(file.read(_HEAD))
    except FileNotFoundError:
        return []
    return [match.group(1).decode("utf-8", "replace")] if match else []


def _title(path: Path) -> str:
    """The title of a build, as its first lines give it; empty where they do not."""
    with open_plain(path) as file:
        match = _TITLE.search(file.read(_HEAD))
    try:
        return units.clip(str(tomllib.loads(match.group().decode())["title"]), 60) if match else ""
    except ValueError:
        return ""


def _moment(name: str) -> datetime:
    match = _MOMENT.search(name)
    assert match is not None, name  # generations() gives no other names
    return datetime.strptime(match.group(1), "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)


def about_copies(path: Path, state: Path) -> str:
    """One sentence: how many copies there are, of when, and how to get one back; empty where there is none."""
    found = copies_of(path, state)
    own = [copy for copy in found if copy.own]
    if own:
        return (f"{_are(len(own))} kept, the latest of {own[0].at:%Y-%m-%d %H:%M} UTC: "
                f"'buildtrack restore FILE' writes it beside")
    return only_foreign(len(found)) if found else ""


def only_foreign(count: int) -> str:
    """What is said where all copies found are of other files with the same id."""
    return (f"no copy of this file is kept; {_are(count)} kept of other files with its id: "
            "'buildtrack restore FILE --list' names them, --copy N takes one")


def _are(count: int) -> str:
    return "1 copy is" if count == 1 else f"{count} copies are"


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
