"""How long cells must rest before the meter can see them lose charge."""

from __future__ import annotations

from buildtrack.physics.screening import days_to_see_leak
from buildtrack.workings.cells_curve import slope_v_per_share
from buildtrack.workings.cells_own import OwnCurves
from buildtrack.workings.values import Record, Table

DAY_S, MONTH_D = 86400.0, 30.0
STEPS = 3.0
"""So many last digits are seen for sure: common practice, no source."""


def rest_to_see_leak(candidates: Table, self_discharge: float, own_curve: OwnCurves | None = None) -> float | None:
    """Rest after which the usual self-discharge moves the meter by three last digits, of the slowest cell [s].

    Sooner nothing can be told of a sound cell; a leaking one shows earlier. Rejected cells are left out. None before a
    first resting voltage is there, or where the curve is too flat to tell.
    """
    found = [days for row in candidates if row.text("decision") != "reject"
             and (days := _days(row, self_discharge, own_curve)) is not None]
    return max(found) * DAY_S if found else None


def _days(row: Record, self_discharge: float, own_curve: OwnCurves | None) -> float | None:
    first = row.number("rest_1_voltage")
    resolution_v = last_digit(row, "rest_1_voltage")
    if first is None or not resolution_v or not self_discharge > 0:
        return None
    second = row.number("rest_2_voltage") or first
    slope = slope_v_per_share(row.text("chemistry"), first, second, own_curve.at_rest(row.id) if own_curve else None)
    if not slope:
        return None
    # of a cell of 1 Ah: leak and visible step both grow with the capacity, so it falls out
    return days_to_see_leak(self_discharge / MONTH_D * 1000.0, resolution_v * 1000.0, slope * 10.0, 1.0, STEPS)


def last_digit(row: Record, column: str) -> float | None:
    """One count of the last digit of a reading, from the half of it that is its own error; None without a meter."""
    half = [limit for source, limit in row.spreads.get(column, {}).items() if source.startswith("last digit")]
    return 2.0 * half[0] if half else None
