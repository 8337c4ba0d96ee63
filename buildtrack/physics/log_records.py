"""Records a log is summed up in: gaps, load steps, rows, marked moments and the outline for drawing."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch without readings: where it ends, how long, and the charge the straight line puts into it."""

    line: int
    time_s: float
    length_s: float
    charge_ah: float


@dataclass(frozen=True, slots=True)
class LoadStep:
    """Two neighbouring rows with different current: values before and after, for resistance from U = dU / dI."""

    line: int
    time_s: float
    seconds_apart: float
    current_before_a: float
    current_after_a: float
    voltage_before_v: float
    voltage_after_v: float
    groups_before_v: tuple[float, ...]
    groups_after_v: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Point:
    """One stretch of the outline: its start, lowest and highest voltage and current, lowest voltage of each group."""

    time_s: float
    lowest_v: float
    highest_v: float
    lowest_a: float
    highest_a: float
    groups_v: tuple[float, ...]


@dataclass(slots=True)
class Row:
    """One cleaned row."""

    time_s: float
    current_a: float
    voltage_v: float
    groups_v: tuple[float, ...]


@dataclass(slots=True)
class Unload:
    """A moment the load went away: the row before, and the voltages of up to three rows from then on."""

    before: Row
    line: int
    time_s: float
    after_v: list[float] = field(default_factory=list)
    tail_ah: float = 0.0
    """Trapezoid from the row before into the first row without load, with the sign of the file."""
    tail_wh: float = 0.0


@dataclass(frozen=True, slots=True)
class Mark:
    """A wanted moment: what was asked (voltage or time), the row, its lowest group, charge and energy to there."""

    asked: str
    value: float
    row: Row
    group: int | None
    charge_ah: float
    energy_wh: float
