"""The files of a shelf: which are looked at, and what a file is that holds no build."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Sequence
from pathlib import Path

from buildtrack.bench.plain import plain
from buildtrack.plain_file import read_plain
from buildtrack.storage.durable import reason

_TABLE_OF_A_BUILD = re.compile(rb"^\s*\[\s*(checklist\s*\]|(steps|instruments)\s*\.)", re.MULTILINE)
DEEPEST = 2
"""How many folders below the one named are looked into."""
MOST_FILES = 5000
MOST_NAMED = 6
"""So many files that are no builds are named; more are counted."""
OTHER_TOML = "another TOML file"


def build_files(folder: Path, refused: list[OSError] | None = None) -> list[Path]:
    """The build files of a folder and the folders a little below it, by name.

    OSError where the folder itself cannot be read; of one below it, it is added to `refused`.
    """
    found: list[Path] = []
    root = str(folder)

    def cannot(error: OSError) -> None:
        if error.filename == root:
            raise error
        if refused is not None:
            refused.append(error)

    for place, folders, names in os.walk(root, onerror=cannot):
        depth = 0 if place == root else os.path.relpath(place, root).count(os.sep) + 1
        folders[:] = sorted(f for f in folders if not f.startswith(".")) if depth < DEEPEST else []
        found += [Path(place) / n for n in sorted(names) if n.endswith(".toml") and not n.startswith(".")]
        if len(found) > MOST_FILES:
            break
    return found[:MOST_FILES]


def other_kind(path: Path) -> str:
    """What a file is that does not even look like a build; empty where it does, or where it cannot be read."""
    try:
        data = read_plain(path)
    except OSError:
        return ""
    if not data.strip():
        return "empty"
    if _TABLE_OF_A_BUILD.search(data[:16_000]) is not None:
        return ""
    try:
        tomllib.loads(data.decode("utf-8"))
    except UnicodeDecodeError:
        return "no text"
    except (tomllib.TOMLDecodeError, RecursionError):
        return "not readable as TOML"
    return OTHER_TOML


def told_others(others: Sequence[tuple[str, str]]) -> str:
    """One line that names the files that are no builds, by path and kind; empty where there are none."""
    if not others:
        return ""
    first = sorted(others, key=lambda other: (other[1] == OTHER_TOML, other[0]))[:MOST_NAMED]
    named = ", ".join(f"{plain(Path(path).name)} ({kind})" for path, kind in first)
    more = f" and {len(others) - MOST_NAMED} more" if len(others) > MOST_NAMED else ""
    return f"{'1 file is no build' if len(others) == 1 else f'{len(others)} files are no builds'}: {named}{more}"


def refusal(error: OSError) -> str:
    """Why a file or folder cannot be read, with its name."""
    return f"{plain(os.fsdecode(error.filename or '')) or 'this'}: {reason(error, reading=True)}"
