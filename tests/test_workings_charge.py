"""Workings of the charge."""

from __future__ import annotations

import pytest

from buildtrack.workings import charge, charge_groups
from buildtrack.workings.values import Record, Table


def groups(*rows: dict[str, object]) -> Table:
    return Table(tuple(Record(f"g{n}", row) for n, row in enumerate(rows, 1)))


def test_rate_time_and_end_of_a_charge() -> None:
    # 1.0 A into 3.7 Ah: 0.27 C; 0.85 x 3.7 + 1.2 = 4.345 h; given up after 1.5 times that; ends at 0.05 x 3.7 = 185 mA
    assert charge.charge_c_rate(1.0, 3.7) == pytest.approx(0.2703, abs=1e-4)
    estimate = charge.charge_time_estimate(3.7, 1.0)
    assert estimate / 3600 == pytest.approx(4.345)
    assert charge.charge_time_limit(estimate, 1.5) / 3600 == pytest.approx(6.5175)
    assert charge.charge_end_current(3.7, 0.05) == pytest.approx(0.185)


def test_the_charger_is_held_against_the_groups_in_series() -> None:
    # 12.73 V against 3 x 4.20 V is 1.03 % high; the highest allowed is 12.6 x 1.01 = 12.726 V
    assert charge.charger_voltage_error(12.73, 12.6) == pytest.approx(0.01032, abs=1e-5)
    assert charge.charger_voltage_highest(3.0, 4.20, 0.01) == pytest.approx(12.726)


def test_the_leading_group_takes_what_the_lagging_ones_leave() -> None:
    # 12.73 - 2 x 4.20 = 4.33 V
    seen = groups({"at_end": 4.33}, {"at_end": 4.20}, {"at_end": 4.20})
    assert charge.worst_group_voltage(12.73, 3.0, 4.20, 0.03, seen) == pytest.approx(4.33)
    # before it is known how far they lag: 12.60 - 2 x 4.17 = 4.26 V
    assert charge.worst_group_voltage(12.60, 3.0, 4.20, 0.03) == pytest.approx(4.26)


def test_spreads_and_the_highest_group() -> None:
    table = groups({"after_5min": 3.9, "at_end": 4.19, "rested": 4.15}, {"at_end": 4.21, "rested": 4.17})
    first = groups({"at_end": 4.22})
    assert charge_groups.charge_spread_end(table) == pytest.approx(0.02)
    assert charge_groups.charge_spread_rested(table) == pytest.approx(0.02)
    assert charge_groups.highest_group_seen(table, first) == 4.22
    assert charge_groups.highest_group_seen(Table(())) is None
    assert charge_groups.charge_spread_end(groups({"at_end": 4.2})) is None


def test_a_group_that_falls_more_than_its_sisters_leaks() -> None:
    found = charge_groups.rest_drop_report(groups(
        {"at_end": 4.20, "rested": 4.16}, {"at_end": 4.20, "rested": 4.155}, {"at_end": 4.20, "rested": 4.12}))
    assert found is not None
    # falls 40, 45, 80 mV: the third is 35 mV over the middle one
    assert found.leaking == ("g3",)
    assert found.lines[2] == ("g3", "4.200 V", "4.120 V", "80 mV", "leaks")
