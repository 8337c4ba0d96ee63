"""What every command shares: opening a build for reading, the moment, wrapping text."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
from datetime import UTC, datetime
from pathlib import Path

from buildtrack.judging import Judged, judge
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.misplaced import misplaced


def now() -> datetime:
    """The moment, in UTC and whole seconds."""
    return datetime.now(UTC).replace(microsecond=0)


def load(path: Path) -> Judged:
    """Read a build with its checklist and judge it; ValueError with one clear line where it cannot be used."""
    opened = read_build(path)
    checklist = checklist_of(opened.build, path)
    for sentence in misplaced(opened.steps, checklist):
        print(plain(f"{path}: {sentence}"), file=sys.stderr)
    return judge(opened.build, checklist, path.resolve().parent, now())


def checklist_of(build: Build, path: Path) -> Checklist:
    """The checklist a build names; ValueError names the build file where there is none."""
    try:
        return find_checklist(build.checklist.id)
    except ValueError as error:
        raise ValueError(f"{path}: {error}") from error


def width() -> int:
    """Columns to print in."""
    return max(60, min(110, shutil.get_terminal_size((100, 24)).columns))


def wrapped(text: str, indent: str = "", first: str | None = None) -> str:
    """Plain text broken to the width, later lines indented."""
    return textwrap.fill(plain(" ".join(text.split())), width(), initial_indent=first if first is not None else indent,
                         subsequent_indent=indent, break_on_hyphens=False)


def print_json(found: object) -> None:
    """Print data as JSON; what a terminal would obey or not show stands in it as a number, \\u202e."""
    text = json.dumps(found, ensure_ascii=False, indent=2)
    print("".join(c if c.isprintable() or c == "\n" else json.dumps(c)[1:-1] for c in text))


def plain(text: str) -> str:
    """Text of a build file made fit for a terminal: control and direction characters shown as a mark."""
    return "".join(c if c.isprintable() or c == " " else "·" for c in text)
