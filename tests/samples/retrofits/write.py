"""Writes the small builds of the other checklists with their snapshots."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

from buildtrack.judging import Judged, judge, snapshot
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.write import to_text
from tests.samples.retrofits import bicycle_light, garden_light, hand_vacuum, radio, shed_light

ALL: tuple[ModuleType, ...] = (hand_vacuum, garden_light, bicycle_light, radio, shed_light)


def judged(module: ModuleType, folder: Path) -> Judged:
    """One of the builds as entered, judged at its last moment."""
    scribe = module.write(folder, find_checklist(module.CHECKLIST))
    return judge(scribe.build, scribe.checklist, folder, scribe.moment)


def write_all(folder: Path) -> Iterator[tuple[Path, str]]:
    """Write the builds into `folder`; gives each path with its verdict."""
    folder.mkdir(parents=True, exist_ok=True)
    for module in ALL:
        found = judged(module, folder)
        path = folder / f"{module.STEM}.toml"
        path.write_text(to_text(found.build, found.checklist, None, snapshot(found)), encoding="utf-8", newline="\n")
        yield path, found.assessment.verdict
