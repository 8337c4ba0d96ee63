"""The discharge test as it was run: from the log, else from the points by hand, else from the turning points."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from buildtrack import units
from buildtrack.workings.discharge_log import LogData, groups_of
from buildtrack.workings.taps import whole_groups
from buildtrack.workings.values import Record, Table

KNEE_V = 3.5
"""Above this the groups of a good pack stay together, where a checklist has no limit (common practice, no source)."""
LOG, POINTS, EVENTS = "the log", "the points by hand", "the turning points"


@dataclass(frozen=True, slots=True)
class GroupTest:
    """One group at the turning points of the test."""

    id: str
    start_v: float | None
    alarm_v: float | None
    cutoff_v: float | None
    lowest_v: float | None
    rebound_10min_v: float | None
    rebound_60min_v: float | None


@dataclass(frozen=True, slots=True)
class TestReport:
    """Everything the test says."""

    source: str
    duration_s: float
    delivered_ah: float
    delivered_wh: float | None
    mean_v: float | None
    current_a: float
    """Mean current under load."""
    alarm_s: float | None
    after_alarm_ah: float | None
    groups: tuple[GroupTest, ...]
    knee_spread_v: float | None
    """Largest difference between groups while the lowest was still above the knee of its curve under load."""
    warmest_degc: float | None
    ended_by_log: str
    """What the log shows about the end; empty without one."""
    remarks: tuple[str, ...]
    charge_errors: Mapping[str, float] = field(default_factory=dict)
    """Limit of error of the delivered charge by source, where the record of the test tells [Ah]."""
    voltage_errors: Mapping[str, float] = field(default_factory=dict)
    """Limit of error of the mean voltage by source [V]."""

    @property
    def first_down(self) -> str:
        """The group that was lowest at the end; empty where groups were not read."""
        known = [g for g in self.groups if g.cutoff_v is not None]
        return min(known, key=lambda g: g.cutoff_v or 0.0).id if known else ""

    @property
    def lowest_v(self) -> float | None:
        """Lowest voltage any group was read at."""
        return min((g.lowest_v for g in self.groups if g.lowest_v is not None), default=None)

    def spread(self, what: str) -> float | None:
        """Highest minus lowest group at `start`, `alarm` or `cutoff`; None unless every group was read."""
        values = [getattr(g, f"{what}_v") for g in self.groups]
        known = [v for v in values if v is not None]
        return max(known) - min(known) if len(known) == len(values) and len(known) >= 2 else None

    @property
    def summary(self) -> str:
        """The whole in one line."""
        told = f"{units.show(self.delivered_ah, 'Ah')} in {self.duration_s / 60:.1f} min by {self.source}"
        if self.delivered_wh is not None:
            told += f", {units.show(self.delivered_wh, 'Wh', digits=3)}"
        if self.first_down:
            told += f"; {self.first_down} was lowest at the end"
        return told + (f"; {self.ended_by_log}" if self.ended_by_log else "")

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("group", "start", "alarm", "end", "lowest", "10 min after", "60 min after")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per group."""
        return tuple((g.id, _volts(g.start_v), _volts(g.alarm_v), _volts(g.cutoff_v), _volts(g.lowest_v),
                      _volts(g.rebound_10min_v), _volts(g.rebound_60min_v)) for g in self.groups)


def _volts(value: float | None) -> str:
    return "-" if value is None else f"{value:.3f} V"


def test_report(series_count: float, discharge_log_data: LogData | None = None, discharge_points: Table | None = None,
                event_groups: Table | None = None, test_current: float | None = None,
                cutoff_after: float | None = None, alarm_after: float | None = None,
                test_knee: float = KNEE_V) -> TestReport | None:
    """The test by its best record: the attached log, the points by hand, or current, times and turning points."""
    count, turns = whole_groups(series_count), _turns(event_groups)
    if discharge_log_data is not None:
        alarm = _alarm_in_log(discharge_log_data, cutoff_after, alarm_after)
        return _by_log(discharge_log_data, count, turns, alarm, test_knee)
    if discharge_points is not None and (found := _by_points(discharge_points, count, turns, test_current,
                                                             alarm_after, test_knee)):
        return found
    if turns and test_current is not None and cutoff_after is not None:
        return _by_events(turns, count, test_current, cutoff_after, alarm_after)
    return None


def _alarm_in_log(data: LogData, cutoff_after: float | None, alarm_after: float | None) -> float | None:
    """Time of the alarm since the load came on.

    Both times are read from one clock, which may have been started before the load: so it is counted back from the end.
    """
    if alarm_after is None or cutoff_after is None or alarm_after > cutoff_after:
        return alarm_after
    return max(0.0, data.end_s - data.begin_s - (cutoff_after - alarm_after))


def _turns(event_groups: Table | None) -> dict[str, Record]:
    return {row.id: row for row in event_groups} if event_groups is not None else {}


def _group(name: str, row: Record | None, start: float | None, alarm: float | None, cutoff: float | None,
           lowest: float | None) -> GroupTest:
    """One group; what the better record does not hold is taken from the turning points."""
    def typed(column: str) -> float | None:
        return row.number(column) if row is not None else None

    start = typed("at_start") if start is None else start
    alarm = typed("at_alarm") if alarm is None else alarm
    cutoff = typed("before_cutoff") if cutoff is None else cutoff
    seen = [v for v in (start, alarm, cutoff, typed("before_cutoff"), lowest) if v is not None]
    return GroupTest(name, start, alarm, cutoff, min(seen, default=None), typed("rebound_10min"),
                     typed("rebound_60min"))


def _at(values: Sequence[float], n: int) -> float | None:
    # A channel that reads nothing is no voltage of a group.
    return values[n] if n < len(values) and values[n] > 0.05 else None


def _knee_spread(rows: Sequence[Sequence[float]], count: int, knee_v: float) -> float | None:
    spreads = [max(r) - min(r) for r in rows if len(r) == count >= 2 and min(r) >= knee_v]
    return max(spreads) if spreads else None


def _by_log(data: LogData, count: int, turns: dict[str, Record], alarm_after: float | None,
            knee_v: float) -> TestReport:
    log = data.log
    duration = data.end_s - data.begin_s
    start, end = groups_of(log.first), groups_of(log.last_loaded)
    alarm = data.groups_at(alarm_after) if alarm_after is not None else ()
    lowest = tuple(v if math.isfinite(v) else 0.0 for v, _ in log.group_lowest)
    groups = tuple(_group(f"g{n + 1}", turns.get(f"g{n + 1}"), _at(start, n), _at(alarm, n), _at(end, n),
                          _at(lowest, n)) for n in range(count))
    drawn = data.charge_at(alarm_after) if alarm_after is not None else None
    remarks = []
    if len(log.mapping.groups) not in (0, count):
        remarks.append(f"the log has {len(log.mapping.groups)} groups, the pack {count}")
    if not data.has_groups:
        remarks.append("the log holds no groups; those of the turning points are shown")
    mean_current = log.discharged_ah * 3600 / duration if duration > 0 else 0.0
    return TestReport(
        LOG, duration, log.discharged_ah, log.discharged_wh, log.mean_v, mean_current, alarm_after,
        None if drawn is None else max(log.discharged_ah - drawn, 0.0), groups,
        _knee_spread([p.groups_v for p in log.outline if data.begin_s < p.time_s < data.end_s], count, knee_v),
        max(log.temperature_highest_degc, default=None), log.end_kind, tuple(remarks), data.charge_errors,
        data.voltage_errors)


@dataclass(frozen=True, slots=True)
class _Point:
    time_s: float
    current_a: float
    pack_v: float
    groups: tuple[float | None, ...]
    warmest: float | None
    current_errors: Mapping[str, float]
    pack_errors: Mapping[str, float]


def _points(table: Table, count: int, test_current: float | None) -> list[_Point]:
    found = []
    for row in table:
        minute, pack = row.number("minute"), row.number("pack")
        current = row.number("current")
        current = test_current if current is None else current
        if minute is not None and pack is not None and current is not None:
            groups = tuple(row.number(f"g{n + 1}") for n in range(count))
            found.append(_Point(minute, current, pack, groups, row.number("warmest"), row.spreads.get("current", {}),
                                row.spreads.get("pack", {})))
    return sorted(found, key=lambda p: p.time_s)


def _by_points(table: Table, count: int, turns: dict[str, Record], test_current: float | None,
               alarm_after: float | None, knee_v: float) -> TestReport | None:
    points = [p for p in _points(table, count, test_current)]
    if len(points) < 2 or points[-1].time_s <= points[0].time_s:
        return None
    charge, energy = _sums(points, points[-1].time_s)
    duration = points[-1].time_s - points[0].time_s
    before_alarm = None if alarm_after is None else _sums(points, alarm_after)[0]
    groups = []
    for n in range(count):
        seen = [v for p in points if (v := p.groups[n]) is not None]
        groups.append(_group(f"g{n + 1}", turns.get(f"g{n + 1}"), points[0].groups[n], None, points[-1].groups[n],
                             min(seen, default=None)))
    warmest = max((p.warmest for p in points if p.warmest is not None), default=None)
    return TestReport(
        POINTS, duration, charge, energy, energy / charge if charge > 0 else None, charge * 3600 / duration,
        alarm_after, None if before_alarm is None else max(charge - before_alarm, 0.0), tuple(groups),
        _knee_spread([tuple(v for v in p.groups if v is not None) for p in points], count, knee_v), warmest, "", (),
        _errors(points, [p.current_errors for p in points], 1 / 3600),
        _errors(points, [p.pack_errors for p in points], 1 / duration))


def _sums(points: Sequence[_Point], until_s: float) -> tuple[float, float]:
    """Charge and energy up to a time, by trapezoids; the last one is cut straight."""
    charge = energy = 0.0
    for a, b in zip(points, points[1:], strict=False):
        if a.time_s >= until_s or b.time_s <= a.time_s:
            continue
        share = min(1.0, (until_s - a.time_s) / (b.time_s - a.time_s))
        span = (b.time_s - a.time_s) * share / 3600
        current_end = a.current_a + (b.current_a - a.current_a) * share
        pack_end = a.pack_v + (b.pack_v - a.pack_v) * share
        charge += span * (a.current_a + current_end) / 2
        energy += span * (a.current_a * a.pack_v + current_end * pack_end) / 2
    return charge, energy


def _errors(points: Sequence[_Point], errors: Sequence[Mapping[str, float]], factor: float) -> dict[str, float]:
    """Limits of error of a trapezoid sum by source: each source moves all its readings together."""
    found = {}
    for source in dict.fromkeys(s for row in errors for s in row):
        limits = [row.get(source, 0.0) for row in errors]
        total = math.fsum((x + y) / 2 * (b.time_s - a.time_s) for x, y, a, b in zip(
            limits, limits[1:], points, points[1:], strict=False))
        found[source] = total * factor
    return found


def _by_events(turns: dict[str, Record], count: int, current_a: float, cutoff_s: float,
               alarm_s: float | None) -> TestReport:
    groups = tuple(_group(f"g{n + 1}", turns.get(f"g{n + 1}"), None, None, None, None) for n in range(count))
    charge = current_a * cutoff_s / 3600
    mean = _mean_of_turns(groups, cutoff_s, alarm_s)
    after = None if alarm_s is None else max(current_a * (cutoff_s - alarm_s) / 3600, 0.0)
    return TestReport(
        EVENTS, cutoff_s, charge, None if mean is None else mean * charge, mean, current_a, alarm_s, after, groups,
        None, None, "", ("charge = current × time; the mean voltage is only estimated from three readings",))


def _mean_of_turns(groups: Sequence[GroupTest], cutoff_s: float, alarm_s: float | None) -> float | None:
    """Mean pack voltage by straight lines from start to alarm to end; None where a group was not read."""
    start, end = _pack(groups, "start"), _pack(groups, "cutoff")
    if start is None or end is None or cutoff_s <= 0:
        return None
    alarm = _pack(groups, "alarm")
    if alarm is None or alarm_s is None or not 0 < alarm_s < cutoff_s:
        return (start + end) / 2
    return ((start + alarm) * alarm_s + (alarm + end) * (cutoff_s - alarm_s)) / 2 / cutoff_s


def _pack(groups: Sequence[GroupTest], what: str) -> float | None:
    values = [getattr(g, f"{what}_v") for g in groups]
    return math.fsum(values) if values and all(v is not None for v in values) else None
