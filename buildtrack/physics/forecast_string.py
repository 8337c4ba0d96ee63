"""A series string as functions of the charge drawn from it: exact pieces, crossings and integrals.

All groups carry one current, so everything depends on the charge drawn: soc_g = soc0_g - q / Q_g,
V_g(q, I) = U_g(soc_g) - I R_g(soc_g). Where R_g does not depend on the charge, V_g reaches a limit at the state whose
open-circuit voltage is limit + I R_g, which the curve is asked for. With straight pieces of curve and resistance V_g is
straight in q between the breakpoints of all groups, so crossings and integrals are exact; no time step is involved.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

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


@dataclass(frozen=True)
class String:
    """Groups in series, as far as the first group that is empty; `rest_ohm` is what lies outside the groups.

    What is laid over the common breakpoints of all groups is worked out when it is first asked for: a constant power
    and resistances that change with the charge need it, a constant current does not.
    """

    groups: tuple[Group, ...]
    rest_ohm: float

    @cached_property
    def end_ah(self) -> float:
        """Charge at which the first group is empty [Ah]."""
        return min(group.start_soc * group.capacity_ah for group in self.groups)

    @property
    def empty_first(self) -> int:
        """Number of the group (from 0) that is empty first."""
        return min(range(len(self.groups)), key=lambda g: self.groups[g].start_soc * self.groups[g].capacity_ah)

    @cached_property
    def steady_ohm(self) -> float | None:
        """Resistance of the whole string where none of it depends on the charge, else None [ohm]."""
        if any(group.resistance_table for group in self.groups):
            return None
        return sum(group.resistance_ohm for group in self.groups) + self.rest_ohm

    @cached_property
    def charge_ah(self) -> tuple[float, ...]:
        """Common breakpoints of the charge drawn [Ah]; the series below belong to them."""
        return _breakpoints(self.groups, self.end_ah)

    @cached_property
    def emf_v(self) -> tuple[tuple[float, ...], ...]:
        """Open-circuit voltage of every group [V]."""
        return tuple(tuple([group.curve.voltage(s) for s in self._states(group)]) for group in self.groups)

    @cached_property
    def ohm(self) -> tuple[tuple[float, ...], ...]:
        """Resistance of every group [ohm]."""
        return tuple(tuple([group.resistance_at(s) for s in self._states(group)]) for group in self.groups)

    def _states(self, group: Group) -> list[float]:
        return [min(1.0, max(0.0, group.start_soc - q / group.capacity_ah)) for q in self.charge_ah]

    @cached_property
    def string_emf_v(self) -> tuple[float, ...]:
        """Open-circuit voltage of the string [V]."""
        return tuple([sum(column) for column in zip(*self.emf_v, strict=True)])

    @cached_property
    def string_ohm(self) -> tuple[float, ...]:
        """Resistance of the string with what lies outside the groups [ohm]."""
        return tuple([sum(column) + self.rest_ohm for column in zip(*self.ohm, strict=True)])

    @cached_property
    def ohm_ah(self) -> tuple[float, ...]:
        """Integral of the string's resistance over the charge [ohm Ah]."""
        return _running(self.charge_ah, self.string_ohm)

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

    def energy_wh(self, charge_ah: float) -> float:
        """Energy the curves give up until a charge is drawn: sum of Q_g times the integral of U_g over soc [Wh]."""
        sums = {id(group.curve): _running(group.curve.soc_points, group.curve.voltage_points_v)
                for group in self.groups}
        total = 0.0
        for g, group in enumerate(self.groups):
            running = sums[id(group.curve)]
            begin, end = (_volt_share(group.curve, running, s) for s in (group.start_soc, self.soc(g, charge_ah)))
            total += group.capacity_ah * (begin - end)
        return total

    def soc(self, group: int, charge_ah: float) -> float:
        """State of charge of a group after a charge was drawn [1]."""
        own = self.groups[group]
        return max(0.0, own.start_soc - charge_ah / own.capacity_ah)

    def crossing(self, current_a: float, limits_v: Sequence[float]) -> tuple[float, int] | None:
        """First charge at which a group's terminal voltage is at or below its limit, and that group, or None."""
        best: tuple[float, int] | None = None
        for g, limit in enumerate(limits_v):
            walked = self.groups[g].resistance_table
            charge = self._first_below(g, current_a, limit) if walked else self._state_reached(g, current_a, limit)
            if charge is not None and (best is None or charge < best[0]):
                best = (charge, g)
        return best

    def _state_reached(self, g: int, current_a: float, limit_v: float) -> float | None:
        """Closed form for a steady resistance: q = (soc0 - soc(limit + I R)) Q."""
        group, end = self.groups[g], self.end_ah
        rested = limit_v + current_a * group.resistance_ohm
        if group.curve.voltage(group.start_soc) <= rested:
            return 0.0
        if group.curve.voltage(self.soc(g, end)) > rested:
            return None
        return min((group.start_soc - group.curve.soc(rested)) * group.capacity_ah, end)

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
        """True when every group's terminal voltage falls with charge drawn, so that a crossing is final.

        Curves rise with charge, so only a resistance that changes with it can undo that.
        """
        for g, group in enumerate(self.groups):
            if group.resistance_table:
                volts = [e - current_a * r for e, r in zip(self.emf_v[g], self.ohm[g], strict=True)]
                if any(b > a + 1e-12 for a, b in zip(volts, volts[1:], strict=False)):
                    return False
        return True


def _volt_share(curve: Curve, running: Sequence[float], soc: float) -> float:
    """Integral of the voltage from empty to a state of charge [V]."""
    k = min(max(bisect_right(curve.soc_points, soc) - 1, 0), len(curve.soc_points) - 2)
    return running[k] + (soc - curve.soc_points[k]) * (curve.voltage_points_v[k] + curve.voltage(soc)) / 2


def make_string(groups: Sequence[Group], rest_ohm: float = 0.0) -> String:
    """The groups in series, their curves as the forecast reads them; refuse what cannot be computed."""
    if not groups:
        raise ValueError("no groups; at least one is needed")
    if rest_ohm < 0:
        raise ValueError(f"the rest of the path is {rest_ohm} ohm; it cannot be below zero")
    for number, group in enumerate(groups, 1):
        check_group(number, group)
    curves = {id(group.curve): group.curve for group in groups}
    read = {key: simulation_curve(curve) for key, curve in curves.items()}
    return String(tuple(replace(group, curve=read[id(group.curve)]) for group in groups), rest_ohm)


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
