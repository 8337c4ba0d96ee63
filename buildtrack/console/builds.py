"""`buildtrack new`, `enter`, `sample`, `checklists`: making and feeding build files without the screen."""

from __future__ import annotations

import argparse
import sys
import uuid
from dataclasses import replace
from pathlib import Path

from buildtrack import units
from buildtrack.bench.attach import attached_reading
from buildtrack.console.common import now, plain, wrapped
from buildtrack.judging import judge, summary
from buildtrack.model import edit
from buildtrack.model.build import Build, Cell, Reading
from buildtrack.model.checklist import Checklist, Column, Item
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import ChecklistError, find_checklist, read_checklist
from buildtrack.storage.places import checklist_folders
from buildtrack.storage.samples import copy_sample, samples
from buildtrack.storage.session import BuildSession, create, open_session
from buildtrack.storage.template import start_from, start_new
from buildtrack.workings.inputs import column_misfit, misfit, one_meaning, outside
from buildtrack.workings.status import Status, why_held


def new(options: argparse.Namespace) -> int:
    """Write a new build file; an existing one is never overwritten."""
    path: Path = options.file
    if path.suffix != ".toml":
        path = path.with_name(path.name + ".toml")
    if path.exists():
        raise ValueError(f"{path}: there is already a file of this name; choose another")
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


def enter(options: argparse.Namespace) -> int:
    """Enter one reading, answer or table field."""
    session = open_session(options.file, snapshot=summary)
    try:
        if session.read_only_reason:
            raise ValueError(f"{options.file}: {session.read_only_reason}")
        item = session.checklist.items.get(options.item)
        if item is None:
            raise ValueError(f"{options.file}: the checklist has no item '{units.clip(options.item)}'")
        status = _status(session)
        build = _entered(session.build, item, options, again=status.items[item.id].state in WANTED_AGAIN)
        held = why_held(item, session.build, session.checklist, status)
        stood = build == session.build
        state = session.commit(build)
        if not state.saved:
            raise ValueError(f"{options.file}: not saved: {state.reason}")
        early = _status(session).items[item.id] if item.filled_first else None
    finally:
        session.close()
    print(plain(f"{item.label}: {options.text}{' stands already, nothing was changed' if stood else ''}"))
    if held and not stood:
        print(plain(f"buildtrack: entered ahead of its turn: {held}; a reviewer will ask why"), file=sys.stderr)
    if early is not None and early.lacks:
        print(plain(f"buildtrack: {early.why}; until then it settles nothing"), file=sys.stderr)
    return 0


def _status(session: BuildSession) -> Status:
    return judge(session.build, session.checklist, session.path.resolve().parent, now()).assessment.status


WANTED_AGAIN = ("stale", "expired")
"""States of an item in which an equal value is a reading taken anew."""


def _entered(build: Build, item: Item, options: argparse.Namespace, again: bool) -> Build:
    """The build with what was typed; the same one where that stands already and is not wanted `again`."""
    hand = edit.Hand(now(), options.by)
    where = f"{options.file}: step {item.step}, item {item.id}"
    if item.kind == "table":
        return _entered_cell(build, item, options, hand, where, again)
    options.text = one_meaning(item, options.text)
    if sentence := misfit(item, options.text) or _other_currency(item, options.text, build):
        raise ValueError(f"{where}: {sentence}")
    if item.kind == "reading" and not options.accept:
        value = units.parse(options.text, item.dimension, item.unit).value
        if sentence := outside(item.plausible, value, item.unit, "is unusual"):
            raise ValueError(f"{where}: {sentence} (to take it all the same: --accept REASON)")
    reading = Reading(options.text, hand.at, options.instrument, options.note, accepted=options.accept)
    if item.kind in ("photo", "file"):
        found = attached_reading(options.file, options.text, hand.at, item.kind)
        if isinstance(found, str):
            raise ValueError(f"{where}: {found}")
        reading = replace(found, instrument=options.instrument, note=options.note)
    last = build.entry(item.id).standing[-1:]
    if item.several == 1 and not again and last and replace(last[0], taken=reading.taken) == reading:
        return build
    return edit.add_reading(build, item, reading, hand)


def _entered_cell(build: Build, item: Item, options: argparse.Namespace, hand: edit.Hand, where: str,
                  again: bool) -> Build:
    column = column_meant(item, options.column)
    if column is None:
        wrong = f"'{units.clip(options.column)}' is no column; " if options.column else ""
        raise ValueError(f"{where}: {wrong}needs --column, one of {', '.join(c.id for c in item.columns)}")
    if not options.row:
        raise ValueError(f"{where}: needs --row, the name of a {item.row_name}")
    options.text = one_meaning(column, options.text)
    if sentence := column_misfit(column, options.text) or _other_currency(column, options.text, build):
        raise ValueError(f"{where}, {item.row_name} {options.row}, {column.id}: {sentence}")
    row = _row_meant(build, item, options.row)
    found = build.entry(item.id).row(row)
    if found is None:
        build = edit.add_row(build, item, row, hand)
    cell = Cell(options.text, hand.at, options.instrument, note=options.note)
    before = found.cells.get(column.id) if found is not None else None
    if before is not None and not again and replace(before, taken=cell.taken) == cell:
        return build
    return edit.set_cell(build, item, row, column.id, cell, hand)


def _other_currency(place: Item | Column, text: str, build: Build) -> str:
    return units.other_currency(text, build.currency) if place.dimension == "money" else ""


def column_meant(item: Item, name: str) -> Column | None:
    """The column with this id, else the only one whose head or label this is, capitals or not."""
    wanted = name.casefold().replace("_", " ").strip()
    alike = [c for c in item.columns if wanted and wanted in (c.head.casefold(), c.label.casefold())]
    return item.column(name) or (alike[0] if len(alike) == 1 else None)


def _row_meant(build: Build, item: Item, name: str) -> str:
    """The row called so, else the only one called so but for capitals, else a new one."""
    names = [r.id for r in build.entry(item.id).rows]
    alike = [n for n in names if n.casefold() == name.casefold()]
    return alike[0] if name not in names and len(alike) == 1 else name


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
