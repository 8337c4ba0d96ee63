"""Charging a lithium pack: times, the voltage of the worst group, the charger's window, temperature."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from buildtrack.data import load


@dataclass(frozen=True, slots=True)
class ChargerWindow:
    """Voltages a charger may give without load."""

    low_v: float
    target_v: float
    high_v: float


@dataclass(frozen=True, slots=True)
class TemperatureAllowance:
    """What charging a cell temperature allows."""

    allowed: bool
    current_share: float
    """Share of the cell's normal charge current."""
    voltage_v: float | None
    """Highest voltage per cell; None when charging is not allowed at all."""
    source: str


def charge_rate_per_h(current_a: float, capacity_ah: float) -> float:
    """C-rate of a charge or discharge.

    rate = I / Q
    Units: A, Ah, 1/h. Range: capacity above 0.
    Source: iec-61960-3 (It = Cn / 1 h).
    """
    _require_above_zero("capacity", capacity_ah, "Ah")
    return current_a / capacity_ah


def constant_current_time_h(capacity_ah: float, current_a: float, share: float = 0.85) -> float:
    """Time of the constant-current part of a charge from empty.

    t = share * Q / I
    Units: Ah, A, h. Range: share above 0 up to 1.
    Source: common-practice (about 85 % of the charge goes in before the voltage is held).
    """
    _require_above_zero("capacity", capacity_ah, "Ah")
    _require_above_zero("charge current", current_a, "A")
    if not 0 < share <= 1:
        raise ValueError(f"A share of {share:g} is outside the allowed range above 0 up to 1.")
    return share * capacity_ah / current_a


def charge_time_h(capacity_ah: float, current_a: float, tail_h: float = 1.2, share: float = 0.85) -> float:
    """Whole time of a charge from empty.

    t = share * Q / I + t_tail
    Units: Ah, A, h. The tail at held voltage is usually 0.7 to 1.5 h. Range: tail not negative.
    Source: common-practice (no publication).
    """
    if tail_h < 0:
        raise ValueError(f"A tail of {tail_h:g} h is not allowed: it must not be negative.")
    return constant_current_time_h(capacity_ah, current_a, share) + tail_h


def charge_time_out_h(expected_h: float, ratio: float = 1.5) -> float:
    """Time after which a charge that has not ended is stopped.

    t = ratio * t_expected
    Units: h. Range: ratio from 1.
    Source: common-practice (1.5 times the expected time).
    """
    if ratio < 1:
        raise ValueError(f"A ratio of {ratio:g} is not allowed: from 1.")
    return ratio * expected_h


def end_current_a(capacity_ah: float, rate_per_h: float = 0.05) -> float:
    """Current at which a charge ends.

    I = rate * Q
    Units: Ah, 1/h, A. Range: capacity above 0.
    Source: common-practice (0.05 of the capacity). Source: cell-sheet-2500 (125 mA for 2.5 Ah).
    """
    _require_above_zero("capacity", capacity_ah, "Ah")
    _require_above_zero("end rate", rate_per_h, "per hour")
    return rate_per_h * capacity_ah


def precharge_current_a(fast_charge_a: float) -> float:
    """Current for a deeply discharged cell until it reaches 3.0 V.

    I = 0.10 * I_fast
    Units: A. Range: fast-charge current above 0.
    Source: mcp73871-sheet (preconditioning at 10 % of the fast-charge current).
    """
    _require_above_zero("fast-charge current", fast_charge_a, "A")
    return float(load("thresholds")["precharge_current"]["share_of_fast_charge"]) * fast_charge_a


def voltage_hold_time_constant_h(resistance_ohm: float, slope_v_per_ah: float) -> float:
    """Time constant of the falling current while the voltage is held.

    tau = R / b
    Units: ohm, V/Ah (slope of the resting voltage against charge), h. Assumes both constant. Range: above 0.
    Source: arithmetic (dI/dt = -I b / R from V = OCV + I R).
    """
    _require_above_zero("resistance", resistance_ohm, "ohm")
    _require_above_zero("slope", slope_v_per_ah, "V/Ah")
    return resistance_ohm / slope_v_per_ah


def voltage_hold_time_h(start_a: float, end_a: float, resistance_ohm: float, slope_v_per_ah: float) -> float:
    """Time the current takes to fall while the voltage is held.

    t = R / b * ln(I_start / I_end)
    Units: A, ohm, V/Ah, h. Range: end current above 0 and not above the start current.
    Source: arithmetic (dI/dt = -I b / R from V = OCV + I R).
    """
    _require_falling(start_a, end_a)
    return voltage_hold_time_constant_h(resistance_ohm, slope_v_per_ah) * math.log(start_a / end_a)


def voltage_hold_charge_ah(start_a: float, end_a: float, resistance_ohm: float, slope_v_per_ah: float) -> float:
    """Charge that goes in while the voltage is held.

    Q = R / b * (I_start - I_end)
    Units: A, ohm, V/Ah, Ah. Range: end current above 0 and not above the start current.
    Source: arithmetic (integral of the falling current).
    """
    _require_falling(start_a, end_a)
    return voltage_hold_time_constant_h(resistance_ohm, slope_v_per_ah) * (start_a - end_a)


def _require_falling(start_a: float, end_a: float) -> None:
    if not 0 < end_a <= start_a:
        raise ValueError(f"An end current of {end_a:g} A must be above 0 A and not above the start's {start_a:g} A.")


def charger_window_v(series: int, group_v: float = 4.20, tolerance_share: float = 0.01) -> ChargerWindow:
    """No-load voltages a charger for S groups may show.

    S * V_group * (1 - tolerance) to S * V_group * (1 + tolerance)
    Units: V. Range: whole number of groups from 1.
    Source: ladder-from-parts (4.20 V with 1 %).
    """
    if series != int(series) or series < 1:
        raise ValueError(f"{series:g} groups is not allowed: a whole number from 1.")
    if not 0 <= tolerance_share < 1:
        raise ValueError(f"A tolerance share of {tolerance_share:g} is outside the allowed range 0 to below 1.")
    target_v = series * group_v
    return ChargerWindow(target_v * (1 - tolerance_share), target_v, target_v * (1 + tolerance_share))


def worst_group_voltage_v(charger_v: float, series: int, lagging_v: float, tolerance_share: float = 0.0) -> float:
    """Voltage the leading group reaches when all others lag.

    V_max = V_charger * (1 + tolerance) - (S - 1) * V_lagging
    Units: V. Range: whole number of groups from 1, tolerance not negative.
    Source: openstax-university-physics (section 10.3, voltages of a loop add up).
    """
    if series != int(series) or series < 1:
        raise ValueError(f"{series:g} groups is not allowed: a whole number from 1.")
    if tolerance_share < 0:
        raise ValueError(f"A tolerance share of {tolerance_share:g} is not allowed: it must not be negative.")
    return charger_v * (1 + tolerance_share) - (series - 1) * lagging_v


def charge_temperature_allowance(temperature_degc: float) -> TemperatureAllowance:
    """Share of the charge current and highest voltage a cell temperature allows.

    0 to 10 degC half current; 10 to 45 normal; 45 to 50 4.15 V; 50 to 60 4.10 V; outside no charge.
    Units: degC, V per cell. At a shared border the stricter zone holds. Range: any temperature above -273.15 degC.
    Source: jeita-charging (zones as summarised by a charger maker).
    """
    if not temperature_degc > -273.15:
        raise ValueError(f"{temperature_degc:g} °C is below absolute zero.")
    table = load("thresholds")["charge_temperature"]["jeita"]
    touching = [zone for zone in table["zones"] if zone["from_degc"] <= temperature_degc <= zone["to_degc"]]
    if not touching:
        return TemperatureAllowance(False, 0.0, None, table["source"])
    current_share = min(float(zone["current_share"]) for zone in touching)
    return TemperatureAllowance(
        True, current_share, min(float(zone["voltage_v"]) for zone in touching), table["source"]
    )


def sheet_rate_per_h(temperature_degc: float, charging: bool = True) -> float:
    """C-rate one 18650 sheet allows at a cell temperature; 0 outside its range.

    Units: degC, 1/h. At a shared border the lower rate holds. One maker's cell: others differ.
    Source: cell-sheet-2600 (charge and discharge rate by temperature).
    """
    table = load("thresholds")["charge_rate" if charging else "discharge_rate"]["sheet_2600"]
    zones: list[dict[str, Any]] = table["zones"]
    rates = [float(zone["rate_per_h"]) for zone in zones if zone["from_degc"] <= temperature_degc <= zone["to_degc"]]
    return min(rates, default=0.0)


def _require_above_zero(what: str, value: float, unit: str) -> None:
    if not value > 0:
        raise ValueError(f"The {what} is {value:g} {unit}; it must be above 0 {unit}.")
