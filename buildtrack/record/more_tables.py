"""Tables that a reader needs to do workings again and that no item holds: published curves, a long log in short."""

from __future__ import annotations

from buildtrack.data import sources
from buildtrack.judging import Judged
from buildtrack.physics.log_records import Point
from buildtrack.physics.ocv import Curve
from buildtrack.record.gridding import grid
from buildtrack.record.pages import Grid
from buildtrack.record.text import line, tied
from buildtrack.workings.cells_curve import curve_for
from buildtrack.workings.cells_own import SHOWN, OwnCurves
from buildtrack.workings.cells_report import CellReport
from buildtrack.workings.discharge_log import LogData
from buildtrack.workings.discharge_test import KNEE_V
from buildtrack.workings.values import Known

IN_SHORT = (0.0, 0.01, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.93, 0.96, 0.98, 0.99, 1.0)
"""Moments of a log that are printed, as shares of its time under load: closer where the voltage falls."""


def _known(judged: Judged, name: str) -> object:
    value = judged.assessment.sheet.values.get(name)
    return value.value if isinstance(value, Known) else None


def published_curves(judged: Judged) -> tuple[Grid, ...]:
    """The published resting curve of each chemistry of the cells; one that stands beside an own curve is left out."""
    report, own = _known(judged, "cell_report"), _known(judged, "own_curve")
    if not isinstance(report, CellReport):
        return ()
    rested = _known(judged, "rest_to_see_leak") is not None
    used = {c.chemistry for c in report.cells if rested or c.capacity_ah is not None or c.rest is not None}
    curves = {curve.key: curve for name in sorted(used) if (curve := curve_for(name))}
    if isinstance(own, OwnCurves):
        curves.pop(own.published.key, None)
    return tuple(_curve_table(c) for c in curves.values())


def _curve_table(curve: Curve) -> Grid:
    rows = tuple((tied(f"{100 * s:.0f} %"), tied(f"{curve.voltage(s):.3f} V"), f"{curve.slope_mv_per_percent(s):.2f}")
                 for s in SHOWN)
    notes = (f"Source: {_source(curve.source)}. Straight between its points; slope: mean over 2.5 % of charge to "
             "either side, up to the end of the curve.",)
    head = ("charge left", "at rest", tied("slope [mV per 1 %]"))
    return grid(f"Published curve: {line(curve.title)}", head, rows, (), notes)


def _source(key: str) -> str:
    """A source by author, title and year; what is no key of ours stands as it is."""
    found = sources().get(key)
    return line(f"{found['author']}: {found['title']} ({found['year']})" if found else key, 300)


def log_in_short(judged: Judged) -> tuple[Grid, ...]:
    """A log too long to print, at some of its moments: trapezoids over them come close to the sums over its rows."""
    data = _known(judged, "discharge_log_data")
    if not isinstance(data, LogData) or not data.log.outline or data.end_s <= data.begin_s:
        return ()
    groups = len(data.log.mapping.groups)
    names = tuple(f"g{n + 1}" for n in range(groups))
    rows = tuple(_log_row(data, moment) for moment in _moments(data, _knee(judged)))
    notes = ("From the attached log; between these moments lie more rows. Current and voltage are the middle of the "
             "rows around the moment. Energy: sum of mean voltage × charge from line to line.",)
    return (grid("The log in short", ("after", "current", "pack", *names, "charge so far"), rows, (), notes),)


def _knee(judged: Judged) -> float:
    """Group voltage down to which the groups are compared in the test."""
    own = judged.assessment.sheet.number("test_knee")
    return KNEE_V if own is None else own


def _moments(data: LogData, knee_v: float) -> list[float]:
    """Times since the load came on: the even ones, and where the groups were widest apart above the knee."""
    whole = data.end_s - data.begin_s
    found = {share * whole for share in IN_SHORT}
    above = [p for p in data.log.outline
             if data.begin_s < p.time_s < data.end_s and p.groups_v and min(p.groups_v) >= knee_v]
    if above:
        widest = max(above, key=lambda p: max(p.groups_v) - min(p.groups_v))
        found.add(widest.time_s - data.begin_s)
    return sorted(found)


def _log_row(data: LogData, after_s: float) -> tuple[str, ...]:
    first, last = data.log.first_loaded, data.log.last_loaded
    whole = data.end_s - data.begin_s
    if first is not None and after_s == 0.0:
        current, volts, groups = first.current_a, first.voltage_v, first.groups_v
    elif last is not None and after_s >= whole:
        current, volts, groups = last.current_a, last.voltage_v, last.groups_v
    else:
        point = _point_at(data, after_s)
        current, volts = (point.lowest_a + point.highest_a) / 2, (point.lowest_v + point.highest_v) / 2
        groups = point.groups_v
    drawn = data.charge_at(after_s) or 0.0
    return tuple(tied(t) for t in (
        f"{after_s / 60:.1f} min", f"{current:.3f} A", f"{volts:.2f} V", *(f"{v:.3f} V" for v in groups),
        f"{1000 * drawn:.0f} mAh"))


def _point_at(data: LogData, after_s: float) -> Point:
    """The stretch of the outline that holds a moment."""
    wanted = data.begin_s + after_s + 1e-6
    before = [p for p in data.log.outline if p.time_s <= wanted]
    return before[-1] if before else data.log.outline[0]
