"""Earlier generations of a build file, kept outside its folder: the last 20, and one a day for 30 days."""

from __future__ import annotations

import hashlib
import os
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

from buildtrack.storage import durable

LAST = 20
DAYS = 30
_NAME = re.compile(r"(\d{6})-(\d{8})T\d{6}Z-([0-9a-f]{12})(?:-([0-9a-f]{12}))?\.toml", re.ASCII)
"""Number, moment, the beginning of the SHA-256 of what is kept, and a code of the place its file was at.

Copies of one build file have one id and so one folder: the code tells whose a generation is. Earlier ones have none.
"""
_PLAIN = re.compile(r"[A-Za-z0-9_-]{1,64}", re.ASCII)


def folder_name(build_id: str) -> str:
    """A build's id made fit to be the name of a folder."""
    return build_id if _PLAIN.fullmatch(build_id) else f"id-{hashlib.sha256(repr(build_id).encode()).hexdigest()[:16]}"


def of_build(folder: Path, build_id: str, suffix: str) -> list[Path]:
    """Files of a build in a folder that are named by its id and by where its file is (12 hexadecimal digits).

    Not those of a build whose id only begins like this one: drill-2 is not drill. None of a folder that may not be
    listed: whoever writes there says so.
    """
    name = re.compile(rf"{re.escape(folder_name(build_id))}-[0-9a-f]{{12}}{re.escape(suffix)}", re.ASCII)
    try:
        return sorted(p for p in folder.iterdir() if name.fullmatch(p.name))
    except (FileNotFoundError, NotADirectoryError, PermissionError):
        return []


def folder_of(state: Path, build_id: str) -> Path:
    """Where the generations of a build lie."""
    return state / "backups" / folder_name(build_id)


def generations(state: Path, build_id: str) -> list[Path]:
    """The generations kept of a build, oldest first."""
    folder = folder_of(state, build_id)
    return sorted(p for p in folder.iterdir() if _NAME.fullmatch(p.name)) if folder.is_dir() else []


_PLACE = "place-"
"""How the mark begins that names a file of which a folder keeps generations."""


def place_code(real: str) -> str:
    """A place of a file as twelve hexadecimal digits."""
    return hashlib.sha256(os.fsencode(real)).hexdigest()[:12]


def note_place(state: Path, build_id: str, real: str) -> None:
    """Note of which file the generations of a build are, so that they are found when nothing can be read of it."""
    mark = folder_of(state, build_id) / f"{_PLACE}{place_code(real)}"
    if not mark.exists() or not mark.stat().st_size:
        durable.private_folder(mark.parent)
        mark.touch(mode=0o600)
        mark.write_bytes(os.fsencode(real))


def placed(state: Path, real: str) -> list[str]:
    """The ids of builds, as names of folders, of which the file was at a place."""
    folder, mark = state / "backups", f"{_PLACE}{place_code(real)}"
    return sorted(p.name for p in folder.iterdir() if (p / mark).exists()) if folder.is_dir() else []


def place_of(generation: Path) -> tuple[str, str]:
    """Of the file a generation was kept of: the code of its place, and the place; each empty where it is not known."""
    code = _code(generation.name)
    if not code:
        marks = [p.name.removeprefix(_PLACE) for p in generation.parent.iterdir() if p.name.startswith(_PLACE)]
        code = marks[0] if len(marks) == 1 else ""
    mark = generation.parent / f"{_PLACE}{code}"
    return code, os.fsdecode(mark.read_bytes()) if code and mark.exists() else ""


def keep(state: Path, build_id: str, data: bytes, at: datetime, disk: durable.Disk = durable.REAL,
         real: str = "") -> Path:
    """Keep `data` as the newest generation, unless the newest one is the same already, and thin out the older ones.

    real: the place of the file; those of other files with its id are neither looked at nor thinned out. Generations
    are numbered, so that a clock set back does not turn their order round. OSError where it cannot be done.
    """
    folder = folder_of(state, build_id)
    durable.private_folder(folder)
    every, mine = generations(state, build_id), f"-{place_code(real)}.toml" if real else ".toml"
    kept = [p for p in every if p.name.endswith(mine) or not _code(p.name)]
    code = durable.digest(data)[:12]
    if kept and kept[-1].name.endswith(code + mine) and kept[-1].read_bytes() == data:
        return kept[-1]
    number = int(every[-1].name[:6]) + 1 if every else 1
    made = folder / f"{number:06d}-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}-{code}{mine}"
    durable.write_new(str(made), data, 0o600, disk)
    durable.sync_folder(str(folder), disk)
    for old in thinned([p.name for p in (*kept, made)], at):
        (folder / old).unlink(missing_ok=True)
    return made


def _code(name: str) -> str:
    """The code of its place in the name of a generation; empty where it has none."""
    match = _NAME.fullmatch(name)
    return (match.group(4) or "") if match is not None else ""


def thinned(names: list[str], now: datetime) -> list[str]:
    """Which of the generations, oldest first, need not be kept: all but the last 20 and the last of each recent day."""
    since = f"{now.astimezone(UTC) - timedelta(days=DAYS):%Y%m%d}"
    last_of_day = {match.group(2): name for name in names if (match := _NAME.fullmatch(name))}
    wanted = {*names[-LAST:], *(name for day, name in last_of_day.items() if day >= since)}
    return [name for name in names if name not in wanted]
