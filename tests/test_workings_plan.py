"""Workings of the step plan: meters beside each other, tester beside meter, planned cost."""

from __future__ import annotations

import pytest

from buildtrack.workings import plan
from buildtrack.workings.values import Record, Table


def meters(*readings: tuple[str, float]) -> Table:
    rows = (Record(f"k{i}", {"meter": meter, "reading": value}) for i, (meter, value) in enumerate(readings))
    return Table(tuple(rows))


def test_meters_differ_by_the_highest_minus_the_lowest_mean() -> None:
    # by hand: (4.000 + 4.002) / 2 = 4.001; 4.031 - 4.001 = 0.030
    table = meters(("a", 4.000), ("a", 4.002), ("b", 4.031), ("c", 4.010))
    assert plan.meter_disagreement(table) == pytest.approx(0.030)


def test_one_meter_alone_says_nothing() -> None:
    assert plan.meter_disagreement(meters(("a", 4.0), ("a", 4.1))) is None
    assert plan.meter_offsets(meters(("a", 4.0))) is None


def test_each_meter_is_shown_beside_the_median_of_three() -> None:
    # by hand: median of 4.000, 4.010, 4.050 is 4.010
    offsets = plan.meter_offsets(meters(("a", 4.000), ("b", 4.010), ("c", 4.050)))
    assert offsets is not None
    assert [m.offset_v for m in offsets.meters] == pytest.approx([-0.010, 0.0, 0.040])
    assert offsets.lines[2] == ("c", "4.050 V", "+40.0 mV")
    assert len(offsets.head) == 3 and "3 meters" in offsets.summary


def test_a_meter_without_a_name_counts_as_its_row() -> None:
    table = Table((Record("k1", {"reading": 4.0}), Record("k2", {"reading": 4.02}), Record("k3", {"meter": "c"})))
    assert plan.meter_disagreement(table) == pytest.approx(0.02)


def test_the_current_factor_is_true_current_over_shown_current() -> None:
    # by hand: 0.93 / 1.00
    assert plan.current_factor(0.93, 1.00) == pytest.approx(0.93)
    with pytest.raises(ValueError, match="above 0 A"):
        plan.current_factor(0.93, 0.0)


def test_planned_cost_is_compared_with_the_cheaper_bought_pack() -> None:
    # by hand: 24.5 / 35 = 0.7; 24.5 / 28 = 0.875
    assert plan.planned_share(24.5, 35.0) == pytest.approx(0.7)
    assert plan.planned_share(24.5, 35.0, 28.0) == pytest.approx(0.875)
    assert plan.planned_share(50.0, None, 35.0) == pytest.approx(50 / 35), "the original is no longer sold"
    assert plan.planned_share(50.0) is None
    with pytest.raises(ValueError, match="price"):
        plan.planned_share(24.5, 0.0)
