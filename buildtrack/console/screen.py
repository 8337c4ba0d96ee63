"""`buildtrack [FILE]`: the full-screen bench; `buildtrack FOLDER`: the shelf of that folder."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from buildtrack.bench.shelf_files import build_files
from buildtrack.storage.samples import own_copy, own_samples, samples

FIRST_SAMPLE = "in-progress"
"""Part of the name of the sample that is opened when no file is named."""
GREETING = "An invented sample to look around in. Ctrl+N begins a build of your own, F1 shows every key."


def open_bench(options: argparse.Namespace) -> int:
    """Open a build full-screen, a folder as a shelf.

    Without a file: a copy of the sample in progress the first time, then the welcome.
    """
    path: Path | None = options.file
    if not sys.stdout.isatty() or not sys.stdin.isatty():
        if path is not None and not path.is_dir():
            from buildtrack.storage.build_file import read_build  # the bench draws its first frame before it is loaded

            read_build(path)  # what is wrong with the file comes first
        raise ValueError("the bench needs a terminal; without one use: buildtrack show FILE, buildtrack check FILE")
    greeting = ""
    if path is None and (path := first_sample()) is not None:
        greeting = GREETING
    if path is not None and not path.exists():
        raise ValueError(f"{path}: there is no such file (start one with: buildtrack new {path})")
    folder = path if path is not None and path.is_dir() else None
    if folder is not None:
        build_files(folder)  # refuses, in a line, one that may not be read
    from buildtrack.bench.app import run

    if folder is not None:
        return run(None, folder=folder, place="shelf", read_only=options.read_only)
    return run(path, read_only=options.read_only, greeting=greeting)


def first_sample() -> Path | None:
    """The person's own copy of the sample in progress, made the first time; None where it was made before.

    The shipped sample stays clean.
    """
    folder = own_samples()
    sample = next(p for p in samples() if FIRST_SAMPLE in p.stem)
    return None if (folder / sample.name).exists() else own_copy(sample.stem)
