"""Energy of a battery and the transport class that follows from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from buildtrack.data import load

PassengerRule = Literal["free", "with approval", "no"]


@dataclass(frozen=True, slots=True)
class EnergyClass:
    """A transport class by energy; above its upper limit the next class begins."""

    name: str
    upper_wh: float | None
    source: str


def nominal_energy_wh(nominal_v: float, capacity_ah: float) -> float:
    """Energy for the label: declared nominal voltage times rated capacity.

    E = V * Q
    Units: V, Ah, Wh. Range: neither negative.
    Source: un-38-3-summary (3 x 3.65 V x 2 Ah). Source: us-lithium-transport (nominal energy).
    """
    if nominal_v < 0 or capacity_ah < 0:
        raise ValueError(f"{nominal_v:g} V and {capacity_ah:g} Ah: neither may be negative.")
    return nominal_v * capacity_ah


def label_energy_wh(energy_wh: float) -> int:
    """Energy as printed on a label: the nearest whole watt-hour, halves upwards.

    Units: Wh. Range: not negative.
    Source: un-38-3-summary (21.9 printed as 22 Wh).
    """
    if energy_wh < 0:
        raise ValueError(f"{energy_wh:g} Wh is not allowed: an energy must not be negative.")
    return int(energy_wh + 0.5)


def battery_class(energy_wh: float) -> EnergyClass:
    """Transport class of a lithium-ion battery.

    up to 100 Wh, up to 300 Wh (road and rail only), above
    Units: Wh. Range: not negative.
    Source: us-lithium-transport (49 CFR 173.185(c)).
    """
    limits = load("standards")["transport"]["battery"]
    return _class(energy_wh, limits)


def cell_class(energy_wh: float) -> EnergyClass:
    """Transport class of a lithium-ion cell.

    up to 20 Wh, up to 60 Wh (road and rail only), above
    Units: Wh. Range: not negative.
    Source: us-lithium-transport-cell (49 CFR 173.185(c)).
    """
    limits = load("standards")["transport"]["cell"]
    return _class(energy_wh, limits)


def _class(energy_wh: float, limits: dict[str, Any]) -> EnergyClass:
    if not energy_wh >= 0:
        raise ValueError(f"{energy_wh:g} Wh is not allowed: an energy must not be negative.")
    small, road, source = float(limits["small_wh"]), float(limits["road_wh"]), str(limits["source"])
    # 5 x 3.6 V x ... may miss the limit by the last bit only.
    energy_wh = round(energy_wh, 9)
    if energy_wh <= small:
        return EnergyClass(f"up to {small:g} Wh", small, source)
    if energy_wh <= road:
        return EnergyClass(f"over {small:g} to {road:g} Wh", road, source)
    return EnergyClass(f"over {road:g} Wh", None, source)


def passenger_rule(energy_wh: float) -> PassengerRule:
    """Whether a passenger may carry the battery on an aircraft.

    up to 100 Wh free; up to 160 Wh with the airline's approval, two at most; above not at all
    Units: Wh. Range: not negative.
    Source: passenger-lithium-rule.
    """
    if not energy_wh >= 0:
        raise ValueError(f"{energy_wh:g} Wh is not allowed: an energy must not be negative.")
    limits = load("standards")["transport"]["passenger"]
    energy_wh = round(energy_wh, 9)
    if energy_wh <= limits["free_wh"]:
        return "free"
    return "with approval" if energy_wh <= limits["approval_wh"] else "no"
