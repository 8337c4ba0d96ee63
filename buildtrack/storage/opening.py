"""What is found and told when a build file is opened."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from buildtrack import units
from buildtrack.model.build import FORMAT, Build
from buildtrack.model.checklist import Checklist
from buildtrack.storage import make_tree
from buildtrack.storage.build_file import BuildFileError, Opened, unknown_items
from buildtrack.storage.checklist_change import what_changed
from buildtrack.workings.registry import all_workings, day_dependent

Snapshot = Callable[[Build, Checklist, Path, datetime], Mapping[str, object]]
"""Makes the summary written into the file, from the build, its checklist, where it is, and the time."""
_SHOWN = 5


def why_not_writable(path: Path) -> str:
    """Why a save would fail; empty where nothing speaks against it."""
    real = os.path.realpath(path)
    if not os.access(real, os.W_OK):
        return "the file is marked as read-only"
    if not os.access(os.path.dirname(real), os.W_OK):
        return "its folder is read-only"
    return ""


def checklist_of(opened: Opened, path: Path, find: Callable[[str], Checklist]) -> Checklist:
    """The checklist a build was made with; BuildFileError where it is not to be had."""
    try:
        return find(opened.build.checklist.id)
    except ValueError as error:
        raise BuildFileError(str(path), str(error), where="table [checklist]") from error


def _named(names: list[str]) -> str:
    return ", ".join(units.clip(name) for name in names[:_SHOWN]) + (" and more" if len(names) > _SHOWN else "")


def about_format(opened: Opened) -> list[str]:
    """What is to be said of a file that was written in an earlier format."""
    if opened.raw is None:
        return []
    return [f"the file is in format {opened.raw.get('format')}: the next save writes it in format {FORMAT}, and keeps "
            "the old one as a backup"]


def about_checklist(build: Build, checklist: Checklist) -> list[str]:
    """What is to be said where the checklist is not the one the build was made with."""
    notes = what_changed(build, checklist)
    unknown = unknown_items(build, checklist)
    if unknown and not any(note.startswith("kept,") for note in notes):
        notes.append(f"kept, though the checklist does not have it: {_named(list(unknown))}")
    return notes


def about_summary(build: Build, computed: Mapping[str, Any]) -> list[str]:
    """What is to be said where the summary in the file is not what is computed now; the mere passing of days is not."""
    stored = build.snapshot
    if not stored:
        return []
    notes: list[str] = []
    was, now = (units.clip(str(x.get("verdict", ""))) for x in (stored, computed))
    if was != now:
        notes.append(f"the summary in the file says '{was}'; computed now it is '{now}'")
    before, after = stored.get("workings"), computed.get("workings")
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        names = [name for name in {**before, **after} if name not in day_dependent()]
        differ = [name for name in names if before.get(name) != after.get(name)]
        if differ:
            labels = {w.id: w.label for w in all_workings()}
            told = _named([labels.get(name, name) for name in differ])
            notes.append(f"the summary in the file differs from what is computed now: {told}")
    return notes


def computed_summary(snapshot: Snapshot | None, build: Build, checklist: Checklist, path: Path,
                     now: datetime) -> Mapping[str, Any] | None | str:
    """The summary for the file, None where there is none to be made, or in one sentence why it failed.

    A program error in it must not stop a save: the readings are worth more than the summary.
    """
    if snapshot is None:
        return None
    try:
        found: Mapping[str, Any] = make_tree.plain(snapshot(build, checklist, path, now))
        return found
    except Exception as error:  # reported to the person by whoever called
        return f"the summary could not be computed: {units.clip(f'{type(error).__name__}: {error}', 200)}"
