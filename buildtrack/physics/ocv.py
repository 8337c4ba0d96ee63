"""Open-circuit voltage against state of charge: one curve, read both ways, with what it cannot tell.

State of charge is a share, 0 empty to 1 full. Between its points a curve is straight.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

SIMULATION_SOC: tuple[float, ...] = (
    *(index / 100 for index in range(10)),
    *(round(0.10 + 0.03 * index, 2) for index in range(31)),
)
"""41 points, denser below 10 %: with 21 equal points a full discharge is off by up to 1 % of the charge."""

FLAT_MV_PER_PERCENT = 1.0
"""Below this slope a reading of ordinary meters does not tell the state of charge; our own choice."""

LARGEST_REPAIR_V = 0.010


class CurveError(ValueError):
    """The points do not make an open-circuit curve; the message says which and what would."""


@dataclass(frozen=True, slots=True)
class SocRange:
    """State of charge told from a voltage: lowest and highest that fit, and what limits the answer ("" if nothing)."""

    low: float
    high: float
    note: str = ""

    @property
    def width(self) -> float:
        """Width of the range [1]."""
        return self.high - self.low


@dataclass(frozen=True, slots=True)
class Curve:
    """Open-circuit voltage over state of charge, with its origin; points rise in both.

    origin: "measured", "computed", "own log" or "given". `make_curve` builds one, checks and completes the points.
    `logged_rate_c` is the rate of the discharge it was taken from [1/h], 0 if it is no log.
    """

    key: str
    title: str
    chemistry: str
    soc_points: tuple[float, ...]
    voltage_points_v: tuple[float, ...]
    source: str = ""
    validity: str = ""
    origin: str = "given"
    notes: tuple[str, ...] = ()
    logged_rate_c: float = 0.0

    @property
    def lowest_v(self) -> float:
        """Voltage at empty [V]."""
        return self.voltage_points_v[0]

    @property
    def highest_v(self) -> float:
        """Voltage at full [V]."""
        return self.voltage_points_v[-1]

    def voltage(self, soc: float) -> float:
        """Open-circuit voltage at a state of charge [V], straight between points; outside 0..1 is refused."""
        if not 0.0 <= soc <= 1.0:
            raise ValueError(f"state of charge {soc:.4g}; between 0 (empty) and 1 (full) is needed")
        at = min(max(bisect_right(self.soc_points, soc), 1), len(self.soc_points) - 1)
        return _between(soc, self.soc_points, self.voltage_points_v, at)

    def soc(self, voltage_v: float) -> float:
        """State of charge at an open-circuit voltage [1]; a voltage outside the curve is refused."""
        if not self.lowest_v <= voltage_v <= self.highest_v:
            raise ValueError(
                f"{voltage_v:.3f} V is outside this curve of {self.lowest_v:.3f} to {self.highest_v:.3f} V"
            )
        at = min(max(bisect_left(self.voltage_points_v, voltage_v), 1), len(self.soc_points) - 1)
        return _between(voltage_v, self.voltage_points_v, self.soc_points, at)

    def soc_range(self, voltage_v: float, uncertainty_v: float = 0.0) -> SocRange:
        """States of charge that fit a rested reading within its uncertainty; ends of the curve are named."""
        low_v, high_v = voltage_v - abs(uncertainty_v), voltage_v + abs(uncertainty_v)
        if high_v < self.lowest_v:
            return SocRange(0.0, 0.0, f"below the curve, which ends at {self.lowest_v:.3f} V")
        if low_v > self.highest_v:
            return SocRange(1.0, 1.0, f"above the curve, which ends at {self.highest_v:.3f} V")
        low = self.soc(max(low_v, self.lowest_v))
        high = self.soc(min(high_v, self.highest_v))
        if self.slope_mv_per_percent((low + high) / 2) < FLAT_MV_PER_PERCENT:
            return SocRange(low, high, "cannot tell well: the curve is flat here")
        return SocRange(low, high)

    def slope_mv_per_percent(self, soc: float, half_width: float = 0.025) -> float:
        """Mean slope around a state of charge [mV per % of charge]; near an end the span is cut there."""
        low, high = max(0.0, soc - half_width), min(1.0, soc + half_width)
        if high <= low:
            raise ValueError(f"state of charge {soc:.4g} and span {half_width:.4g} leave nothing between 0 and 1")
        return 10.0 * (self.voltage(high) - self.voltage(low)) / (high - low)

    def is_flat(self, soc: float) -> bool:
        """True where a voltage says too little about the state of charge."""
        return self.slope_mv_per_percent(soc) < FLAT_MV_PER_PERCENT


def _between(x: float, xs: Sequence[float], ys: Sequence[float], at: int) -> float:
    left, right = xs[at - 1], xs[at]
    return ys[at - 1] + (ys[at] - ys[at - 1]) * (x - left) / (right - left)


def make_curve(
    key: str,
    soc: Sequence[float],
    voltage_v: Sequence[float],
    *,
    title: str = "",
    chemistry: str = "",
    source: str = "",
    validity: str = "",
    origin: str = "given",
    repair: bool = False,
    logged_rate_c: float = 0.0,
) -> Curve:
    """Check the points and complete the curve to 0 and 1.

    Refused: fewer than 3 points, state of charge outside 0..1 or not rising, voltage outside 0..5 V or not rising.
    With `repair`, falling stretches are levelled to their mean (pool adjacent violators) if no point moves by more
    than 10 mV, with a note. A gap of up to 3 % at either end is closed by the nearest straight piece, with a note.
    Source: own rules; levelling after Ayer, Brunk, Ewing, Reid and Silverman 1955.
    """
    points, volts = list(soc), list(voltage_v)
    _check_points(points, volts)
    notes: list[str] = []
    if any(b <= a for a, b in zip(volts, volts[1:], strict=False)):
        volts = _repaired(points, volts, repair, notes)
    _close_gap(points, volts, notes, at_full=False)
    _close_gap(points, volts, notes, at_full=True)
    name = title or key
    return Curve(
        key, name, chemistry, tuple(points), tuple(volts), source, validity, origin, tuple(notes), logged_rate_c
    )


def _check_points(soc: Sequence[float], voltage_v: Sequence[float]) -> None:
    if len(soc) != len(voltage_v) or len(soc) < 3:
        raise CurveError(f"{len(soc)} states and {len(voltage_v)} voltages; as many of both, at least 3, are needed")
    if not all(0.0 <= value <= 1.0 for value in soc):
        raise CurveError("a state of charge is outside 0 to 1; give shares, not per cent")
    for index, (a, b) in enumerate(zip(soc, soc[1:], strict=False), 2):
        if not b > a:
            raise CurveError(f"point {index}: state of charge {b:.4g} after {a:.4g}; sort the points upwards")
    if not all(0.0 < value < 5.0 for value in voltage_v):
        raise CurveError("a voltage is outside 0 to 5 V; give the voltage of one cell in volts")


def _repaired(soc: Sequence[float], volts: list[float], repair: bool, notes: list[str]) -> list[float]:
    first = next(k for k in range(1, len(volts)) if volts[k] <= volts[k - 1])
    where = f"{volts[first]:.4g} V at {soc[first]:.4g} after {volts[first - 1]:.4g} V"
    if not repair:
        raise CurveError(f"the voltage does not rise with charge: {where}; check the points or ask for a repair")
    levelled = _rising(volts)
    most = max(abs(a - b) for a, b in zip(volts, levelled, strict=True))
    if most > LARGEST_REPAIR_V:
        raise CurveError(f"the voltage falls by too much to repair ({1000 * most:.0f} mV): {where}; check the points")
    notes.append(f"not rising at {where}; levelled, no point moved by more than {1000 * most:.1f} mV")
    return levelled


def _rising(volts: Sequence[float]) -> list[float]:
    """Level falling stretches to their mean, then let equal points rise by a microvolt each."""
    blocks: list[list[float]] = []
    for value in volts:
        blocks.append([value, 1.0])
        while len(blocks) > 1 and blocks[-2][0] >= blocks[-1][0]:
            (a, n), (b, m) = blocks[-2], blocks[-1]
            blocks[-2:] = [[(a * n + b * m) / (n + m), n + m]]
    level = [value for value, count in blocks for _ in range(int(count))]
    for index in range(1, len(level)):
        level[index] = max(level[index], level[index - 1] + 1e-6)
    return level


def _close_gap(soc: list[float], volts: list[float], notes: list[str], *, at_full: bool) -> None:
    end, near, inner = (1.0, -1, -2) if at_full else (0.0, 0, 1)
    gap = abs(end - soc[near])
    if gap == 0.0:
        return
    name = "full" if at_full else "empty"
    if gap > 0.03:
        raise CurveError(f"the curve stops {100 * gap:.1f} % short of {name}; points up to within 3 % are needed")
    slope = (volts[near] - volts[inner]) / (soc[near] - soc[inner])
    notes.append(f"the last {100 * gap:.2g} % to {name} are drawn on straight from the nearest points")
    volts.insert(len(volts) if at_full else 0, volts[near] + slope * (end - soc[near]))
    soc.insert(len(soc) if at_full else 0, end)


def simulation_curve(curve: Curve) -> Curve:
    """The curve as the forecast uses it: read at 41 points when it has more than 60, else as it is."""
    return resampled(curve) if len(curve.soc_points) > 60 else curve


def resampled(curve: Curve, soc: Sequence[float] = SIMULATION_SOC) -> Curve:
    """The curve read at other points (41 points, denser below 10 %, unless others are given)."""
    return Curve(
        curve.key, curve.title, curve.chemistry, tuple(soc), tuple(curve.voltage(s) for s in soc),
        curve.source, curve.validity, curve.origin, curve.notes, curve.logged_rate_c,
    )  # fmt: skip
