"""Workings of the discharge test: forecast, record of the test, what each group says, forecast against test."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.model.instruments import Accuracy, Instrument
from buildtrack.physics import forecast as physics
from buildtrack.physics import logs
from buildtrack.physics.forecast_loads import constant_current
from buildtrack.physics.ocv_library import generic_curve
from buildtrack.workings import discharge
from buildtrack.workings import discharge_forecast as forecasting
from buildtrack.workings import discharge_groups as by_group
from buildtrack.workings import discharge_test as testing
from buildtrack.workings.discharge_log import LogData, logger_errors
from buildtrack.workings.values import Record, Table, WithSpread
from tests import front
from tests.make import Given


def table(*rows: dict[str, object]) -> Table:
    return Table(tuple(Record(str(row["id"]), {k: v for k, v in row.items() if k != "id"}) for row in rows))


def events(*rows: tuple[float, float | None, float, float | None]) -> Table:
    names = ("at_start", "at_alarm", "before_cutoff", "rebound_60min")
    return Table(tuple(Record(f"g{n}", {k: v for k, v in zip(names, row, strict=True) if v is not None})
                       for n, row in enumerate(rows, 1)))


TURNS = events((4.15, 3.20, 2.90, 3.30), (4.16, 3.25, 3.00, 3.32), (4.15, 3.22, 2.80, 3.25))


# --- forecast ---


def test_a_published_curve_is_drawn_on_below_its_end() -> None:
    curve = generic_curve("NMC")
    longer = forecasting.reaching_down(curve)
    tail = (curve.lowest_v - 2.0) / 12.2
    assert longer.lowest_v == 2.0
    assert longer.soc(curve.lowest_v) == pytest.approx(tail / (1 + tail))
    # half the published charge lies at the same voltage as before
    assert longer.voltage((tail + 0.5) / (1 + tail)) == pytest.approx(curve.voltage(0.5))
    assert forecasting.reaching_down(generic_curve("LFP")) is generic_curve("LFP")


def test_the_capacity_test_is_put_back_on_the_curve_and_the_forecast_follows_by_hand() -> None:
    """Two cells of 1948 and 1851 mAh to 2.8 V at 2.0 A (68 and 76 mΩ), then 2 A for both down to 2.8 V.

    The published NMC curve ends at E0; below it 12.2 V for each whole charge. A cell that was emptied to 2.8 V at 2.0 A
    rested at 2.8 + 2.0 R, so of its published charge Q it gave Q (1 + (E0 - 2.8 - 2.0 R) / 12.2). In the pack the group
    gives until it rests at 2.8 + 2 A x R_group: Q_group (1 + (E0 - 2.8 - 2 R_group) / 12.2).
    """
    changed: dict[str, Given | None] = {
               "test_current": "2 A", "board_cutoff": "2.80 V", "series_count": "1",
               "groups": [front.group("g1", "c01 c06")], "alarm_setting": "3.20 V"}
    end = generic_curve("NMC").lowest_v
    published = [ah / (1 + (end - 2.8 - 2.0 * ohm) / 12.2) for ah, ohm in ((1.948, 0.068), (1.851, 0.076))]
    group_ohm = 0.068 * 0.076 / (0.068 + 0.076)
    expected = sum(published) * (1 + (end - 2.8 - 2 * group_ohm) / 12.2)
    found = front.value("forecast", changed)
    assert found.delivered_ah == pytest.approx(expected, rel=1e-6)
    assert found.cutoff_s == pytest.approx(expected * 3600 / 2, rel=1e-6)
    alarm_ah = sum(published) * (1 + (end - 3.2 - 2 * group_ohm) / 12.2)
    assert found.alarm_ah == pytest.approx(alarm_ah, rel=1e-6)
    assert found.ended_by_group == "g1" and found.ended_by == "cutoff"
    assert found.band_ah[0] < found.delivered_ah
    assert found.groups[0].terminal_v == pytest.approx(2.8)


def test_a_lower_charge_voltage_starts_the_forecast_below_full() -> None:
    changed = {"test_current": "2 A", "board_cutoff": "2.80 V", "charge_policy": "4.10 V"}
    curve = forecasting.reaching_down(generic_curve("NMC"))
    simulated = front.value("forecast_groups", changed)
    assert simulated.groups[0].start_soc == pytest.approx(curve.soc(4.10))
    full = front.value("forecast", {**changed, "charge_policy": "4.20 V"})
    assert front.value("forecast", changed).delivered_ah < full.delivered_ah


def test_the_smallest_group_ends_the_forecast() -> None:
    # g3 holds 1902 + 1887 = 3789 mAh, the others 3799
    found = front.value("forecast", {"test_current": "2 A", "board_cutoff": "2.80 V"})
    assert found.ended_by_group == "g3"
    assert found.left_ah[0] > found.left_ah[2]
    assert "by g3" in found.summary and len(found.lines) == 3


def test_the_duty_counts_ramps_by_their_mean_and_short_pulses_with_what_follows() -> None:
    # 28 A falling to 7 A in 0.15 s is 17.5 A in the mean: 2.625 As go into the next 4 s of 7 A: 30.625 As in 4.15 s
    pieces = forecasting.duty_pieces(table(
        {"id": "s1", "current": 28.0, "end_current": 7.0, "seconds": 0.15},
        {"id": "s2", "current": 7.0, "seconds": 4.0}, {"id": "s3", "current": 0.0, "seconds": 6.0}))
    assert pieces is not None
    assert [n for piece in pieces.segments for n in piece] == pytest.approx([4.15, 30.625 / 4.15, 6.0, 0.0])
    assert forecasting.duty_pieces(table({"id": "s1", "current": 0.0, "seconds": 5.0})) is None


def test_a_higher_alarm_leaves_more_charge_behind() -> None:
    low = front.value("alarm_cost", {"board_cutoff": "2.80 V", "alarm_resolution": "10 mV"})
    assert 0 < low < 0.2
    simulated = front.value("forecast_groups", {})
    early, late = (forecasting.alarm_cost(simulated, 5.0, volts, 2.8) for volts in (3.4, 3.2))
    assert early is not None and late is not None and early > late
    # the same by the whole forecast at that current
    solved = physics.forecast(simulated.groups, constant_current(5.0), cutoff_v=2.8, alarm_v=3.4)
    heard = solved.event("alarm")
    assert heard is not None and early == pytest.approx(1 - heard.charge_ah / solved.delivered_ah, rel=1e-9)


# --- the test by hand ---


def test_turning_points_and_time_make_a_test() -> None:
    # 2 A for 100 min: 3.333 Ah; straight lines from 12.46 to 9.67 V in 90 min and to 8.70 V in 10 min
    found = testing.test_report(3.0, None, None, TURNS, 2.0, 6000.0, 5400.0)
    assert found is not None
    assert found.source == testing.EVENTS
    assert found.delivered_ah == pytest.approx(10 / 3)
    mean = ((12.46 + 9.67) * 90 + (9.67 + 8.70) * 10) / 2 / 100
    assert found.mean_v == pytest.approx(mean)
    assert found.delivered_wh == pytest.approx(mean * 10 / 3)
    assert found.after_alarm_ah == pytest.approx(1 / 3)
    assert found.first_down == "g3"
    assert found.groups[2].rebound_60min_v == 3.25
    assert testing.test_report(3.0) is None


def test_points_by_hand_are_summed_by_trapezoids() -> None:
    # 0, 30 and 60 min at 2 A with 12, 11 and 9 V: 2 Ah; (12 + 11) / 2 + (11 + 9) / 2 = 21.5 Wh
    rows = table({"id": "d1", "minute": 0.0, "current": 2.0, "pack": 12.0, "g1": 4.0, "g2": 4.0, "warmest": 21.0},
                 {"id": "d2", "minute": 1800.0, "current": 2.0, "pack": 11.0, "g1": 3.70, "g2": 3.66, "warmest": 24.0},
                 {"id": "d3", "minute": 3600.0, "current": 2.0, "pack": 9.0, "g1": 3.3, "g2": 2.9, "warmest": 26.0})
    found = testing.test_report(2.0, None, rows, None, 2.0, 3600.0, 3000.0)
    assert found is not None
    assert found.source == testing.POINTS
    assert found.delivered_ah == pytest.approx(2.0)
    assert found.delivered_wh == pytest.approx(21.5)
    assert found.after_alarm_ah == pytest.approx(2.0 * 600 / 3600)
    assert found.knee_spread_v == pytest.approx(0.04)  # 3.70 - 3.66; the last point lies below 3.5 V
    # down to 2.9 V also the last point counts: 3.3 - 2.9
    low = testing.test_report(2.0, None, rows, None, 2.0, 3600.0, 3000.0, test_knee=2.9)
    assert low is not None and low.knee_spread_v == pytest.approx(0.4)
    assert found.first_down == "g2" and found.lowest_v == 2.9 and found.warmest_degc == 26.0
    one = table({"id": "d1", "minute": 0.0, "pack": 12.0})
    assert testing.test_report(2.0, None, one, None, 2.0) is None


def test_a_missing_current_is_the_test_current() -> None:
    rows = table({"id": "d1", "minute": 0.0, "pack": 12.0}, {"id": "d2", "minute": 3600.0, "pack": 10.0})
    found = testing.test_report(3.0, None, rows, None, 1.5)
    assert found is not None and found.delivered_ah == pytest.approx(1.5)


# --- the log ---


def written(folder: Path, *, groups: bool = True, end_v: float = 0.3, pulse: bool = True) -> LogData:
    """An invented log: two groups of 40 and 50 mΩ falling evenly, 2 A for an hour, a pulse to 4 A on the way."""
    lines = ["time_s,current_A,voltage_V" + (",g1_V,g2_V" if groups else "") + ",temp_C"]
    for second in range(-10, 3601):
        amperes = 0.0 if second < 0 else 4.0 if pulse and 1000 <= second < 1010 else 2.0
        rest = 4.10 - max(second, 0) / 3600 * 0.8
        one, two = rest - amperes * 0.040, rest - amperes * 0.050
        row = [second + 10, amperes, one + two, *([one, two] if groups else []), 21 + max(second, 0) / 3600 * 6]
        lines.append(",".join(f"{x:.4f}" for x in row))
    ends = [3611, 0.0, end_v, *([3.3, 3.3] if groups else []), 27]
    lines.append(",".join(f"{x:.4f}" for x in ends))
    path = folder / "log.csv"
    path.write_text("\n".join(lines) + "\n")
    return LogData("log.csv", path.stat().st_size, logs.read_log(path))


def test_the_log_comes_before_what_was_noted(tmp_path: Path) -> None:
    found = testing.test_report(2.0, written(tmp_path), None, events((4.1, 3.4, 3.0, 3.4), (4.1, 3.4, 3.0, 3.4)), 2.0,
                                3660.0, 1860.0)  # by a clock that was started a minute before the load
    assert found is not None
    # 3600 s at 2 A and ten of them at 4 A: 2 + 20 / 3600 = 2.0056 Ah
    assert found.source == testing.LOG
    assert found.delivered_ah == pytest.approx(2.0056, abs=0.002)
    assert found.duration_s == pytest.approx(3600, abs=2)
    # at 1800 s: 4.10 - 0.4 - 2 A x 40 and 50 mΩ = 3.62 and 3.60 V
    assert [g.alarm_v for g in found.groups] == [pytest.approx(3.62, abs=2e-3), pytest.approx(3.60, abs=2e-3)]
    assert [g.cutoff_v for g in found.groups] == [pytest.approx(3.22, abs=1e-3), pytest.approx(3.20, abs=1e-3)]
    assert found.groups[0].rebound_60min_v == 3.4  # only the turning points hold it
    assert found.after_alarm_ah == pytest.approx(1.0, abs=0.005)
    assert found.knee_spread_v == pytest.approx(0.04, abs=1e-3)  # 4 A x 10 mΩ in the pulse
    assert found.first_down == "g2" and found.ended_by_log == "board opened"
    assert found.warmest_degc == pytest.approx(27, abs=0.01)


def test_the_loggers_accuracy_gives_the_charge_its_limits(tmp_path: Path) -> None:
    data = written(tmp_path, pulse=False)
    meters = {
        "l1": Instrument("l1", "logger", "logger", "current", 10.0, 0.01, Accuracy(0.01, 2.0)),
        "l2": Instrument("l2", "logger", "logger", "voltage", 20.0, 0.01, Accuracy(0.005, 1.0))}
    charge, voltage = logger_errors(data.log, meters, "logger")
    # 1 % of 2 Ah, and 2 x 0.01 A for an hour; 0.5 % of the mean voltage, and 0.01 V
    assert sum(charge.values()) == pytest.approx(0.02 + 0.02, rel=1e-2)
    assert sum(voltage.values()) == pytest.approx(0.01 + 0.005 * (data.log.mean_v or 0))
    assert logger_errors(data.log, meters, "") == ({}, {})
    assert logger_errors(data.log, {}, "logger") == ({}, {})
    report = testing.test_report(2.0, replace(data, charge_errors=charge, voltage_errors=voltage))
    assert report is not None and report.charge_errors == charge and report.voltage_errors == voltage


def test_points_by_hand_carry_their_meters_limits() -> None:
    # 1 % of 2 A for an hour is 20 mAh; the last digit of the middle reading, 5 mA, counts for half an hour: 2.5 mAh
    def row(name: str, minute: float, **own: float) -> Record:
        spread = {"m current scale": 0.02, **own}
        return Record(name, {"minute": minute * 60.0, "current": 2.0, "pack": 11.0}, {"current": spread})
    found = testing.test_report(3.0, None, Table((row("d1", 0), row("d2", 30, digit=0.005), row("d3", 60))), None, 2.0)
    assert found is not None
    assert found.charge_errors == {"m current scale": pytest.approx(0.02), "digit": pytest.approx(0.0025)}


def test_a_log_without_groups_takes_them_from_the_turning_points(tmp_path: Path) -> None:
    found = testing.test_report(2.0, written(tmp_path, groups=False), None,
                                events((4.1, 3.4, 3.0, None), (4.1, 3.4, 2.9, None)), 2.0)
    assert found is not None
    assert found.first_down == "g2" and found.knee_spread_v is None
    assert any("holds no groups" in r for r in found.remarks)


def test_group_resistances_come_from_load_steps(tmp_path: Path) -> None:
    found = by_group.group_resistances(2.0, written(tmp_path))
    assert found is not None
    assert [g.measured_ohm for g in found.groups] == [pytest.approx(0.040, rel=0.02), pytest.approx(0.050, rel=0.02)]
    assert found.groups[0].by == by_group.STEPS


def test_group_resistances_come_from_sag_readings_where_there_is_no_log() -> None:
    # (3.90 - 3.65) / 5 = 50 mΩ and (3.90 - 3.70) / 5 = 40 mΩ; half of their cells' would be a missing cell
    rows = table({"id": "s1", "level": "half", "current": 5.0, "group": "g1", "before": 3.90, "under_load": 3.65},
                 {"id": "s2", "level": "half", "current": 5.0, "group": "Group 2", "before": 3.90, "under_load": 3.70})
    found = by_group.group_resistances(2.0, None, rows, front.value("group_report", {}))
    assert found is not None
    assert [g.measured_ohm for g in found.groups] == [pytest.approx(0.050), pytest.approx(0.040)]
    assert found.groups[0].ratio == pytest.approx(0.050 / (0.068 * 0.076 / 0.144))
    assert found.summary.startswith("2 groups by the sag readings; highest against its cells: g1")
    assert by_group.group_resistances(2.0, None, None) is None


# --- what follows ---


def test_delivered_charge_takes_the_better_record() -> None:
    by_hand = testing.test_report(3.0, None, None, TURNS, 2.0, 6000.0, 5400.0)
    assert by_hand is not None
    assert discharge.delivered_capacity_tested(by_hand, 3.4, 2.0, 6000.0) == 3.4
    assert discharge.delivered_capacity_tested(by_hand, None, 2.0, 6000.0) == pytest.approx(10 / 3)
    points = testing.test_report(3.0, None, table({"id": "d1", "minute": 0.0, "pack": 12.0},
                                                  {"id": "d2", "minute": 3600.0, "pack": 10.0}), None, 1.5)
    assert points is not None
    found = discharge.delivered_capacity_tested(points, 3.4, 2.0, 6000.0)
    assert isinstance(found, WithSpread) and found.value == pytest.approx(1.5) and not found.spread


def test_the_small_workings() -> None:
    report = testing.test_report(3.0, None, None, TURNS, 2.0, 6000.0, 5400.0)
    assert report is not None
    assert discharge.test_mean_voltage(report) == WithSpread(report.mean_v, {})
    assert discharge.delivered_energy(3.62, 10.75) == pytest.approx(38.915)  # 3.62 Ah x 10.75 V
    assert discharge.test_duration(report) == 6000.0
    assert discharge.first_group_down(report) == "g3"
    assert discharge.lowest_group_seen(TURNS, report) == 2.80
    assert discharge.spread_at_start(TURNS) == pytest.approx(0.01)
    assert discharge.spread_at_alarm(TURNS) == pytest.approx(0.05)
    assert discharge.spread_at_cutoff(TURNS) == pytest.approx(0.20)
    assert discharge.spread_before_knee(report) is None
    assert discharge.alarm_error(TURNS, 3.30) == pytest.approx(-0.10)
    assert discharge.cutoff_error(TURNS, 2.75) == pytest.approx(0.05)
    assert discharge.minutes_after_alarm(6000.0, 5400.0) == 600.0
    assert discharge.charge_after_alarm(report) == pytest.approx(1 / 3)
    assert discharge.work_after_alarm(0.44, 4.27) / 60 == pytest.approx(6.18, abs=0.01)  # 0.44 / 4.27 x 60 min
    assert discharge.warmest_seen(report, 34.0) == 34.0 and discharge.warmest_seen(report) is None
    assert discharge.temperature_rise(34.0, 21.0) == 13.0
    assert discharge.test_current_share(2.0, 4.27) == pytest.approx(0.4684, abs=1e-4)
    assert discharge.tester_stop_highest(3.0, 3.0, 2.4) == pytest.approx(8.4)  # 2 x 3.0 + 2.4
    assert discharge.delivered_share(3.62, 3.789) == pytest.approx(0.9554, abs=1e-4)
    assert discharge.delivered_against_rule(0.9554, 0.95) == pytest.approx(1.0057, abs=1e-4)


def test_a_group_that_was_not_read_leaves_the_spread_unknown() -> None:
    partly = events((4.15, None, 2.9, None), (4.15, 3.2, 2.9, None))
    assert discharge.spread_at_alarm(partly) is None
    assert discharge.alarm_error(events((4.15, None, 2.9, None)), 3.3) is None


def test_charge_left_behind_by_capacity_and_by_voltage() -> None:
    # 3799, 3799 and 3789 mAh less 3.60 Ah delivered: 199, 199 and 189 mAh
    changed: dict[str, Given | None] = {
        "test_current": "2 A", "cutoff_after": "108 min", "alarm_after": "100 min", "event_groups": [
        {"id": f"g{n}", "at_start": "4.15 V", "before_cutoff": "2.85 V", "rebound_60min": "3.40 V"} for n in (1, 2, 3)]}
    found = front.value("stranded_report", changed)
    assert [g.by_capacity_ah for g in found.groups] == [pytest.approx(0.199), pytest.approx(0.199),
                                                        pytest.approx(0.189)]
    curve = generic_curve("NMC")
    low, high = found.groups[0].by_voltage_ah
    assert low == pytest.approx(curve.soc(3.39) * 3.799) and high == pytest.approx(curve.soc(3.41) * 3.799)


def difference(minutes: float, *cutoffs: str) -> str:
    rows = [{"id": f"g{n}", "at_start": "4.15 V", "before_cutoff": v} for n, v in enumerate(cutoffs, 1)]
    changed: dict[str, Given | None] = {
               "test_current": "2 A", "board_cutoff": "2.80 V", "cutoff_after": f"{minutes} min",
               "alarm_after": "60 min", "event_groups": rows}
    return str(front.value("forecast_difference", changed).verdict)


def test_the_difference_from_the_forecast_gets_a_name() -> None:
    # the forecast of the sound pack is close to its smallest group of 3.789 Ah: 114 min at 2 A
    assert difference(113, "2.85 V", "2.90 V", "2.82 V") == "agrees"
    assert difference(125, "2.85 V", "2.90 V", "2.82 V") == "log suspicious"
    assert difference(95, "2.85 V", "2.88 V", "2.82 V") == "capacity short"
    assert difference(95, "3.45 V", "3.40 V", "2.82 V") == "one group weak"
