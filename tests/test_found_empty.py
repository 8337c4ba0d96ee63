"""What settles a group that was found empty: its cells are out of use, or were tested again on a later day."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from buildtrack.model import edit
from buildtrack.model.build import Cell
from tests import back, back_cases
from tests.back import Made, checked, made, rule
from tests.make import NOW

LATER = edit.Hand(NOW + timedelta(days=3), "bench")


def found(volts: str) -> Made:
    """The sound build with its third group (c03, c04) at a voltage on the day everything was read."""
    return made(back_cases.served(checked("2026-11-25", "20", "3.79 V", "3.79 V", volts)))


def with_cell(built: Made, item: str, row: str, column: str, text: str) -> Made:
    """A field entered three days later."""
    known = back.checklist().items[item]
    cell = Cell(text, LATER.at)
    return replace(built, build=edit.set_cell(built.build, known, row, column, cell, LATER))


def outcome(built: Made) -> str:
    return rule("found-empty", built).outcome


def retested(built: Made, *cells: str) -> Made:
    for name in cells:
        built = with_cell(built, "candidates", name, "capacity", "1880 mAh")
    return built


def test_it_stands_until_every_cell_of_the_group_was_tested_again() -> None:
    low = found("2.30 V")
    assert outcome(low) == "fail"
    assert outcome(retested(low, "c03")) == "fail"
    assert outcome(retested(low, "c01", "c02")) == "fail"
    assert outcome(retested(low, "c03", "c04")) == "pass"


def test_below_two_volts_no_test_settles_it() -> None:
    assert outcome(retested(found("1.90 V"), "c03", "c04")) == "fail"


def test_cells_that_are_out_of_use_no_longer_count() -> None:
    low = found("1.90 V")
    swapped = with_cell(low, "groups", "g3", "cells", "c07 c08")
    assert outcome(swapped) == "pass"
    # one of the two stayed, so it stands; rejected, it does not
    kept = with_cell(low, "groups", "g3", "cells", "c03 c07")
    assert outcome(kept) == "fail"
    assert outcome(with_cell(kept, "candidates", "c03", "decision", "reject")) == "pass"
    # moved to another group is still in use
    moved = with_cell(swapped, "groups", "g1", "cells", "c01 c04")
    assert outcome(moved) == "fail"


def test_a_reading_that_was_corrected_does_not_stand() -> None:
    assert outcome(with_cell(found("2.30 V"), "rechecks", "a1", "g3", "3.30 V")) == "pass"


def test_without_a_list_of_groups_it_stands() -> None:
    built = found("2.30 V")
    entries = {name: entry for name, entry in built.build.entries.items() if name != "groups"}
    assert outcome(replace(built, build=replace(built.build, entries=entries))) == "fail"
