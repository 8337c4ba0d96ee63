"""The old nickel pack: its voltages, its bad cells, its charger, and how many lithium groups may replace it."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from buildtrack.data import load

CellState = Literal["sound", "weak", "flat", "reversed"]


@dataclass(frozen=True, slots=True)
class SeriesWindow:
    """Voltages of a lithium pack beside those of the nickel pack it replaces."""

    series: int
    full_v: float
    nominal_v: float
    empty_v: float
    over_old_full_share: float
    """Full lithium voltage over the old pack's full voltage, minus one: above 0 it exceeds the old maximum."""


def _nickel() -> dict[str, Any]:
    table: dict[str, Any] = load("standards")["nickel_cadmium"]
    return table


def nominal_voltage_v(cells: int) -> float:
    """Nominal voltage of a nickel pack.

    V = n * 1.2
    Units: V. Range: whole number of cells from 1.
    Source: iec-61951-1 (nominal voltage 1.2 V).
    """
    return _count(cells, "cells") * float(_nickel()["nominal_v"])


def full_voltage_v(cells: int) -> float:
    """Voltage of a nickel pack just off its charger.

    V = n * 1.45
    Units: V. Range: whole number of cells from 1.
    Source: iec-61951-1 (up to 1.45 V charged at C/10).
    """
    return _count(cells, "cells") * float(_nickel()["full_v"])


def empty_voltage_v(cells: int) -> float:
    """Voltage of a fully discharged nickel pack.

    V = n * 1.0
    Units: V. Range: whole number of cells from 1.
    Source: iec-61951-1 (1.0 V is fully discharged).
    """
    return _count(cells, "cells") * float(_nickel()["empty_v"])


def cells_of_nominal_voltage(nominal_v: float) -> int:
    """Number of nickel cells in a pack from the voltage on its label.

    n = V / 1.2
    Units: V. Range: within 0.3 V of a whole number of cells.
    Source: iec-61951-1 (nominal voltage 1.2 V).
    """
    nominal = float(_nickel()["nominal_v"])
    cells = round(nominal_v / nominal)
    if cells < 1 or round(abs(cells * nominal - nominal_v), 9) > 0.3:
        raise ValueError(f"{nominal_v:g} V is not a whole number of 1.2 V cells; count the cells instead.")
    return cells


def largest_lithium_series(cells: int, lithium_full_v: float = 4.20) -> int:
    """Most lithium groups in series whose full voltage stays within the old pack's.

    S = floor(n * 1.45 / 4.20)
    Units: V per group. Range: at least three nickel cells; never reckoned from nominal voltages.
    Source: common-practice (full voltages compared). Source: iec-61951-1 (1.45 V).
    """
    if not lithium_full_v > 0:
        raise ValueError(f"A full voltage of {lithium_full_v:g} V is not allowed: above 0 V.")
    # The slack keeps an exact multiple from falling to the next lower number in floating point.
    series = int(full_voltage_v(cells) / lithium_full_v + 1e-9)
    if series < 1:
        raise ValueError(f"{cells} nickel cells are too few: not even one lithium group fits their voltage.")
    return series


def series_window(
    series: int, cells: int, full_v: float = 4.20, nominal_v: float = 3.6, empty_v: float = 3.0
) -> SeriesWindow:
    """Voltages of a lithium pack of S groups, beside the old pack's full voltage.

    V = S * V_group; excess = S * V_full / (n * 1.45) - 1
    Units: V per group. Range: whole numbers from 1.
    Source: common-practice (4.20, 3.6 and 3.0 V per group). Source: iec-61951-1 (1.45 V).
    """
    groups = _count(series, "groups")
    excess = groups * full_v / full_voltage_v(cells) - 1
    return SeriesWindow(series, groups * full_v, groups * nominal_v, groups * empty_v, excess)


def classify_cells(voltages_v: Sequence[float]) -> tuple[CellState, ...]:
    """State of every nickel cell from its resting voltage.

    reversed: below 0 V; flat: below 0.5 V; weak: 0.1 V or more below the median of the cells that are neither;
    sound: the rest
    Units: V, polarity of the pack kept. Range: at least one cell.
    Source: common-practice (no publication; limits in the policy table).
    """
    if not voltages_v:
        raise ValueError("No cell voltage was given; at least one is needed.")
    policy = load("thresholds")["policy"]
    alive = [voltage for voltage in voltages_v if voltage >= policy["nickel_flat_v"]]
    weak_below_v = statistics.median(alive) - policy["nickel_weak_below_median_v"] if alive else 0.0
    return tuple(_state(voltage, policy["nickel_flat_v"], weak_below_v) for voltage in voltages_v)


def _state(voltage_v: float, flat_v: float, weak_below_v: float) -> CellState:
    if voltage_v < 0:
        return "reversed"
    if voltage_v < flat_v:
        return "flat"
    # Nine digits, so that 1.25 - 0.10 and a reading of 1.15 compare as printed.
    return "weak" if round(voltage_v - weak_below_v, 9) <= 0 else "sound"


def missing_cells(pack_v: float, cells: int, rested_cell_v: float = 1.3) -> int:
    """How many cells' worth of voltage a charged, rested pack lacks.

    n_missing = round((n * 1.3 - V) / 1.3), not below 0
    Units: V. Range: reading from 0 V.
    Source: common-practice (missing multiples of a cell's voltage are shorted cells).
    """
    if pack_v < 0:
        raise ValueError(f"The pack reads {pack_v:g} V; swap the probes, it must not be negative.")
    if not rested_cell_v > 0:
        raise ValueError(f"A rested cell of {rested_cell_v:g} V is not allowed: above 0 V.")
    return max(0, round((_count(cells, "cells") * rested_cell_v - pack_v) / rested_cell_v))


def spread_v(voltages_v: Sequence[float]) -> float:
    """Difference between the highest and the lowest cell.

    dV = max - min
    Units: V. Range: at least one cell.
    Source: common-practice (definition).
    """
    if not voltages_v:
        raise ValueError("No cell voltage was given; at least one is needed.")
    return max(voltages_v) - min(voltages_v)


def energy_when_new_wh(cells: int, capacity_ah: float) -> float:
    """Energy of the nickel pack when it was new.

    E = n * 1.2 * Q
    Units: Ah, Wh. Range: capacity not negative.
    Source: iec-61951-1 (nominal voltage 1.2 V).
    """
    if capacity_ah < 0:
        raise ValueError(f"A capacity of {capacity_ah:g} Ah is not allowed: it must not be negative.")
    return nominal_voltage_v(cells) * capacity_ah


def charger_rate_per_h(current_a: float, capacity_ah: float) -> float:
    """C-rate of a charger on a pack.

    rate = I / Q
    Units: A, Ah, 1/h. Range: capacity above 0.
    Source: iec-61960-3 (It = Cn / 1 h).
    """
    if not capacity_ah > 0:
        raise ValueError(f"A capacity of {capacity_ah:g} Ah is not allowed: above 0 Ah.")
    return current_a / capacity_ah


def charge_factor(rate_per_h: float = 0.1, time_h: float = 16.0) -> float:
    """Charge put into a nickel cell over the charge it gives back.

    factor = rate * t
    Units: 1/h, h. The standard's full charge is 0.1 It for 16 h. Range: neither negative.
    Source: iec-61951-1 (charge 0.1 It for 16 h).
    """
    if rate_per_h < 0 or time_h < 0:
        raise ValueError("Neither a rate nor a time may be negative.")
    return rate_per_h * time_h


def _count(number: int, what: str) -> int:
    if number != int(number) or number < 1:
        raise ValueError(f"{number:g} {what} is not allowed: a whole number from 1.")
    return int(number)
