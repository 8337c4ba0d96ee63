"""Workings of the step cells: what two rest readings, a capacity and a resistance say of a salvaged cell."""

from __future__ import annotations

import pytest

from buildtrack.physics import screening
from buildtrack.workings import cells, cells_curve, cells_facts, cells_report, cells_rest
from buildtrack.workings.cells import CellTally
from buildtrack.workings.cells_facts import CellFacts, Limits
from buildtrack.workings.registry import sheet_of
from buildtrack.workings.values import Known, Record, Table, WithSpread
from tests.front import build, checklist, sheet, value
from tests.front import cells as candidates
from tests.make import NOW

LOADS = {"dc_voltage_1": 4.05, "dc_current_1": 0.5, "dc_voltage_2": 3.93, "dc_current_2": 2.0}
LIMITS = Limits(3.3, 3.0, 2.5, 2.0, 10.0, 45.0, 0.010, 0.020, 0.050, 0.8, 0.7, 0.6, 1.5, 0.120, 1.0, 3.0)


def row(**values: object) -> Record:
    return Record("c01", values)


def facts(**values: object) -> CellFacts:
    return cells_facts.facts_of(row(**values), LIMITS, None, 21.0, 1.0)


def test_resistance_comes_from_two_loads() -> None:
    # IEC 61960-3: R = (U1 - U2) / (I2 - I1); by hand (4.05 - 3.93) / (2.0 - 0.5) = 80 mohm
    ohm, reason = cells_facts.dc_resistance(row(**LOADS))
    assert ohm == pytest.approx(0.080) and reason == ""
    swapped = row(dc_voltage_2=4.05, dc_current_2=0.5, dc_voltage_1=3.93, dc_current_1=2.0)
    assert cells_facts.dc_resistance(swapped)[0] == pytest.approx(0.080)


def test_two_loads_win_over_a_stated_value_and_an_alternating_one_is_never_used() -> None:
    stated = {"resistance": 0.060, "resistance_method": "dc"}
    assert cells_facts.dc_resistance(row(**stated))[0] == pytest.approx(0.060)
    assert cells_facts.dc_resistance(row(**stated, **LOADS))[0] == pytest.approx(0.080)
    assert cells_facts.dc_resistance(row(resistance=0.040, resistance_method="ac")) == (None, "")
    assert cells_facts.ac_resistance(row(resistance=0.040, resistance_method="ac")) == 0.040
    assert cells_facts.dc_resistance(row(resistance=0.040)) == (None, "")


def test_loads_that_make_no_sense_are_told() -> None:
    same = row(dc_voltage_1=4.05, dc_current_1=1.0, dc_voltage_2=4.0, dc_current_2=1.0)
    rising = row(dc_voltage_1=3.9, dc_current_1=0.5, dc_voltage_2=4.0, dc_current_2=2.0)
    assert "same current" in cells_facts.dc_resistance(same)[1]
    assert "rises" in cells_facts.dc_resistance(rising)[1]
    assert facts(resistance=-0.05, resistance_method="dc").doubts == ("the resistance must be above 0",)


def test_coarse_steps_of_the_meter_leave_seven_milliohms_open() -> None:
    # by hand: 80 mohm at 1.5 A from readings in 10 mV steps: ± 5 mV each, uncorrelated: 5 × 1.414 / 1.5 = 4.7 mohm
    spreads = {"dc_voltage_1": {"last digit of a": 0.005}, "dc_voltage_2": {"last digit of b": 0.005}}
    errors = cells_facts.resistance_errors(Record("c01", LOADS, spreads))
    assert sum(e * e for e in errors.values()) ** 0.5 == pytest.approx(0.004714, abs=1e-6)


def test_what_both_voltages_share_with_the_meter_cancels_in_the_resistance() -> None:
    shared = {"dc_voltage_1": {"offset": 0.02}, "dc_voltage_2": {"offset": 0.02}}
    assert cells_facts.resistance_errors(Record("c01", LOADS, shared))["offset"] == pytest.approx(0.0)


REST = {"rest_1_on": 100.0, "rest_2_on": 112.0, "rest_1_voltage": 4.120}


def test_a_fall_is_scaled_to_fourteen_days() -> None:
    # by hand: 41 mV in 12 d are 47.8 mV in 14 d and 3.417 mV a day
    leaky = facts(**REST, rest_2_voltage=4.079, chemistry="nmc", capacity=1.905)
    assert leaky.rest is not None
    assert leaky.rest.drop_14d_v == pytest.approx(0.0478, abs=5e-5)
    assert leaky.rest.per_day_v == pytest.approx(0.041 / 12)
    assert leaky.rest_class == "single cell only" and leaky.against == ("leak",)


def test_a_leak_follows_from_the_slope_of_the_curve() -> None:
    # by hand with the slope s of the curve in V per whole charge: share = dV / s / days; leak = share × Q
    slope = cells_curve.slope_v_per_share("nmc", 4.120, 4.115)
    assert slope is not None and 0.6 < slope < 1.3  # published NMC curves near 4.1 V: 8 to 12 mV per %
    sound = facts(**REST, rest_2_voltage=4.115, chemistry="nmc", capacity=1.902)
    assert sound.rest is not None
    assert sound.rest.leak_ah_per_day == pytest.approx(0.005 / slope / 12 * 1.902)
    assert sound.rest.share_per_month == pytest.approx(0.005 / slope / 12 * 30)
    assert sound.rest_class == "ok"


def test_a_flat_curve_tells_no_leak() -> None:
    flat = facts(rest_1_on=1.0, rest_2_on=20.0, rest_1_voltage=3.31, rest_2_voltage=3.30, chemistry="lfp", capacity=1.5)
    assert flat.rest is not None
    assert flat.rest.leak_ah_per_day is None and flat.rest.drop_v == pytest.approx(0.010)
    assert cells_curve.slope_v_per_share("nmc", 1.0, 1.0) is None


def test_the_meter_cancels_in_a_fall_and_its_last_digits_stay() -> None:
    # by hand: two last digits of 0.5 mV, uncorrelated: 0.707 mV
    spreads = {"rest_1_voltage": {"m scale": 0.0206, "last digit of a": 0.0005},
               "rest_2_voltage": {"m scale": 0.0206, "last digit of b": 0.0005}}
    rest, doubt = cells_facts.rest_of(Record("c01", {**REST, "rest_2_voltage": 4.115}, spreads), None)
    assert rest is not None and doubt == ""
    assert rest.plus_minus_v == pytest.approx(0.000707, abs=1e-6)


def test_readings_in_the_wrong_order_are_a_doubt_not_a_leak() -> None:
    odd = facts(rest_1_on=112.0, rest_2_on=100.0, rest_1_voltage=4.12, rest_2_voltage=4.11)
    assert odd.rest is None and odd.rest_class == "" and "not later" in odd.doubts[0]


@pytest.mark.parametrize(("voltage", "word"), [
    (3.3, "good"), (3.29, "slow start"), (3.0, "slow start"), (2.99, "suspicious"), (2.5, "suspicious"), (2.49, "stop"),
    (2.0, "stop"), (1.99, "never")])
def test_the_arrival_voltage_makes_a_class(voltage: float, word: str) -> None:
    assert facts(arrival_voltage=voltage).arrival == word


@pytest.mark.parametrize(("fall", "word"), [
    (0.010, "ok"), (0.0101, "watch"), (0.020, "watch"), (0.021, "single cell only"), (0.050, "single cell only"),
    (0.051, "reject")])
def test_the_fall_in_fourteen_days_makes_a_class(fall: float, word: str) -> None:
    cell = facts(rest_1_on=0.0, rest_2_on=14.0, rest_1_voltage=4.1, rest_2_voltage=4.1 - fall)
    assert cell.rest_class == word


@pytest.mark.parametrize(("kept", "word"), [(0.80, "good"), (0.79, "fair"), (0.70, "fair"), (0.69, "gadgets"),
                                            (0.60, "gadgets"), (0.59, "recycle")])
def test_the_kept_capacity_makes_a_class(kept: float, word: str) -> None:
    assert facts(capacity=2.2 * kept, rated_capacity=2.2).health_class == word


def test_a_heater_is_told_by_its_rise_or_by_its_temperature() -> None:
    assert facts(warmest=31.0).heater is False
    assert facts(warmest=31.5).heater is True
    assert cells_facts.facts_of(row(warmest=45.5), LIMITS, None, None, 1.0).heater is True
    assert cells_facts.facts_of(row(warmest=40.0), LIMITS, None, None, 1.0).heater is False
    assert facts().heater is None


def test_an_aged_cell_is_not_allowed_its_sheets_current() -> None:
    # by hand: 2 C × 1.9 Ah = 3.8 A; 3.0 A × 1.9 / 2.2 = 2.591 A; both: the smaller
    assert facts(capacity=1.9, rated_capacity=2.2, rated_c_rate=2.0).allowance_a == pytest.approx(3.8)
    assert facts(capacity=1.9, rated_capacity=2.2, rated_current=3.0).allowance_a == pytest.approx(2.5909, abs=1e-4)
    both = facts(capacity=1.9, rated_capacity=2.2, rated_current=3.0, rated_c_rate=2.0)
    assert both.allowance_a == pytest.approx(3.0)


def test_an_unknown_rating_gets_the_cautious_default() -> None:
    # by hand: 1 C × 1.9 Ah = 1.9 A; for 3.4 Ah the limit of 3 A counts
    assert facts(capacity=1.9).allowance_a == pytest.approx(1.9)
    assert facts(capacity=3.4).allowance_a == pytest.approx(3.0)
    assert "default" in facts(capacity=1.9).allowance_by
    assert facts().allowance_a is None


def test_a_dented_cell_speaks_against_itself_and_a_torn_wrapper_does_not() -> None:
    assert facts(visual="dented").against == ("look",)
    assert facts(visual="torn wrapper").against == ()


def test_the_lots_median_tells_a_suspicious_resistance() -> None:
    # by hand: median of 68, 70, 72, 110 is 71; 110 / 71 = 1.55
    rows = [Record(f"c{i}", {"resistance": r, "resistance_method": "dc", "decision": "keep"})
            for i, r in enumerate((0.068, 0.070, 0.072, 0.110), 1)]
    report = cells_report.cell_report(Table(tuple(rows)), *(getattr(LIMITS, n) for n in LIMITS.__dataclass_fields__))
    assert report.median_resistance_ohm == pytest.approx(0.071)
    assert [c.against for c in report.cells] == [(), (), (), ("resistance",)]
    assert "kept against the limits: c4" in report.summary


def test_the_report_prints_a_line_for_every_cell() -> None:
    report = value("cell_report")
    assert len(report.lines) == 7 and all(len(line) == len(report.head) for line in report.lines)
    assert report.lines[0][:2] == ("c01", "keep") and report.lines[0][report.head.index("capacity")] == "1948 mAh"
    assert report.cell("C01") is report.cells[0] and report.cell("c99") is None
    assert report.summary == ("7 cells: 6 kept, 1 spare; leaks by the published curve of NMC 18650, 2.05 Ah")


def test_counts_medians_and_extremes_of_the_sound_build() -> None:
    # by hand: 1851 / 2200 = 0.8414; median of 68 70 71 74 74 76 77 is 74; seven cells at 1.00
    built = sheet()
    assert built.number("kept_count") == 6
    assert built.number("health_worst") == pytest.approx(1851 / 2200)
    assert built.number("median_resistance") == pytest.approx(0.074)
    assert built.number("cell_yield") == pytest.approx(6 / 7)
    assert built.number("cells_cost") == pytest.approx(7.0)
    report = value("cell_report")
    assert built.number("leak_worst") == max(c.rest.leak_ah_per_day for c in report.kept)


def test_the_leak_carries_what_the_two_rest_readings_leave_open() -> None:
    """A drop of 8 mV ± 0.7 mV (two last digits of 0.5 mV each, the rest is common) leaves the leak open in proportion."""
    judged = build(instrument="hand meter")
    sheet_ = sheet_of(judged, checklist(), NOW.date())
    leak, drain, idle = (sheet_.value(n) for n in ("leak_worst", "idle_drain", "idle_days"))
    assert isinstance(leak, Known) and leak.plus_minus is not None
    report = sheet_.value("cell_report")
    assert isinstance(report, Known)
    rest = next(c.rest for c in report.value.kept if c.rest.leak_ah_per_day == leak.value)
    assert leak.plus_minus / leak.value == pytest.approx(rest.plus_minus_v / rest.drop_v)
    assert isinstance(drain, Known) and drain.plus_minus == pytest.approx(2 * leak.plus_minus)  # two cells a group
    assert isinstance(idle, Known) and idle.plus_minus is not None and idle.plus_minus > 0


def test_cells_that_gain_at_rest_or_hold_more_than_printed_are_doubted() -> None:
    gains = value("cell_report", {"candidates": candidates(c01={"rest_2_voltage": "4.160 V"})})
    assert any("gained" in d for d in gains.cell("c01").doubts)
    # 2530 of 2200 mAh are 115 %
    assert not value("cell_report", {"candidates": candidates(c01={"capacity": "2530 mAh"})}).cell("c01").doubts
    over = value("cell_report", {"candidates": candidates(c01={"capacity": "2535 mAh"})})
    assert any("printed" in d for d in over.cell("c01").doubts)


def test_the_tally_counts_reasons_and_names_rejects_without_one() -> None:
    rows = candidates(c01={"decision": "reject", "visual": "dented"}, c02={"decision": "reject"},
                      c03={"decision": "reject", "reason": "wanted for a lamp"}, c04={"decision": ""})
    tally = value("cell_tally", {"candidates": rows})
    assert (tally.tested, tally.kept, tally.spare, tally.rejected, tally.undecided) == (7, 2, 1, 3, 1)
    assert tally.by_code == (("look", 1),) and tally.unexplained == ("c02",)
    assert tally.lines == (("look", "1"),) and len(tally.head) == 2 and "1 undecided" in tally.summary


def test_a_tester_that_is_right_within_two_per_cent_is_left_alone() -> None:
    # left at 1 it multiplies nothing, so it has no limit of error either
    assert cells.capacity_factor(0.981) == cells.capacity_factor(1.02) == WithSpread(1.0, {})
    assert cells.capacity_factor(0.93) == 0.93


def test_a_wrong_tester_corrects_every_capacity() -> None:
    # by hand: 1948 mAh × 0.93 = 1811.6 mAh
    report = value("cell_report", {"meter_shown_current": "0.93 A"})
    assert report.cell("c01").capacity_ah == pytest.approx(1.81164)
    assert "× 0.930" in report.summary


def test_a_lot_without_resistances_or_prices_says_nothing_yet() -> None:
    bare = Table((Record("c01", {"decision": "keep"}),))
    assert cells.median_resistance(bare) is None and cells.cells_cost(bare) is None


def test_the_error_of_the_tester_is_carried_into_the_worst_health() -> None:
    # by hand: 2 % of 1851 mAh is 37.0 mAh, the last digit 0.5 mAh; over 2200 mAh 1.683 % and 0.023 %
    tester = {"id": "m1", "meter": "tester", "kind": "tester", "quantity": "capacity", "accuracy": "2 %"}
    judged = build({"instruments": [tester]}, instrument="tester")
    found = sheet_of(judged, checklist(), NOW.date()).value("health_worst")
    assert isinstance(found, Known)
    assert found.value == pytest.approx(1851 / 2200) and found.plus_minus == pytest.approx(0.01683, abs=5e-6)


def resting(number: int, volts: float, step_v: float, **more: object) -> Record:
    """A cell with its first resting voltage, read with a meter of this last digit."""
    spreads = {"rest_1_voltage": {"m1, voltage, m1": 0.02, f"last digit of candidates.c{number}": step_v / 2}}
    return Record(f"c{number}", {"rest_1_voltage": volts, "chemistry": "nmc", **more}, spreads)


def test_the_rest_until_a_usual_leak_shows_follows_the_meter_and_the_curve() -> None:
    # the published curve, read 2.5 % of charge above and below 4.00 V, rises so much a percent
    curve = cells_curve.curve_for("nmc")
    state = curve.soc(4.0)
    mv_per_percent = (curve.voltage(state + 0.025) - curve.voltage(state - 0.025)) * 1000 / 5
    # 3 % in 30 days are 0.1 % a day; three counts of 1 mV
    expected = 3 * 1.0 / mv_per_percent / 0.1
    found = cells_rest.rest_to_see_leak(Table((resting(1, 4.0, 0.001),)), 0.03)
    assert found is not None and found / 86400 == pytest.approx(expected, rel=0.05)
    coarse = cells_rest.rest_to_see_leak(Table((resting(1, 4.0, 0.001), resting(2, 4.0, 0.010))), 0.03)
    assert coarse == pytest.approx(10 * found), "the cell that was read with the coarse meter governs"


def test_without_a_meter_or_a_cell_still_in_question_no_rest_is_named() -> None:
    bare = Record("c1", {"rest_1_voltage": 4.0, "chemistry": "nmc"})
    assert cells_rest.rest_to_see_leak(Table((bare,)), 0.03) is None
    assert cells_rest.rest_to_see_leak(Table((resting(1, 4.0, 0.001, decision="reject"),)), 0.03) is None
    assert cells_rest.rest_to_see_leak(Table((resting(1, 4.0, 0.001),)), 0.0) is None
    flat = resting(1, 3.3, 0.001)
    assert cells_rest.rest_to_see_leak(Table((Record("c1", {**flat.values, "chemistry": "lfp"}, flat.spreads),)), 0.03) is None


def test_the_capacity_does_not_matter_to_the_rest() -> None:
    # by hand: three steps of 1 mV at 9 mV a percent are 1/3 % of charge; 3 % in 30 days are 0.1 % a day: 10/3 days.
    # Of 2.2 Ah that is 7.33 mAh at 2.2 mAh a day, of 1 Ah 3.33 mAh at 1 mAh a day
    assert screening.days_to_see_leak(2.2, 1.0, 9.0, 2.2) == pytest.approx(10 / 3)
    assert screening.days_to_see_leak(1.0, 1.0, 9.0, 1.0) == pytest.approx(10 / 3)


def test_more_reasons_than_rejected_cells_are_said_to_be_of_the_same_cells() -> None:
    two = CellTally(12, 10, 0, 2, 0, (("leak", 2), ("resistance", 1)), ())
    assert two.summary == "10 kept and 0 spare of 12; 2 rejected (leak 2, resistance 1; one cell may have several reasons)"
    assert CellTally(12, 10, 0, 2, 0, (("leak", 1), ("resistance", 1)), ()).summary.endswith("(leak 1, resistance 1)")
