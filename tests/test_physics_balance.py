"""Balance: charge apart by the curve's slope, time to bleed, whether it can end, and what a group suffers from."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from buildtrack.physics import balance
from buildtrack.physics.balance_end import (
    Board,
    GroupFinding,
    GroupTest,
    can_balancing_end,
    diagnose_again,
    diagnose_groups,
)
from buildtrack.physics.ocv_library import load_curve

SETTINGS = settings(derandomize=True, deadline=None, max_examples=60)
NMC = load_curve("nmc_1900")
BOARD = Board(0.060, 4.18, 0.01, 4.28, 0.03, hours_per_charge=0.75)


@SETTINGS
@given(st.floats(0.85, 0.94), st.floats(0.005, 0.05), st.floats(1, 10))
def test_a_known_difference_of_charge_is_found_again(soc: float, apart: float, capacity: float) -> None:
    rested = [NMC.voltage(soc), NMC.voltage(soc + apart)]
    low, high = balance.imbalance(rested, [capacity, capacity], NMC, 0.002)
    assert low.charge_ah == 0.0
    assert high.charge_ah == pytest.approx(apart * capacity, rel=0.1)
    assert high.low_ah is not None and high.high_ah is not None
    assert high.low_ah <= high.charge_ah <= high.high_ah  # type: ignore[operator]


def test_on_the_flat_part_the_answer_is_that_it_cannot_be_told() -> None:
    lfp = load_curve("lfp_3000")
    for answer in balance.imbalance([3.300, 3.302], [3.0, 3.0], lfp):
        assert answer.charge_ah is None
        assert answer.note.startswith("cannot tell: the curve is flat here")
    with pytest.raises(ValueError, match="cannot tell"):
        balance.charge_of_difference_ah(0.01, 0.5, 3.0)
    assert balance.imbalance([4.3, 4.1], [2.0, 2.0], NMC)[0].note.startswith("cannot tell: outside the curve")


def test_a_difference_within_the_resolution_says_so() -> None:
    assert balance.imbalance([4.100, 4.101], [2.0, 2.0], NMC, 0.002)[1].note == "within the meter's resolution"


def test_bleeding_down_a_slope_takes_the_time_scipy_finds() -> None:
    path, slope = 97.0, 0.9

    def arrived(_: float, volts: list[float]) -> float:
        return volts[0] - 4.15

    arrived.terminal = True  # type: ignore[attr-defined]
    solved = solve_ivp(lambda _, u: [-slope * u[0] / path], (0, 10), [4.20], events=arrived, rtol=1e-10, atol=1e-12)
    assert balance.bleed_time_exact_h(4.20, 4.15, path, slope) == pytest.approx(solved.t_events[0][0], rel=1e-6)


def test_half_the_duty_takes_twice_the_time() -> None:
    assert balance.balancing_time_h(0.211, 0.060, 0.5) == pytest.approx(2 * balance.balancing_time_h(0.211, 0.060))


@SETTINGS
@given(st.integers(2, 14), st.floats(3.9, 4.2), st.floats(3.9, 4.3))
def test_leading_and_lagging_add_up_to_the_charger(series: int, lagging: float, leading: float) -> None:
    charger = leading + (series - 1) * lagging
    assert balance.leading_group_v(charger, series, lagging) == pytest.approx(leading)
    assert balance.lagging_groups_v(charger, series, leading) == pytest.approx(lagging)


def test_balancing_ends_after_so_many_charges_and_hours() -> None:
    answer = can_balancing_end(BOARD, 0.211, 4.20)
    assert (answer.answer, answer.reasons) == ("yes", ())
    assert answer.bleed_h == pytest.approx(0.211 / 0.060)
    assert answer.charges == pytest.approx(0.211 / 0.045)


def test_balancing_never_ends_below_its_start_voltage() -> None:
    answer = can_balancing_end(BOARD, 0.05, 4.10)
    assert (answer.answer, answer.charges) == ("no", None)
    assert answer.reasons == ("charged to 4.100 V per group, the bleed starts at 4.170 V at the lowest",)


def test_balancing_never_ends_when_the_leak_brings_back_as_much() -> None:
    """6.3 mAh a day for 7 days is 44 mAh against 45 mAh bled per charge: just; for 8 days it is too much."""
    just = can_balancing_end(BOARD, 0.05, 4.20, leak_difference_ah_per_day=0.0063, days_between_charges=7)
    assert just.answer == "yes"
    assert just.charges == pytest.approx(0.05 / (0.045 - 0.0441))
    late = can_balancing_end(BOARD, 0.05, 4.20, leak_difference_ah_per_day=0.0063, days_between_charges=8)
    assert late.answer == "no"
    assert late.reasons[0].startswith("50 mAh come back between charges, 45 mAh are bled")


def test_a_difference_of_capacity_is_never_bled_away() -> None:
    assert can_balancing_end(BOARD, 0.05, 4.20, capacity_differs=True).answer == "no"


def test_tolerances_that_decide_make_it_unsure() -> None:
    early_trip = Board(0.06, 4.20, 0.03, 4.23, 0.02, 0.75)
    answer = can_balancing_end(early_trip, 0.05, 4.25)
    assert answer.answer == "unsure"
    assert answer.reasons == ("the over-charge trip may come at 4.210 V, before the bleed",)
    assert can_balancing_end(Board(0.06, 4.20, 0.03, 4.30, 0.02, 0.75), 0.05, 4.20).answer == "unsure"
    assert can_balancing_end(Board(0.06, 4.20, 0.01, 4.10, 0.02, 0.75), 0.05, 4.20).answer == "no"


LEVEL = GroupTest(4.18, 0.036, 3.00, 3.45)


@pytest.mark.parametrize(
    ("odd", "kind"),
    [
        (LEVEL, "level"),
        (GroupTest(4.20, 0.036, 2.60, 3.30), "small capacity"),
        (GroupTest(4.12, 0.036, 2.60, 3.30), "under-charged"),
        (GroupTest(4.22, 0.036, 3.20, 3.52), "over-charged"),
        (GroupTest(4.18, 0.060, 2.70, 3.45), "high resistance"),
        (GroupTest(4.18, 0.036, 3.00, 3.45, 0.012), "leak"),
        (GroupTest(4.10, 0.036, 3.20, 3.45), "cannot tell"),
    ],
)
def test_the_place_of_a_group_at_both_ends_tells_what_it_suffers_from(odd: GroupTest, kind: str) -> None:
    found = diagnose_groups([LEVEL, odd, LEVEL])
    assert found[1].kind == kind
    assert [found[0].kind, found[2].kind] == ["level", "level"]


def test_a_second_test_after_a_balance_charge_tells_drift_from_leak_and_weak() -> None:
    under, level, small = (GroupFinding(kind, "") for kind in ("under-charged", "level", "small capacity"))
    again = diagnose_again([under, under, small, level], [level, under, small, level])
    assert [found.kind for found in again] == ["drift", "leak", "small capacity", "level"]


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: balance.bleed_current_a(4.2, 0.0), "bleed path of 0.0 ohm"),
        (lambda: balance.balancing_time_h(0.1, 0.0), "current above zero"),
        (lambda: balance.balancing_time_h(0.1, 0.1, 1.1), "duty up to 1"),
        (lambda: balance.bleed_time_exact_h(4.1, 4.2, 100, 0.9), "from above to"),
        (lambda: balance.charge_between_ah(4.2, 4.1, 0.0), "slope 0.0"),
        (lambda: balance.maintenance_current_a([0.1], 0.0), "share of time 0.0"),
        (lambda: balance.lagging_groups_v(4.2, 1, 4.2), "at least 2"),
        (lambda: balance.leading_group_v(4.2, 0, 4.2), "at least 1"),
        (lambda: diagnose_groups([LEVEL]), "at least two groups"),
    ],
)
def test_what_cannot_be_is_refused_in_words(call: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()  # type: ignore[operator]
