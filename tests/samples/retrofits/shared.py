"""Answers that several of the small builds have in common: new cells, wiring, first charge, charge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tests.samples.retrofits.packs import Battery, row_of, volts

BOARD = {"board_values_from": "own sheet", "board_port": "common", "board_wired_as": "as its sheet says", "board_state": "asleep",
         "thermal_sensor": "fitted", "balance_access": "connector", "case_insulation": "open", "tool_polarity": "right",
         "charge_socket_polarity": "right", "joining_method": "spot weld", "fuse_family": "blade", "fuse_position": "first at pack plus",
         "fuse_voltage": "32 V"}


def new_cells(cells: Mapping[str, tuple[float, float]], nominal_mah: int, rated_a: float, chemistry: str, arrival: float, limit: str,
              lowest: str, end: str, test_a: float, price: str, spare: Sequence[str] = ()) -> dict[str, dict[str, str]]:
    """Rows of the candidates table: id -> true capacity in Ah and resistance in ohm."""
    rows = {}
    for n, (name, (capacity, resistance)) in enumerate(cells.items()):
        top = arrival - 0.02
        rows[name] = {
            "source": "new, one lot", "marking": f"{nominal_mah} mAh class", "chemistry": chemistry, "visual": "sound",
            "arrival_voltage": volts(arrival + 0.001 * (n % 3)), "rated_capacity": f"{nominal_mah} mAh", "rated_current": f"{rated_a:g} A",
            "charge_limit": limit, "min_voltage": lowest, "price": price, "capacity": f"{capacity * 1000:.0f} mAh",
            "capacity_current": f"{test_a:.2f} A", "capacity_end_voltage": end,
            "dc_voltage_1": volts(top - 0.5 * resistance), "dc_current_1": "0.50 A",
            "dc_voltage_2": volts(top - 2.5 * resistance), "dc_current_2": "2.50 A", "resistance_method": "dc",
            "resistance_temperature": "21 °C", "decision": "spare" if name in spare else "keep",
        }
        if name in spare:
            rows[name]["reason"] = "kept as a spare, half charged"
    return rows


def taps(battery: Battery, each_v: float) -> dict[str, dict[str, str]]:
    return {f"B{n}": {"voltage": volts(n * each_v, 3 if n * each_v < 5.7 else 2)} for n in range(len(battery.groups) + 1)}


def charge_rows(battery: Battery, current_a: float, socs: Sequence[float], end_v: Sequence[float],
                rested_v: Sequence[float] = (), before: bool = False) -> dict[str, dict[str, str]]:
    """Rows of a charge, group by group."""
    names = [f"g{n}" for n in range(1, len(battery.groups) + 1)]
    found: dict[str, dict[str, str]] = {n: {} for n in names}
    if before:
        for name, text in row_of(names, [battery.rested(s) for s in socs]).items():
            found[name]["before"] = text
    for minutes in (5, 15, 30):
        for name, text in row_of(names, battery.charging(current_a, socs, minutes)).items():
            found[name][f"after_{minutes}min"] = text
    for name, value in zip(names, end_v, strict=True):
        found[name]["at_end"] = volts(value)
    for name, value in zip(names, rested_v, strict=False):
        found[name]["rested"] = volts(value)
    return found
