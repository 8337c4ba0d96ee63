"""Current a conductor may carry, looked up in published tables and derated for bundles and warm places."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from buildtrack.data import load
from buildtrack.physics.conductors import awg_area_mm2


@dataclass(frozen=True, slots=True)
class Ampacity:
    """What a table allows for one conductor."""

    current_a: float
    row: str
    """The table's row that was used, e.g. "AWG 16" or "1.5 mm2"; the next smaller one between two rows."""
    table: str
    title: str
    conditions: str
    source: str


def table_names() -> tuple[str, ...]:
    """The keys of the ampacity tables, in the order of the data file."""
    return tuple(load("ampacity")["tables"])


def ampacity(table: str, area_mm2: float | None = None, awg: int | None = None) -> Ampacity:
    """Current a table allows for a conductor given by area or gauge; never extrapolated.

    Between two rows the row of the next smaller conductor is taken.
    Units: mm2 or gauge number, result A.
    Range: from the table's smallest conductor; above its largest the conductor is refused.
    Source: electronic-tables-handbook (chassis column). Source: vde-0298-4 (Table 11). Source: iec-60204-1 (Table 6).
    """
    if (area_mm2 is None) == (awg is None):
        raise ValueError("Give the size of a conductor once: either its area in mm2 or its AWG number.")
    entry = _table(table)
    wanted_mm2 = awg_area_mm2(awg) if awg is not None else area_mm2
    assert wanted_mm2 is not None
    sizes = [(_row_area_mm2(entry, row[0]), row) for row in entry["rows"]]
    row = _nearest_smaller(sizes, wanted_mm2, entry)
    unit = "AWG {:g}" if entry["size"] == "awg" else "{:g} mm2"
    return Ampacity(
        float(row[1]), unit.format(row[0]), table, entry["title"], entry["conditions"], entry["source"]
    )


def chassis_ampacity(area_mm2: float | None = None, awg: int | None = None) -> Ampacity:
    """Current of a short single wire in open air, by the widely used chassis column.

    Units: mm2 or gauge number, result A. A metric size takes the next smaller even gauge.
    Range: AWG 10 to 30 (5.26 to 0.051 mm2); no temperatures are stated; not for bundles.
    Source: electronic-tables-handbook (maximum current for chassis wiring).
    """
    return ampacity("chassis", area_mm2, awg)


def _table(table: str) -> dict[str, Any]:
    tables: dict[str, dict[str, Any]] = load("ampacity")["tables"]
    if table not in tables:
        raise ValueError(f"{table!r} is no ampacity table; there are {', '.join(tables)}.")
    return tables[table]


def _row_area_mm2(entry: dict[str, Any], size: float) -> float:
    return awg_area_mm2(int(size)) if entry["size"] == "awg" else float(size)


def _nearest_smaller(
    sizes: list[tuple[float, list[float]]], wanted_mm2: float, entry: dict[str, Any]
) -> list[float]:
    smallest = min(area for area, _ in sizes)
    largest = max(area for area, _ in sizes)
    # The slack only absorbs rounding of the gauge formula; it is far below the step between two gauges.
    if not smallest * (1 - 1e-9) <= wanted_mm2 <= largest * (1 + 1e-9):
        raise ValueError(
            f"{wanted_mm2:.3g} mm2 is outside {entry['title']!r}, which covers {smallest:.3g} to {largest:.3g} mm2."
        )
    fitting = [(area, row) for area, row in sizes if area <= wanted_mm2 * (1 + 1e-9)]
    return max(fitting)[1]


def bundle_factor(wires: int, load_share: float = 1.0) -> float:
    """Share of the single-wire current that each wire of a bundle may carry.

    Between the tabulated counts and load shares the next higher one is taken, which gives the lower factor.
    Units: number of wires; load_share = how much of its allowed current the bundle carries, 0 to 1.
    Range: 1 to 15 wires.
    Source: sae-as50881-bundle (bundle derating curve).
    """
    table = load("ampacity")["bundle"]
    if wires != int(wires) or not 1 <= wires <= 15:
        raise ValueError(f"{wires:g} wires is outside the curve, which covers whole numbers from 1 to 15.")
    if not 0 < load_share <= 1:
        raise ValueError(f"A load share of {load_share:g} is outside the allowed range above 0 up to 1.")
    row = next(row for row in table["rows"] if row[0] >= wires)
    column = next(index for index, share in enumerate(table["load_shares"]) if share >= load_share)
    return float(row[1 + column])


def simple_bundle_factor(wires: int) -> float:
    """Share of the single-wire current for a few wires bundled, by the note of a wire table.

    Range: 1 to 5 wires.
    Source: load-manual-wire-table (note under the table).
    """
    for count, factor in load("ampacity")["simple_bundle"]["rows"]:
        if count == wires:
            return float(factor)
    raise ValueError(f"{wires:g} wires is outside the note, which covers 1 to 5.")


def ambient_factor(ambient_degc: float, conductor_degc: float = 70.0, reference_degc: float = 30.0) -> float:
    """Share of the tabulated current that is left at another ambient temperature.

    k = sqrt((T_conductor - T_ambient) / (T_conductor - T_reference))
    Units: degC. Range: ambient from -40 degC to below the conductor's limit; it exceeds 1 below the reference.
    Source: iec-60364-5-52 (Table B.52.14, PVC 70 degC; the law gives its figures).
    """
    if not reference_degc < conductor_degc:
        raise ValueError(f"The reference {reference_degc:g} °C must be below the conductor's {conductor_degc:g} °C.")
    if not -40.0 <= ambient_degc < conductor_degc:
        raise ValueError(
            f"An ambient of {ambient_degc:g} °C is outside -40 °C to below the conductor's {conductor_degc:g} °C."
        )
    return math.sqrt((conductor_degc - ambient_degc) / (conductor_degc - reference_degc))
