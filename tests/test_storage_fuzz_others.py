"""Checklists, logs and lists of cells spoiled in any way are read or refused in one line, and no value changes unseen."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.physics.log_errors import LogError
from buildtrack.physics.log_numbers import read_number
from buildtrack.physics.logs import read_log
from buildtrack.storage.cell_list import CellListError, read_cells
from buildtrack.storage.checklist_file import parse_checklist
from tests.bench.other_files_fuzz import LOG, ROOMS
from tests.small import TEXT


@pytest.mark.parametrize("kind", ROOMS)
def test_seven_hundred_spoiled_files_of_each_kind_are_read_or_refused(kind: str, tmp_path: Path) -> None:
    """With the 2,000 build files of test_storage_fuzz this is the short form of the 100,000 in tests/bench."""
    found = ROOMS[kind](700, tmp_path / "spoiled", 5)
    assert found.read + found.refused == 700
    assert found.refused > 50
    assert found.proven > 100, "what is read is mostly what a plain reading of the file gives"


def test_a_number_no_logger_writes_is_no_reading() -> None:
    assert [read_number(t) for t in ("1e999", "-1e400", "1e15", "9" * 400)] == [None] * 4
    assert read_number("1.79e12") == 1.79e12


def test_a_log_with_an_endless_number_counts_it_as_a_gap_in_the_row(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(LOG.replace("100;4.000;1.60", "100;4.000;1e999"), encoding="utf-8")
    found = read_log(path)
    assert found.used == found.rows - 1
    assert 0 < found.charge_ah < 1


def test_what_a_log_is_headed_with_is_repeated_in_part_only(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(LOG.replace("time [s]", "x" * 5_000 + "\x1b"), encoding="utf-8")
    with pytest.raises(LogError, match="no time column") as refused:
        read_log(path)
    assert len(str(refused.value)) < 500 and str(refused.value).isprintable()


def test_a_key_of_a_checklist_is_repeated_in_part_only() -> None:
    _found, problems = parse_checklist(TEXT.replace("purpose =", f'"{"x" * 5_000}\\u001b" = 1\npurpose ='))
    assert len(problems) == 1
    assert len(str(problems[0])) < 700 and str(problems[0]).isprintable()


@pytest.mark.parametrize(("data", "says"), [
    (b"id;capacity\n" + b"x" * 200_000 + b";1\n", "no list that can be parted"), (b"\xff\xfe1", "is not UTF-8"),
    (b"x" * 5_000_001, "more than the 5000000")])
def test_a_list_of_cells_that_cannot_be_parted_is_one_line(data: bytes, says: str, tmp_path: Path) -> None:
    path = tmp_path / "cells.csv"
    path.write_bytes(data)
    with pytest.raises(CellListError, match=says):
        read_cells(path)
