"""All workings of a finished build from scratch, and after one edit."""

from __future__ import annotations

from statistics import median
from time import process_time

from buildtrack.checks.engine import assess
from buildtrack.model import edit
from buildtrack.model.build import Reading
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from buildtrack.workings.registry import refresh, sheet_of

ROUNDS = 25


def measure() -> list[tuple[str, float, str, str]]:
    """Milliseconds of processor time, medians of several rounds in this run."""
    build = read_build(shipped_samples() / "garden-screwdriver-cleared.toml").build
    checklist = find_checklist(build.checklist.id)
    moment = build.history[-1].at
    assert moment is not None
    item = checklist.items["board_idle_current"]
    scratch, edited, judged = [], [], []
    for round_ in range(ROUNDS):
        start = process_time()
        sheet = sheet_of(build, checklist, moment.date())
        scratch.append(process_time() - start)
        hand = edit.Hand(moment)
        changed = edit.add_reading(build, item, Reading(f"{19 + round_} µA", moment), hand)
        start = process_time()
        refresh(sheet, changed, checklist, moment.date())
        edited.append(process_time() - start)
        start = process_time()
        assess(changed, checklist, sheet, moment)
        judged.append(process_time() - start)
    return [
        (f"all {len(sheet.workings)} workings of a finished build, from scratch", median(scratch) * 1e3, "ms", "5 ms"),
        ("the same after one edit (reading the build and what depends on it)", median(edited) * 1e3, "ms", "1 ms"),
        (f"all {len(checklist.checks)} checks, states and the verdict", median(judged) * 1e3, "ms", "-"),
    ]
