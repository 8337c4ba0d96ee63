"""A discharge test in figures, and forecast beside measurement with a verdict on the difference."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.physics.discharge import (
    Measured,
    Meter,
    charge_with_uncertainty,
    energy_with_uncertainty,
    evaluate,
    resistances_from_steps,
    step_resistance_ohm,
    stranded_charge,
)
from buildtrack.physics.discharge_verdict import compare
from buildtrack.physics.forecast import Forecast, forecast, sample
from buildtrack.physics.forecast_loads import constant_current
from buildtrack.physics.forecast_string import Group
from buildtrack.physics.logs import LogSummary, rows_summary
from buildtrack.physics.ocv_library import load_curve

SETTINGS = settings(derandomize=True, deadline=None, max_examples=60)
CURVE = load_curve("nmc811_5000")
EXPECTED = [Group(2.5, CURVE, 0.04), Group(2.45, CURVE, 0.04), Group(2.5, CURVE, 0.04)]


def made_log(groups: list[Group], current_a: float, cutoff_v: float, trip: bool = True) -> tuple[LogSummary, Forecast]:
    """A log as a tester would write it, from the exact solution, with a rest before and the board opening after."""
    truth = forecast(groups, constant_current(current_a), cutoff_v=cutoff_v, alarm_v=3.2)
    times = [10.0 * k for k in range(int(truth.cutoff_s / 10) + 1)] + [truth.cutoff_s]
    points = sample(groups, constant_current(current_a), times)
    rested = tuple(g.curve.voltage(g.start_soc) for g in groups)
    after = tuple(state.ocv_v for state in truth.events[-1].groups)
    time_s = [-1.0, *times, times[-1] + 1, times[-1] + 2]
    amperes = [0.0, *([current_a] * len(times)), 0.0, 0.0]
    by_group = [rested, *(p.group_v for p in points), after, after]
    volts = [sum(rested), *(p.pack_v for p in points), *([0.4, 0.1] if trip else [sum(after), sum(after)])]
    columns = [list(column) for column in zip(*by_group, strict=True)]
    start = time_s[0]
    log = rows_summary([t - start for t in time_s], amperes, volts, columns, watch_v=[3.2], watch_s=[300.0])
    return log, truth


def test_charge_and_energy_carry_gain_and_offset_of_the_meter() -> None:
    """1 mA for 10 h is 10 mAh; 1 % of 2 Ah is 20 mAh."""
    offset = charge_with_uncertainty(2.0, 36_000, Meter(current_offset_a=0.001))
    assert (offset.value, offset.uncertainty) == pytest.approx((2.0, 0.010))
    both = charge_with_uncertainty(2.0, 36_000, Meter(0.01, 0.001))
    assert both.uncertainty == pytest.approx((0.02**2 + 0.01**2) ** 0.5)
    energy = energy_with_uncertainty(22.0, 2.0, 36_000, Meter(0.01, 0.001, 0.005, 0.01))
    assert energy.uncertainty == pytest.approx((0.22**2 + 0.11**2 + 0.11**2 + 0.02**2) ** 0.5)


def test_a_made_log_gives_back_what_was_put_in() -> None:
    log, truth = made_log(EXPECTED, 2.5, 3.0)
    result = evaluate(log, alarm_v=3.2, cutoff_v=2.95, nominal_ah=2.6)
    assert result.charge.value == pytest.approx(truth.delivered_ah, rel=1e-3)
    assert result.energy.value == pytest.approx(truth.delivered_wh, rel=1e-3)
    assert (result.first_down, result.board_opened) == (1, True)
    assert result.lowest_end_v == pytest.approx(3.0, abs=1e-6)
    assert result.cutoff_error_v == pytest.approx(0.05, abs=1e-6)
    assert result.usable_share == pytest.approx(truth.delivered_ah / 2.6, rel=1e-3)
    assert result.duration_s == pytest.approx(truth.cutoff_s, abs=1)
    assert [r.resistance_ohm for r in result.group_resistance if r] == pytest.approx([0.04] * 3, rel=0.02)
    assert result.pack_resistance is not None
    assert result.pack_resistance.resistance_ohm == pytest.approx(0.12, rel=0.02)
    assert result.spread_end is not None and result.spread_end.lowest == 1
    assert result.alarm_at_s == pytest.approx((truth.alarm_s or 0) + 1, abs=10)
    assert result.alarm_to_end_ah == pytest.approx(truth.delivered_ah - (truth.event("alarm").charge_ah), abs=0.01)  # type: ignore[union-attr]
    assert result.alarm_error_v is None


def test_an_alarm_that_was_heard_has_an_error_against_its_setting() -> None:
    log, _ = made_log(EXPECTED, 2.5, 3.0)
    result = evaluate(log, alarm_v=3.2, alarm_heard_s=300.0)
    mark = next(m for m in log.marks if m.asked == "time")
    assert result.alarm_error_v == pytest.approx(min(mark.row.groups_v) - 3.2)
    assert result.alarm_at_s == mark.row.time_s


def test_a_log_the_tester_ended_does_not_show_the_board() -> None:
    log, _ = made_log(EXPECTED, 2.5, 3.0, trip=False)
    result = evaluate(log, cutoff_v=2.95)
    assert (result.board_opened, result.cutoff_error_v) == (False, None)
    # the made log adds up its groups: what the cells show behind the board cannot tell who ended the test
    assert result.notes[0].startswith("who ended the test: not told: the pack's voltage is the sum")


def test_a_log_without_groups_cannot_tell_who_was_first() -> None:
    result = evaluate(rows_summary([0, 1, 2], [2, 2, 2], [12, 11.9, 11.8]))
    assert (result.first_down, result.spread_end) == (None, None)
    assert "no group voltages in this log: it cannot tell which group went down first" in result.notes


@SETTINGS
@given(st.floats(0.001, 0.5), st.floats(0, 10), st.floats(0.2, 10), st.floats(10, 20))
def test_a_step_gives_back_its_resistance_whichever_way_it_goes(
    ohm: float, base: float, jump: float, emf: float
) -> None:
    before, after = emf - base * ohm, emf - (base + jump) * ohm
    assert step_resistance_ohm(before, after, base, base + jump) == pytest.approx(ohm, rel=1e-6)
    assert step_resistance_ohm(after, before, base + jump, base) == pytest.approx(ohm, rel=1e-6)


def test_slow_and_small_steps_are_left_out() -> None:
    log = rows_summary([0, 1, 2, 60, 61], [0, 2, 2.05, 4, 0], [12.5, 12.1, 12.09, 10.0, 12.4])
    pack, groups = resistances_from_steps(log.steps, within_s=5.0)
    assert pack is not None and pack.steps == 2
    assert (pack.lowest_ohm, pack.highest_ohm) == pytest.approx((0.2, 0.6))
    assert groups == ()
    with pytest.raises(ValueError, match="a load step is needed"):
        step_resistance_ohm(12, 11, 2, 2)


def test_stranded_charge_is_a_range_by_the_rested_voltage() -> None:
    left = stranded_charge([CURVE.voltage(0.2), CURVE.voltage(0.02)], [2.5, 2.4], CURVE, 0.002)
    assert left[0].low_ah < 0.5 < left[0].high_ah
    assert left[1].low_ah < 0.048 < left[1].high_ah
    assert stranded_charge([2.0], [2.5], CURVE)[0].note.startswith("below the curve")


EXPECTATION = forecast(EXPECTED, constant_current(2.5), cutoff_v=3.0, alarm_v=3.2)
OHMS = [0.04, 0.04, 0.04]


@pytest.mark.parametrize(
    ("groups", "kind"),
    [
        (EXPECTED, "agrees"),
        ([Group(2.2, CURVE, 0.04)] * 3, "capacity short"),
        ([Group(2.5, CURVE, 0.04), Group(1.9, CURVE, 0.04), Group(2.5, CURVE, 0.04)], "one group weak"),
        ([Group(2.5, CURVE, 0.14), Group(2.45, CURVE, 0.14), Group(2.5, CURVE, 0.14)], "resistance high"),
        ([Group(2.8, CURVE, 0.04)] * 3, "log suspicious"),
    ],
)
def test_the_verdict_names_what_was_changed(groups: list[Group], kind: str) -> None:
    log, _ = made_log(groups, 2.5, 3.0)
    verdict = compare(EXPECTATION, evaluate(log), assumed_resistance_ohm=OHMS)
    assert verdict.kind == kind
    assert verdict.difference_share == pytest.approx(log.discharged_ah / EXPECTATION.delivered_ah - 1)
    assert "forecast" in verdict.sentence


def test_a_log_with_gaps_is_suspicious_before_anything_else() -> None:
    log, _ = made_log(EXPECTED, 2.5, 3.0)
    verdict = compare(EXPECTATION, evaluate(log), gap_share=0.05)
    assert verdict.kind == "log suspicious"
    assert verdict.sentence.endswith("5 % of the charge lies in gaps of the log")


def test_the_band_reaches_below_the_forecast_only() -> None:
    log, _ = made_log(EXPECTED, 2.5, 3.0)
    result = evaluate(log)
    for share, kind in ((0.965, "agrees"), (0.955, "capacity short"), (1.015, "agrees"), (1.025, "log suspicious")):
        changed = replace(result, charge=Measured(share * EXPECTATION.delivered_ah, 0.0))
        assert compare(EXPECTATION, changed).kind == kind
