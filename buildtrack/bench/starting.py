"""Ways to begin: a copy of a sample, a new build, a build from a past one. Knows no screen."""

from __future__ import annotations

import re
import tomllib
import unicodedata
import uuid
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from buildtrack.judging import summary
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import checklist_folders, shipped_samples
from buildtrack.storage.template import start_from, start_new
from buildtrack.units import clip

MOST_LOOKED_AT = 5
"""So many of the newest files of a folder are looked at for a build to go on with."""


def _titles(folder: Path) -> Iterator[tuple[str, str, Path]]:
    for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
        try:
            raw = tomllib.loads(path.read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
            yield path.stem, f"{path.stem} (cannot be read)", path
            continue
        title = raw.get("title") or raw.get("build", {}).get("title", "")
        yield path.stem, str(title or path.stem.replace("_", " ")), path


def samples() -> list[tuple[str, str]]:
    """The sample builds: name, and title with the verdict that was reached."""
    return [(name, f"{title} · {_verdict(path)}") for name, title, path in _titles(shipped_samples())]


def _verdict(path: Path) -> str:
    return str(_raw(path).get("snapshot", {}).get("verdict", "not judged"))


def _raw(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return {}  # who lists files names those that cannot be read


def latest_build(folder: Path) -> tuple[Path, str] | None:
    """The build file of a folder that was written last, with its title; None where there is none."""
    def written(path: Path) -> float:
        try:
            return path.stat().st_mtime
        except OSError:
            return 0.0  # gone meanwhile: it comes last, and is found unreadable then

    for path in sorted(folder.glob("*.toml"), key=written, reverse=True)[:MOST_LOOKED_AT]:
        raw = _raw(path)
        if "format" in raw and "checklist" in raw and raw.get("title"):
            return path, clip(str(raw["title"]))
    return None


def checklists() -> list[tuple[str, str]]:
    """The checklists there are: id and title; the person's own before those that came with the program."""
    found: dict[str, str] = {}
    for folder in checklist_folders():
        for name, title, _ in _titles(folder):
            found.setdefault(name, title)
    return list(found.items())


def free_path(folder: Path, title: str) -> Path:
    """A file name made of a title that is not taken yet."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", title.casefold()) if not unicodedata.combining(c))
    stem = re.sub(r"[^a-z0-9]+", "-", bare).strip("-")[:60] or "build"
    for number in range(1, 1000):
        path = folder / (f"{stem}.toml" if number == 1 else f"{stem}-{number}.toml")
        if not path.exists():
            return path
    raise ValueError(f"{folder}: there are too many builds of this name")


def no_title(folder: Path, typed: str) -> str:
    """Why a text is no title but a file or a folder, and what would be right; empty where it is one."""
    text = typed.strip()
    is_file = text.casefold().endswith(".toml") or "\\" in text or text[:1] in "/~." or " " not in text
    if not ("/" in text or "\\" in text or text.casefold().endswith(".toml")):
        return ""
    last = re.split(r"[/\\]", text.rstrip("/\\"))[-1]
    named = re.sub(r"[-_]+", " ", re.sub(r"(?i)\.toml$", "", last)).strip(" .~") or "12 V drill"
    meant = named if is_file else re.sub(r"\s*/\s*", "-", text)
    made = free_path(folder.resolve(), meant)
    why = "is a file or a folder" if is_file else "holds a /, as folders do"
    return f"'{clip(text)}' {why}; wanted is a title. Title it '{clip(meant)}', and the file is made as {made}."


def new_build(folder: Path, checklist_id: str, title: str, at: datetime) -> Path:
    """Make a new build file; ValueError or OSError where it cannot be made."""
    from buildtrack.storage.session import create  # the writing library is loaded when something is written

    checklist = find_checklist(checklist_id)
    build = start_new(checklist, title, "", at, _identity(at))
    path = free_path(folder, title)
    create(path, build, checklist, snapshot=summary)
    return path


def from_past(past: Path, folder: Path, title: str, at: datetime) -> Path:
    """Make a new build file with the design of a past build; every reading is asked for again."""
    from buildtrack.storage.session import create  # as above

    opened = read_build(past)
    checklist = find_checklist(opened.build.checklist.id)
    build = start_from(opened.build, opened.sha256, checklist, title, at, _identity(at))
    path = free_path(folder, title)
    create(path, build, checklist, snapshot=summary)
    return path


def _identity(at: datetime) -> str:
    return f"{at:%Y%m%d}-{uuid.uuid4().hex[:8]}"
