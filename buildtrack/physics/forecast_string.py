"""A series string as functions of the charge drawn from it: exact pieces, crossings and integrals.

All groups carry one current, so everything depends on the charge drawn: soc_g = soc0_g - q / Q_g,
V_g(q, I) = U_g(soc_g) - I R_g(soc_g). With straight pieces of curve and resistance V_g is straight in q between the
breakpoints of all groups, so crossings and integrals are exact; no time step is involved.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace

from buildtrack.physics.ocv import Curve, simulation_curve


@dataclass(frozen=True, slots=True)
class Group:
    """One parallel group: capacity, curve, resistance and where it starts.

    `resistance_table` holds (soc, ohm) pairs, rising in soc; when given it replaces `resistance_ohm`.
    """

    capacity_ah: float
    curve: Curve
    resistance_ohm: float = 0.0
    start_soc: float = 1.0
    resistance_table: tuple[tuple[float, float], ...] = ()

    def resistance_at(self, soc: float) -> float:
        """Resistance at a state of charge [ohm], straight between the pairs, level beyond the first and last."""
        table = self.resistance_table
        if not table:
            return self.resistance_ohm
        if soc <= table[0][0]:
            return table[0][1]
        for (a, low), (b, high) in zip(table, table[1:], strict=False):
            if soc <= b:
                return low + (high - low) * (soc - a) / (b - a)
        return table[-1][1]


def check_group(number: int, group: Group) -> None:
    """Refuse a group that cannot be computed, with its number and what would be right."""
    if not 0 < group.capacity_ah < 10_000:
        raise ValueError(f"group {number}: capacity {group.capacity_ah} Ah; above zero is needed")
    if not 0 < group.start_soc <= 1:
        raise ValueError(f"group {number}: state of charge {group.start_soc}; above 0 and up to 1 is needed")
    if group.resistance_ohm < 0 or any(ohm < 0 for _, ohm in group.resistance_table):
        raise ValueError(f"group {number}: a resistance is below zero")
    states = [soc for soc, _ in group.resistance_table]
    if any(b <= a for a, b in zip(states, states[1:], strict=False)):
        raise ValueError(f"group {number}: the resistance table must rise in state of charge")


@dataclass(frozen=True, slots=True)
class String:
    """Groups in series over common breakpoints of the charge drawn, up to the first group that is empty.

    `emf_v[g][k]` and `ohm[g][k]` belong to `charge_ah[k]`; `emf_wh[k]`, `ohm_ah[k]` are the integrals of the
    string to there, with `rest_ohm` in the resistance.
    """

    groups: tuple[Group, ...]
    rest_ohm: float
    charge_ah: tuple[float, ...]
    emf_v: tuple[tuple[float, ...], ...]
    ohm: tuple[tuple[float, ...], ...]
    string_emf_v: tuple[float, ...]
    string_ohm: tuple[float, ...]
    emf_wh: tuple[float, ...]
    ohm_ah: tuple[float, ...]

    @property
    def end_ah(self) -> float:
        """Charge at which the first group is empty [Ah]."""
        return self.charge_ah[-1]

    @property
    def empty_first(self) -> int:
        """Number of the group (from 0) that is empty first."""
        return min(range(len(self.groups)), key=lambda g: self.groups[g].start_soc * self.groups[g].capacity_ah)

    def at(self, series: Sequence[float], charge_ah: float) -> float:
        """A series of this string read straight between breakpoints."""
        k = self._piece(charge_ah)
        left, right = self.charge_ah[k], self.charge_ah[k + 1]
        return series[k] + (series[k + 1] - series[k]) * (charge_ah - left) / (right - left)

    def _piece(self, charge_ah: float) -> int:
        return min(max(bisect_right(self.charge_ah, charge_ah) - 1, 0), len(self.charge_ah) - 2)

    def integral(self, sums: Sequence[float], series: Sequence[float], charge_ah: float) -> float:
        """Integral of a series from zero to a charge: trapezoid, exact for straight pieces."""
        k = self._piece(charge_ah)
        span = charge_ah - self.charge_ah[k]
        return sums[k] + span * (series[k] + self.at(series, charge_ah)) / 2

    def soc(self, group: int, charge_ah: float) -> float:
        """State of charge of a group after a charge was drawn [1]."""
        own = self.groups[group]
        return max(0.0, own.start_soc - charge_ah / own.capacity_ah)

    def crossing(self, current_a: float, limits_v: Sequence[float]) -> tuple[float, int] | None:
        """First charge at which a group's terminal voltage is at or below its limit, and that group, or None."""
        best: tuple[float, int] | None = None
        for g, limit in enumerate(limits_v):
            charge = self._first_below(g, current_a, limit)
            if charge is not None and (best is None or charge < best[0]):
                best = (charge, g)
        return best

    def _first_below(self, g: int, current_a: float, limit_v: float) -> float | None:
        previous = 0.0
        for k, (emf, ohm) in enumerate(zip(self.emf_v[g], self.ohm[g], strict=True)):
            above = emf - current_a * ohm - limit_v
            if above <= 0:
                if k == 0 or above == previous:
                    return self.charge_ah[k]
                left, right = self.charge_ah[k - 1], self.charge_ah[k]
                return left + (right - left) * previous / (previous - above)
            previous = above
        return None

    def falls_throughout(self, current_a: float) -> bool:
        """True when every group's terminal voltage falls with charge drawn, so that a crossing is final."""
        for emf, ohm in zip(self.emf_v, self.ohm, strict=True):
            volts = [e - current_a * r for e, r in zip(emf, ohm, strict=True)]
            if any(b > a + 1e-12 for a, b in zip(volts, volts[1:], strict=False)):
                return False
        return True


def make_string(groups: Sequence[Group], rest_ohm: float = 0.0) -> String:
    """Lay all groups over common breakpoints of charge drawn; refuse what cannot be computed."""
    if not groups:
        raise ValueError("no groups; at least one is needed")
    if rest_ohm < 0:
        raise ValueError(f"the rest of the path is {rest_ohm} ohm; it cannot be below zero")
    for number, group in enumerate(groups, 1):
        check_group(number, group)
    groups = [replace(group, curve=simulation_curve(group.curve)) for group in groups]
    end = min(group.start_soc * group.capacity_ah for group in groups)
    charge = _breakpoints(groups, end)
    emf, ohm = [], []
    for group in groups:
        states = [min(1.0, max(0.0, group.start_soc - q / group.capacity_ah)) for q in charge]
        emf.append(tuple(group.curve.voltage(s) for s in states))
        ohm.append(tuple(group.resistance_at(s) for s in states))
    string_emf = tuple(sum(column) for column in zip(*emf, strict=True))
    string_ohm = tuple(sum(column) + rest_ohm for column in zip(*ohm, strict=True))
    return String(
        tuple(groups), rest_ohm, charge, tuple(emf), tuple(ohm), string_emf, string_ohm,
        _running(charge, string_emf), _running(charge, string_ohm),
    )  # fmt: skip


def _breakpoints(groups: Sequence[Group], end_ah: float) -> tuple[float, ...]:
    found = {0.0, end_ah}
    for group in groups:
        for soc in (*group.curve.soc_points, *(soc for soc, _ in group.resistance_table)):
            charge = (group.start_soc - soc) * group.capacity_ah
            if 0.0 < charge < end_ah:
                found.add(charge)
    ordered = sorted(found)
    kept = [ordered[0]]
    for charge in ordered[1:-1]:
        if charge - kept[-1] > 1e-13 * end_ah and end_ah - charge > 1e-13 * end_ah:
            kept.append(charge)
    return (*kept, ordered[-1])


def _running(charge: Sequence[float], series: Sequence[float]) -> tuple[float, ...]:
    sums = [0.0]
    for k in range(1, len(charge)):
        sums.append(sums[-1] + (charge[k] - charge[k - 1]) * (series[k] + series[k - 1]) / 2)
    return tuple(sums)
