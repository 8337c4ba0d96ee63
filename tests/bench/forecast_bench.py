"""How long a forecast takes for 14 groups, and how far it is from its closed forms."""

from __future__ import annotations

import time
from collections.abc import Callable

from buildtrack.physics.forecast import forecast
from buildtrack.physics.forecast_loads import checked_duty, constant_current
from buildtrack.physics.forecast_string import Group
from buildtrack.physics.ocv import make_curve
from buildtrack.physics.ocv_library import load_curve


def milliseconds(task: Callable[[], object]) -> float:
    """Least processor time of three runs."""
    found = []
    for _ in range(3):
        start = time.process_time()
        task()
        found.append(1000 * (time.process_time() - start))
    return min(found)


def measure() -> list[tuple[str, float, str, str]]:
    """Times for constant current, duty cycle and constant power; error against closed forms."""
    curve = load_curve("nmc811_5000")
    groups = [Group(4.9 + 0.01 * k, curve, 0.02) for k in range(14)]
    duty = checked_duty([(4.0, 7.0), (1.0, 12.0), (5.0, 0.0)])
    straight = make_curve("straight", [0.0, 0.5, 1.0], [3.0, 3.6, 4.2])
    unequal = [Group(2.5, straight, 0.05), Group(2.4, straight, 0.06, 0.98), Group(2.6, straight, 0.05)]
    quarter = make_curve("quarter", [0.0, 0.5, 1.0], [(12.6 - 7.2) / 4, (12.6 - 3.6) / 4, 12.6 / 4])
    current_error = abs(forecast(unequal, constant_current(2.5), cutoff_v=3.0).cutoff_s - 2954.88)
    power_error = abs(forecast([Group(5.0, quarter)] * 4, 20.0, cutoff_v=9.0 / 4).cutoff_s - 4860.0)
    steady, power = constant_current(5.0), 200.0
    return [
        (
            "forecast: 14 groups, constant current",
            milliseconds(lambda: forecast(groups, steady, cutoff_v=3.0)),
            "ms",
            "under 100 ms",
        ),
        (
            "forecast: 14 groups, duty cycle",
            milliseconds(lambda: forecast(groups, duty, cutoff_v=3.0)),
            "ms",
            "under 100 ms",
        ),
        (
            "forecast: 14 groups, constant power",
            milliseconds(lambda: forecast(groups, power, cutoff_v=3.0)),
            "ms",
            "under 1000 ms",
        ),
        ("forecast: constant current against its closed form", current_error, "s", "under 1e-6 s"),
        ("forecast: constant power against its closed form", power_error, "s", "under 1e-6 s"),
    ]
