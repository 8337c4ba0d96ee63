"""Writes all three samples with their logs, pictures and snapshots."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from buildtrack.judging import judge, snapshot
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.write import to_text
from tests.samples import cleared, in_progress, not_cleared
from tests.samples.scribe import Scribe

WAIVED: dict[str, tuple[tuple[str, str], ...]] = {
    cleared.STEM: (
        ("board-over-charge-edge", "the charger was checked at 12.58 V: no group can reach the board's cut; charging is attended"),
        ("stall-exposure", "the clutch slips at 12 A, tried five times with a clamped bit; the limit stands on the label"),
    ),
    in_progress.STEM: (),
    not_cleared.STEM: (),
}
"""Cautions that the makers accepted, with their reasons."""


def scribes(folder: Path) -> Iterator[tuple[str, Scribe]]:
    """The three builds as entered, with the files that lie beside them written."""
    checklist = find_checklist("nickel-tool-pack")
    for module in (cleared, in_progress, not_cleared):
        scribe = module.write(folder, checklist)
        for check, reason in WAIVED[module.STEM]:
            results = judge(scribe.build, checklist, folder, scribe.moment).assessment.results
            scribe.waive(check, reason, next(r.message for r in results if r.check == check))
        if module is cleared:
            cleared.review(scribe)
        yield module.STEM, scribe


def write_all(folder: Path) -> Iterator[tuple[Path, str]]:
    """Write the samples into `folder`; gives each path with its verdict."""
    folder.mkdir(parents=True, exist_ok=True)
    for stem, scribe in scribes(folder):
        judged = judge(scribe.build, scribe.checklist, folder, scribe.moment)
        path = folder / f"{stem}.toml"
        path.write_text(to_text(scribe.build, scribe.checklist, None, snapshot(judged)), encoding="utf-8", newline="\n")
        yield path, judged.assessment.verdict
