"""`buildtrack shelf` and `compare`: past builds as text."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path

from rich.cells import cell_len

from buildtrack.bench.shelf_list import (
    Shelved,
    cache_file,
    column_widths,
    compare_lines,
    list_files,
    no_builds,
    ordered,
    shelf_lines,
)
from buildtrack.bench.shelf_list import compare as compared
from buildtrack.bench.surroundings import now_utc
from buildtrack.console.common import load, plain, print_json, width, wrapped


def shelf(options: argparse.Namespace) -> int:
    """List the builds of a folder."""
    if not options.folder.is_dir():
        is_there = options.folder.exists()
        raise ValueError(f"{options.folder}: " + ("this is a file; shelf lists the builds of a folder" if is_there else
                                                  "there is no such folder"))
    found = list_files(options.folder, cache_file())
    rows = ordered([row for row in found if row.title or row.problem], "title")
    if options.json:
        print_json([asdict(row) for row in (*rows, *(row for row in found if row.other))])
        return 0
    if not rows:
        print(plain(f"{options.folder}: no builds in this folder"))
    for line in _told(rows, options.folder) if rows else ():
        print(plain(line))
    if others := no_builds(found, spoiled_only=False):
        print(wrapped(others))
    return 0


def _told(rows: Sequence[Shelved], folder: Path) -> Iterator[str]:
    """The rows, each with its file below it, as it is called from the folder; and its title where the row cuts it."""
    head, *lines = shelf_lines(rows, now_utc().date(), width())
    room = column_widths(rows, width())[0]
    yield head
    for row, line in zip(rows, lines, strict=True):
        yield line
        path = Path(row.path)
        name = path.relative_to(folder) if path.is_relative_to(folder) else path
        whole = f": {row.title}" if cell_len(row.title) > room else ""
        yield f"    {name}{whole}"


def compare(options: argparse.Namespace) -> int:
    """Print two builds side by side, or only what differs between them."""
    rows = compared(load(options.first), load(options.second))
    if options.differences:
        rows = [row for row in rows if row.differs]
        if not rows:
            print("nothing differs")
            return 0
    for line in compare_lines(rows, width()):
        print(plain(line))
    return 0
