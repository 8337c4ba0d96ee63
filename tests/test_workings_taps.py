"""Tap readings of the free connector and what they mean."""

from __future__ import annotations

import pytest

from buildtrack.workings.taps import tap_count, tap_report
from buildtrack.workings.values import Record, Table


def taps(*volts: float | None, spread: dict[str, float] | None = None) -> Table:
    return Table(tuple(
        Record(f"B{n}", {} if v is None else {"voltage": v}, {"voltage": spread} if spread else {})
        for n, v in enumerate(volts)))


def test_there_is_one_tap_more_than_groups() -> None:
    assert tap_count(3.0) == 4.0


def test_rising_by_one_group_each_is_right() -> None:
    found = tap_report(taps(0.0, 3.71, 7.42, 11.13), 3.0, 3.0, 4.2)
    assert found is not None and found.right
    assert found.lines[2] == ("B2", "7.420 V", "+3.710 V")
    assert "meter assumed" in found.summary


def test_b0_counts_as_nothing_where_it_was_not_entered_and_others_are_waited_for() -> None:
    right = tap_report(taps(None, 3.71, 7.42, 11.13), 3.0, 3.0, 4.2)
    assert right is not None and right.right
    assert tap_report(taps(0.0, 3.71, None, 11.13), 3.0, 3.0, 4.2) is None
    assert tap_report(taps(0.0, 3.71), 3.0, 3.0, 4.2) is None


@pytest.mark.parametrize(("volts", "said"), [
    ((0.0, 7.42, 3.71, 11.13), "B1 and B2 are swapped"),
    ((0.0, 3.71, 3.71, 11.13), "B2 sits on the point of B1"),
    ((0.0, 3.71, 0.02, 11.13), "B2 reads 0.020 V although its neighbours are right"),
    ((0.0, -3.71, 0.0, 3.71), "group 1 is the wrong way round"),
    ((0.0, 3.71, 6.11, 9.82), "group 2 reads 2.400 V"),
])
def test_each_fault_is_named(volts: tuple[float, ...], said: str) -> None:
    # Kirchhoff: exactly these readings follow from 3.71 V groups with the one fault named
    found = tap_report(taps(*volts), 3.0, 3.0, 4.2)
    assert found is not None and not found.right
    assert said in found.summary


def test_the_meter_of_the_readings_decides_how_much_a_step_may_be_off() -> None:
    # 2.97 V is under the 3.0 V window: within a meter of 1 % + 30 mV, outside one of 1 mV
    coarse = tap_report(taps(0.0, 2.97, spread={"m voltage scale": 0.0297, "m voltage v offset": 0.03}), 1.0, 3.0, 4.2)
    fine = tap_report(taps(0.0, 2.97, spread={"last digit of taps B1 voltage": 0.001}), 1.0, 3.0, 4.2)
    assert coarse is not None and coarse.right and coarse.gain == pytest.approx(0.01)
    assert fine is not None and not fine.right and not fine.meter_assumed
