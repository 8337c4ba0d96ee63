"""Charging, warming, alarm, ageing and worth: properties, borders and refusals."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.physics import ageing, alarm, charging, thermal, worth
from buildtrack.physics.alarm import Rung


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.floats(0.2, 3), st.floats(0.1, 0.9), st.floats(0.01, 0.2), st.floats(0.1, 2))
def test_the_held_voltage_phase_can_be_cut_in_two(start_a: float, cut: float, ohm: float, slope: float) -> None:
    end_a = start_a * 0.05
    middle_a = end_a + (start_a - end_a) * cut
    for figure in (charging.voltage_hold_time_h, charging.voltage_hold_charge_ah):
        parts = figure(start_a, middle_a, ohm, slope) + figure(middle_a, end_a, ohm, slope)
        assert parts == pytest.approx(figure(start_a, end_a, ohm, slope))


def test_the_held_voltage_phase_holds_the_voltage() -> None:
    # What the current's fall takes off the resistance, the charge puts on the resting voltage.
    charge_ah = charging.voltage_hold_charge_ah(1.3, 0.05, 0.06, 0.5)
    assert charge_ah * 0.5 == pytest.approx((1.3 - 0.05) * 0.06)


@pytest.mark.parametrize("end_a", [0.0, -0.1, 1.1])
def test_the_end_current_lies_between_zero_and_the_start(end_a: float) -> None:
    with pytest.raises(ValueError, match=f"An end current of {end_a:g} A must be above 0 A"):
        charging.voltage_hold_time_h(1.0, end_a, 0.05, 0.4)
    assert charging.voltage_hold_time_h(1.0, 1.0, 0.05, 0.4) == 0.0


def test_charge_times_grow_with_capacity_and_fall_with_current() -> None:
    assert charging.constant_current_time_h(3.6, 2.0, 0.9) == pytest.approx(1.62)
    assert charging.charge_time_h(3.6, 2.0, 0.7, 0.9) == pytest.approx(2.32)
    assert charging.constant_current_time_h(3.6, 2.0, 1.0) == pytest.approx(1.8)


def test_the_leading_group_takes_what_the_lagging_ones_leave() -> None:
    assert charging.worst_group_voltage_v(16.8, 4, 4.20) == pytest.approx(4.20)
    assert charging.worst_group_voltage_v(16.8, 4, 4.19) == pytest.approx(4.23)
    assert charging.worst_group_voltage_v(4.2, 1, 3.0) == pytest.approx(4.2)


def test_the_charger_window_lies_around_the_target() -> None:
    window = charging.charger_window_v(3, tolerance_share=0.005)
    assert (window.low_v, window.target_v, window.high_v) == pytest.approx((12.537, 12.6, 12.663))


def test_charging_refuses_impossible_inputs() -> None:
    refusals: list[tuple[Callable[[], object], str]] = [
        (lambda: charging.charge_rate_per_h(1.0, 0.0), "The capacity is 0 Ah"),
        (lambda: charging.constant_current_time_h(0.0, 1.0), "The capacity is 0 Ah"),
        (lambda: charging.constant_current_time_h(2.0, 0.0), "The charge current is 0 A"),
        (lambda: charging.constant_current_time_h(2.0, 1.0, 1.01), "A share of 1.01 is outside"),
        (lambda: charging.constant_current_time_h(2.0, 1.0, 0.0), "A share of 0 is outside"),
        (lambda: charging.charge_time_h(2.0, 1.0, -0.1), "A tail of -0.1 h"),
        (lambda: charging.charge_time_out_h(4.0, 0.9), "A ratio of 0.9 is not allowed"),
        (lambda: charging.end_current_a(0.0), "The capacity is 0 Ah"),
        (lambda: charging.end_current_a(2.0, 0.0), "The end rate is 0 per hour"),
        (lambda: charging.precharge_current_a(0.0), "The fast-charge current is 0 A"),
        (lambda: charging.voltage_hold_time_constant_h(0.0, 0.4), "The resistance is 0 ohm"),
        (lambda: charging.voltage_hold_time_constant_h(0.05, 0.0), "The slope is 0 V/Ah"),
        (lambda: charging.charger_window_v(0), "0 groups is not allowed"),
        (lambda: charging.charger_window_v(3, 4.2, 1.0), "A tolerance share of 1 is outside"),
        (lambda: charging.worst_group_voltage_v(12.6, 0, 4.2), "0 groups is not allowed"),
        (lambda: charging.worst_group_voltage_v(12.6, 3, 4.2, -0.01), "A tolerance share of -0.01"),
        (lambda: charging.charge_temperature_allowance(-300.0), "below absolute zero"),
    ]
    for call, sentence in refusals:
        with pytest.raises(ValueError, match=sentence):
            call()


@pytest.mark.parametrize(
    ("degc", "allowed", "share", "volts"),
    [(-0.1, False, 0.0, None), (0.0, True, 0.5, 4.20), (10.0, True, 0.5, 4.20), (10.1, True, 1.0, 4.25),
     (45.0, True, 1.0, 4.15), (50.0, True, 1.0, 4.10), (60.0, True, 1.0, 4.10), (60.1, False, 0.0, None)],
)
def test_at_a_border_of_two_temperature_zones_the_stricter_one_holds(
    degc: float, allowed: bool, share: float, volts: float | None
) -> None:
    found = charging.charge_temperature_allowance(degc)
    assert (found.allowed, found.current_share, found.voltage_v) == (allowed, share, volts)
    assert found.source == "jeita-charging"


def test_at_a_border_of_two_rates_the_lower_one_holds_and_outside_there_is_none() -> None:
    assert [charging.sheet_rate_per_h(degc) for degc in (-0.1, 0.0, 5.0, 15.0, 55.0, 55.1)] == [
        0.0, 0.1, 0.1, 0.2, 0.5, 0.0]
    assert [charging.sheet_rate_per_h(degc, charging=False) for degc in (5.0, 45.0)] == [0.5, 1.0]


def test_a_cell_warms_from_nothing_to_its_steady_rise_and_starts_adiabatically() -> None:
    surface = thermal.cylinder_surface_m2()
    steady = thermal.steady_rise_k(1.2, surface)
    tau = thermal.time_constant_s(45.0, surface)
    assert thermal.rise_k(steady, tau, 0.0) == 0.0
    assert thermal.rise_k(steady, tau, 20 * tau) == pytest.approx(steady)
    per_second = thermal.adiabatic_rate_k_per_min(1.2, 45.0) / 60
    assert thermal.rise_k(steady, tau, 1.0) == pytest.approx(per_second, rel=0.002)


def test_thermal_refuses_impossible_inputs() -> None:
    refusals: list[tuple[Callable[[], object], str]] = [
        (lambda: thermal.cylinder_surface_m2(0.0), "The diameter is 0"),
        (lambda: thermal.cylinder_surface_m2(0.018, -1.0), "The length is -1"),
        (lambda: thermal.steady_rise_k(1.0, 0.0), "The surface is 0"),
        (lambda: thermal.steady_rise_k(1.0, 1.0, 0.0), "The heat transfer is 0"),
        (lambda: thermal.time_constant_s(0.0, 1.0), "The mass is 0"),
        (lambda: thermal.time_constant_s(45.0, 0.0), "The surface is 0"),
        (lambda: thermal.time_constant_s(45.0, 1.0, 0.0), "The specific heat is 0"),
        (lambda: thermal.time_constant_s(45.0, 1.0, 965.0, 0.0), "The heat transfer is 0"),
        (lambda: thermal.rise_k(10.0, 0.0, 1.0), "The time constant is 0"),
        (lambda: thermal.rise_k(10.0, 1.0, -1.0), "The time is -1 s"),
        (lambda: thermal.adiabatic_rise_k(1.0, 0.0), "The mass is 0"),
        (lambda: thermal.adiabatic_rise_k(1.0, 45.0, 0.0), "The specific heat is 0"),
    ]
    for call, sentence in refusals:
        with pytest.raises(ValueError, match=sentence):
            call()


GOOD_LADDER = [
    Rung("cell absolute maximum", 4.35), Rung("over-charge cut", 4.28, 0.025, 0.025), Rung("full", 4.20, 0.02, 0.02),
    Rung("alarm", 3.2, 0.05, 0.05), Rung("board cutoff", 2.9, 0.08, 0.08), Rung("cell minimum", 2.75),
]


def test_a_ladder_in_order_has_no_conflict() -> None:
    assert alarm.ladder_conflicts(GOOD_LADDER) == ()
    assert alarm.ladder_conflicts([]) == alarm.ladder_conflicts(GOOD_LADDER[:1]) == ()


def test_touching_edges_are_an_overlap_and_equal_values_a_contradiction() -> None:
    touching = [Rung("alarm", 3.0, 0.1, 0.1), Rung("board cutoff", 2.8, 0.1, 0.1)]
    assert [(found.kind, found.margin_v) for found in alarm.ladder_conflicts(touching)] == [("overlap", 0.0)]
    equal = [Rung("alarm", 2.8), Rung("board cutoff", 2.8)]
    assert [found.kind for found in alarm.ladder_conflicts(equal)] == ["contradiction"]


def test_a_rung_out_of_place_conflicts_with_every_rung_it_passed() -> None:
    broken = [*GOOD_LADDER[:3], GOOD_LADDER[3]._replace(voltage_v=2.6), *GOOD_LADDER[4:]]
    assert [(found.upper, found.lower, found.kind) for found in alarm.ladder_conflicts(broken)] == [
        ("alarm", "board cutoff", "contradiction"), ("alarm", "cell minimum", "contradiction")]


def test_only_the_facing_edges_count() -> None:
    assert alarm.margin_v(Rung("upper", 3.2, 0.1, 0.5), Rung("lower", 2.9, 0.7, 0.05)) == pytest.approx(0.15)


def test_a_negative_tolerance_is_refused() -> None:
    with pytest.raises(ValueError, match="The tolerance of alarm is negative"):
        alarm.ladder_conflicts([Rung("alarm", 3.2, -0.05, 0.05)])


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.floats(2.8, 3.8), st.floats(0, 30), st.floats(0, 0.08), st.floats(2, 3.2), st.sampled_from([0.05, 0.1, 0.2]))
def test_the_recommended_alarm_never_falls_below_its_floors(
    target_v: float, rms_a: float, worst_ohm: float, cutoff_v: float, step_v: float
) -> None:
    advice = alarm.recommended_alarm(target_v, rms_a, worst_ohm, cutoff_v, 0.1, 2.75, step_v=step_v)
    assert advice.setting_v >= max(cutoff_v + 0.4, 2.75) - 1e-8
    assert abs(advice.setting_v - advice.exact_v) <= step_v + 1e-9
    assert round(advice.setting_v / step_v) * step_v == pytest.approx(advice.setting_v)


@pytest.mark.parametrize(
    ("target_v", "cutoff_v", "minimum_v", "governed_by", "setting_v"),
    [(3.45, 2.5, 2.75, "resting target", 3.2), (3.0, 2.8, 2.75, "board cutoff", 3.2),
     (3.0, 2.3, 2.95, "cell minimum", 3.0)],
)
def test_the_recommended_alarm_says_what_governs_it(
    target_v: float, cutoff_v: float, minimum_v: float, governed_by: str, setting_v: float
) -> None:
    advice = alarm.recommended_alarm(target_v, 6.27, 0.0369, cutoff_v, 0.1, minimum_v)
    assert advice.governed_by == governed_by
    assert advice.setting_v == pytest.approx(setting_v)


def test_loaded_and_resting_voltage_undo_one_another() -> None:
    loaded = alarm.loaded_voltage_v(3.6, 12.0, 0.033)
    assert loaded == pytest.approx(3.204)
    assert alarm.resting_voltage_v(loaded, 12.0, 0.033) == pytest.approx(3.6)


@pytest.mark.parametrize(
    ("group_v", "current_a", "expected"), [(2.59, 20.0, True), (2.60, 20.0, False), (2.59, 12.0, False)]
)
def test_a_sag_trip_needs_both_a_low_group_and_a_heavy_load(group_v: float, current_a: float, expected: bool) -> None:
    assert alarm.is_sag_trip(group_v, current_a, 4.0, 2.5) is expected


def test_alarm_refuses_impossible_inputs() -> None:
    refusals: list[tuple[Callable[[], object], str]] = [
        (lambda: alarm.recommended_alarm(3.4, 6.0, 0.03, 2.5, 0.1, 2.75, step_v=0.0), "A step of 0 V"),
        (lambda: alarm.charge_between_ah(3.2, 3.1), "The cutoff at 3.1 Ah came before the alarm at 3.2 Ah"),
        (lambda: alarm.minutes_left(0.4, 0.0), "The mean current is 0 A"),
        (lambda: alarm.minutes_left(-0.4, 1.0), "The charge is -0.4 Ah"),
        (lambda: alarm.is_sag_trip(2.5, 20.0, 0.0, 2.5), "The mean current is 0 A"),
        (lambda: alarm.over_current_trip_a(0.15, 0.03, 0.0), "The sense resistance is 0 ohm"),
        (lambda: alarm.over_current_trip_a(0.15, 0.15, 0.01), "A tolerance of 0.15 V is outside"),
    ]
    for call, sentence in refusals:
        with pytest.raises(ValueError, match=sentence):
            call()


def test_days_to_a_limit_in_every_situation() -> None:
    assert ageing.days_to_limit(0.100, 0.110, 50.0, 0.150) == pytest.approx(200.0)
    assert ageing.days_to_limit(2.0, 1.5, 100.0, 1.6) == 0.0
    assert ageing.days_to_limit(0.100, 0.160, 50.0, 0.150) == 0.0
    assert ageing.days_to_limit(2.0, 2.0, 100.0, 1.6) is None
    assert ageing.days_to_limit(2.0, 2.1, 100.0, 1.6) is None


def test_either_wear_ends_a_life_and_neither_known_says_so() -> None:
    assert ageing.end_of_life_reached(0.79, None)
    assert ageing.end_of_life_reached(None, 2.1)
    assert not ageing.end_of_life_reached(0.81, None)
    assert not ageing.end_of_life_reached(None, 1.99)
    with pytest.raises(ValueError, match="Neither capacity nor resistance is known"):
        ageing.end_of_life_reached(None, None)


def test_an_idle_pack_without_drain_lasts_for_ever() -> None:
    assert ageing.idle_days(3.6, 0.5, 0.05, 0.0) == math.inf
    drain = ageing.idle_drain_ah_per_day(18e-6, 0.0015)
    assert drain == pytest.approx(0.001932)
    assert ageing.idle_days(3.6, 0.5, 0.05, drain) == pytest.approx(838.5, abs=0.1)


def test_self_discharge_halves_when_ten_degrees_colder() -> None:
    assert ageing.self_discharge_factor(10.0) == pytest.approx(0.5)
    assert ageing.self_discharge_factor(35.0, 25.0) == pytest.approx(2.0)


def test_ageing_refuses_impossible_inputs() -> None:
    refusals: list[tuple[Callable[[], object], str]] = [
        (lambda: ageing.capacity_kept_share(1.0, 0.0), "The first capacity is 0 Ah"),
        (lambda: ageing.capacity_kept_share(-1.0, 2.0), "The capacity is -1 Ah"),
        (lambda: ageing.change_per_month_share(0.0, 1.0, 30.0), "The first value is 0"),
        (lambda: ageing.fade_share_per_month(2.0, 1.9, 0.0), "0 days lie between the readings"),
        (lambda: ageing.days_to_limit(2.0, 1.9, -1.0, 1.6), "-1 days lie between the readings"),
        (lambda: ageing.idle_drain_ah_per_day(-0.001), "Neither an idle current nor a leak"),
        (lambda: ageing.idle_days(0.0, 0.5, 0.1, 0.1), "The capacity is 0 Ah"),
        (lambda: ageing.idle_days(3.0, 0.1, 0.5, 0.1), "are not in order within 0 to 1"),
        (lambda: ageing.idle_days(3.0, 0.5, 0.1, -0.1), "The drain is -0.1 Ah per day"),
        (lambda: ageing.self_discharge_factor(61.0), "61 °C is outside the allowed -20 to 60 °C"),
    ]
    for call, sentence in refusals:
        with pytest.raises(ValueError, match=sentence):
            call()


def test_an_hour_is_worth_less_than_nothing_when_buying_is_cheaper_anyway() -> None:
    assert worth.break_even_hour_value(60.0, 9.0, 55.0) < 0
    assert worth.break_even_hour_value(55.0, 9.0, 55.0) == 0.0


def test_run_times_agree() -> None:
    assert worth.runtime_h(3.6, 4.0) == pytest.approx(worth.runtime_at_power_h(3.6, 10.8, 43.2)) == pytest.approx(0.9)
    assert worth.cost_per_wh(30.0, worth.usable_energy_wh(3.6, 10.0)) == pytest.approx(30.0 / 36.0)


def test_worth_refuses_impossible_inputs() -> None:
    refusals: list[tuple[Callable[[], object], str]] = [
        (lambda: worth.usable_energy_wh(-1.0, 10.0), "neither may be negative"),
        (lambda: worth.claimed_shortfall_share(0.0, 1.0), "The claimed energy is 0 Wh"),
        (lambda: worth.runtime_h(1.0, 0.0), "The mean current is 0 A"),
        (lambda: worth.runtime_at_power_h(1.0, 10.0, 0.0), "The power is 0 W"),
        (lambda: worth.energy_used_wh(10.0, -1.0), "The time is -1 h"),
        (lambda: worth.cost_per_wh(1.0, 0.0), "The energy is 0 Wh"),
        (lambda: worth.cost_per_wh(-1.0, 1.0), "The cost is -1"),
        (lambda: worth.cost_per_year(1.0, 0.0), "The expected life is 0 years"),
        (lambda: worth.break_even_hour_value(1.0, 0.0, 2.0), "The work is 0 h"),
        (lambda: worth.break_even_hour_value(-1.0, 1.0, 2.0), "The cost of the rebuild is -1"),
        (lambda: worth.break_even_hour_value(1.0, 1.0, -2.0), "The cost of buying is -2"),
    ]
    for call, sentence in refusals:
        with pytest.raises(ValueError, match=sentence):
            call()
