"""What is usual for a cell follows its chemistry: no range, stop or message of other cells in a checklist."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from buildtrack.model.checklist import Checklist, Column, Item
from buildtrack.storage.checklist_file import read_checklist

EACH = [read_checklist(p) for p in sorted((Path(__file__).resolve().parent.parent / "checklists").glob("*.toml"))]
IRON = [c for c in EACH if c.chemistry == "lfp"]
OF_ONE_CELL_V = 5.0
"""Fields that refuse more than this are about one cell or group."""
PRINTED = {"board_overcharge", "candidates.charge_limit"}
"""What is printed on a board or a cell may lie above; checks of their own judge it."""


def of_a_cell(checklist: Checklist) -> Iterator[tuple[str, Item | Column]]:
    for item in checklist.all_items():
        fields = [(f"{item.id}.{c.id}", c) for c in item.columns] if item.kind == "table" else [(item.id, item)]
        for name, field in fields:
            high = field.hard.high
            if field.kind == "reading" and field.dimension == "voltage" and high is not None and high <= OF_ONE_CELL_V:
                yield name, field


@pytest.mark.parametrize("checklist", EACH, ids=lambda c: c.id)
def test_no_usual_voltage_of_a_cell_reaches_above_what_its_chemistry_stands(checklist: Checklist) -> None:
    most = checklist.policy["cell_absolute_max"].value
    fields = dict(of_a_cell(checklist))
    assert "candidates.arrival_voltage" in fields
    assert {n: f.plausible.high for n, f in fields.items()
            if n not in PRINTED and (f.plausible.high is None or f.plausible.high > most + 1e-9)} == {}


@pytest.mark.parametrize("checklist", EACH, ids=lambda c: c.id)
def test_where_groups_are_charged_the_caution_names_the_voltage_of_these_cells_at_which_to_stop(checklist: Checklist) -> None:
    named = {i.id: i.caution for i in checklist.all_items() if i.id in ("first_charge_groups", "charge_groups")}
    stop = checklist.policy["charge_stop"].text
    assert {n: stop in text for n, text in named.items()} == dict.fromkeys(named, True)


@pytest.mark.parametrize("checklist", IRON, ids=lambda c: c.id)
def test_a_rested_pack_of_iron_phosphate_is_not_expected_at_four_volts(checklist: Checklist) -> None:
    column = checklist.items["rechecks"].column("g1")
    # at rest 3.19 V with a tenth of the charge, 3.30 V with half, 3.34 V nearly full (Naumann 2018, data/ocv/lfp_3000)
    assert column is not None and column.plausible.holds(3.19) and column.plausible.holds(3.34)
    assert not column.plausible.holds(3.7)


@pytest.mark.parametrize("checklist", IRON, ids=lambda c: c.id)
def test_groups_of_iron_phosphate_are_compared_where_they_are_in_the_test(checklist: Checklist) -> None:
    # they work at 3.0 to 3.3 V: at 3.5 V, the knee of other cells, nothing would ever be compared
    assert checklist.policy["test_knee"].value == 3.1


@pytest.mark.parametrize("checklist", IRON, ids=lambda c: c.id)
def test_no_check_tells_the_maker_of_an_iron_phosphate_pack_a_voltage_of_other_cells(checklist: Checklist) -> None:
    told = {c.id: text for c in checklist.checks for text in (c.title, c.message, c.advice, c.condition)
            if re.search(r"\b4\.[0-2]\d? V|\b3\.[7-9]\d? (V|to)", text)}
    assert told == {}


@pytest.mark.parametrize("checklist", IRON, ids=lambda c: c.id)
def test_the_gap_between_alarm_and_cutoff_that_is_told_is_the_one_that_is_judged(checklist: Checklist) -> None:
    for item in (i for i in checklist.all_items() if i.id == "alarm_setting"):
        asked = re.search(r"At least ([\d.]+) V above", item.caution)
        assert asked is not None and float(asked[1]) == pytest.approx(checklist.policy["alarm_margin"].value)
