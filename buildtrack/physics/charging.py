"""Charging a lithium pack: times, the voltage of the worst group, temperature."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack.data import load


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


def _require_above_zero(what: str, value: float, unit: str) -> None:
    if not value > 0:
        raise ValueError(f"The {what} is {value:g} {unit}; it must be above 0 {unit}.")
