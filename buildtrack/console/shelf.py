"""`buildtrack shelf` and `compare`: past builds as text."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from buildtrack.bench.shelf_list import cache_file, compare_lines, list_files, no_builds, ordered, shelf_lines
from buildtrack.bench.shelf_list import compare as compared
from buildtrack.bench.surroundings import now_utc
from buildtrack.console.common import load, plain, print_json, width, wrapped


def shelf(options: argparse.Namespace) -> int:
    """List the builds of a folder."""
    if not options.folder.is_dir():
        raise ValueError(f"{options.folder}: there is no such folder")
    found = list_files(options.folder, cache_file())
    rows = ordered([row for row in found if row.title or row.problem], "title")
    if options.json:
        print_json([asdict(row) for row in (*rows, *(row for row in found if row.other))])
        return 0
    if not rows:
        print(plain(f"{options.folder}: no builds in this folder"))
    for line in shelf_lines(rows, now_utc().date(), width()) if rows else ():
        print(plain(line))
    if others := no_builds(found, spoiled_only=False):
        print(wrapped(others))
    return 0


def compare(options: argparse.Namespace) -> int:
    """Print two builds side by side."""
    for line in compare_lines(compared(load(options.first), load(options.second)), width()):
        print(plain(line))
    return 0
