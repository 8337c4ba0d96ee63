"""The invented world behind the readings: cells with true capacity and resistance, meters that round."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.physics.ocv_library import generic_curve


@dataclass(frozen=True, slots=True)
class TrueCell:
    """What a cell really is; the maker only ever sees what the meters show."""

    id: str
    capacity_ah: float
    resistance_ohm: float
    leak_mv_14d: float = 5.0


def volts(value: float, places: int = 3) -> str:
    return f"{value:.{places}f} V"


def ocv(soc: float) -> float:
    """Open-circuit voltage of the invented cells."""
    return generic_curve("nmc").voltage(min(1.0, max(0.0, soc)))


@dataclass(frozen=True, slots=True)
class Sample:
    """One moment of a discharge as the logger sees it."""

    seconds: float
    current_a: float
    groups_v: tuple[float, ...]
    warmest_degc: float


@dataclass(slots=True)
class TrueGroup:
    """Cells in parallel, with the state of charge the balancing left them at."""

    capacity_ah: float
    resistance_ohm: float
    soc: float = 1.0

    def voltage(self, drawn_ah: float, current_a: float) -> float:
        """Terminal voltage; below empty the voltage falls away steeply as a real cell's does."""
        left = self.soc - drawn_ah / self.capacity_ah
        if left >= 0:
            return ocv(left) - current_a * self.resistance_ohm
        return ocv(0.0) + 12.0 * left - current_a * self.resistance_ohm


def discharge(groups: Sequence[TrueGroup], current_a: float, cutoff_v: float, step_s: float, ambient_degc: float,
              seed: int) -> list[Sample]:
    """Constant-current discharge through the board until the first group falls to `cutoff_v`."""
    noise = random.Random(seed)
    found: list[Sample] = []
    drawn, seconds, warm = 0.0, 0.0, ambient_degc
    heat = sum(g.resistance_ohm for g in groups) * current_a**2
    while True:
        exact = [g.voltage(drawn, current_a) for g in groups]
        if min(exact) <= cutoff_v:
            return found
        shown = tuple(v + noise.gauss(0.0, 0.0004) for v in exact)
        found.append(Sample(seconds, current_a + noise.gauss(0.0, 0.0008), shown, warm))
        seconds += step_s
        drawn += current_a * step_s / 3600.0
        # 46 g and 965 J/kgK per cell, two cells a group, and a loss to the air with a time constant of 25 minutes
        warm += step_s * (heat / (len(groups) * 2 * 46.0e-3 * 965.0) - (warm - ambient_degc) / 1500.0)
