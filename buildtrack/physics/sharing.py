"""How cells in parallel share a current, and what the group may carry when its most loaded cell sets the limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp

FAR_RATIO = 2.0
"""Resistances in one group beyond this ratio make one cell carry the work of two: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Allowance:
    """What a parallel group may carry: current, the cell that limits it, and the share of each cell."""

    current_a: float
    limiting_cell: int
    shares: tuple[float, ...]
    limiting_by_name: float  # the current the same ratings would allow if every cell took an equal share


def _positive(values: Sequence[float], what: str) -> None:
    if not values:
        raise ValueError(f"no {what} given; give one per cell")
    for index, value in enumerate(values):
        if not value > 0:
            raise ValueError(f"{what} {index + 1} is {value}; it must be above zero")


def group_resistance_ohm(resistances_ohm: Sequence[float]) -> float:
    """Resistance of cells in parallel: R = 1 / sum(1 / R_i) [ohm].

    Range: every resistance above zero. Source: Kirchhoff's laws.
    """
    _positive(resistances_ohm, "resistance")
    return 1 / sum(1 / value for value in resistances_ohm)


def pack_resistance_ohm(group_resistances_ohm: Sequence[float], rest_ohm: float = 0.0) -> float:
    """Resistance of groups in series with links, board and wires: R = sum(R_group) + R_rest [ohm].

    Range: resistances above zero, rest zero or more. Source: Kirchhoff's laws.
    """
    _positive(group_resistances_ohm, "group resistance")
    if rest_ohm < 0:
        raise ValueError(f"the rest of the path is {rest_ohm} ohm; it cannot be below zero")
    return sum(group_resistances_ohm) + rest_ohm


def alike(resistances_ohm: Sequence[float], most_ratio: float = FAR_RATIO) -> bool:
    """Whether the largest resistance of a group is at most so many times its smallest.

    Equal to the ratio of the largest to the smallest share of the current at the start of a load.
    Range: resistances above zero. Source: common practice, no source.
    """
    _positive(resistances_ohm, "resistance")
    return max(resistances_ohm) / min(resistances_ohm) <= most_ratio + 1e-9


def current_shares(resistances_ohm: Sequence[float]) -> tuple[float, ...]:
    """Share of each parallel cell at equal state of charge: s_i = (1 / R_i) / sum(1 / R_k) [1].

    Holds at the start of a load; later the shares drift towards the capacities (`settled_shares`).
    Source: Kirchhoff's laws.
    """
    total = group_resistance_ohm(resistances_ohm)
    return tuple(total / value for value in resistances_ohm)


def settled_shares(capacities_ah: Sequence[float]) -> tuple[float, ...]:
    """Share after the states of charge have parted far enough to balance the resistances: s_i = Q_i / sum(Q_k) [1].

    Assumes one open-circuit curve for all cells, without a flat part.
    Source: derived; equal dU/dt needs equal I_i / Q_i.
    """
    _positive(capacities_ah, "capacity")
    total = sum(capacities_ah)
    return tuple(value / total for value in capacities_ah)


def group_currents_a(
    open_circuit_v: Sequence[float], resistances_ohm: Sequence[float], load_a: float
) -> tuple[float, tuple[float, ...]]:
    """Voltage of a parallel group and current of each cell, for unequal open-circuit voltages.

    V = (sum(E_i / R_i) - I) / sum(1 / R_i); I_i = (E_i - V) / R_i, discharge positive [V, A].
    With I = 0 these are the equalising currents between the cells. Source: Kirchhoff's laws (Millman's theorem).
    """
    total = group_resistance_ohm(resistances_ohm)
    pairs = list(zip(open_circuit_v, resistances_ohm, strict=True))
    voltage = (sum(emf / resistance for emf, resistance in pairs) - load_a) * total
    return voltage, tuple((emf - voltage) / resistance for emf, resistance in pairs)


def two_cell_share_at(
    time_s: float,
    first: tuple[float, float],
    second: tuple[float, float],
) -> float:
    """Share of the first of two parallel cells a time after a constant load began; a cell is (R_ohm, slope_v_per_ah).

    s(t) = s_end + (s_0 - s_end) exp(-t / tau); s_0 = R2 / (R1 + R2); s_end = b2 / (b1 + b2);
    tau = (R1 + R2) / (b1 + b2).
    Assumes straight open-circuit curves and equal states at the start. Source: derived from Kirchhoff's laws.
    """
    (r1, b1), (r2, b2) = first, second
    _positive((r1, r2), "resistance")
    _positive((b1, b2), "slope")
    at_start, at_end = r2 / (r1 + r2), b2 / (b1 + b2)
    tau_s = 3600 * (r1 + r2) / (b1 + b2)
    return at_end + (at_start - at_end) * exp(-time_s / tau_s)


def group_allowance(rated_a: Sequence[float], resistances_ohm: Sequence[float]) -> Allowance:
    """Current at which the first cell of a parallel group reaches its own rating: I = min(I_rated_i / s_i) [A].

    s_i is the share by conductance. Range: ratings and resistances above zero, one each per cell.
    Source: Kirchhoff's laws; that a group is limited by its most loaded cell is common practice, no source.
    """
    _positive(rated_a, "rated current")
    shares = current_shares(resistances_ohm)
    limits = [rating / share for rating, share in zip(rated_a, shares, strict=True)]
    limiting = min(range(len(limits)), key=limits.__getitem__)
    return Allowance(limits[limiting], limiting, shares, min(rated_a) * len(rated_a))
