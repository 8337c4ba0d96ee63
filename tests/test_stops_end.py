"""A stop about what going on cannot mend says what alone ends it; an ended project has nothing still to do."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from buildtrack.checks.engine import Assessment, assess
from buildtrack.checks.review import answers
from buildtrack.model.build import Build, Ended, Waiver
from buildtrack.model.checklist import Checklist
from buildtrack.storage.checklist_file import ChecklistError, check_library, find_checklist, read_checklist
from buildtrack.storage.places import shipped_checklists
from buildtrack.workings.registry import sheet_of
from buildtrack.workings.status import held_until
from tests import back
from tests.back import checked
from tests.back_cases import served
from tests.front import cell, groups
from tests.make import NOW, Given
from tests.small import TEXT

LATER = NOW + timedelta(days=400)

PAST = ("joined-at-different-voltage", "group-wrong-after-joining", "first-charge-from-empty", "group-below-minimum",
        "charged-frozen", "group-over-charged", "drift-stop", "found-empty")
"""What happened to the cells: plating, over-charge, over-discharge, a short. No later step undoes it (common practice)."""
CELLS = ("damaged-cell-kept", "cell-below-published-limit", "cell-below-never", "heater-kept", "leaky-cell-rejected",
         "capacity-kept-bad")
OBJECT = ("modification-not-allowed", "not-a-nickel-pack", "gate-closed", "radio-depended-on", "not-a-lead-battery",
          "lamp-does-not-start", "not-three-nickel-cells")
"""What the object is: only another project mends it."""


def every_checklist() -> list[Checklist]:
    return [read_checklist(p) for p in sorted(shipped_checklists().glob("*.toml"))]


def told(given: dict[str, Given], ended: str = "", at_day: int = 0) -> tuple[Build, Assessment]:
    build = back.build(given)
    build = replace(build, ended=Ended(ended, NOW) if ended else None)
    now = NOW + timedelta(days=at_day)
    return build, assess(build, back.checklist(), sheet_of(build, back.checklist(), now.date()), now)


def ends_of(name: str) -> str:
    rules = {c.id: c for each in every_checklist() for c in each.checks} | dict(check_library())
    return rules[name].ends


@pytest.mark.parametrize("name", PAST)
def test_a_stop_about_the_past_of_cells_ends_with_other_cells_or_with_the_project(name: str) -> None:
    assert re.search(r"replaced|other cells|out of use", ends_of(name))
    assert ends_of(name).endswith("or the project is ended")


@pytest.mark.parametrize("name", CELLS)
def test_a_stop_about_a_cell_ends_when_it_is_rejected(name: str) -> None:
    assert ends_of(name) == "each cell named is rejected"


@pytest.mark.parametrize("name", OBJECT)
def test_a_stop_about_the_object_ends_with_the_project(name: str) -> None:
    assert ends_of(name) == "the project is ended"


FROZEN: dict[str, Given] = {"charge_temperature": "-5 °C"}


def test_a_step_held_by_such_a_stop_says_what_ends_it() -> None:
    _, found = told(FROZEN)
    assert found.status.step("aftercare").stopped_by == ("charged-frozen",)
    step = replace(found.status.step("aftercare"), held_by=())
    assert held_until(step, back.checklist()) == (
        "this step is held. The stop 'Charged below freezing' stands until the groups are made of other cells and their "
        "charge is entered, or the project is ended")
    result = next(r for r in found.results if r.check == "charged-frozen")
    assert "until the groups are made of other cells" in result.advice and "before the pack is used" not in result.advice


def test_beside_another_stop_both_are_told() -> None:
    _, found = told({**FROZEN, "insulating_rings": "5"})
    said = held_until(replace(found.status.step("aftercare"), held_by=()), back.checklist())
    assert said.startswith("this step is held until the stop 'Insulating rings are missing' is mended. The stop 'Charged")


REJECTED = {**cell("c01", arrival_voltage="0.9 V"), "id": "c08", "decision": "reject", "reason": "arrived empty"}
BAD_KEPT = {**REJECTED, "decision": "keep", "reason": ""}


def test_rejecting_the_cell_named_ends_its_stop() -> None:
    assert isinstance(back.SOUND["candidates"], list)
    for row, outcome in ((BAD_KEPT, "fail"), (REJECTED, "pass")):
        _, found = told({"candidates": [*back.SOUND["candidates"], row]})
        assert {r.check: r.outcome for r in found.results}["cell-below-never"] == outcome


def test_a_stop_that_is_only_in_doubt_does_not_ask_for_other_cells() -> None:
    """Within the error of the meter a better reading settles it."""
    rows = [{**g, "joining_highest": "3.801 V"} for g in groups()]
    _, found = told({"groups": rows})
    unsure = next(r for r in found.results if r.check == "joined-at-different-voltage")
    assert unsure.outcome != "fail" and "stands until" not in unsure.advice


def test_the_end_of_the_project_settles_every_such_stop() -> None:
    _, found = told(FROZEN, ended="given up")
    assert (found.verdict, found.status.step("aftercare").stopped_by) == ("ended early", ())
    assert next(r for r in found.results if r.check == "charged-frozen").advice == "The end of the project settles it."


def test_what_ends_a_stop_is_no_longer_than_a_sentence_at_the_bench() -> None:
    for each in every_checklist():
        for rule in each.checks:
            assert len(f"The stop stands until {rule.ends}".split()) <= 27, rule.id


def test_only_a_stop_may_say_what_alone_ends_it(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    path.write_text(TEXT.replace('severity = "caution"', 'severity = "caution"\nends = "it is cold"', 1), encoding="utf-8")
    with pytest.raises(ChecklistError, match="only a stop says what alone ends it"):
        read_checklist(path)


# --- after the end ---

USED: dict[str, Given] = {"handed_over_on": "2026-09-20", "top_up_interval": "30 d", "label_fixed": "yes",
                          **served(checked("2026-10-01", "20", "4.15 V", "4.15 V", "4.15 V"))}
TO_DO = ("recheck-due", "left-too-long", "charger-check-due", "stored-full")


def test_a_pack_in_use_that_was_left_is_told_so() -> None:
    """The same build, not ended: without this the next test could not fail."""
    _, found = told(USED, at_day=400)
    failed = {r.check for r in found.results if r.outcome == "fail"}
    assert {"recheck-due", "left-too-long", "charger-check-due"} <= failed


def test_of_an_ended_project_nothing_is_asked_that_is_still_to_be_done() -> None:
    _, found = told(USED, ended="the cells were handed in", at_day=400)
    assert not {r.check for r in found.results} & set(TO_DO)
    assert all(state.state != "expired" for state in found.status.items.values())


def test_of_an_ended_project_no_check_waits_and_nothing_is_a_condition() -> None:
    build, found = told({**USED, "candidates": [{"id": "c01", "arrival_voltage": "3.7 V"}]}, ended="too few cells")
    assert build.ended and not [r for r in found.results if r.outcome == "unknown"]
    waived = replace(build, waivers=(Waiver("charged-warm", "a reason", "bench 2"),))
    again = assess(waived, back.checklist(), sheet_of(waived, back.checklist(), LATER.date()), LATER)
    assert found.conditions == again.conditions == ()


def test_what_still_harms_after_the_end_is_still_told() -> None:
    """Cells to hand in, and what the meters did, do not end with the project."""
    _, found = told({"nickel_handed_in": "no", "rejects_handed_in": "no"}, ended="given up")
    failed = {r.check for r in found.results if r.outcome == "fail"}
    assert {"nickel-handed-in", "rejects-handed-in"} <= failed


def test_the_next_recheck_of_an_ended_project_is_no_question() -> None:
    for ended, asked in (("", True), ("handed in", False)):
        build, found = told(USED, ended=ended)
        assert ("q43" in {a.question.id for a in answers(build, back.checklist(), found)}) is asked


def test_a_gate_that_was_followed_is_not_advised_again() -> None:
    radio = find_checklist("hand-held-radio")
    rule = next(c for c in radio.checks if c.id == "gate-closed")
    assert rule.ends == "the project is ended"
