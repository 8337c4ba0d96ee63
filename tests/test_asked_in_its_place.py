"""What is asked when it can be answered: before the pack is opened, closed or handed over; and what no longer needs asking."""

from __future__ import annotations

from dataclasses import replace

from buildtrack.checks.ruling import fill
from buildtrack.model.build import Event
from tests import front
from tests.back import made, rule
from tests.front import checklist
from tests.make import NOW, judged

ORDER = [i.id for i in checklist().all_items()]
STEP = {i.id: i.step for i in checklist().all_items()}


def test_the_load_can_be_measured_with_the_old_pack_before_that_is_opened() -> None:
    closed = {n: v for n, v in front.SOUND.items() if STEP[n] in ("plan", "old_pack") and n not in
              ("opening_voltage", "old_cell_voltages", "housing_length", "housing_width", "housing_height")}
    step = judged(closed, checklist()).status.step("load")
    assert "opening_voltage" not in step.held_by


def test_what_is_seen_only_in_the_open_pack_is_asked_after_it_was_opened() -> None:
    assert ORDER.index("thermal_switch") > ORDER.index("opened_state")


def test_the_wiring_is_photographed_in_the_step_in_which_it_is_made_and_the_label_before_the_hand_over() -> None:
    assert STEP["wiring_photo"] == "wire"
    assert ORDER.index("handed_over_on") < ORDER.index("label_fixed") < ORDER.index("label_photo") < ORDER.index("user_told")


def test_a_board_that_was_on_at_once_is_not_to_be_woken() -> None:
    for state, asked in (("on", "not needed"), ("asleep", "open"), ("dead", "open")):
        whole = judged({"board_state": state}, checklist())
        assert whole.status.items["board_woken"].state == asked
        assert ("board-asleep" in {r.check for r in whole.results}) == (asked == "open")


def test_a_salvaged_cell_without_its_warmth_while_charging_leaves_the_table_unfinished() -> None:
    rows = front.cells(c03={"warmest": ""})
    status = judged({"cells_source": "salvaged", "candidates": rows}, checklist()).status
    assert status.items["candidates"].state == "partly" and "c03: Warmest while charging" in status.items["candidates"].why
    assert judged({"cells_source": "new", "candidates": rows}, checklist()).status.items["candidates"].state == "done"


def test_limits_for_the_user_are_words_and_not_a_mark() -> None:
    ruling = rule("limits-not-said", made({"user_limits": "1"}))
    assert fill(front.library("limits-not-said").message, ruling.facts) == "there stands only: '1'"
    assert rule("limits-not-said", made({"user_limits": "Do not stall."})).outcome == "pass"


def test_typing_over_what_was_filled_in_beforehand_changes_no_measured_value() -> None:
    built = front.build()
    for before, outcome in (("1", "pass"), ("2", "fail")):
        event = Event(NOW, "changed", "wire", "conductors", "w1", "bundle", before, "3")
        assert front.rule("readings-typed-over", replace(built, history=(event,))).outcome == outcome
