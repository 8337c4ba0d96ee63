"""Workings of the discharge test: forecast, what was delivered, which group ended it, alarm and cutoff as they were."""

from __future__ import annotations

from buildtrack.workings.discharge_difference import forecast_difference
from buildtrack.workings.discharge_forecast import DOUBT_SOURCE, alarm_cost, forecast, forecast_groups
from buildtrack.workings.discharge_groups import group_resistances, stranded_report
from buildtrack.workings.discharge_log import LogData
from buildtrack.workings.discharge_test import EVENTS, TestReport, test_report
from buildtrack.workings.graph import Working
from buildtrack.workings.values import Table, WithSpread

STEP = "discharge"
KIRCHHOFF = "Kirchhoff's laws; the maker's own curve where there is one, else curves as published (their own source)"


def delivered_capacity_tested(test_report: TestReport, delivered_capacity: float | None = None,
                              test_current: float | None = None, cutoff_after: float | None = None,
                              ) -> float | WithSpread:
    """Charge delivered in the test: of the log or the points, else of the load's display, else current × time."""
    if test_report.source != EVENTS:
        return WithSpread(test_report.delivered_ah, test_report.charge_errors)
    if delivered_capacity is not None:
        return delivered_capacity
    if test_current is not None and cutoff_after is not None:
        return test_current * cutoff_after / 3600.0
    return test_report.delivered_ah


def test_mean_voltage(test_report: TestReport) -> WithSpread | None:
    """Mean voltage under load, weighted by charge."""
    return None if test_report.mean_v is None else WithSpread(test_report.mean_v, test_report.voltage_errors)


def delivered_energy(delivered_capacity_tested: float, test_mean_voltage: float) -> float:
    """Energy delivered in the test."""
    return delivered_capacity_tested * test_mean_voltage


def test_duration(test_report: TestReport) -> float:
    """Time under load."""
    return test_report.duration_s


def first_group_down(test_report: TestReport) -> str | None:
    """The group that was lowest when the test ended."""
    return test_report.first_down or None


def lowest_group_seen(event_groups: Table, test_report: TestReport | None = None) -> float | None:
    """Lowest voltage any group was read at in the test."""
    typed = event_groups.numbers("before_cutoff")
    others = [] if test_report is None or test_report.lowest_v is None else [test_report.lowest_v]
    # The reading with a meter counts where it is the lowest, because its limit of error is known.
    return min((*typed, *(v for v in others if not typed or v < min(typed) - 1e-9)), default=None)


def _spread(event_groups: Table, test_report: TestReport | None, column: str, what: str) -> float | None:
    values = event_groups.numbers(column)
    if len(values) >= 2 and len(values) == len(event_groups):
        return max(values) - min(values)
    return test_report.spread(what) if test_report is not None else None


def spread_at_start(event_groups: Table, test_report: TestReport | None = None) -> float | None:
    """Highest minus lowest group before the load came on."""
    return _spread(event_groups, test_report, "at_start", "start")


def spread_at_alarm(event_groups: Table, test_report: TestReport | None = None) -> float | None:
    """Highest minus lowest group when the alarm sounded."""
    return _spread(event_groups, test_report, "at_alarm", "alarm")


def spread_at_cutoff(event_groups: Table, test_report: TestReport | None = None) -> float | None:
    """Highest minus lowest group just before the end."""
    return _spread(event_groups, test_report, "before_cutoff", "cutoff")


def spread_before_knee(test_report: TestReport) -> float | None:
    """Largest difference between groups under load while the lowest was above the knee of its curve."""
    return test_report.knee_spread_v


def alarm_error(event_groups: Table, alarm_setting: float) -> float | None:
    """Lowest group when the alarm sounded, less the setting; above 0 it sounded early."""
    values = event_groups.numbers("at_alarm")
    return min(values) - alarm_setting if values else None


def cutoff_error(event_groups: Table, board_cutoff: float) -> float | None:
    """Lowest group just before the board opened, less the stated cutoff; above 0 it opened early."""
    values = event_groups.numbers("before_cutoff")
    return min(values) - board_cutoff if values else None


def minutes_after_alarm(cutoff_after: float, alarm_after: float) -> float:
    """Time from the alarm to the end of the test, at the test current."""
    return cutoff_after - alarm_after


def charge_after_alarm(test_report: TestReport) -> float | None:
    """Charge drawn between the alarm and the end."""
    return test_report.after_alarm_ah


def _require_work(duty_mean_current: float) -> None:
    if not duty_mean_current > 0:
        raise ValueError(f"the duty draws {duty_mean_current:g} A in the mean; it must be above 0 A")


def work_after_alarm(charge_after_alarm: float, duty_mean_current: float) -> float:
    """Time of typical work left when the alarm sounds."""
    _require_work(duty_mean_current)
    return charge_after_alarm / duty_mean_current * 3600.0


def warmest_seen(test_report: TestReport, warmest_cell: float | None = None) -> float | None:
    """Highest temperature of a cell in the test, by hand or in the record of the test."""
    known = [t for t in (warmest_cell, test_report.warmest_degc) if t is not None]
    return max(known) if known else None


def temperature_rise(warmest_seen: float, test_temperature: float) -> float:
    """Warmest cell above the room."""
    return warmest_seen - test_temperature


def test_current_share(test_current: float, duty_mean_current: float) -> float:
    """Test current over the mean current of the work."""
    _require_work(duty_mean_current)
    return test_current / duty_mean_current


def tester_stop_highest(series_count: float, cell_empty: float, board_cutoff_lowest: float) -> float:
    """Highest stop voltage of the load at which the board still comes first: one group at its cutoff, others above."""
    return (series_count - 1) * cell_empty + board_cutoff_lowest


def delivered_share(delivered_capacity_tested: float, smallest_group_capacity: float) -> float:
    """Delivered charge over that of the smallest group."""
    return delivered_capacity_tested / smallest_group_capacity


def delivered_against_rule(delivered_share: float, usable_share: float) -> float:
    """Delivered charge over the usual share of the smallest group."""
    return delivered_share / usable_share


def log_summary(discharge_log_data: LogData) -> LogData:
    """The attached log as it was understood."""
    return discharge_log_data


WORKINGS = (
    Working(forecast_groups, STEP, "Groups as simulated", "",
            "Q = sum over its cells of Q_test / (1 - s(V_end + I R)), s counted down to 2.0 V; full at s(V_charge)",
            KIRCHHOFF, expression=False,
            note="the maker's own logged curve is preferred, shifted by (I - I logged) × R; below its end a curve is "
                 "drawn on at 12.2 V for the whole charge: t = (V_lowest - 2.0 V) / 12.2 V, "
                 "s = (t + s_curve) / (1 + t); "
                 "the curve stands as a table in the step of the cells"),
    Working(forecast, STEP, "Forecast of the test", "", "V_g = U_g(s_g) - I R_g; s_g = s_0 - q / Q_g; ends with "
            "the first group at the cutoff; its charge less the own error is the lower figure", KIRCHHOFF,
            expression=False,
            note=f"{DOUBT_SOURCE}; no relaxation, no temperature; at work: the "
                 "lines of the duty in turn, each with its mean current, those under 1 s together with the next"),
    Working(alarm_cost, STEP, "Charge left when the recommended alarm sounds", "%",
            "1 - q_alarm / q_cutoff; q: least (s_0 - s(V + I_rms R)) × Q of all groups, V the setting or the cutoff",
            KIRCHHOFF, expression=False, digits=2),
    Working(log_summary, STEP, "The attached log", "", "charge and energy by trapezoids", "trapezoid rule",
            expression=False),
    Working(test_report, STEP, "The test", "", "Q = sum of (I1 + I2) / 2 × dt; E likewise with U I", "trapezoid rule",
            expression=False),
    Working(delivered_capacity_tested, STEP, "Delivered charge", "mAh", "log, points, display, or current × time",
            "I = Q / t (OpenStax University Physics 9.1)", "Q", expression=False, digits=4),
    Working(test_mean_voltage, STEP, "Mean voltage under load", "V", "E / Q", "definition", expression=False, digits=4),
    Working(delivered_energy, STEP, "Delivered energy", "Wh", "delivered_capacity_tested * test_mean_voltage",
            "energy is power times time (OpenStax University Physics 9.5)", "E"),
    Working(test_duration, STEP, "Time under load", "min", "from load on to load off", "definition", expression=False),
    Working(first_group_down, STEP, "First group down", "", "lowest group at the end", "definition", expression=False),
    Working(lowest_group_seen, STEP, "Lowest group in the test", "V", "lowest reading of any group", "definition",
            expression=False, tables=True),
    Working(spread_at_start, STEP, "Groups apart before the test", "mV", "highest - lowest", "definition",
            expression=False, tables=True, note="readings of one meter: its scale error cancels"),
    Working(spread_before_knee, STEP, "Groups apart before the knee", "mV", "largest of highest - lowest",
            "common practice, no source (below the knee groups part anyway)", expression=False),
    Working(spread_at_alarm, STEP, "Groups apart at the alarm", "mV", "highest - lowest", "definition",
            expression=False, tables=True),
    Working(spread_at_cutoff, STEP, "Groups apart at the end", "mV", "highest - lowest", "definition",
            expression=False, tables=True),
    Working(alarm_error, STEP, "Alarm sounded off its setting by", "mV", "lowest group at the alarm - setting",
            "definition", expression=False, tables=True),
    Working(cutoff_error, STEP, "Board opened off its cutoff by", "mV", "lowest group before the end - cutoff",
            "definition", expression=False, tables=True,
            note="the board sees less than the meter at the cells, because of the drop in wires and taps"),
    Working(minutes_after_alarm, STEP, "From alarm to end", "min", "cutoff_after - alarm_after", "definition"),
    Working(charge_after_alarm, STEP, "Charge from alarm to end", "mAh", "charge of the test after the alarm",
            "I = Q / t (OpenStax University Physics 9.1)", expression=False),
    Working(work_after_alarm, STEP, "Typical work left after the alarm", "min",
            "charge_after_alarm / duty_mean_current * 3600", "I = Q / t (OpenStax University Physics 9.1)"),
    Working(warmest_seen, STEP, "Warmest cell in the test", "°C", "highest of reading, points and log", "definition",
            expression=False),
    Working(temperature_rise, STEP, "Rise above the room", "K", "warmest_seen - test_temperature", "definition"),
    Working(test_current_share, STEP, "Test current against the work", "%", "test_current / duty_mean_current",
            "definition"),
    Working(tester_stop_highest, STEP, "Load must stop below", "V",
            "(series_count - 1) * cell_empty + board_cutoff_lowest", "common practice, no source", digits=3),
    Working(delivered_share, STEP, "Delivered of the smallest group", "%",
            "delivered_capacity_tested / smallest_group_capacity", "definition"),
    Working(delivered_against_rule, STEP, "Delivered against the usual share", "%", "delivered_share / usable_share",
            "common practice, no source"),
    Working(group_resistances, STEP, "Resistance of each group in the test", "", "R = (U1 - U2) / (I2 - I1), median",
            "IEC 61960-3 two-load method", expression=False),
    Working(stranded_report, STEP, "Charge left behind", "",
            "Q_group - Q_delivered; and s(V_rested ± 10 mV) × Q_group by the published curve",
            KIRCHHOFF, expression=False),
    Working(forecast_difference, STEP, "Forecast against test", "",
            "tested / forecast - 1; agrees from forecast × (1 - own error - e) to forecast × (1 + e), e: largest ± of "
            "a group's capacity", "definition", expression=False,
            note="a published curve of another cell adds 2 % to e (our own choice)"),
)
