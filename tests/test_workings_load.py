"""Workings of the step load: held motor, duty cycle, start, meter range. Expectations by hand arithmetic."""

from __future__ import annotations

import math

import pytest

from buildtrack.workings import load
from buildtrack.workings.registry import sheet_of
from buildtrack.workings.values import Known, Record, Table
from tests.front import build, checklist
from tests.make import NOW


def table(*rows: dict[str, float]) -> Table:
    return Table(tuple(Record(f"r{i}", row) for i, row in enumerate(rows, 1)))


POSITIONS = table({"voltage": 1.20, "current": 3.0}, {"voltage": 0.93, "current": 3.0},
                  {"voltage": 1.02, "current": 3.0})


def test_the_lowest_shaft_position_counts() -> None:
    # by hand: 0.93 V / 3.00 A = 0.31 ohm
    assert load.locked_rotor_resistance("supply", POSITIONS) == pytest.approx(0.31)


def test_the_leads_of_the_tool_lie_in_the_path_of_a_stall() -> None:
    # by hand, readings at the motor: 0.31 + 0.02; 0.35 + 0.02; a stall of 14.5 / (0.33 + 0.19) = 27.88 A, less than 29.0
    assert load.locked_rotor_resistance("supply", POSITIONS, lead_resistance=0.02) == pytest.approx(0.33)
    assert load.locked_rotor_resistance("ohmmeter", None, 0.35, 0.02) == pytest.approx(0.37)
    assert load.stall_current_old(14.5, 0.33, 0.19) == pytest.approx(27.885, abs=5e-4)


def test_only_the_chosen_method_counts() -> None:
    assert load.locked_rotor_resistance("ohmmeter", POSITIONS, 0.5) == pytest.approx(0.5)
    assert load.locked_rotor_resistance("supply", None, 0.5) is None
    assert load.locked_rotor_resistance("ohmmeter", POSITIONS) is None
    assert load.locked_rotor_resistance("supply", table({"voltage": 1.0})) is None


def test_shaft_positions_differ_by_a_factor() -> None:
    # by hand: 1.20 / 0.93
    assert load.winding_spread(POSITIONS) == pytest.approx(1.20 / 0.93)
    assert load.winding_spread(table({"voltage": 1.0, "current": 3.0})) is None


def test_stall_on_the_old_pack_with_and_without_its_resistance() -> None:
    # by hand: 14.5 / 0.31 = 46.77; 14.5 / (0.31 + 0.19) = 29.0
    assert load.stall_current_old(14.5, 0.31) == pytest.approx(46.774, abs=5e-4)
    assert load.stall_current_old(14.5, 0.31, 0.19) == pytest.approx(29.0)


def test_a_burst_from_another_battery_is_held_against_that_battery_and_not_the_worn_pack() -> None:
    # by hand: 12.7 V / (0.240 + 0.090) ohm = 38.48 A; the old pack, 14.5 V and 0.296 ohm, would give 27.05 A
    assert load.stall_current_source(14.5, 0.240, "other battery", 0.296, 12.7, 0.090) == pytest.approx(38.4848, rel=1e-4)
    assert load.stall_current_source(14.5, 0.240, "old pack", 0.296, 12.7, 0.090) == pytest.approx(27.0522, rel=1e-4)


def test_of_another_battery_not_measured_the_stiffest_of_the_old_voltage_counts() -> None:
    assert load.stall_current_source(14.5, 0.240, "other battery", 0.296) == pytest.approx(14.5 / 0.240)


def test_a_measured_stall_is_told_as_share_of_the_computed_one() -> None:
    assert load.stall_agreement(40.0, 50.0) == pytest.approx(0.8)
    with pytest.raises(ValueError, match="above 0 A"):
        load.stall_agreement(40.0, 0.0)


def test_start_resistors_lie_in_parallel_and_the_weakest_sets_their_power() -> None:
    # by hand: 1 ohm and 1 ohm make 0.5; each takes half of the heat, so 5 W and 3 W stand 6 W together
    parts = table({"resistance": 1.0, "power": 5.0}, {"resistance": 1.0, "power": 3.0})
    assert load.start_resistor(parts) == pytest.approx(0.5)
    assert load.start_resistor_rating(parts, 0.5) == pytest.approx(6.0)
    # by hand: 1 and 3 ohm make 0.75; the 1 ohm part takes three quarters, so 3 W there stand 4 W together
    unequal = table({"resistance": 1.0, "power": 3.0}, {"resistance": 3.0, "power": 5.0})
    assert load.start_resistor_rating(unequal, 0.75) == pytest.approx(4.0)
    assert load.start_resistor_rating(table({"resistance": 1.0}), 1.0) is None
    assert load.start_resistor(table({})) is None


def test_a_start_resistor_lowers_the_first_current() -> None:
    # by hand: 12.6 / (0.31 + 0.5 + 0.09) = 14 A; 14² × 0.5 = 98 W
    assert load.start_inrush(12.6, 0.31, 0.5, 0.09) == pytest.approx(14.0)
    assert load.start_resistor_power(14.0, 0.5) == pytest.approx(98.0)
    assert load.start_inrush(12.6, 0.30) == pytest.approx(42.0)


DUTY = table({"current": 28.7, "end_current": 7.0, "seconds": 0.15}, {"current": 7.0, "seconds": 4.0},
             {"current": 12.0, "seconds": 1.0}, {"current": 0.0, "seconds": 4.85})


def test_a_duty_cycle_has_a_mean_for_run_time_and_an_rms_for_heat() -> None:
    # by hand: (2.6775 + 28 + 12) / 10 = 4.268 A; root of (53.68 + 196 + 144) / 10 = 6.274 A, ramp (a² + ab + b²) / 3
    i2t = (28.7**2 + 28.7 * 7 + 49) / 3 * 0.15 + 196 + 144
    assert load.duty_time(DUTY) == pytest.approx(10.0)
    assert load.duty_mean_current(DUTY) == pytest.approx(4.26775)
    assert load.duty_rms_current(DUTY) == pytest.approx(math.sqrt(i2t / 10))
    assert load.duty_rms_current(DUTY) == pytest.approx(6.27, abs=0.005)
    assert load.duty_peak_current(DUTY) == pytest.approx(28.7)
    assert load.duty_charge(DUTY) == pytest.approx(42.6775 / 3600)


def test_rows_that_are_not_filled_are_left_out_of_the_duty() -> None:
    half = table({"current": 5.0}, {"current": 5.0, "seconds": 2.0})
    assert load.duty_time(half) == pytest.approx(2.0)
    for working in (load.duty_time, load.duty_mean_current, load.duty_rms_current, load.duty_peak_current,
                    load.duty_charge):
        assert working(table({"current": 5.0})) is None


def test_powers_peak_range_and_supply() -> None:
    assert load.duty_power(4.27, 10.8) == pytest.approx(46.116)
    assert load.working_power(11.4, 7.0) == pytest.approx(79.8)
    assert load.working_peak(12.0, 14.0) == 14.0 and load.working_peak(12.0) == 12.0
    # by hand: 12 of 20 A
    assert load.current_range_share(7.0, 20.0, 12.0, 1.4) == pytest.approx(0.6)
    assert load.current_range_share(7.0, 20.0, 12.0, 1.4, 18.0) == pytest.approx(0.9)
    assert load.current_range_share(7.0, 20.0, 12.0, 1.4, duty_peak_current=15.0) == pytest.approx(0.75)
    # by hand: (13.0 - 12.4) / 3
    assert load.supply_resistance(13.0, 12.4, 3.0) == pytest.approx(0.2)
    with pytest.raises(ValueError, match="above 0 A"):
        load.supply_resistance(13.0, 12.4, 0.0)


def test_a_wire_becomes_a_shunt() -> None:
    # by hand: 20.1 mV / 3.00 A = 6.70 mohm
    assert load.wire_shunt_resistance(0.0201, 3.00) == pytest.approx(0.0067)


def test_the_meters_errors_are_carried_into_the_held_motor() -> None:
    # by hand, 0.93 V ± (0.5 % + 3 mV = 7.65 mV) and 3.00 A ± (1 % + 0.03 A = 0.06 A), last digits 0.5 mV and 5 mA: the
    # parts are 2.55 and 0.17 (volts), 6.20 and 0.52 (amperes) mohm; root of the sum of squares 6.73 mohm
    judged = build({"winding_method": "supply"}, instrument="hand meter")
    found = sheet_of(judged, checklist(), NOW.date()).value("locked_rotor_resistance")
    assert isinstance(found, Known)
    assert found.value == pytest.approx(0.31)
    assert found.plus_minus == pytest.approx(0.00673, abs=5e-6)
