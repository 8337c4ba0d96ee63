"""Texts that were typed and are no answer yet: kept beside the journal, so that a killed program loses none of them."""

from __future__ import annotations

import errno
import json
import os
import secrets
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from buildtrack import units
from buildtrack.model.build import Build
from buildtrack.storage import durable
from buildtrack.storage.backups import of_build

Place = tuple[str, ...]
"""Where something was typed: an item (and the answer it corrects); a table, its row and column; or a question."""
LARGEST = 5_000_000
"""Largest file that is read [bytes]."""
_SUFFIX = ".typed.json"


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed and not taken, and when it was noted down."""

    texts: Mapping[Place, str]
    at: datetime | None = None
    note: str = ""
    """What the person should know about the file; empty where all is well."""
    unread: bool = False
    """Whether the file could be neither read nor set aside: it must not be written over."""


NOTHING = Typed({})


def typed_path(journal: Path) -> Path:
    """Where the texts of a build lie, by where its journal lies."""
    return journal.with_suffix(_SUFFIX)


def write_typed(path: Path, texts: Mapping[Place, str], at: datetime, build_file: str,
                disk: durable.Disk = durable.REAL) -> None:
    """Put the texts on the disk in place of those before; none takes the file away. OSError where that fails."""
    if not texts:
        with suppress(FileNotFoundError, NotADirectoryError):
            disk.unlink(str(path))
        return
    found = {"path": build_file, "at": at.isoformat(),
             "texts": [{"place": list(place), "text": text} for place, text in texts.items()]}
    durable.private_folder(path.parent)
    temporary = str(path.with_name(durable.temporary_prefix(path.name) + secrets.token_hex(4)))
    try:
        durable.write_new(temporary, json.dumps(found).encode("ascii"), 0o600, disk)
        disk.replace(temporary, str(path))
    except OSError:
        with suppress(OSError):  # the error that led here is the one to tell
            disk.unlink(temporary)
        raise
    durable.sync_folder(str(path.parent), disk)


def read_typed(path: Path) -> Typed:
    """The texts of one file; a broken one is set aside under a name of its own, and the note says so."""
    try:
        if path.stat().st_size > LARGEST:
            return _set_aside(path, "it is too large")
        return _parsed(json.loads(path.read_bytes().decode("utf-8")))
    except (FileNotFoundError, NotADirectoryError):
        return NOTHING
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        return _set_aside(path, units.clip(str(error) or type(error).__name__, 100))
    except OSError as error:
        return _set_aside(path, durable.reason(error, reading=True))


def _parsed(found: Any) -> Typed:
    texts: dict[Place, str] = {}
    for each in found["texts"]:
        place, text = each["place"], each["text"]
        if not isinstance(place, list) or not place or not all(isinstance(name, str) for name in (*place, text)):
            raise ValueError("a text or its place is no text")
        texts[tuple(place)] = text
    at = datetime.fromisoformat(found["at"])
    if at.tzinfo is None:
        raise ValueError("its time has no zone")
    return Typed(texts, at)


def _set_aside(path: Path, why: str) -> Typed:
    said = f"what was typed and not taken cannot be read ({why})"
    try:
        return Typed({}, None, f"{said}; it is kept in {move_aside(path)}")
    except OSError as error:
        return Typed({}, None, f"{said}; nor can it be set aside: {durable.sentence(error, str(path))}", unread=True)


def move_aside(path: Path) -> Path:
    """Give a file a name of its own, which nothing else has; returns the name. OSError where that fails."""
    names = (path.with_suffix(f"{number}.broken") for number in ("", *(f".{n}" for n in range(2, 10_000))))
    kept = next((name for name in names if not os.path.lexists(name)), None)
    if kept is None:
        raise FileExistsError(errno.EEXIST, "every name to set it aside under is taken")
    os.replace(path, kept)
    return kept


def find_typed(own: Path, build_id: str) -> tuple[Typed, tuple[Path, ...]]:
    """The texts of a build, also those from where its file was before it was moved; and the files they were in."""
    found, files = read_typed(own), [own]
    for path in of_build(own.parent, build_id, _SUFFIX):
        if path != own and not os.path.exists(_build_file(path)):
            moved = read_typed(path)
            found = replace(found, texts={**moved.texts, **found.texts}, at=found.at or moved.at,
                            note=found.note or moved.note)
            files += [] if moved.unread else [path]
    return found, tuple(files)


def _build_file(path: Path) -> str:
    """Which build file the texts belong to; here, where that is not said (so that they are let alone)."""
    try:
        place = json.loads(path.read_bytes())["path"]
        return place if isinstance(place, str) and "\0" not in place else os.curdir
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return os.curdir


def not_taken(build: Build, typed: Typed) -> dict[Place, str]:
    """The texts that are no answer of the build yet; one may have been taken in the moment before the program died."""
    return {place: text for place, text in typed.texts.items() if not _was_taken(build, place, text, typed.at)}


QUESTION = "?"
"""First name of the place of a text that was typed in a question; what it asks and is about follow."""


def _question_was_taken(build: Build, about: Place, text: str, at: datetime | None) -> bool:
    """Whether a text typed in a question stands in the history since: as a reason, a remark, a name or an answer."""
    if at is None:
        return False
    since = [e for e in build.history if e.at is not None and e.at.tzinfo is not None and e.at >= at
             and (not about or not about[0] or e.item == about[0])]
    told = {said for e in since for said in (e.reason, e.after, e.row, e.by)}
    remarks = {r.remarks for r in build.reviews if r.at is not None and r.at.tzinfo is not None and r.at >= at}
    return bool(text.strip()) and text.strip() in told | remarks


def _was_taken(build: Build, place: Place, text: str, at: datetime | None) -> bool:
    if place[0] == QUESTION:
        return _question_was_taken(build, place[2:], text, at)
    entry = build.entry(place[0])
    if len(place) == 3:
        row = entry.row(place[1])
        return row is not None and row.text(place[2]) == text.strip()
    taken = entry.standing[-1].taken if entry.standing and entry.standing[-1].text == text.strip() else None
    return at is not None and taken is not None and taken.tzinfo is not None and taken >= at
