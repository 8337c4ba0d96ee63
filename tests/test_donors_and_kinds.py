"""Donor packs whose figures cannot be, resistances of one kind, and readings whose meter stands in their own row."""

from __future__ import annotations

import pytest

from tests.front import build, cells, rule
from tests.make import Given

METERS: list[dict[str, str]] = [
    {"id": "m1", "meter": "green one", "quantity": "voltage", "range": "20 V", "resolution": "10 mV", "accuracy": "1 %"},
    {"id": "m2", "meter": "red one", "quantity": "voltage", "range": "20 V", "resolution": "10 mV", "accuracy": "1 %"}]


def donor(**told: str) -> dict[str, Given | None]:
    return {"donors": [{"id": "q1", "what": "invented pack", **told}]}


@pytest.mark.parametrize(("told", "said"), [
    ({"year": "2031"}, "q1: the year 2031 lies ahead"),
    ({"year": "week 12 of 2027"}, "q1: the year 2027 lies ahead"),
    ({"highest": "3.70 V", "lowest": "3.71 V"}, "q1: highest group 3.700 V, below the lowest 3.710 V"),
])
def test_a_donor_that_cannot_be_is_told(told: dict[str, str], said: str) -> None:
    found = rule("donors-impossible", build(donor(**told)))
    assert found.outcome == "fail" and found.facts["rows"] == said


@pytest.mark.parametrize("told", [
    {"year": "2026"}, {"year": "about 2019"}, {"year": "not readable"}, {"highest": "3.71 V", "lowest": "3.71 V"},
    {"highest": "3.71 V"}, {"year": "serial 20311234"},
])
def test_a_donor_that_can_be_is_in_order(told: dict[str, str]) -> None:
    assert rule("donors-impossible", build(donor(**told))).outcome == "pass"


def test_nothing_is_mixed_where_all_were_read_by_alternating_current() -> None:
    every = cells(**{f"c0{n}": {"resistance_method": "ac"} for n in range(1, 8)})
    alone = rule("resistance-kinds-mixed", build({"candidates": every}))
    assert alone.outcome == "fail" and alone.facts["rows"] == "all kept cells were read by alternating current only"
    mixed = rule("resistance-kinds-mixed", build({"candidates": cells(c01={"resistance_method": "ac"})}))
    assert mixed.facts["rows"] == "by alternating current, beside current-step values of the others: c01"


def test_a_resistance_by_alternating_current_asks_for_the_other_method_and_not_for_a_resistance_that_is_there() -> None:
    every = cells(**{f"c0{n}": {"resistance_method": "ac"} for n in range(1, 8)})
    asked = rule("resistance-too-high", build({"candidates": every}))
    assert (asked.outcome, asked.needs) == ("unknown", ("candidates.resistance_method",))
    one_lacks = [{k: v for k, v in row.items() if (row["id"], k) != ("c01", "resistance")} for row in every]
    assert rule("resistance-too-high", build({"candidates": one_lacks})).needs == ("candidates.resistance",)


def test_a_voltmeter_reading_names_its_meter_in_its_row() -> None:
    read: dict[str, Given | None] = {"instruments": METERS, "meter_check": [
        {"id": "k1", "meter": "green one", "reading": "4.02 V"}, {"id": "k2", "meter": "m2", "reading": "4.03 V"},
        {"id": "k3", "meter": "zzz", "reading": "4.01 V"}]}
    rows = rule("reading-without-instrument", build(read)).facts.get("rows", "")
    assert "k1" not in rows and "k2" not in rows
    assert "k3" in rows and "zzz, which is not in the list" in rows
