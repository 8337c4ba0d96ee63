"""A real minus stands in computed numbers; what was typed is printed as it was typed, wherever it stands."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from buildtrack.judging import Judged, judge
from buildtrack.model.build import Cell, Entry, Reading, Row
from buildtrack.record.gather_back import findings
from buildtrack.record.gather_values import structured_grid
from buildtrack.record.minus import below_zero
from tests import record_builds


@pytest.fixture(scope="module")
def judged(tmp_path_factory: pytest.TempPathFactory) -> Judged:
    """A build with names that hold what looks like a number below 0."""
    found = record_builds.full_judged(tmp_path_factory.mktemp("build"))
    entries = {**found.build.entries, "label_photo": Entry((Reading("log -1.csv"),)), "tool": Entry((Reading("drill, 3 - 5 A, bit -12"),)),
               "costs": Entry(rows=(Row("cell -3", {"what": Cell("strip")}),))}
    return replace(found, build=replace(found.build, entries=entries))


@pytest.mark.parametrize("typed", ["cell -3", "log -1.csv", "3 - 5 A", "bit -12", "2026-08-07", "C-"])
def test_names_files_and_ranges_that_were_typed_stay(judged: Judged, typed: str) -> None:
    text = f"{typed}: 3.20 V"
    assert below_zero(judged, text) == text


def test_computed_numbers_below_zero_get_a_real_minus(judged: Judged) -> None:
    assert below_zero(judged, "cell -3 is off by -5.2 mV (-2.9 %), -40 °C.") == "cell -3 is off by \u22125.2 mV (\u22122.9 %), \u221240 °C."


def test_what_was_computed_at_the_last_save_is_nothing_typed(judged: Judged) -> None:
    saved = replace(judged, build=replace(judged.build, snapshot={"verdict": "open", "workings": {"drift": "-6.5 mV"}}))
    assert below_zero(saved, "-6.5 mV") == "\u22126.5 mV"


def test_a_number_that_is_a_name_elsewhere_in_the_build_is_left_alone(judged: Judged) -> None:
    assert below_zero(judged, "-3 V") == "-3 V", "nothing tells whether it is the cell or the volts"


def test_a_finding_keeps_the_name_of_the_row_it_is_about(judged: Judged) -> None:
    first = judged.assessment.findings[0]
    told = replace(first, message="cell -3 in log -1.csv: 3 - 5 A, off by -7 mV")
    changed = replace(judged, assessment=replace(judged.assessment, results=(told,)))
    printed = [f.message.replace("\u00a0", " ") for g in findings(changed) for f in g.lines]
    assert printed == ["Cell -3 in log -1.csv: 3 - 5 A, off by \u22127 mV"]


@dataclass(frozen=True)
class Lines:
    """A structured result of a working."""

    head: tuple[str, ...] = ("cell", "off by")
    lines: tuple[tuple[str, ...], ...] = (("cell -3", "-7 mV"), ("3 - 5 A", "-0.5 %"))


def test_a_table_of_a_working_keeps_the_names_of_its_rows(judged: Judged) -> None:
    found = structured_grid(judged, Lines())
    assert found is not None
    assert [[c.replace("\u00a0", " ") for c in row] for row in found.rows] == [["cell -3", "\u22127 mV"], ["3 - 5 A", "\u22120.5 %"]]


def test_a_row_with_fields_missing_or_too_many_is_printed_whole(judged: Judged) -> None:
    found = structured_grid(judged, Lines(("cell", "off by", "why"), (("c1",), ("c2", "7 mV", "old", "warm"))))
    assert found is not None
    assert [[c.replace("\u00a0", " ") for c in row] for row in found.rows] == [["c1", "-", "-"], ["c2", "7 mV", "old; warm"]]


def test_a_row_that_is_too_far_down_to_be_printed_keeps_its_name_in_a_finding(tmp_path: Path) -> None:
    full = record_builds.full_judged(tmp_path)
    rows = full.build.entry("candidates").rows
    build = replace(full.build, entries={**full.build.entries, "candidates": Entry(rows=(*rows[:-1], replace(rows[-1], id="x -8")))})
    whole = judge(build, full.checklist, full.folder, full.now)
    cut = replace(whole, build=replace(build, entries={**build.entries, "candidates": Entry(rows=rows[:1])}))
    assert below_zero(cut, "x -8 fell by -9 mV") == "x -8 fell by \u22129 mV"
