"""Whether a board's balancing can ever end, and what an unequal group suffers from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from buildtrack.physics.balance import balancing_time_h


@dataclass(frozen=True, slots=True)
class Board:
    """Balancing of a board: bleed current, its start voltage and over-charge trip with tolerances, hours per charge."""

    bleed_a: float
    start_v: float
    start_tolerance_v: float
    trip_v: float
    trip_tolerance_v: float
    hours_per_charge: float
    duty: float = 1.0


@dataclass(frozen=True, slots=True)
class CanItEnd:
    """Answer (yes, no, unsure), charges and bleed hours needed if yes, and the reasons."""

    answer: str
    bleed_h: float | None
    charges: float | None
    reasons: tuple[str, ...]


def can_balancing_end(
    board: Board,
    imbalance_ah: float,
    charge_v_per_group: float,
    *,
    leak_difference_ah_per_day: float = 0.0,
    days_between_charges: float = 7.0,
    capacity_differs: bool = False,
) -> CanItEnd:
    """Tell whether bleeding can remove an imbalance: net charge per cycle = I d t - leak difference * days.

    No: the charge voltage stays below the bleed's start, the difference is one of capacity, or more leaks back
    than is bled. Unsure: only the tolerances decide. Source: own rules from the working of top balancing.
    """
    reasons, unsure = _voltage_reasons(board, charge_v_per_group)
    never = bool(reasons)
    if capacity_differs:
        reasons.append("a difference in capacity cannot be bled away: the group is full first and empty first")
        never = True
    bled = board.bleed_a * board.duty * board.hours_per_charge
    returns = leak_difference_ah_per_day * days_between_charges
    if returns >= bled:
        reasons.append(f"{1000 * returns:.0f} mAh come back between charges, {1000 * bled:.0f} mAh are bled per charge")
        never = True
    if never:
        return CanItEnd("no", None, None, tuple(reasons))
    hours = balancing_time_h(imbalance_ah, board.bleed_a, board.duty)
    charges = imbalance_ah / (bled - returns)
    return CanItEnd("unsure" if unsure else "yes", hours, charges, tuple(unsure))


def _voltage_reasons(board: Board, charge_v: float) -> tuple[list[str], list[str]]:
    never: list[str] = []
    unsure: list[str] = []
    low, high = board.start_v - board.start_tolerance_v, board.start_v + board.start_tolerance_v
    if charge_v < low:
        never.append(f"charged to {charge_v:.3f} V per group, the bleed starts at {low:.3f} V at the lowest")
    elif charge_v < high:
        unsure.append(f"charged to {charge_v:.3f} V per group, the bleed may start as late as {high:.3f} V")
    if board.trip_v + board.trip_tolerance_v < low:
        never.append(f"the over-charge trip ({board.trip_v:.3f} V) ends the charge before the bleed starts")
    elif board.trip_v - board.trip_tolerance_v < high:
        unsure.append(
            f"the over-charge trip may come at {board.trip_v - board.trip_tolerance_v:.3f} V, before the bleed"
        )
    return never, unsure


@dataclass(frozen=True, slots=True)
class GroupTest:
    """One group in one full test: at full charge, under load, at cutoff, rested after, and its weekly drop at rest."""

    full_v: float
    resistance_ohm: float
    cutoff_v: float
    rebound_v: float
    rest_drop_v_per_week: float = 0.0


@dataclass(frozen=True, slots=True)
class GroupFinding:
    """Kind (level, small capacity, under-charged, over-charged, high resistance, leak, cannot tell) and a sentence."""

    kind: str
    sentence: str


def diagnose_groups(
    tests: Sequence[GroupTest], *, threshold_v: float = 0.015, resistance_factor: float = 1.3
) -> tuple[GroupFinding, ...]:
    """Tell for every group what its place at full, under load, at cutoff and after rebound points to.

    Deviations are from the median of all groups (from the other one when there are two). `threshold_v` must exceed the
    meter's repeatability; at cutoff, where the curve is steep, it counts five times. Range: two groups or more.
    Source: common practice, no source.
    """
    if len(tests) < 2:
        raise ValueError("at least two groups are needed: each is told against the others")
    return tuple(_diagnose(g, tests, threshold_v, resistance_factor) for g in range(len(tests)))


def _diagnose(g: int, tests: Sequence[GroupTest], threshold_v: float, factor: float) -> GroupFinding:
    own, others = tests[g], list(tests) if len(tests) > 2 else [tests[1 - g]]
    full = own.full_v - median(test.full_v for test in others)
    cutoff = own.cutoff_v - median(test.cutoff_v for test in others)
    rebound = own.rebound_v - median(test.rebound_v for test in others)
    drop = own.rest_drop_v_per_week - median(test.rest_drop_v_per_week for test in others)
    resistive = own.resistance_ohm > factor * median(test.resistance_ohm for test in others)
    first_empty, rests_low, rests_high = cutoff < -5 * threshold_v, rebound < -threshold_v, rebound > threshold_v
    if resistive and first_empty and not rests_low:
        return GroupFinding("high resistance", "sags first but rests level: look at the joint, the tap, an old cell")
    if first_empty and rests_low:
        if full < -threshold_v:
            return GroupFinding(
                "under-charged", "low at both ends: balance once, then watch; back within weeks is a leak"
            )
        return GroupFinding("small capacity", "full with or before the others, empty first: balancing cannot help")
    if drop > threshold_v / 2:
        return GroupFinding("leak", f"falls {1000 * drop:.1f} mV a week more than the others at rest")
    if full > threshold_v and (cutoff > 5 * threshold_v or rests_high):
        return GroupFinding("over-charged", "high at both ends: it holds more charge than the others; balance")
    if abs(full) <= threshold_v and abs(cutoff) <= 5 * threshold_v and abs(rebound) <= threshold_v and not resistive:
        return GroupFinding("level", "level with the others at both ends")
    return GroupFinding("cannot tell", "the signs do not point one way: repeat the test after a balance charge")


def diagnose_again(first: Sequence[GroupFinding], second: Sequence[GroupFinding]) -> tuple[GroupFinding, ...]:
    """Two tests with a balance charge between: what came back is a leak or a weak group, what did not was drift."""
    return tuple(_again(a, b) for a, b in zip(first, second, strict=True))


def _again(first: GroupFinding, second: GroupFinding) -> GroupFinding:
    if first.kind == second.kind == "under-charged":
        return GroupFinding("leak", "under-charged again after a balance charge: it loses charge")
    if first.kind in ("under-charged", "over-charged") and second.kind == "level":
        return GroupFinding("drift", "level after the balance charge: it had only drifted")
    if first.kind == second.kind == "small capacity":
        return GroupFinding("small capacity", "empty first again after a balance charge: a weak group")
    return second
