"""The maker's own curve, from a slow logged discharge of their own cell."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from buildtrack.physics.log_summary import LogSummary
from buildtrack.physics.ocv import SIMULATION_SOC, Curve, CurveError, make_curve

SLOW_C_RATE = 0.6
"""Above this the curve is no open-circuit curve even with the resistance put back; our own choice: the half C of the
study the forecast's doubt is from, and some room, since a worn cell is empty sooner."""
MOST_IN_GAPS = 0.02
"""A log with more of its charge in gaps makes no curve; our own choice."""

Rows = tuple[list[float], list[float], list[float]]
"""Times [s], currents [A] and voltages [V] of a discharge."""


def loaded_rows(log: LogSummary) -> Rows:
    """The rows of a discharge log of one cell, from the first to the last under load.

    Of a long log the outline's at most 2000 stretches, each at its middle in time, with its mean current and voltage.
    CurveError for a log of several groups, without a discharge, or with more than 2 % of the charge in gaps.
    """
    first, last = log.first_loaded, log.last_loaded
    if len(log.mapping.groups) > 1:
        raise CurveError(f"the log holds {len(log.mapping.groups)} groups; a log of one cell is needed")
    if first is None or last is None or not log.discharged_ah > 0:
        raise CurveError("no charge was drawn; a discharge with positive current is needed")
    if abs(log.gap_charge_ah) > MOST_IN_GAPS * log.discharged_ah:
        share = abs(log.gap_charge_ah) / log.discharged_ah
        raise CurveError(f"{100 * share:.0f} % of the charge lies in gaps of the log; at most 2 % may")
    points, every_row = log.outline, log.used <= len(log.outline)
    ends = [b.time_s for b in points[1:]] + [log.duration_s]
    rows = [(first.time_s, first.current_a, first.voltage_v)]
    for point, end in zip(points, ends, strict=True):
        time_s = point.time_s if every_row else (point.time_s + end) / 2
        if first.time_s < time_s < last.time_s:
            rows.append((time_s, (point.lowest_a + point.highest_a) / 2, (point.lowest_v + point.highest_v) / 2))
    rows.append((last.time_s, last.current_a, last.voltage_v))
    return [r[0] for r in rows], [r[1] for r in rows], [r[2] for r in rows]


def own_curve(
    time_s: Sequence[float],
    current_a: Sequence[float],
    voltage_v: Sequence[float],
    resistance_ohm: float,
    *,
    key: str = "own",
    name: str = "own curve",
    chemistry: str = "",
    source: str = "",
    fastest_c: float = SLOW_C_RATE,
    points: Sequence[float] = SIMULATION_SOC,
) -> Curve:
    """Open-circuit curve from a slow full discharge: U0(s) = U + I R, s = 1 - q / Q, q by trapezoid [V].

    Full is the first row, empty the last; discharge current positive. Read at 41 points. Refused: under 20 rows, time
    not rising, a mean rate above `fastest_c` (of the charge logged), or a curve too far from rising. Noise is levelled.
    The residual drop that is not ohmic stays in the curve, so it lies slightly low. A forecast with U0 - I' R is then
    the logged curve shifted by (I - I') R. `name` begins the title, `source` is the log's. Source: own method.
    """
    charge = _charge_ah(time_s, current_a, voltage_v)
    total = charge[-1]
    hours = (time_s[-1] - time_s[0]) / 3600
    if not total > 0:
        raise CurveError("no charge was drawn; a discharge with positive current is needed")
    if 1 / hours > fastest_c:
        raise CurveError(f"emptied in {hours:.2g} h; at least {1 / fastest_c:.2g} h are needed for a curve")
    soc = [1 - q / total for q in charge][::-1]
    rested = [u + i * resistance_ohm for u, i in zip(voltage_v, current_a, strict=True)][::-1]
    volts = _read_at(soc, rested, points)
    title = f"{name} ({total:.3g} Ah in {hours:.2g} h, {1000 * resistance_ohm:.0f} mΩ put back)"
    return make_curve(
        key, points, volts, title=title, chemistry=chemistry, source=source, origin="own log",
        logged_rate_c=1 / hours, repair=True,
        validity=f"this cell, at about {total / hours:.2g} A, between {volts[0]:.3f} and {volts[-1]:.3f} V",
    )  # fmt: skip


def _charge_ah(time_s: Sequence[float], current_a: Sequence[float], voltage_v: Sequence[float]) -> list[float]:
    if not len(time_s) == len(current_a) == len(voltage_v) or len(time_s) < 20:
        raise CurveError(f"{len(time_s)} rows; at least 20 with time, current and voltage are needed")
    charge = [0.0]
    for k in range(1, len(time_s)):
        if not time_s[k] > time_s[k - 1]:
            raise CurveError(f"row {k + 1}: the time does not rise; put the rows in order")
        charge.append(charge[-1] + (current_a[k] + current_a[k - 1]) / 2 * (time_s[k] - time_s[k - 1]) / 3600)
    return charge


def _read_at(soc: Sequence[float], volts: Sequence[float], points: Sequence[float]) -> list[float]:
    """Straight line through the rows around each point, or straight between two rows where they are sparse."""
    answer: list[float] = []
    for index, point in enumerate(points):
        inside = 0 < index < len(points) - 1
        low = (points[max(index - 1, 0)] + point) / 2
        high = (points[min(index + 1, len(points) - 1)] + point) / 2
        first, last = bisect_left(soc, low), bisect_right(soc, high)
        near = list(zip(soc[first:last], volts[first:last], strict=True))
        answer.append(_line_at(near, point) if inside and len(near) >= 8 else _straight(soc, volts, point))
    return answer


def _line_at(rows: Sequence[tuple[float, float]], point: float) -> float:
    """Value at `point` of the least-squares straight line through the rows."""
    mean_s = sum(s for s, _ in rows) / len(rows)
    mean_u = sum(u for _, u in rows) / len(rows)
    spread = sum((s - mean_s) ** 2 for s, _ in rows)
    slope = sum((s - mean_s) * (u - mean_u) for s, u in rows) / spread if spread > 0 else 0.0
    return mean_u + slope * (point - mean_s)


def _straight(soc: Sequence[float], volts: Sequence[float], point: float) -> float:
    at = min(max(bisect_left(soc, point), 1), len(soc) - 1)
    left, right = soc[at - 1], soc[at]
    if right == left:
        return volts[at]
    return volts[at - 1] + (volts[at] - volts[at - 1]) * (point - left) / (right - left)
