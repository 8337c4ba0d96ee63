"""What the discharge drawing shows: readings by hand or the log's outline, alarm, cutoff, moments, forecast."""

from __future__ import annotations

from buildtrack.judging import Judged
from buildtrack.physics.forecast import sample
from buildtrack.physics.forecast_loads import constant_current
from buildtrack.record.drawings.curves import Curve, Curves, Mark
from buildtrack.workings.discharge_forecast import ForecastReport, Simulated
from buildtrack.workings.discharge_log import LogData
from buildtrack.workings.inputs import LOG_DATA
from buildtrack.workings.values import Known, Table

FORECAST_POINTS = 160
GROUPS = tuple(f"g{n}" for n in range(1, 11))


def by_hand(judged: Judged) -> tuple[Curve, ...]:
    """One curve per group from the readings taken by hand."""
    value = judged.assessment.sheet.values.get("discharge_points")
    if not isinstance(value, Known) or not isinstance(value.value, Table):
        return ()
    found = []
    for group in GROUPS:
        points = sorted((t / 60, v) for row in value.value
                        if (t := row.number("minute")) is not None and (v := row.number(group)) is not None)
        if points:
            found.append(Curve(group, tuple(points)))
    return tuple(found)


def moments(judged: Judged) -> tuple[Mark, ...]:
    """When the alarm sounded and the board opened."""
    sheet = judged.assessment.sheet
    named = (("alarm sounded", "alarm_after"), ("board opened", "cutoff_after"))
    return tuple(Mark(word, seconds / 60) for word, name in named if (seconds := sheet.number(name)) is not None)


def from_log(judged: Judged) -> tuple[Curve, ...]:
    """One curve per group from the outline of the attached log; the mean group where it holds only the pack."""
    value = judged.assessment.sheet.values.get(LOG_DATA)
    if not isinstance(value, Known) or not isinstance(value.value, LogData):
        return ()
    data = value.value
    points = [p for p in data.log.outline if data.begin_s <= p.time_s <= data.end_s]
    if data.has_groups:
        count = min((len(p.groups_v) for p in points), default=0)
        return tuple(Curve(f"g{n + 1}", tuple(((p.time_s - data.begin_s) / 60, p.groups_v[n]) for p in points))
                     for n in range(count))
    series = judged.assessment.sheet.number("series_count")
    if series is None or series < 1 or not points:
        return ()
    mean = tuple(((p.time_s - data.begin_s) / 60, p.lowest_v / series) for p in points)
    return (Curve(f"pack ÷ {series:.0f}", mean),)


def from_forecast(judged: Judged) -> tuple[Curve, ...]:
    """One curve per group as worked out before the test."""
    simulated = judged.assessment.sheet.values.get("forecast_groups")
    report = judged.assessment.sheet.values.get("forecast")
    if not isinstance(simulated, Known) or not isinstance(simulated.value, Simulated):
        return ()
    if not isinstance(report, Known) or not isinstance(report.value, ForecastReport):
        return ()
    end_s = report.value.cutoff_s
    times = [end_s * n / FORECAST_POINTS for n in range(FORECAST_POINTS + 1)]
    samples = sample(simulated.value.groups, constant_current(report.value.current_a), times)
    return tuple(Curve(name, tuple((s.time_s / 60, s.group_v[n]) for s in samples))
                 for n, name in enumerate(simulated.value.names))


def doubt(judged: Judged) -> float:
    """The forecast's own error as a share, one-sided; 0 where nothing was forecast."""
    report = judged.assessment.sheet.values.get("forecast")
    found = report.value if isinstance(report, Known) else None
    return found.doubt_share if isinstance(found, ForecastReport) else 0.0


def discharge_data(judged: Judged) -> Curves:
    """Everything the drawing shows; ValueError where nothing was measured or worked out."""
    measured = from_log(judged) or by_hand(judged)
    forecast = from_forecast(judged)
    if not measured and not forecast:
        raise ValueError("not drawn; no log is attached and no points were read by hand")
    sheet = judged.assessment.sheet
    return Curves(measured, forecast, doubt(judged), sheet.number("alarm_setting"), sheet.number("board_cutoff"),
                  moments(judged))
