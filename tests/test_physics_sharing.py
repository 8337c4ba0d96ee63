"""Shared currents and joining: against Kirchhoff's laws solved another way, and against scipy's integration."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from buildtrack.physics import sharing, sharing_joining

SETTINGS = settings(derandomize=True, deadline=None, max_examples=60)
ohms = st.lists(st.floats(0.005, 0.3), min_size=1, max_size=8)


@SETTINGS
@given(ohms)
def test_shares_add_up_to_one_and_follow_conductance(resistances: list[float]) -> None:
    shares = sharing.current_shares(resistances)
    assert sum(shares) == pytest.approx(1, rel=1e-12)
    for resistance, share in zip(resistances, shares, strict=True):
        assert share * resistance == pytest.approx(sharing.group_resistance_ohm(resistances), rel=1e-12)


@SETTINGS
@given(ohms, st.floats(0.1, 40))
def test_group_currents_solve_the_same_equations_as_a_matrix(resistances: list[float], load: float) -> None:
    emf = [3.6 + 0.01 * k for k in range(len(resistances))]
    count = len(resistances)
    matrix, right = np.zeros((count + 1, count + 1)), np.zeros(count + 1)
    for k, resistance in enumerate(resistances):
        matrix[k, k], matrix[k, count], right[k] = resistance, 1, emf[k]
    matrix[count, :count], right[count] = 1, load
    expected = np.linalg.solve(matrix, right)
    voltage, currents = sharing.group_currents_a(emf, resistances, load)
    assert voltage == pytest.approx(expected[count], rel=1e-9)
    assert list(currents) == pytest.approx(list(expected[:count]), rel=1e-7, abs=1e-7)


@SETTINGS
@given(ohms.filter(lambda values: len(values) > 1))
def test_no_cell_exceeds_its_rating_at_the_allowance_and_one_reaches_it(resistances: list[float]) -> None:
    rated = [5.0 + k for k in range(len(resistances))]
    allowance = sharing.group_allowance(rated, resistances)
    loads = [share * allowance.current_a for share in allowance.shares]
    assert all(load <= rating * (1 + 1e-9) for load, rating in zip(loads, rated, strict=True))
    assert loads[allowance.limiting_cell] == pytest.approx(rated[allowance.limiting_cell], rel=1e-9)
    assert allowance.current_a <= sum(rated) * (1 + 1e-9)


def test_unequal_cells_carry_less_than_their_number_times_the_rating() -> None:
    allowance = sharing.group_allowance([10.0, 10.0], [0.045, 0.080])
    assert (allowance.limiting_cell, allowance.limiting_by_name) == (0, 20.0)
    assert allowance.current_a == pytest.approx(15.625)


def test_share_drifts_from_conductance_to_capacity_as_scipy_has_it() -> None:
    (r1, b1), (r2, b2), load = (0.045, 0.5), (0.080, 0.4), 5.0

    def rate(_: float, charge: list[float]) -> list[float]:
        emf = [4.0 - b1 * charge[0] / 3600, 4.0 - b2 * charge[1] / 3600]
        voltage = (emf[0] / r1 + emf[1] / r2 - load) / (1 / r1 + 1 / r2)
        return [(emf[0] - voltage) / r1, (emf[1] - voltage) / r2]

    for time_s in (1.0, 300.0, 3000.0):
        solved = solve_ivp(rate, (0, time_s), [0, 0], rtol=1e-10, atol=1e-10)
        expected = rate(0, [solved.y[0][-1], solved.y[1][-1]])[0] / load
        assert sharing.two_cell_share_at(time_s, (r1, b1), (r2, b2)) == pytest.approx(expected, rel=1e-6)
    assert sharing.two_cell_share_at(0, (r1, b1), (r2, b2)) == pytest.approx(sharing.current_shares([r1, r2])[0])


def test_two_joined_cells_meet_as_scipy_has_it() -> None:
    first, second, link = (4.10, 0.06, 0.5), (3.95, 0.08, 0.4), 0.1
    course = sharing_joining.join_two(first, second, link)
    loop = 0.06 + 0.08 + link

    def rate(_: float, state: list[float]) -> list[float]:
        current = (state[0] - state[1]) / loop
        return [-0.5 * current / 3600, 0.4 * current / 3600, current / 3600, current**2 * loop / 3600]

    solved = solve_ivp(rate, (0, course.agreed_after_s), [4.10, 3.95, 0, 0], rtol=1e-10, atol=1e-12)
    assert solved.y[0][-1] - solved.y[1][-1] == pytest.approx(0.010, abs=1e-8)
    assert solved.y[2][-1] == pytest.approx(course.charge_ah, rel=1e-7)
    assert solved.y[3][-1] == pytest.approx(course.heat_wh, rel=1e-7)
    assert course.link_heat_wh == pytest.approx(course.heat_wh * link / loop)
    assert course.inrush_a == pytest.approx(0.15 / loop)


def test_joining_two_as_a_group_gives_the_closed_form() -> None:
    cells = [(4.10, 0.06, 0.5), (3.95, 0.08, 0.4)]
    group = sharing_joining.join_group(cells)
    pair = sharing_joining.join_two(cells[0], cells[1])
    assert group.agreed_after_s == pytest.approx(pair.agreed_after_s, rel=2e-3)
    assert group.currents_a[0] == pytest.approx(pair.inrush_a)
    assert sum(group.currents_a) == pytest.approx(0, abs=1e-12)


def test_three_joined_cells_meet_as_scipy_has_it() -> None:
    cells = [(4.15, 0.05, 0.5), (4.00, 0.07, 0.45), (3.90, 0.06, 0.6)]
    group = sharing_joining.join_group(cells)

    def rate(_: float, emf: list[float]) -> list[float]:
        currents = sharing.group_currents_a(emf, [r for _, r, _ in cells], 0.0)[1]
        return [-b * i / 3600 for (_, _, b), i in zip(cells, currents, strict=True)]

    solved = solve_ivp(rate, (0, group.agreed_after_s), [e for e, _, _ in cells], rtol=1e-10, atol=1e-12)
    assert max(solved.y[:, -1]) - min(solved.y[:, -1]) == pytest.approx(0.010, rel=2e-3)
    later = solve_ivp(rate, (0, 20_000), [e for e, _, _ in cells], rtol=1e-10, atol=1e-12)
    assert list(later.y[:, -1]) == pytest.approx([group.meeting_v] * 3, abs=1e-6)


def test_cells_that_agree_need_no_time() -> None:
    assert sharing_joining.time_to_agree_s(0.010, 0.1, 0.5) == 0.0
    assert sharing_joining.time_to_agree_s(-0.02, 0.1, 0.5) == sharing_joining.time_to_agree_s(0.02, 0.1, 0.5) > 0
    assert sharing_joining.join_group([(4.0, 0.05, 0.5), (4.005, 0.05, 0.5)]).agreed_after_s == 0.0


def test_a_flat_curve_gives_no_time() -> None:
    with pytest.raises(ValueError, match="on a flat curve the time cannot be told"):
        sharing_joining.time_to_agree_s(0.1, 0.1, 0.0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sharing.group_resistance_ohm([]), "no resistance given"),
        (lambda: sharing.current_shares([0.05, 0.0]), "resistance 2 is 0.0"),
        (lambda: sharing.pack_resistance_ohm([0.05], -0.1), "cannot be below zero"),
        (lambda: sharing.group_allowance([0.0], [0.05]), "rated current 1 is 0.0"),
        (lambda: sharing_joining.inrush_current_a(4.0, 3.9, 0.0), "must be above zero"),
        (lambda: sharing_joining.join_group([(4.0, 0.05, 0.5)]), "at least two cells"),
    ],
)
def test_what_cannot_be_is_refused_in_words(call: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()  # type: ignore[operator]
