"""Ageing in service: fade, resistance growth, the time to a limit, and days until an idle pack is empty."""

from __future__ import annotations

import math

from buildtrack.data import load

DAYS_PER_MONTH = 30.0


def capacity_kept_share(now_ah: float, first_ah: float) -> float:
    """Capacity of now over the first measured one.

    share = Q_now / Q_first
    Units: Ah. Range: first capacity above 0, later one not negative.
    Source: end-of-life-practice (80 % of the first capacity).
    """
    if not first_ah > 0:
        raise ValueError(f"The first capacity is {first_ah:g} Ah; it must be above 0 Ah.")
    if now_ah < 0:
        raise ValueError(f"The capacity is {now_ah:g} Ah; it must not be negative.")
    return now_ah / first_ah


def change_per_month_share(first: float, now: float, days: float) -> float:
    """Relative change per 30 days: negative for fading capacity, positive for growing resistance.

    rate = (now / first - 1) / days * 30
    Units: both values the same, days. Assumes a steady change. Range: first value and days above 0.
    Source: common-practice (definition).
    """
    if not first > 0:
        raise ValueError(f"The first value is {first:g}; it must be above 0.")
    _require_days(days)
    return (now / first - 1) / days * DAYS_PER_MONTH


def fade_share_per_month(first_ah: float, now_ah: float, days: float) -> float:
    """Capacity lost per 30 days as a share of the first capacity.

    fade = (1 - Q_now / Q_first) / days * 30
    Units: Ah, days. Range: first capacity and days above 0.
    Source: common-practice (definition).
    """
    return -change_per_month_share(first_ah, now_ah, days)


def resistance_growth_share_per_month(first_ohm: float, now_ohm: float, days: float) -> float:
    """Resistance gained per 30 days as a share of the first resistance.

    growth = (R_now / R_first - 1) / days * 30
    Units: ohm, days. Compare only readings of the same kind and temperature. Range: first value and days above 0.
    Source: common-practice (definition).
    """
    return change_per_month_share(first_ohm, now_ohm, days)


def days_to_limit(first: float, now: float, days: float, limit: float) -> float | None:
    """Days from now until a value that goes on changing evenly reaches a limit; 0 if it has, None if it never will.

    t = (limit - now) / ((now - first) / days)
    Units: all values the same, days. A straight line is optimistic below 80 % of the capacity.
    Range: days above 0; the first value lies on the good side of the limit.
    Source: end-of-life-practice (fade is no longer linear below 70 to 80 %).
    """
    _require_days(days)
    if (first <= limit <= now) or (now <= limit <= first):
        return 0.0
    per_day = (now - first) / days
    if per_day == 0:
        return None
    left = (limit - now) / per_day
    if left >= 0:
        return left
    # Moving away from a limit that both readings are on the good side of.
    return None


def end_of_life_reached(capacity_share: float | None, resistance_ratio: float | None) -> bool:
    """Whether either usual end of life is reached.

    capacity <= 80 % of the first, or resistance >= 2 times the first
    Range: at least one of both known.
    Source: end-of-life-practice (80 % of the capacity or 200 % of the resistance).
    """
    if capacity_share is None and resistance_ratio is None:
        raise ValueError("Neither capacity nor resistance is known; at least one is needed.")
    limits = load("thresholds")["end_of_life"]
    worn = capacity_share is not None and capacity_share <= limits["capacity_share"]
    return worn or (resistance_ratio is not None and resistance_ratio >= limits["resistance_share"])


def idle_drain_ah_per_day(current_a: float, leak_ah_per_day: float = 0.0) -> float:
    """Charge an idle pack loses per day.

    Q = I * 24 + leak
    Units: A (board, alarm and anything else left on), Ah per day. Range: neither negative.
    Source: openstax-university-physics (section 9.1, Q = I t).
    """
    if current_a < 0 or leak_ah_per_day < 0:
        raise ValueError("Neither an idle current nor a leak may be negative.")
    return current_a * 24 + leak_ah_per_day


def idle_days(capacity_ah: float, charge_share: float, stop_share: float, drain_ah_per_day: float) -> float:
    """Days until an idle pack falls to a state of charge.

    t = (share_now - share_stop) * Q / drain
    Units: Ah, shares 0 to 1, Ah per day, days. Infinite without drain. Range: stop share not above the share now.
    Source: openstax-university-physics (section 9.1, Q = I t).
    """
    if not capacity_ah > 0:
        raise ValueError(f"The capacity is {capacity_ah:g} Ah; it must be above 0 Ah.")
    if not 0 <= stop_share <= charge_share <= 1:
        raise ValueError(f"A charge of {charge_share:g} and a stop at {stop_share:g} are not in order within 0 to 1.")
    if drain_ah_per_day < 0:
        raise ValueError(f"The drain is {drain_ah_per_day:g} Ah per day; it must not be negative.")
    if drain_ah_per_day == 0:
        return math.inf
    return (charge_share - stop_share) * capacity_ah / drain_ah_per_day


def self_discharge_factor(temperature_degc: float, reference_degc: float = 20.0) -> float:
    """Self-discharge at a temperature over that at another.

    factor = 2 ** ((t - t_reference) / 10)
    Units: degC. Range: -20 to 60 degC.
    Source: self-discharge-temperature (doubles every 10 degC).
    """
    for value in (temperature_degc, reference_degc):
        if not -20.0 <= value <= 60.0:
            raise ValueError(f"{value:g} °C is outside the allowed -20 to 60 °C of the rule.")
    doubling_k = float(load("thresholds")["self_discharge"]["doubling_k"])
    return float(2.0 ** ((temperature_degc - reference_degc) / doubling_k))


def _require_days(days: float) -> None:
    if not days > 0:
        raise ValueError(f"{days:g} days lie between the readings; there must be more than 0.")
