"""What the readings of one candidate cell say, judged by the policy values of the build."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from buildtrack.physics import circuit, screening
from buildtrack.physics.ocv import Curve
from buildtrack.workings.cells_curve import slope_v_per_share
from buildtrack.workings.values import Record

DAMAGED = ("dented", "rust at vent", "swollen", "leaking", "reversed")
"""What a cell may look like that keeps it out of any pack; a torn wrapper can be renewed."""
REST_PERIOD_D = 14.0
UNMARKED = "unmarked"
"""Written as the print of a cell: its sleeve is gone, re-wrapped or without print, and nobody knows its ratings."""


@dataclass(frozen=True, slots=True)
class Limits:
    """The policy values that a candidate cell is judged by."""

    arrival_good_v: float
    arrival_slow_v: float
    arrival_stop_v: float
    arrival_never_v: float
    heater_rise_k: float
    heater_limit_degc: float
    drop_ok_v: float
    drop_watch_v: float
    drop_reject_v: float
    health_good: float
    health_fair: float
    health_recycle: float
    resistance_suspicious: float
    resistance_reject_ohm: float
    unknown_rate_per_h: float
    unknown_current_a: float


@dataclass(frozen=True, slots=True)
class Rest:
    """Self-discharge from two resting voltages."""

    days: float
    drop_v: float
    plus_minus_v: float | None
    """Limit of error of the drop; what both readings share with the meter cancels."""
    drop_14d_v: float
    per_day_v: float
    share_per_month: float | None
    """Charge lost in 30 days over full; None where the curve cannot tell."""
    leak_ah_per_day: float | None
    leak_plus_minus_ah: float | None = None
    """Limit of error of the leak that the two voltages leave."""
    slope_v: float | None = None
    """Slope of the resting curve between the two voltages [V per whole charge]; None where the curve cannot tell."""


@dataclass(frozen=True, slots=True)
class CellFacts:
    """One candidate as it stands."""

    id: str
    decision: str
    chemistry: str
    look: str
    arrival_v: float | None
    arrival: str
    """good, slow start, suspicious, stop, never; empty where it was not measured."""
    rise_k: float | None
    heater: bool | None
    rest: Rest | None
    rest_class: str
    """ok, watch, single cell only, reject; empty where it was not measured."""
    rated_ah: float | None
    capacity_ah: float | None
    health: float | None
    """Measured over rated capacity."""
    health_class: str
    """good, fair, gadgets, recycle; empty where it cannot be told."""
    resistance_ohm: float | None
    """Direct-current resistance; an alternating-current value is never put in its place."""
    ac_resistance_ohm: float | None
    resistance_ratio: float | None
    """Over the median of the lot."""
    allowance_a: float | None
    allowance_by: str
    mass_g: float | None
    price: float | None
    against: tuple[str, ...]
    """Why it may not go into a pack: keys of AGAINST_WORDS."""
    doubts: tuple[str, ...]
    """Readings that contradict each other."""
    capacity_errors: Mapping[str, float]
    """Limit of error of the capacity by source."""
    resistance_errors: Mapping[str, float]
    """Limit of error of the direct-current resistance by source."""

    @property
    def kept(self) -> bool:
        """Whether it was decided to keep it."""
        return self.decision == "keep"

    @property
    def identified(self) -> bool:
        """Whether its chemistry is known and its rating stated."""
        return self.chemistry not in ("", "unknown")


def _loads(row: Record) -> tuple[float, float, float, float] | None:
    """The two loads of the resistance test (U1, I1, U2, I2), the lighter one first; None where one is missing."""
    voltage_1, current_1 = row.number("dc_voltage_1"), row.number("dc_current_1")
    voltage_2, current_2 = row.number("dc_voltage_2"), row.number("dc_current_2")
    if voltage_1 is None or current_1 is None or voltage_2 is None or current_2 is None:
        return None
    if current_1 > current_2:
        return voltage_2, current_2, voltage_1, current_1
    return voltage_1, current_1, voltage_2, current_2


def dc_resistance(row: Record) -> tuple[float | None, str]:
    """Direct-current resistance of a cell, from two loads or as stated, and what speaks against the readings."""
    loads = _loads(row)
    if loads is not None:
        if loads[1] == loads[3]:
            return None, "both loads of the resistance test are the same current"
        resistance = circuit.dc_resistance_ohm(*loads)
        return (resistance, "") if resistance > 0 else (None, "the voltage rises with the load in the resistance test")
    stated = row.number("resistance")
    if stated is not None and row.text("resistance_method") == "dc":
        return (stated, "") if stated > 0 else (None, "the resistance must be above 0")
    return None, ""


def resistance_errors(row: Record) -> dict[str, float]:
    """Limit of error of the direct-current resistance by source: dR = (dU1 - dU2) / dI - dU (dI2 - dI1) / dI²."""
    loads = _loads(row)
    if loads is None:
        return dict(row.spreads.get("resistance", {})) if row.text("resistance_method") == "dc" else {}
    voltage_1, current_1, voltage_2, current_2 = loads
    step = current_2 - current_1
    if step == 0:
        return {}
    swapped = (row.number("dc_current_1") or 0.0) > (row.number("dc_current_2") or 0.0)
    first, second = ("2", "1") if swapped else ("1", "2")
    parts = ((f"dc_voltage_{first}", 1 / step), (f"dc_voltage_{second}", -1 / step),
             (f"dc_current_{second}", -(voltage_1 - voltage_2) / step**2),
             (f"dc_current_{first}", (voltage_1 - voltage_2) / step**2))
    found: dict[str, float] = {}
    for column, weight in parts:
        for source, limit in row.spreads.get(column, {}).items():
            found[source] = found.get(source, 0.0) + weight * limit
    return found


def ac_resistance(row: Record) -> float | None:
    """Alternating-current resistance as stated, None where the value is another kind."""
    return row.number("resistance") if row.text("resistance_method") == "ac" else None


def capacity_of(row: Record, factor: float = 1.0) -> float | None:
    """Measured capacity, corrected for the tester's current; None where there is none above 0."""
    capacity = row.number("capacity")
    return capacity * factor if capacity is not None and capacity > 0 else None


def rest_of(row: Record, capacity_ah: float | None, own: Curve | None = None) -> tuple[Rest | None, str]:
    """Self-discharge of a cell, and what speaks against the readings; own: the maker's own curve of such a cell."""
    first, second = row.number("rest_1_voltage"), row.number("rest_2_voltage")
    begin, end = row.number("rest_1_on"), row.number("rest_2_on")
    if first is None or second is None or begin is None or end is None:
        return None, ""
    days = end - begin
    if days <= 0:
        return None, "the second rest reading is not later than the first"
    drop = first - second
    slope = slope_v_per_share(row.text("chemistry"), first, second, own)
    share, error = drop / slope / days if slope else None, _drop_spread(row)
    known = slope is not None and slope > 0 and capacity_ah is not None
    return Rest(
        days, drop, error, drop / days * REST_PERIOD_D, drop / days,
        None if share is None else share * 30.0,
        None if share is None or capacity_ah is None else share * capacity_ah,
        error / (slope or 1.0) / days * (capacity_ah or 0.0) if known and error is not None else None,
        slope), ""


def _drop_spread(row: Record) -> float | None:
    first, second = row.spreads.get("rest_1_voltage"), row.spreads.get("rest_2_voltage")
    if not first or not second:
        return None
    return math.hypot(*(first.get(s, 0.0) - second.get(s, 0.0) for s in set(first) | set(second)))


def arrival_class(voltage_v: float | None, limits: Limits) -> str:
    """What the voltage on arrival allows."""
    if voltage_v is None:
        return ""
    steps = ((limits.arrival_good_v, "good"), (limits.arrival_slow_v, "slow start"),
             (limits.arrival_stop_v, "suspicious"), (limits.arrival_never_v, "stop"))
    return next((word for limit, word in steps if voltage_v >= limit), "never")


def rest_class(rest: Rest | None, limits: Limits) -> str:
    """What the fall over the rest allows, scaled to 14 days."""
    if rest is None:
        return ""
    drop = round(rest.drop_14d_v, 9)
    steps = ((limits.drop_ok_v, "ok"), (limits.drop_watch_v, "watch"), (limits.drop_reject_v, "single cell only"))
    return next((word for limit, word in steps if drop <= limit), "reject")


def health_class(health: float | None, limits: Limits) -> str:
    """What the kept capacity allows."""
    if health is None:
        return ""
    kept = round(health, 9)
    steps = ((limits.health_good, "good"), (limits.health_fair, "fair"), (limits.health_recycle, "gadgets"))
    return next((word for limit, word in steps if kept >= limit), "recycle")


def without_print(row: Record) -> bool:
    """Whether it was answered that the cell bears no print."""
    return row.text("marking").strip().casefold() == UNMARKED


def allowance_of(row: Record, capacity_ah: float | None, health: float | None,
                 limits: Limits) -> tuple[float | None, str]:
    """Current the cell may give for long, and by which rule.

    A rating typed for a cell without print was read off nothing: it may lower the cautious default, never raise it.
    """
    if capacity_ah is None:
        return None, ""
    current, rate = row.number("rated_current"), row.number("rated_c_rate")
    default = min(limits.unknown_current_a, limits.unknown_rate_per_h * capacity_ah)
    if not current and not rate:
        return default, "rating unknown: the cautious default"
    allowed = screening.allowance_a(capacity_ah, current or None, rate or None, health)
    if without_print(row) and allowed > default:
        return default, "rating unknown: the cautious default"
    if current and rate:
        return allowed, "rated current, or C-rate × measured capacity"
    return allowed, "C-rate × measured capacity" if rate else "rated current × capacity kept"


def _heater(row: Record, ambient_degc: float | None, limits: Limits) -> tuple[float | None, bool | None]:
    warmest = row.number("warmest")
    if warmest is None:
        return None, None
    rise = warmest - ambient_degc if ambient_degc is not None else None
    return rise, warmest > limits.heater_limit_degc or (rise is not None and rise > limits.heater_rise_k)


GAINED_V = 0.002
"""Without a stated meter a cell may seem to gain so much at rest: common practice, no source."""
OVER_PRINT = 1.15
"""No cell holds so much more than is printed on it: common practice, no source."""


def _odd(rest: Rest | None, health: float | None) -> Iterator[str]:
    """What no sound pair of readings shows: a cell that charges itself, or holds far more than is printed."""
    if rest is not None and rest.drop_v < -max(rest.plus_minus_v or 0.0, GAINED_V) - 1e-9:
        yield f"it gained {-rest.drop_v * 1000:.0f} mV in the rest"
    if health is not None and health > OVER_PRINT + 1e-9:
        yield f"it holds {health * 100:.0f} % of its printed capacity: one of the two is wrong"


AGAINST_WORDS = {"look": "its looks", "arrival": "voltage on arrival", "heater": "heat while charging",
                 "leak": "self-discharge", "capacity": "capacity", "resistance": "resistance"}
"""What speaks against a cell, in words."""


def _against(look: str, arrival: str, heater: bool | None, rest: str, health: str, resistance: bool) -> tuple[str, ...]:
    refused = {
        "look": look in DAMAGED, "arrival": arrival in ("stop", "never"), "heater": heater is True,
        "leak": rest in ("single cell only", "reject"), "capacity": health in ("gadgets", "recycle"),
        "resistance": resistance}
    return tuple(code for code, hit in refused.items() if hit)


def facts_of(row: Record, limits: Limits, median_ohm: float | None, ambient_degc: float | None,
             factor: float, own: Curve | None = None) -> CellFacts:
    """Everything the readings of one candidate say; own: the maker's own curve of such a cell."""
    capacity, rated = capacity_of(row, factor), row.number("rated_capacity")
    health = screening.capacity_kept_share(capacity, rated) if capacity is not None and rated else None
    rest, rest_doubt = rest_of(row, capacity, own)
    resistance, resistance_doubt = dc_resistance(row)
    ratio = resistance / median_ohm if resistance is not None and median_ohm else None
    high = resistance is not None and resistance > limits.resistance_reject_ohm
    high = high or (ratio is not None and round(ratio, 9) > limits.resistance_suspicious)
    rise, heater = _heater(row, ambient_degc, limits)
    allowance, by = allowance_of(row, capacity, health, limits)
    look, arrival = row.text("visual"), arrival_class(row.number("arrival_voltage"), limits)
    rested, kept = rest_class(rest, limits), health_class(health, limits)
    return CellFacts(
        row.id, row.text("decision"), row.text("chemistry"), look, row.number("arrival_voltage"), arrival, rise, heater,
        rest, rested, rated, capacity, health, kept, resistance, ac_resistance(row), ratio, allowance, by,
        row.number("mass"), row.number("price"), _against(look, arrival, heater, rested, kept, high),
        (*(doubt for doubt in (rest_doubt, resistance_doubt) if doubt), *_odd(rest, health)),
        {source: limit * factor for source, limit in row.spreads.get("capacity", {}).items()}, resistance_errors(row))
