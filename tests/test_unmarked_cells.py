"""A kept cell without print: nobody knows its ratings, and that can be said; then it counts by what was measured."""

from __future__ import annotations

from dataclasses import replace

from buildtrack.checks.engine import assess
from buildtrack.model.build import Build, Waiver
from buildtrack.storage.checklist_file import check_library
from buildtrack.workings.registry import sheet_of
from tests.front import build, cells, checklist, rule, value
from tests.make import NOW

BARE = {"rated_capacity": "", "rated_c_rate": ""}
UNMARKED = {**BARE, "marking": "unmarked"}
CHECKS = ("capacity-kept-bad", "capacity-kept-poor", "capacity-kept-fair")


def with_first(**columns: str) -> Build:
    return build({"candidates": cells(c01=columns)})


def verdict(judged: Build) -> tuple[str, tuple[str, ...]]:
    own = replace(checklist(), checks=tuple(check_library()[c] for c in CHECKS))
    found = assess(judged, own, sheet_of(judged, own, NOW.date()), NOW)
    return " / ".join(f"{r.check} {r.outcome}" for r in found.results), tuple(r.message for r in found.results)


def test_a_cell_whose_rating_was_not_given_stays_open_and_the_way_out_is_told() -> None:
    told, messages = verdict(with_first(**BARE))
    assert told == "capacity-kept-bad unknown / capacity-kept-poor unknown / capacity-kept-fair unknown"
    assert all(m.endswith("(a cell without print: write 'unmarked' as its print)") for m in messages)


def test_a_cell_said_to_be_unmarked_is_no_stop_but_a_caution_with_its_measured_capacity() -> None:
    told, messages = verdict(with_first(**UNMARKED))
    assert told == "capacity-kept-bad pass / capacity-kept-poor fail / capacity-kept-fair pass"
    assert messages[1].endswith("they count by their measured capacity: c01 (1948 mAh).")
    assert verdict(with_first(**{**UNMARKED, "marking": " Unmarked "}))[0] == told


def test_the_caution_of_an_unmarked_cell_can_be_accepted_with_a_reason() -> None:
    judged = with_first(**UNMARKED)
    own = replace(checklist(), checks=(check_library()["capacity-kept-poor"],))
    said = assess(judged, own, sheet_of(judged, own, NOW.date()), NOW).results[0]
    accepted = replace(judged, waivers=(Waiver(said.check, "tested twice", finding=said.message, at=NOW),))
    found = assess(accepted, own, sheet_of(accepted, own, NOW.date()), NOW)
    assert found.results[0].waiver is not None
    assert any("tested twice" in c for c in found.conditions)


def test_a_worn_cell_beside_it_is_told_in_the_same_breath_so_that_no_waiver_hides_it() -> None:
    # c02: 1500 of 2200 mAh is 68.2 %, under the 70 % that a tool pack asks for
    both = cells(c01=UNMARKED, c02={"capacity": "1500 mAh"})
    ruling = rule("capacity-kept-poor", build({"candidates": both}))
    assert ruling.outcome == "fail"
    assert "c02 (68.2 %)" in ruling.message and "c01 (1948 mAh)" in ruling.message


def test_an_unmarked_cell_that_was_not_measured_stays_open() -> None:
    told, _ = verdict(with_first(**UNMARKED, capacity=""))
    assert told == "capacity-kept-bad unknown / capacity-kept-poor unknown / capacity-kept-fair unknown"


def test_a_cell_with_its_rating_is_judged_by_it_whatever_the_print_says() -> None:
    # 1000 of 2200 mAh is 45 %, fit for recycling only (under 50 %)
    worn = with_first(marking="unmarked", capacity="1000 mAh")
    assert rule("capacity-kept-bad", worn).outcome == "fail"


def test_an_unmarked_cell_may_not_share_a_group_unseen() -> None:
    assert rule("unknown-cells-in-a-group", with_first(**UNMARKED)).outcome == "fail"
    assert rule("unknown-cells-in-a-group", with_first()).outcome == "pass"


def test_an_unmarked_cell_is_trusted_with_one_ampere_for_each_ampere_hour() -> None:
    # common practice, no source: 1 A per Ah of the measured capacity, 3 A at most; 1948 mAh gives 1.948 A
    report = value("cell_report", {"candidates": cells(c01=UNMARKED)})
    first = report.cell("c01")
    assert abs(first.allowance_a - 1.948) < 1e-9 and first.allowance_by == "rating unknown: the cautious default"


def test_a_rating_typed_for_an_unmarked_cell_does_not_raise_its_allowance() -> None:
    # its own capacity of 1948 mAh allows 1.948 A; 10 A and 5 C were read off no print, whatever capacity stands beside them
    for typed in ({"rated_current": "10 A"}, {"rated_c_rate": "5 C"}, {"rated_current": "10 A", "rated_capacity": "2200 mAh"}):
        first = value("cell_report", {"candidates": cells(c01={**UNMARKED, **typed})}).cell("c01")
        assert abs(first.allowance_a - 1.948) < 1e-9, typed
        assert first.allowance_by == "rating unknown: the cautious default"
    printed = value("cell_report", {"candidates": cells(c01={**BARE, "rated_c_rate": "5 C"})}).cell("c01")
    assert abs(printed.allowance_a - 5 * 1.948) < 1e-9, "a cell with a print is allowed what its sheet says"


def test_a_lower_rating_typed_for_an_unmarked_cell_still_counts() -> None:
    first = value("cell_report", {"candidates": cells(c01={**UNMARKED, "rated_c_rate": "0.5 C"})}).cell("c01")
    assert abs(first.allowance_a - 0.974) < 1e-9 and first.allowance_by == "C-rate × measured capacity"


def test_the_checklist_says_how_to_write_down_a_cell_without_print() -> None:
    marking = checklist().items["candidates"].column("marking")
    assert marking is not None and "write unmarked" in marking.why
    assert "two capacity tests that agree" in check_library()["capacity-kept-poor"].advice
