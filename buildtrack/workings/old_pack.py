"""Workings of the step `old_pack`: what the nickel pack was, what is left of it, and what its charger does."""

from __future__ import annotations

import math
import statistics
from collections import Counter
from dataclasses import dataclass

from buildtrack.physics import old_pack
from buildtrack.workings.graph import Working
from buildtrack.workings.values import Table

STEP = "old_pack"
IEC_NICKEL = "IEC 61951-1"


@dataclass(frozen=True, slots=True)
class OldCell:
    """One nickel cell as found."""

    id: str
    voltage_v: float
    state: str
    """sound, weak, flat or reversed by its voltage."""
    look: str


@dataclass(frozen=True, slots=True)
class OldCellReport:
    """All nickel cells that were measured."""

    cells: tuple[OldCell, ...]

    def named(self, *states: str) -> tuple[str, ...]:
        """Ids of the cells in one of these states, by voltage or by look."""
        return tuple(c.id for c in self.cells if c.state in states or c.look in states)

    @property
    def summary(self) -> str:
        """The whole in one line."""
        counts = Counter(cell.state for cell in self.cells)
        words = [f"{counts[word]} {word}" for word in ("sound", "weak", "flat", "reversed") if counts[word]]
        leaking = self.named("leaking", "corroded", "swollen")
        return ", ".join(words) + (f"; damaged: {', '.join(leaking)}" if leaking else "")

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("cell", "voltage", "by voltage", "by look")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per cell."""
        return tuple((c.id, f"{c.voltage_v:.3f} V", c.state, c.look or "-") for c in self.cells)


def _count(old_cells: float) -> int:
    if old_cells < 1 or old_cells != int(old_cells):
        raise ValueError(f"{old_cells:g} cells is not allowed: a whole number from 1.")
    return int(old_cells)


def label_cells(rated_voltage: float) -> float:
    """Number of nickel cells that the voltage on the label stands for."""
    return float(old_pack.cells_of_nominal_voltage(rated_voltage))


def old_nominal_voltage(old_cells: float) -> float:
    """Nominal voltage of the old pack."""
    return old_pack.nominal_voltage_v(_count(old_cells))


def old_full_voltage(old_cells: float) -> float:
    """Highest voltage the tool has ever seen: the old pack just off its charger."""
    return old_pack.full_voltage_v(_count(old_cells))


def old_empty_voltage(old_cells: float) -> float:
    """Voltage at which the old pack counted as empty."""
    return old_pack.empty_voltage_v(_count(old_cells))


def highest_series(old_cells: float, cell_full: float) -> float:
    """Most lithium groups in series whose full voltage stays within that of the old pack."""
    return float(old_pack.largest_lithium_series(_count(old_cells), cell_full))


def opening_cell_voltage(opening_voltage: float, old_cells: float) -> float:
    """Voltage per cell left in the old pack when it is opened."""
    return opening_voltage / _count(old_cells)


def old_median_cell_voltage(old_cell_voltages: Table) -> float | None:
    """Median resting voltage of the old cells."""
    voltages = old_cell_voltages.numbers("voltage")
    return statistics.median(voltages) if voltages else None


def old_cell_spread(old_cell_voltages: Table) -> float | None:
    """Highest minus lowest of the old cells."""
    voltages = old_cell_voltages.numbers("voltage")
    return old_pack.spread_v(voltages) if voltages else None


def old_cell_report(old_cell_voltages: Table) -> OldCellReport | None:
    """State of every old cell by its voltage, beside how it looks."""
    rows = [row for row in old_cell_voltages if row.number("voltage") is not None]
    if not rows:
        return None
    states = old_pack.classify_cells(old_cell_voltages.numbers("voltage"))
    return OldCellReport(tuple(
        OldCell(row.id, row.number("voltage") or 0.0, state, row.text("state"))
        for row, state in zip(rows, states, strict=True)))


def old_energy(old_cells: float, old_capacity: float) -> float:
    """Energy of the old pack when it was new, by its label."""
    return old_pack.energy_when_new_wh(_count(old_cells), old_capacity)


def old_charger_c_rate(nickel_charger_current: float, old_capacity: float) -> float:
    """Rate at which the old charger charges the old pack."""
    return old_pack.charger_rate_per_h(nickel_charger_current, old_capacity)


def old_charger_per_group(charger_open_voltage: float, series_count: float) -> float:
    """Voltage per lithium group towards which the old charger would drive the new pack."""
    if series_count < 1:
        raise ValueError(f"{series_count:g} groups in series is not allowed: a whole number from 1.")
    return charger_open_voltage / series_count


def old_missing_cells(old_cells: float, old_pack_rested_voltage: float) -> float:
    """How many cells' worth of voltage the charged and rested old pack lacks."""
    return float(old_pack.missing_cells(old_pack_rested_voltage, _count(old_cells)))


def old_rest_loss(old_pack_full_voltage: float, old_pack_rested_voltage: float) -> float:
    """Share of its voltage that the old pack lost while it rested after its charge."""
    if not old_pack_full_voltage > 0:
        raise ValueError(f"The charged pack reads {old_pack_full_voltage:g} V; it must be above 0 V.")
    return 1 - old_pack_rested_voltage / old_pack_full_voltage


def old_pack_resistance(old_pack_rested_voltage: float, old_pack_loaded_voltage: float,
                        old_pack_loaded_current: float) -> float:
    """Resistance of the old pack from its sag under a load."""
    if not old_pack_loaded_current > 0:
        raise ValueError(f"The load was {old_pack_loaded_current:g} A; it must be above 0 A.")
    resistance = (old_pack_rested_voltage - old_pack_loaded_voltage) / old_pack_loaded_current
    if resistance < 0 or not math.isfinite(resistance):
        raise ValueError("The pack reads higher under load than rested; check which reading is which.")
    return resistance


WORKINGS = (
    Working(label_cells, STEP, "Cells by the label", "", "round(rated_voltage / 1.2)",
            f"{IEC_NICKEL} (1.2 V per cell)", "n"),
    Working(old_nominal_voltage, STEP, "Old pack, nominal", "V", "old_cells * 1.2", f"{IEC_NICKEL} (1.2 V per cell)",
            digits=4),
    Working(old_full_voltage, STEP, "Old pack, full", "V", "old_cells * 1.45",
            f"{IEC_NICKEL} (up to 1.45 V per cell, charged at C/10)", digits=4),
    Working(old_empty_voltage, STEP, "Old pack, empty", "V", "old_cells * 1.0",
            f"{IEC_NICKEL} (1.0 V per cell is fully discharged)", digits=4),
    Working(highest_series, STEP, "Most lithium groups in series", "", "floor(old_cells * 1.45 / cell_full + 1e-9)",
            f"{IEC_NICKEL} (1.45 V); full voltages compared: common practice, no source", "S_max",
            note="never from nominal voltages: what counts is the highest voltage the tool has seen"),
    Working(opening_cell_voltage, STEP, "Left in each cell at opening", "V", "opening_voltage / old_cells",
            "voltages in series add"),
    Working(old_median_cell_voltage, STEP, "Old cells, median", "V", "median of the cell voltages", "definition",
            expression=False, digits=4),
    Working(old_cell_spread, STEP, "Old cells, spread", "V", "highest cell - lowest cell", "definition",
            expression=False),
    Working(old_cell_report, STEP, "Old cells, one by one", "",
            "reversed below 0 V; flat below 0.5 V; weak from 0.10 V under the median of the others",
            "common practice, no source", expression=False),
    Working(old_energy, STEP, "Old pack when new", "Wh", "old_cells * 1.2 * old_capacity",
            f"{IEC_NICKEL} (1.2 V per cell)", "E_old"),
    Working(old_charger_c_rate, STEP, "Old charger's rate", "C", "nickel_charger_current / old_capacity",
            "IEC 61960-3 (It = C / 1 h)"),
    Working(old_charger_per_group, STEP, "Old charger on the new pack, per group", "V",
            "charger_open_voltage / series_count", "voltages in series add",
            note="what the nickel charger would force on every lithium group"),
    Working(old_missing_cells, STEP, "Cells missing by voltage", "",
            "max(0, round((old_cells * 1.3 - old_pack_rested_voltage) / 1.3))", "common practice, no source",
            note="after a full charge and a rest; a missing multiple of a cell's voltage is a shorted cell"),
    Working(old_rest_loss, STEP, "Old pack's loss at rest", "%", "1 - old_pack_rested_voltage / old_pack_full_voltage",
            "definition"),
    Working(old_pack_resistance, STEP, "Old pack, resistance", "mΩ",
            "(old_pack_rested_voltage - old_pack_loaded_voltage) / old_pack_loaded_current",
            "OpenStax University Physics 10.1 (terminal voltage)", "R_old"),
)
