"""The allowed ends of ranges: what is exactly at a border is accepted, whatever lies beyond is refused elsewhere."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from buildtrack.physics import (
    ageing,
    alarm,
    ampacity,
    charging,
    circuit,
    conductors,
    duty,
    fuse_pulses,
    fuses,
    motor,
    old_pack,
    screening,
    thermal,
    transport,
    uncertainty,
    worth,
)

ALLOWED: list[tuple[str, Callable[[], float], float]] = [
    ("no current asks for no rating", lambda: fuses.minimum_rating_a(0.0), 0.0),
    ("a pulse of no length heats nothing", lambda: fuse_pulses.pulse_i2t_a2s(30.0, 0.0), 0.0),
    ("a single pulse is a pulse", lambda: fuse_pulses.pulse_share_allowed(1), 0.48),
    ("the coldest ambient", lambda: ampacity.ambient_factor(-40.0), math.sqrt(110 / 40)),
    ("the coldest metal", lambda: conductors.temperature_factor(-55.0), 1 - 0.00393 * 75),
    ("the hottest metal", lambda: conductors.temperature_factor(250.0), 1 + 0.00393 * 230),
    ("a strip of no length", lambda: conductors.strip_resistance_ohm("nickel", 8, 0.15, 0.0), 0.0),
    ("a charge without a tail", lambda: charging.charge_time_h(2.0, 1.0, 0.0), 1.7),
    ("a time-out at the expected time", lambda: charging.charge_time_out_h(4.0, 1.0), 4.0),
    ("an exact charger", lambda: charging.charger_window_v(2, 4.2, 0.0).high_v, 8.4),
    ("an exact charger and no lag", lambda: charging.worst_group_voltage_v(8.4, 2, 4.2, 0.0), 4.2),
    ("nothing left", lambda: alarm.minutes_left(0.0, 4.0), 0.0),
    ("alarm and cutoff together", lambda: alarm.charge_between_ah(3.2, 3.2), 0.0),
    ("an exact detector", lambda: alarm.over_current_trip_a(0.15, 0.0, 0.01).lowest_a, 15.0),
    ("an empty pack has no energy", lambda: worth.usable_energy_wh(0.0, 10.8), 0.0),
    ("no voltage, no energy", lambda: worth.usable_energy_wh(3.0, 0.0), 0.0),
    ("no time, no energy", lambda: worth.energy_used_wh(10.0, 0.0), 0.0),
    ("a gift costs nothing", lambda: worth.cost_per_wh(0.0, 30.0), 0.0),
    ("a gift costs nothing a year", lambda: worth.cost_per_year(0.0, 2.0), 0.0),
    ("a free rebuild", lambda: worth.break_even_hour_value(0.0, 4.0, 20.0), 5.0),
    ("a free new pack", lambda: worth.break_even_hour_value(20.0, 4.0, 0.0), -5.0),
    ("an empty battery for the label", lambda: transport.nominal_energy_wh(18.0, 0.0), 0.0),
    ("no voltage on the label", lambda: transport.nominal_energy_wh(0.0, 5.0), 0.0),
    ("a label of nothing", lambda: transport.label_energy_wh(0.0), 0),
    ("a dead cell kept nothing", lambda: screening.capacity_kept_share(0.0, 2.0), 0.0),
    ("no days, no drift", lambda: screening.group_self_discharge_difference_mah([1.0, 3.0], 0.0), 0.0),
    ("a dead pack kept nothing", lambda: ageing.capacity_kept_share(0.0, 2.0), 0.0),
    ("nothing on, no drain", lambda: ageing.idle_drain_ah_per_day(0.0, 0.0), 0.0),
    ("already at the stop", lambda: ageing.idle_days(3.0, 0.05, 0.05, 0.01), 0.0),
    ("from full to empty", lambda: ageing.idle_days(3.0, 1.0, 0.0, 0.01), 300.0),
    ("the coldest store", lambda: ageing.self_discharge_factor(-20.0), 2**-4),
    ("the warmest store", lambda: ageing.self_discharge_factor(60.0), 2**4),
    ("first reading at the limit", lambda: ageing.days_to_limit(1.6, 1.5, 10.0, 1.6) or 0.0, 0.0),
    ("last reading at the limit", lambda: ageing.days_to_limit(2.0, 1.6, 10.0, 1.6) or 0.0, 0.0),
    ("a pulse train that is never on", lambda: duty.rms_of_pulse_train_a(20.0, 0.0), 0.0),
    ("a segment of no length", lambda: duty.mean_current_a([duty.steady(9.0, 0.0), duty.steady(3.0, 2.0)]), 3.0),
    ("a nickel pack of no capacity", lambda: old_pack.energy_when_new_wh(10, 0.0), 0.0),
    ("no charge, no factor", lambda: old_pack.charge_factor(0.0, 0.0), 0.0),
    ("one nickel cell", lambda: old_pack.nominal_voltage_v(1), 1.2),
    ("a label 0.3 V off", lambda: old_pack.cells_of_nominal_voltage(14.7), 12),
    ("no spread, no half-width", lambda: uncertainty.rectangular(0.0), 0.0),
    ("no uncertainty, no expansion", lambda: uncertainty.expanded(0.0, 0.0), 0.0),
    ("a rise after no time", lambda: thermal.rise_k(20.0, 700.0, 0.0), 0.0),
    ("no torque is allowed", lambda: motor.speed_at_torque(0.0, 2.0, 400.0), 400.0),
    ("a limit equal to the stall", lambda: motor.series_resistor_for_limit_ohm(18.0, 90.0, 0.15, 0.05), 0.0),
    ("a locked rotor at half an ampere", lambda: motor.winding_resistance_ohm(0.15, 0.5), 0.3),
    ("a motor running on half an ampere", lambda: motor.motor_resistance_from_running_ohm(6.0, 5.9, 0.5), 0.2),
    ("a loss at half an ampere", lambda: motor.resistance_from_loss_ohm(3.0, 2.5, 0.5), 2.0),
    ("a limit of half an ampere", lambda: motor.series_resistor_for_limit_ohm(0.5, 0.5, 0.4), 0.6),
    ("a stall in half an ohm", lambda: motor.stall_current_a(1.0, 0.5), 2.0),
    ("a lift in half a second", lambda: motor.lifting_power_w(10.0, 1.0, 0.5), 20.0),
    ("a joint at half an ampere", lambda: circuit.joint_resistance_ohm(0.001, 0.5), 0.002),
    ("a charge at half an ampere", lambda: circuit.charging_resistance_ohm(4.0, 4.1, 0.5), 0.2),
    ("a shunt for less than an ampere", lambda: circuit.shunt_continuous_a(0.6), 0.6 * 0.6667),
    ("a range below one", lambda: circuit.share_of_range(0.1, 0.2), 0.5),
    ("half a second", lambda: circuit.average_current_a(1.0, 0.5), 2.0),
    ("a cell of half an ampere-hour", lambda: ageing.capacity_kept_share(0.4, 0.5), 0.8),
    ("an empty battery is a small one", lambda: transport.battery_class(0.0).upper_wh or -1.0, 100.0),
    ("an empty battery flies", lambda: float(transport.passenger_rule(0.0) == "free"), 1.0),
    ("a fuse of less than an ampere", lambda: fuses.fuse_state(0.7, 0.5, "ul248_14").within_s or -1.0, 3600.0),
    ("half a volt breaks no group of a volt", lambda: fuses.largest_series_for_voltage(0.5, 1.0), 0),
    ("half a volt breaks two groups of less", lambda: fuses.largest_series_for_voltage(0.5, 0.25), 2),
    ("the standard's full charge", lambda: old_pack.charge_factor(), 1.6),
    ("a source without resistance", lambda: duty.cycle_energy_wh([duty.steady(10.0, 36.0)], 18.0), 1.8),
    ("a triangle needs no base", lambda: fuse_pulses.pulse_i2t_a2s(30.0, 0.1, "trapezoid"), 30.0),
    ("two readings scatter", lambda: uncertainty.standard_uncertainty_of_mean([1.0, 3.0]), 1.0),
    ("a meter of two digits", lambda: uncertainty.limit_of_error(1.0, resolution=0.1), 0.0),
    ("a percentage of no range", lambda: uncertainty.limit_of_error(1.0, percent_of_range=0.1), 0.0),
    ("one ohm of supply", lambda: circuit.ohms_law_current_a(5.0, 1.0), 5.0),
]


@pytest.mark.parametrize(("call", "expected"), [row[1:] for row in ALLOWED], ids=[row[0] for row in ALLOWED])
def test_a_value_at_the_border_is_allowed(call: Callable[[], float], expected: float) -> None:
    assert call() == pytest.approx(expected, abs=1e-12)


def test_every_term_of_an_accuracy_statement_counts() -> None:
    terms = uncertainty.limit_of_error(8.0, 0.5, 4, 0.01, 0.2, 20.0)
    assert terms == pytest.approx(0.04 + 0.04 + 0.04)
    assert uncertainty.limit_of_error(8.0, percent_of_reading=0.5) == pytest.approx(0.04)
    assert uncertainty.limit_of_error(8.0, percent_of_range=0.2, full_scale=20.0) == pytest.approx(0.04)
    assert uncertainty.limit_of_error(8.0) == 0.0


def test_the_policy_defaults_of_arguments_are_those_of_the_table() -> None:
    assert alarm.is_sag_trip(2.599, 12.1, 4.0, 2.5) and not alarm.is_sag_trip(2.601, 12.1, 4.0, 2.5)
    assert not alarm.is_sag_trip(2.599, 12.0, 4.0, 2.5)
    assert charging.charge_time_h(2.0, 1.0) == pytest.approx(0.85 * 2.0 + 1.2)
    assert fuses.minimum_rating_in_heat_a(0.7, 1.0) == pytest.approx(1.0)
    assert fuses.minimum_rating_in_heat_a(0.7, 1.2) == pytest.approx(1 / 1.2)


def test_an_exact_limit_of_error_keeps_correlations_of_one_possible() -> None:
    value, spread = uncertainty.propagate_correlated(
        lambda a, b: a - b, (5.0, 2.0), (0.05, 0.05), [[1.0, 1.0], [1.0, 1.0]])
    assert value == 3.0
    assert spread == pytest.approx(0.0, abs=1e-9)


def test_an_alarm_whose_target_meets_its_floor_is_governed_by_the_target() -> None:
    advice = alarm.recommended_alarm(3.0, 0.0, 0.0, 2.6, 0.1, 2.75)
    assert (advice.governed_by, advice.exact_v, advice.setting_v) == ("resting target", 3.0, 3.0)


def test_board_and_cell_floors_that_are_equal_name_the_board() -> None:
    advice = alarm.recommended_alarm(2.5, 0.0, 0.0, 2.5, 0.0, 2.8)
    assert advice.governed_by == "board cutoff"
    assert advice.setting_v == pytest.approx(2.8)


@pytest.mark.parametrize(("rating_a", "earliest_s"), [(3.15, 0.095), (4.0, 0.150)])
def test_a_gates_rating_band_begins_at_its_first_rating(rating_a: float, earliest_s: float) -> None:
    assert fuses.fuse_state(4 * rating_a, rating_a, "iec60127_2_5").earliest_s == earliest_s


def test_either_voltage_of_zero_is_refused() -> None:
    for fuse_v, group_v in ((0.0, 4.2), (32.0, 0.0), (-32.0, 4.2)):
        with pytest.raises(ValueError, match="Both voltages must be above 0 V"):
            fuses.largest_series_for_voltage(fuse_v, group_v)


def test_a_winding_that_vanishes_behind_its_leads_is_refused() -> None:
    with pytest.raises(ValueError, match="The winding comes out as 0 ohm"):
        motor.winding_resistance_ohm(1.0, 2.0, 0.5)
