"""Forecast: closed forms, scipy's integration, conservation of charge and energy, and what must hold for any pack."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from buildtrack.physics.forecast import forecast, group_states, model_band, sample
from buildtrack.physics.forecast_loads import checked_duty, constant_current, duty_charge_at, power_current_a
from buildtrack.physics.forecast_string import Group, make_string
from buildtrack.physics.ocv import make_curve
from buildtrack.physics.ocv_library import load_curve

SETTINGS = settings(derandomize=True, deadline=None, max_examples=50)
STRAIGHT = make_curve("straight", [0.0, 0.3, 1.0], [3.0, 3.36, 4.2])
NMC = load_curve("nmc811_5000")
DUTY = checked_duty([(4.0, 7.0), (1.0, 12.0), (5.0, 0.0)])

groups_strategy = st.lists(
    st.builds(
        Group,
        capacity_ah=st.floats(1.5, 6),
        curve=st.sampled_from([STRAIGHT, NMC, load_curve("nmc_2050"), load_curve("gauge_default")]),
        resistance_ohm=st.floats(0, 0.05),
        start_soc=st.floats(0.6, 1.0),
    ),
    min_size=1,
    max_size=5,
)


def test_one_group_with_a_straight_curve_ends_at_its_closed_form() -> None:
    """q = (1 - I R / 1.2) Q for U = 3.0 + 1.2 soc down to 3.0 V."""
    result = forecast([Group(2.5, STRAIGHT, 0.05)], constant_current(2.5), cutoff_v=3.0)
    assert result.delivered_ah == pytest.approx(2.2395833333, abs=1e-9)
    assert result.cutoff_s == pytest.approx(3225.0, abs=1e-6)


def test_of_three_unequal_groups_the_second_ends_it_at_the_closed_form() -> None:
    """q = (0.98 - 2.5 * 0.060 / 1.2) * 2.4 Ah = 2.052 Ah after 2954.88 s."""
    groups = [Group(2.5, STRAIGHT, 0.05), Group(2.4, STRAIGHT, 0.06, 0.98), Group(2.6, STRAIGHT, 0.05)]
    result = forecast(groups, constant_current(2.5), cutoff_v=3.0, alarm_v=3.2)
    assert (result.ended_by_group, result.ended_by) == (1, "cutoff")
    assert result.delivered_ah == pytest.approx(2.052, abs=1e-12)
    assert result.cutoff_s == pytest.approx(2954.88, abs=1e-8)
    assert result.alarm_s == pytest.approx((0.98 - (0.2 + 0.15) / 1.2) * 2.4 * 3600 / 2.5, abs=1e-8)
    assert result.left_ah == pytest.approx((2.5 - 2.052, 2.352 - 2.052, 2.6 - 2.052), abs=1e-12)


def test_constant_power_without_resistance_takes_its_closed_form_time() -> None:
    """20 W from U = 12.6 - 1.44 q down to 9.0 V: 4860 s."""
    quarter = make_curve("quarter", [0.0, 0.5, 1.0], [(12.6 - 7.2) / 4, (12.6 - 3.6) / 4, 12.6 / 4])
    result = forecast([Group(5.0, quarter)] * 4, 20.0, cutoff_v=9.0 / 4)
    assert result.delivered_ah == pytest.approx(2.5, abs=1e-9)
    assert result.cutoff_s == pytest.approx(4860.0, abs=1e-6)
    assert result.delivered_wh == pytest.approx(27.0, abs=1e-9)


@pytest.mark.parametrize("power_w", [20.0, 60.0])
def test_constant_power_over_resistance_agrees_with_scipy(power_w: float) -> None:
    groups = [Group(2.5, NMC, 0.02), Group(2.4, NMC, 0.03, 0.97), Group(2.6, NMC, 0.02)]
    result = forecast(groups, power_w, cutoff_v=3.0, alarm_v=3.3, rest_ohm=0.02)
    string = make_string(groups, 0.02)

    def current(charge: float) -> float:
        return power_current_a(power_w, string.at(string.string_emf_v, charge), string.at(string.string_ohm, charge))

    def above(charge: float, limit: float) -> float:
        states = group_states(string, charge, current(charge))
        return min(state.terminal_v for state in states) - limit

    for limit, got in ((3.3, result.alarm_s), (3.0, result.cutoff_s)):
        end = brentq(above, 1e-6, 0.999 * string.end_ah, args=(limit,), xtol=1e-12)
        breaks = [q for q in string.charge_ah if 0 < q < end]
        expected = quad(lambda q: 3600 / current(q), 0, end, points=breaks, limit=2000)[0]
        assert got == pytest.approx(expected, abs=0.01)
    solved = solve_ivp(lambda _, q: [current(min(q[0], string.end_ah)) / 3600], (0, result.cutoff_s), [0], rtol=1e-9)
    assert result.delivered_ah == pytest.approx(solved.y[0][-1], rel=1e-5)


def test_constant_current_agrees_with_scipy_events() -> None:
    groups = [Group(2.5, NMC, 0.04), Group(2.4, load_curve("nmc_2050"), 0.05, 0.97)]

    def lowest(_: float, q: Sequence[float]) -> float:
        return (
            min(
                group.curve.voltage(min(1.0, max(0.0, group.start_soc - q[0] / group.capacity_ah)))
                - 5.0 * group.resistance_ohm
                for group in groups
            )
            - 3.2
        )

    lowest.terminal = True  # type: ignore[attr-defined]
    solved = solve_ivp(lambda _, q: [5.0 / 3600], (0, 3600), [0.0], events=lowest, max_step=2.0, rtol=1e-10)
    result = forecast(groups, constant_current(5.0), cutoff_v=3.2)
    assert result.cutoff_s == pytest.approx(solved.t_events[0][0], abs=1e-3)


def test_a_duty_cycle_ends_where_stepping_through_it_ends() -> None:
    groups = [Group(2.5, NMC, 0.02), Group(2.4, NMC, 0.025, 0.97)]
    result = forecast(groups, DUTY, cutoff_v=3.0, alarm_v=3.3)
    step, time_s, charge = 0.01, 0.0, 0.0
    alarm = None
    while True:
        current = duty_charge_at(DUTY, time_s + step / 2)[1]
        charge += current * step / 3600
        time_s += step
        lowest = min(
            g.curve.voltage(max(0.0, g.start_soc - charge / g.capacity_ah)) - current * g.resistance_ohm for g in groups
        )
        alarm = time_s if alarm is None and lowest <= 3.3 else alarm
        if lowest <= 3.0:
            break
    assert result.alarm_s == pytest.approx(alarm, abs=0.05)
    assert result.cutoff_s == pytest.approx(time_s, abs=0.05)
    assert result.delivered_ah == pytest.approx(charge, abs=2e-4)


@SETTINGS
@given(groups_strategy, st.floats(0.2, 8), st.floats(2.6, 3.3), st.floats(0, 0.05))
def test_charge_and_energy_are_conserved(groups: list[Group], current: float, cutoff: float, rest: float) -> None:
    result = forecast(groups, constant_current(current), cutoff_v=cutoff, rest_ohm=rest)
    drawn = result.delivered_ah
    for group, left in zip(groups, result.left_ah, strict=True):
        assert left + drawn == pytest.approx(group.start_soc * group.capacity_ah, rel=1e-9)
    stored = 0.0
    for group in groups:
        low = max(0.0, group.start_soc - drawn / group.capacity_ah)
        breaks = [low, *(s for s in group.curve.soc_points if low < s < group.start_soc), group.start_soc]
        volts = [group.curve.voltage(s) for s in breaks]
        stored += group.capacity_ah * float(np.trapezoid(volts, breaks))
    assert result.delivered_wh + result.heat_wh == pytest.approx(stored, rel=1e-9, abs=1e-9)
    assert result.cutoff_s * current / 3600 == pytest.approx(drawn, rel=1e-12, abs=1e-12)


@SETTINGS
@given(groups_strategy, st.floats(0.5, 6), st.floats(1.01, 1.5))
def test_more_current_or_resistance_or_less_charge_never_delivers_more(
    groups: list[Group], current: float, factor: float
) -> None:
    base = forecast(groups, constant_current(current), cutoff_v=3.0).delivered_ah
    harder = forecast(groups, constant_current(current * factor), cutoff_v=3.0).delivered_ah
    worse = [Group(g.capacity_ah, g.curve, g.resistance_ohm * factor, g.start_soc) for g in groups]
    emptier = [Group(g.capacity_ah, g.curve, g.resistance_ohm, g.start_soc / factor) for g in groups]
    assert harder <= base + 1e-12
    assert forecast(worse, constant_current(current), cutoff_v=3.0).delivered_ah <= base + 1e-12
    assert forecast(emptier, constant_current(current), cutoff_v=3.0).delivered_ah <= base + 1e-12


@SETTINGS
@given(groups_strategy, st.floats(0.5, 6))
def test_the_alarm_is_never_after_the_cutoff_and_the_higher_one_is_earlier(groups: list[Group], current: float) -> None:
    early = forecast(groups, constant_current(current), cutoff_v=2.9, alarm_v=3.5)
    late = forecast(groups, constant_current(current), cutoff_v=2.9, alarm_v=3.2)
    if late.alarm_s is not None:
        assert early.alarm_s is not None
        assert early.alarm_s <= late.alarm_s <= late.cutoff_s


@SETTINGS
@given(groups_strategy, st.floats(0.5, 6))
def test_the_order_of_the_groups_changes_nothing(groups: list[Group], current: float) -> None:
    one = forecast(groups, constant_current(current), cutoff_v=3.0)
    other = forecast(groups[::-1], constant_current(current), cutoff_v=3.0)
    assert one.cutoff_s == pytest.approx(other.cutoff_s, rel=1e-12)
    assert one.delivered_wh == pytest.approx(other.delivered_wh, rel=1e-9)


@SETTINGS
@given(st.floats(1.5, 6), st.floats(0.001, 0.05), st.floats(0.3, 6), st.integers(2, 14))
def test_equal_groups_are_one_group_times_their_number(
    capacity: float, ohm: float, current: float, series: int
) -> None:
    one = forecast([Group(capacity, NMC, ohm)], constant_current(current), cutoff_v=3.0)
    many = forecast([Group(capacity, NMC, ohm)] * series, constant_current(current), cutoff_v=3.0)
    assert many.cutoff_s == pytest.approx(one.cutoff_s, rel=1e-12)
    assert many.delivered_wh == pytest.approx(series * one.delivered_wh, rel=1e-9)


@SETTINGS
@given(st.floats(1.5, 6), st.floats(0.001, 0.05), st.floats(0.3, 6))
def test_doubled_capacity_and_current_at_half_the_resistance_takes_the_same_time(
    capacity: float, ohm: float, current: float
) -> None:
    one = forecast([Group(capacity, NMC, ohm)], constant_current(current), cutoff_v=3.0)
    two = forecast([Group(2 * capacity, NMC, ohm / 2)], constant_current(2 * current), cutoff_v=3.0)
    assert two.cutoff_s == pytest.approx(one.cutoff_s, rel=1e-9)


@SETTINGS
@given(groups_strategy, st.floats(1, 300), st.floats(0.05, 0.95))
def test_a_piece_of_the_cycle_cut_in_two_changes_nothing(groups: list[Group], seconds: float, share: float) -> None:
    whole = checked_duty([(seconds, 4.0), (30.0, 1.0)])
    cut = checked_duty([(seconds * share, 4.0), (seconds * (1 - share), 4.0), (30.0, 1.0)])
    one, other = (forecast(groups, duty, cutoff_v=3.0, alarm_v=3.3) for duty in (whole, cut))
    assert other.cutoff_s == pytest.approx(one.cutoff_s, rel=1e-9)
    assert other.heat_wh == pytest.approx(one.heat_wh, rel=1e-9)


def test_resistance_that_rises_towards_empty_ends_it_earlier_and_warms_more() -> None:
    table = ((0.0, 0.126), (0.1, 0.126), (0.2, 0.0876), (0.5, 0.062), (0.8, 0.0727), (1.0, 0.0698))
    level = forecast([Group(2.73, NMC, 0.062)], constant_current(2.0), cutoff_v=3.0)
    rising = forecast([Group(2.73, NMC, resistance_table=table)], constant_current(2.0), cutoff_v=3.0)
    assert rising.cutoff_s < level.cutoff_s
    assert rising.heat_wh > level.heat_wh
    by_duty = forecast([Group(2.73, NMC, resistance_table=table)], checked_duty([(7.0, 2.0)]), cutoff_v=3.0)
    assert by_duty.heat_wh == pytest.approx(rising.heat_wh, rel=1e-9)


def test_power_that_cannot_be_delivered_is_a_result_not_a_crash() -> None:
    with pytest.raises(ValueError, match="500 W cannot be delivered from 4.200 V over 20.0 mohm"):
        forecast([Group(2.5, STRAIGHT, 0.02)], 500.0, cutoff_v=1.0)
    result = forecast([Group(2.5, STRAIGHT, 0.05)], 60.0, cutoff_v=0.5)
    assert (result.ended_by, result.ended_by_group) == ("power", None)
    end_v = 3.0 + 1.2 * result.left_ah[0] / 2.5
    assert end_v**2 == pytest.approx(4 * 0.05 * 60.0, rel=1e-9)


def test_a_curve_that_ends_above_the_cutoff_ends_the_forecast_with_a_note() -> None:
    result = forecast(
        [Group(2.0, load_curve("nmc_2050"), 0.01), Group(1.9, load_curve("nmc_2050"), 0.01)],
        constant_current(1.0),
        cutoff_v=2.5,
    )
    assert (result.ended_by, result.ended_by_group) == ("empty", 1)
    assert result.delivered_ah == pytest.approx(1.9)
    assert "the curve ends above the cutoff: the voltage falls steeply from there" in result.notes


def test_the_model_states_its_own_error_on_the_hopeful_side() -> None:
    assert (model_band(0.5), model_band(1.0)) == (0.02, 0.02)
    assert model_band(2.0) == pytest.approx(0.05)
    result = forecast([Group(2.5, NMC, 0.02)], constant_current(2.5), cutoff_v=3.0)
    assert result.band_ah == pytest.approx((0.98 * result.delivered_ah, result.delivered_ah))
    assert not result.extrapolated


def test_beyond_twice_the_logged_rate_the_forecast_is_marked() -> None:
    logged = make_curve("own", [0.0, 0.5, 1.0], [3.0, 3.7, 4.2], origin="own log", logged_rate_c=0.2)
    assert not forecast([Group(2.5, logged, 0.02)], constant_current(1.0), cutoff_v=3.1).extrapolated
    marked = forecast([Group(2.5, logged, 0.02)], constant_current(1.01), cutoff_v=3.1)
    assert marked.extrapolated
    assert "extrapolated" in marked.notes[0]


@pytest.mark.parametrize("load", [constant_current(3.0), DUTY, 30.0])
def test_samples_lie_on_the_solution_of_the_events(load: object) -> None:
    groups = [Group(2.5, NMC, 0.02), Group(2.4, NMC, 0.03)]
    result = forecast(groups, load, cutoff_v=3.1, alarm_v=3.3, rest_ohm=0.01)  # type: ignore[arg-type]
    just_after = [time_s + 1e-6 for time_s in (0.0, result.alarm_s or 0.0, result.cutoff_s)]
    points = sample(groups, load, just_after, rest_ohm=0.01)  # type: ignore[arg-type]
    for point, event in zip(points, result.events, strict=True):
        assert point.charge_ah == pytest.approx(event.charge_ah, rel=1e-6, abs=1e-8)
        if event.kind != "start":
            assert min(point.group_v) == pytest.approx(min(state.terminal_v for state in event.groups), abs=1e-4)


def test_samples_beyond_the_empty_group_are_left_out() -> None:
    assert len(sample([Group(1.0, STRAIGHT)], constant_current(1.0), [0.0, 3600.0, 3700.0])) == 2
    assert sample([Group(1.0, STRAIGHT)], 3.0, [1e9]) == ()


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: forecast([], constant_current(1.0), cutoff_v=3.0), "no groups"),
        (lambda: forecast([Group(0.0, NMC)], constant_current(1.0), cutoff_v=3.0), "group 1: capacity 0.0 Ah"),
        (
            lambda: forecast([Group(1.0, NMC, start_soc=1.1)], constant_current(1.0), cutoff_v=3.0),
            "state of charge 1.1",
        ),
        (lambda: forecast([Group(1.0, NMC, -0.1)], constant_current(1.0), cutoff_v=3.0), "below zero"),
        (lambda: forecast([Group(1.0, NMC)], constant_current(1.0), cutoff_v=[3.0, 3.0]), "2 cutoff voltages for 1"),
        (lambda: forecast([Group(1.0, NMC)], constant_current(1.0), cutoff_v=3.0, rest_ohm=-1), "rest of the path"),
        (lambda: constant_current(0.0), "the cycle draws nothing"),
        (lambda: checked_duty([(0.0, 1.0)]), "piece 1 of the cycle"),
        (lambda: checked_duty([(1.0, -1.0)]), "piece 1 of the cycle"),
        (lambda: forecast([Group(1.0, NMC)], 0.0, cutoff_v=3.0), "power 0.0 W"),
    ],
)
def test_what_cannot_be_forecast_is_refused_in_words(call: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()  # type: ignore[operator]


def test_power_current_solves_its_own_equation() -> None:
    current = power_current_a(72.0, 12.0, 0.05)
    assert (12.0 - current * 0.05) * current == pytest.approx(72.0, rel=1e-12)
    assert math.isclose(power_current_a(12.0, 12.0, 0.0), 1.0)


@SETTINGS
@given(groups_strategy, st.floats(0.2, 8), st.floats(2.6, 3.9))
def test_a_steady_resistance_ends_where_walking_along_a_level_table_of_it_ends(
    groups: list[Group], current: float, cutoff: float
) -> None:
    """The closed form against the walk over all breakpoints, two ways through the same Kirchhoff equation."""
    tabled = [
        Group(g.capacity_ah, g.curve, start_soc=g.start_soc,
              resistance_table=((0.0, g.resistance_ohm), (1.0, g.resistance_ohm)))
        for g in groups
    ]  # fmt: skip
    closed, walked = (forecast(g, constant_current(current), cutoff_v=cutoff, rest_ohm=0.01) for g in (groups, tabled))
    assert (closed.ended_by, closed.notes) == (walked.ended_by, walked.notes)
    assert closed.delivered_ah == pytest.approx(walked.delivered_ah, rel=1e-9, abs=1e-12)
    assert closed.delivered_wh == pytest.approx(walked.delivered_wh, rel=1e-9, abs=1e-9)
    assert closed.heat_wh == pytest.approx(walked.heat_wh, rel=1e-9, abs=1e-9)
