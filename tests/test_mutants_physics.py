"""Corners of the physics that nothing else walks into, each against its closed form, a sum by brute force or a refusal."""

from __future__ import annotations

import pytest

from buildtrack.physics.ampacity import ambient_factor
from buildtrack.physics.balance_end import GroupTest, diagnose_groups
from buildtrack.physics.designation import cell_designation
from buildtrack.physics.discharge import spread_of
from buildtrack.physics.forecast import forecast, model_band
from buildtrack.physics.forecast_loads import Duty, checked_duty, constant_current
from buildtrack.physics.forecast_string import Group
from buildtrack.physics.grouping import best_grouping
from buildtrack.physics.log_records import Row
from buildtrack.physics.ocv import make_curve

STRAIGHT = make_curve("straight", [0.0, 0.5, 1.0], [3.0, 3.5, 4.0])


def test_a_reference_at_the_conductors_limit_has_no_factor() -> None:
    with pytest.raises(ValueError, match="must be below"):
        ambient_factor(20.0, 70.0, 70.0)


def test_of_two_groups_each_is_told_against_the_other() -> None:
    small, sound = GroupTest(4.20, 0.05, 2.8, 3.2), GroupTest(4.20, 0.05, 3.2, 3.4)
    assert [f.kind for f in diagnose_groups([small, sound])] == ["small capacity", "cannot tell"]
    leaking = GroupTest(4.20, 0.05, 3.2, 3.4, 0.02)
    assert [f.kind for f in diagnose_groups([sound, leaking])] == ["level", "leak"]


def test_only_a_cell_thinner_than_a_millimetre_is_named_in_tenths() -> None:
    """IEC 61960-3: dimensions rounded up to whole mm; under 1 mm in tenths with a t before."""
    assert cell_designation("C", 1.5, 40.0, 30.2) == "ICP2/31/40"
    assert cell_designation("C", 0.85, 40.0, 30.2) == "ICPt9/31/40"


def test_the_spread_reaches_from_the_lowest_to_the_highest_of_three_groups() -> None:
    found = spread_of(Row(0.0, 2.0, 9.6, (3.3, 3.0, 3.25)))
    assert found is not None
    assert found.volts == pytest.approx(0.3) and (found.lowest, found.highest) == (1, 0)
    assert spread_of(Row(0.0, 2.0, 3.3, (3.3,))) is None


def test_of_two_kinds_that_may_not_be_mixed_the_better_one_fills_the_pack() -> None:
    # four cells of 1000 mAh give groups of 2000 mAh, four of 2000 mAh give 4000 mAh
    found = best_grouping([1000] * 4 + [2000] * 4, 2, 2, keep_apart=["a"] * 4 + ["b"] * 4)
    assert found.smallest_mah == 4000 and {i for group in found.groups for i in group} == {4, 5, 6, 7}
    turned = best_grouping([2000] * 4 + [1000] * 4, 2, 2, keep_apart=["a"] * 4 + ["b"] * 4)
    assert turned.smallest_mah == 4000


def test_a_resistance_of_nothing_is_taken_as_not_measured() -> None:
    found = best_grouping([2000, 1900, 1800, 1700], 2, 2, resistances_ohm=[0.0, 0.05, 0.05, 0.05])
    assert found.smallest_mah == 3700 and found.group_resistance_ohm is None


# --- forecast ---


def test_a_constant_power_that_empties_the_curve_takes_its_energy_over_the_power() -> None:
    # U falls straight from 4 V to 3 V over 2 Ah: 7 Wh, so 7 W last an hour and end at 7 W / 3 V
    result = forecast([Group(2.0, STRAIGHT)], 7.0, cutoff_v=2.0)
    assert result.ended_by == "empty" and result.ended_by_group == 0
    assert result.cutoff_s == pytest.approx(3600.0, rel=1e-6)
    assert result.delivered_ah == pytest.approx(2.0) and result.delivered_wh == pytest.approx(7.0, rel=1e-6)


@pytest.mark.parametrize(("amperes", "beyond"), [(4.0, False), (4.001, True)])
def test_the_model_was_examined_up_to_2c_and_not_beyond(amperes: float, beyond: bool) -> None:
    result = forecast([Group(2.0, STRAIGHT, 0.01)], constant_current(amperes), cutoff_v=3.2)
    assert any("extrapolated" in note for note in result.notes) == beyond


def test_the_error_of_the_model_grows_straight_from_2_to_5_per_cent() -> None:
    assert [model_band(c) for c in (0.5, 1.0, 1.5, 2.0)] == pytest.approx([0.02, 0.02, 0.035, 0.05])


def heat_by_small_steps(group: Group, duty: Duty, end_s: float, steps: int = 200_000) -> float:
    """Sum of I^2 R(soc) dt by the middle of small steps [Wh]."""
    heat, drawn, step = 0.0, 0.0, end_s / steps
    ends = [sum(t for t, _ in duty.segments[: k + 1]) for k in range(len(duty.segments))]
    for n in range(steps):
        into = (n + 0.5) * step % ends[-1]
        amperes = next(i for (_, i), end in zip(duty.segments, ends, strict=True) if into < end)
        soc = group.start_soc - (drawn + amperes * step / 7200) / group.capacity_ah
        heat += amperes**2 * group.resistance_at(soc) * step / 3600
        drawn += amperes * step / 3600
    return heat


def test_the_heat_of_a_duty_with_several_currents_over_a_changing_resistance() -> None:
    group = Group(2.0, STRAIGHT, resistance_table=((0.2, 0.20), (0.8, 0.05)))
    duty = checked_duty([(300.0, 3.0), (200.0, 1.0), (100.0, 0.0)])
    result = forecast([group], duty, cutoff_v=3.1)
    assert result.heat_wh == pytest.approx(heat_by_small_steps(group, duty, result.cutoff_s), rel=1e-4)


def test_a_table_of_resistances_is_straight_between_its_ends_and_level_beyond() -> None:
    group = Group(2.0, STRAIGHT, resistance_table=((0.2, 0.20), (0.8, 0.05)))
    assert [group.resistance_at(s) for s in (0.0, 0.2, 0.5, 0.8, 1.0)] == pytest.approx([0.2, 0.2, 0.125, 0.05, 0.05])
