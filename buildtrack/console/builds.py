"""`buildtrack new`, `sample`, `checklists`: making build files without the screen."""

from __future__ import annotations

import argparse
import sys
import uuid
from pathlib import Path

from buildtrack import units
from buildtrack.console.common import now, plain, wrapped
from buildtrack.judging import summary
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import ChecklistError, find_checklist, read_checklist
from buildtrack.storage.places import checklist_folders
from buildtrack.storage.samples import copy_sample, samples
from buildtrack.storage.session import create
from buildtrack.storage.template import start_from, start_new


def new(options: argparse.Namespace) -> int:
    """Write a new build file; an existing one is never overwritten."""
    path: Path = options.file
    if path.suffix != ".toml":
        path = path.with_name(path.name + ".toml")
    if path.exists():
        raise ValueError(f"{path}: there is already a file of this name; choose another")
    if not path.parent.is_dir():
        raise ValueError(f"{path}: there is no folder {path.parent}: make it first")
    build, checklist = _started(options, path)
    create(path, build, checklist, snapshot=summary)
    print(plain(f"{path}: new build '{build.title}' with checklist {checklist.id}. Open it: buildtrack {path}"))
    return 0


def _started(options: argparse.Namespace, path: Path) -> tuple[Build, Checklist]:
    title = options.title or path.stem.replace("_", " ").replace("-", " ")
    identity = f"{now():%Y%m%d}-{uuid.uuid4().hex[:8]}"
    if options.past is None:
        checklist = find_checklist(options.checklist or asked_checklist())
        return start_new(checklist, title, options.maker, now(), identity), checklist
    opened = read_build(options.past)
    checklist = find_checklist(opened.build.checklist.id)
    return start_from(opened.build, opened.sha256, checklist, title, now(), identity), checklist


USUAL = "nickel-tool-pack"


def asked_checklist() -> str:
    """Which checklist a new build follows: asked at a terminal, the usual one elsewhere."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return USUAL
    names = sorted({path.stem for folder in checklist_folders() if folder.is_dir() for path in folder.glob("*.toml")},
                   key=lambda name: (name != USUAL, name))
    for number, name in enumerate(names, 1):
        print(plain(f"  {number}  {find_checklist(name).title}"))
    said = input(f"Which kind of retrofit? 1 to {len(names)} (Enter for 1): ").strip() or "1"
    if not (said.isascii() and said.isdigit() and 1 <= int(said) <= len(names)):
        raise ValueError(f"'{units.clip(said)}' is none of 1 to {len(names)}")
    return names[int(said) - 1]


def sample(options: argparse.Namespace) -> int:
    """List the sample builds, or copy one."""
    paths = {p.stem: p for p in samples()}
    if not options.name:
        for name, path in paths.items():
            build = read_build(path).build
            print(f"{name}: {build.title}")
            print(wrapped(build.notice, "    "))
        return 0
    if options.name not in paths:
        raise ValueError(f"there is no sample '{units.clip(options.name)}'; there are: {', '.join(paths)}")
    print(plain(str(copy_sample(paths[options.name], options.folder))))
    return 0


def checklists(_options: argparse.Namespace) -> int:
    """List the checklists and what they are for."""
    seen: set[str] = set()
    for folder in checklist_folders():
        for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
            if path.stem in seen:
                continue
            seen.add(path.stem)
            try:
                checklist = read_checklist(path)
            except ChecklistError as error:
                print(plain(f"{path.stem}: cannot be used: {error}"))
                continue
            print(plain(f"{checklist.id} (version {checklist.version}): {checklist.title}"))
            print(wrapped(checklist.purpose, "    "))
    return 0
