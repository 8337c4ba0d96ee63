"""Published tables as TOML files, each naming its source; this module only reads them."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

import tomli

FOLDER = Path(__file__).resolve().parent
TABLE_NAME = re.compile(r"[a-z0-9_]+(/[a-z0-9_]+)?")


@cache
def load(name: str) -> dict[str, Any]:
    """The table file `name` (no suffix), read once; the answer is shared, so it must not be changed."""
    if TABLE_NAME.fullmatch(name) is None:
        raise ValueError(f"{name!r} is no table name: lower-case letters, digits and _ only.")
    path = FOLDER / f"{name}.toml"
    if not path.is_file():
        raise ValueError(f"There is no data table {name!r}; there are {', '.join(names())}.")
    return tomli.loads(path.read_text(encoding="utf-8"))


def names() -> tuple[str, ...]:
    """The names of all tables directly in the data folder, in alphabetical order."""
    return tuple(sorted(path.stem for path in FOLDER.glob("*.toml")))


@cache
def sources() -> dict[str, dict[str, Any]]:
    """Every publication named by a table: key -> author, title, year, where, known and seen_at."""
    merged: dict[str, dict[str, Any]] = {}
    for name in names():
        if name.startswith("sources"):
            _merge(merged, load(name), name)
    return merged


def _merge(merged: dict[str, dict[str, Any]], more: dict[str, dict[str, Any]], name: str) -> None:
    for key, entry in more.items():
        if key in merged:
            raise ValueError(f"The source key {key!r} of {name}.toml is already used by another file.")
        merged[key] = entry
