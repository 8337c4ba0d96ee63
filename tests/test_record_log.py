"""A long log in the record: curve, summary and attachment, never a thousand pages."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.judging import Judged, judge
from buildtrack.model.build import Entry, Reading
from buildtrack.record.content import enclosed_files, gather
from buildtrack.record.drawings.of_discharge import discharge_data
from buildtrack.record.html import record_html
from buildtrack.storage.checklist_file import find_checklist
from tests import record_builds

ROWS = 36_000
NAME = "shears_files/discharge.csv"


def log_text() -> str:
    """Ten hours at 0.45 A, a row a second; three groups fall in a straight line from 4.1 V, the third fastest."""
    lines = ["time [s],current [A],voltage [V],cell1 [V],cell2 [V],cell3 [V]"]
    for second in range(ROWS):
        share = second / ROWS
        groups = [4.1 - fall * share for fall in (1.10, 1.15, 1.25)]
        lines.append(f"{second},0.450,{sum(groups):.3f}," + ",".join(f"{v:.4f}" for v in groups))
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def judged(tmp_path_factory: pytest.TempPathFactory) -> Judged:
    folder = tmp_path_factory.mktemp("build")
    path = folder / NAME
    path.parent.mkdir()
    path.write_text(log_text(), encoding="utf-8")
    checklist = find_checklist("nickel-tool-pack")
    build = record_builds.full_build(checklist)
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    entries = {**build.entries, "log_kind": Entry((Reading("file", record_builds.START),)),
               "discharge_log": Entry((Reading(NAME, record_builds.START, sha256=digest, size=path.stat().st_size),))}
    return judge(replace(build, entries=entries), checklist, folder, record_builds.NOW)


def test_the_curve_is_that_of_the_log(judged: Judged) -> None:
    curves = discharge_data(judged)
    assert [c.name for c in curves.measured] == ["g1", "g2", "g3"]
    minutes, volts = curves.measured[2].points[-1]
    # the last stretch of the outline begins within 1/1000 of the end: 600 min, and 4.1 − 1.25 = 2.85 V
    assert minutes == pytest.approx(600, rel=0.002)
    assert volts == pytest.approx(2.85, abs=0.005)


def test_the_record_stays_short_and_holds_the_log(judged: Judged, tmp_path: Path) -> None:
    html = record_html(gather(judged, b"x"))
    without = record_html(gather(replace(judged, folder=tmp_path), b"x"))
    assert len(html) < 1.2 * len(without) + 50_000
    assert "4.0999" not in html, "rows of the log are not printed"
    inside = {f.name: f.content for f in enclosed_files(judged, b"x")}
    assert inside[NAME] == (judged.folder / NAME).read_bytes()


def test_charge_and_duration_of_the_log_are_told(judged: Judged) -> None:
    step = next(s for s in gather(judged, b"x").steps if s.id == "discharge")
    summary = next(w for w in step.workings if w.id == "log_summary")
    shown = " ".join([summary.shown, *(c for row in (summary.grid.rows if summary.grid else ()) for c in row)])
    # 0.45 A for 35 999 s is 4.4999 Ah
    assert "4.5" in shown.replace("\u00a0", " ") and "36000" in shown
