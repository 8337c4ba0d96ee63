"""Whether the work pays: usable energy, run time, cost per watt-hour and per year, and the value of an hour."""

from __future__ import annotations


def usable_energy_wh(capacity_ah: float, mean_voltage_v: float) -> float:
    """Energy a pack really gives.

    E = Q * V_mean
    Units: Ah (delivered down to the cutoff), V (mean under load), Wh. Range: neither negative.
    Source: openstax-university-physics (section 9.5, energy is power times time).
    """
    if capacity_ah < 0 or mean_voltage_v < 0:
        raise ValueError(f"{capacity_ah:g} Ah and {mean_voltage_v:g} V: neither may be negative.")
    return capacity_ah * mean_voltage_v


def claimed_shortfall_share(claimed_wh: float, usable_wh: float) -> float:
    """Share of the claimed energy that is not there.

    share = 1 - E_usable / E_claimed
    Units: Wh. Range: claimed energy above 0.
    Source: common-practice (definition).
    """
    _require_above_zero("claimed energy", claimed_wh, "Wh")
    return 1 - usable_wh / claimed_wh


def runtime_h(capacity_ah: float, mean_current_a: float) -> float:
    """Run time at a mean current.

    t = Q / I_mean
    Units: Ah, A, h. Range: current above 0.
    Source: openstax-university-physics (section 9.1, I = Q / t).
    """
    _require_above_zero("mean current", mean_current_a, "A")
    return capacity_ah / mean_current_a


def runtime_at_power_h(capacity_ah: float, voltage_v: float, power_w: float) -> float:
    """Run time at a steady power.

    t = Q * V / P
    Units: Ah, V, W, h. Range: power above 0.
    Source: openstax-college-physics (section 20.4, energy is power times time).
    """
    _require_above_zero("power", power_w, "W")
    return usable_energy_wh(capacity_ah, voltage_v) / power_w


def energy_used_wh(power_w: float, time_h: float) -> float:
    """Energy used at a steady power.

    E = P * t
    Units: W, h, Wh. Range: time not negative.
    Source: openstax-university-physics (section 9.5).
    """
    if time_h < 0:
        raise ValueError(f"The time is {time_h:g} h; it must not be negative.")
    return power_w * time_h


def cost_per_wh(cost: float, energy_wh: float) -> float:
    """Money per watt-hour.

    price = cost / E
    Units: the money's, Wh. Range: energy above 0, cost not negative.
    Source: common-practice (definition).
    """
    _require_not_negative("cost", cost)
    _require_above_zero("energy", energy_wh, "Wh")
    return cost / energy_wh


def cost_per_year(cost: float, years: float) -> float:
    """Money per year of expected life.

    rate = cost / years
    Units: the money's, years. Range: years above 0, cost not negative.
    Source: common-practice (definition).
    """
    _require_not_negative("cost", cost)
    _require_above_zero("expected life", years, "years")
    return cost / years


def break_even_hour_value(cost_of_rebuild: float, hours: float, cost_of_buying: float) -> float:
    """Value of an hour of work above which buying is cheaper; 0 or less means buying is cheaper in any case.

    value = (cost_buying - cost_rebuild) / hours
    Units: the money's per hour. Range: hours above 0, costs not negative.
    Source: common-practice (definition).
    """
    _require_not_negative("cost of the rebuild", cost_of_rebuild)
    _require_not_negative("cost of buying", cost_of_buying)
    _require_above_zero("work", hours, "h")
    return (cost_of_buying - cost_of_rebuild) / hours


def _require_above_zero(what: str, value: float, unit: str) -> None:
    if not value > 0:
        raise ValueError(f"The {what} is {value:g} {unit}; it must be above 0 {unit}.")


def _require_not_negative(what: str, value: float) -> None:
    if value < 0:
        raise ValueError(f"The {what} is {value:g}; it must not be negative.")
