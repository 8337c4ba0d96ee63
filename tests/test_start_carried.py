"""A start peak measured on a tired pack or a supply is carried over to the new pack before a board is judged by it."""

from __future__ import annotations

import pytest

from buildtrack.checks.review import questions
from buildtrack.physics import motor
from buildtrack.workings import wire, wire_board
from tests.back import made, rule
from tests.make import Given

# The angle sander: nickel pack 21.75 V behind 519 mOhm, held motor 112 mOhm, new pack 21.0 V behind 82.5 mOhm.
OLD_V, OLD_OHM, NEW_V, LOOP_OHM, HELD_OHM = 21.75, 0.519, 21.0, 0.0825, 0.112


def test_a_peak_on_a_tired_pack_is_much_more_on_the_new_one() -> None:
    # 21.75 V / 30 A = 0.725 ohm; less 0.519 leaves the tool 0.206 ohm; 21.0 V / (0.206 + 0.0825) = 72.79 A
    assert motor.start_on_another_source_a(30.0, OLD_V, OLD_OHM, NEW_V, LOOP_OHM, HELD_OHM) == pytest.approx(72.79, abs=0.01)


def test_a_carried_start_never_exceeds_the_stall() -> None:
    # 21.75 / 35 - 0.519 = 0.1024 ohm is less than the held motor has: 21.0 V / (0.112 + 0.0825) = 107.97 A
    assert motor.start_on_another_source_a(35.0, OLD_V, OLD_OHM, NEW_V, LOOP_OHM, HELD_OHM) == pytest.approx(107.97, abs=0.01)


def test_a_peak_the_source_could_not_give_is_refused() -> None:
    # 21.75 V / 519 mOhm = 41.9 A into a short: 45 A cannot be
    with pytest.raises(ValueError, match="cannot give it"):
        motor.start_on_another_source_a(45.0, OLD_V, OLD_OHM, NEW_V, LOOP_OHM)
    with pytest.raises(ValueError, match="above 0 A"):
        motor.start_on_another_source_a(0.0, OLD_V, OLD_OHM, NEW_V, LOOP_OHM)
    assert wire.start_carried(45.0, NEW_V, LOOP_OHM, OLD_V, "old pack", OLD_OHM) is None


def test_what_fed_the_tool_decides_what_is_carried_over() -> None:
    assert wire.start_carried(30.0, NEW_V, LOOP_OHM, OLD_V, "old pack", OLD_OHM) == pytest.approx(72.79, abs=0.01)
    # a supply of 20.0 V with 40 mOhm: 20 / 50 - 0.040 = 0.360 ohm; 21.0 / (0.360 + 0.0825) = 47.46 A
    supply = wire.start_carried(50.0, NEW_V, LOOP_OHM, OLD_V, "bench supply", OLD_OHM, 20.0, 0.040)
    assert supply == pytest.approx(47.46, abs=0.01)
    assert wire.start_carried(30.0, NEW_V, LOOP_OHM, OLD_V) is None  # the old pack's resistance is not known
    assert wire.start_carried(30.0, NEW_V, LOOP_OHM, OLD_V, "bench supply", OLD_OHM, 20.0) is None


def test_a_supply_near_its_limit_says_nothing_of_the_start() -> None:
    # 27.1 A is more than 0.9 x 30 A
    assert wire.start_carried(27.1, NEW_V, LOOP_OHM, OLD_V, "bench supply", None, 20.0, 0.040, 30.0) is None
    assert wire.start_carried(26.9, NEW_V, LOOP_OHM, OLD_V, "bench supply", None, 20.0, 0.040, 30.0) is not None
    assert wire.start_carried(27.1, NEW_V, LOOP_OHM, OLD_V, "old pack", OLD_OHM, supply_limit=30.0) is not None


@pytest.mark.parametrize(("stall", "measured", "carried", "reckoned"), [
    (108.0, None, None, 108.0),  # nothing measured: the upper bound
    (108.0, 35.0, None, 108.0),  # measured on a source nobody knows: still the upper bound
    (108.0, 35.0, 73.0, 73.0),
    (40.0, 50.0, 47.0, 50.0),  # never less than measured
    (None, 35.0, None, 35.0), (None, None, None, None), (108.0, None, 73.0, 108.0),
])
def test_the_peak_reckoned_with_is_never_the_smaller_one(stall: float | None, measured: float | None,
                                                         carried: float | None, reckoned: float | None) -> None:
    assert wire.start_peak(stall, measured, carried) == reckoned


def test_the_board_does_not_fit_when_only_the_tired_pack_stayed_below_its_trip() -> None:
    report = wire_board.board_report(5.0, 5.0, board_trip_low=60.0, board_trip_high=80.0, start_peak=107.97,
                                     stall_current=107.97, start_peak_current=35.0, start_carried=107.97)
    assert report.summary == "not fitting: start against lowest trip; its trip lies below the stall current"
    start = next(line for line in report.lines if line[0].startswith("start"))
    assert start[2] == "108 A from 35.0 A measured, carried over to the new pack, full"
    assert start[3] == "no: a start may trip it"


def test_a_start_over_before_the_delay_fits() -> None:
    report = wire_board.board_report(5.0, 5.0, board_trip_low=60.0, board_trip_delay=0.2, start_peak=107.97,
                                     stall_current=107.97, start_peak_time=0.15)
    assert report.summary == "fits as far as known"
    assert report.lines[-1][3] == "yes: it is over before the delay of 200 ms"


TIRED: dict[str, Given] = {"load_source": "old pack", "start_peak_current": "20 A", "board_trip_low": "21 A",
                           "old_pack_loaded_voltage": "11.1 V", "old_pack_loaded_current": "10 A"}
"""The old pack: 13.1 V rested, so (13.1 - 11.1) / 10 = 200 mOhm; the new one 12.6 V behind 120.1 mOhm."""


def test_the_check_judges_the_start_on_the_new_pack() -> None:
    # 13.1 / 20 - 0.200 = 0.455 ohm; 12.6 / (0.455 + 0.1201) = 21.91 A, above 21 A and below 22 A
    found = rule("board-trips-at-start", made(TIRED))
    assert found.outcome == "fail"
    assert found.facts["value"] == "21.91 A from 20.0 A measured, carried over to the new pack, full"
    assert rule("board-trips-at-start", made({**TIRED, "board_trip_low": "22 A"})).outcome == "pass"


def test_a_start_on_an_unknown_source_is_bounded_by_the_stall() -> None:
    # the stall of the new pack is 29.3 A: below a trip of 30 A; a trip of 25 A is between, and nobody can tell
    unknown = {name: value for name, value in TIRED.items() if not name.startswith("old_pack_loaded")}
    assert rule("board-trips-at-start", made({**unknown, "board_trip_low": "30 A"})).outcome == "pass"
    between = rule("board-trips-at-start", made({**unknown, "board_trip_low": "25 A"}))
    assert between.outcome == "unsure" and "at most, from the stall current; 20.0 A measured" in between.facts["value"]


def test_a_start_that_nothing_can_carry_over_leaves_the_check_unsure() -> None:
    bare = made({**TIRED, "board_trip_low": "60 A", "shaft_positions": None, "old_pack_loaded_voltage": None})
    found = rule("board-trips-at-start", bare)
    assert found.outcome == "unsure" and "on the new pack it may be more" in found.facts["value"]


def test_the_question_of_the_start_shows_the_peak_reckoned_with() -> None:
    assert "start_peak" in next(q for q in questions() if q.id == "q20").evidence
