"""The report over all candidate cells: one line per cell, and the counts."""

from __future__ import annotations

import statistics
from collections import Counter
from dataclasses import dataclass

from buildtrack import units
from buildtrack.workings.cells_curve import curve_for
from buildtrack.workings.cells_facts import CellFacts, Limits, dc_resistance, facts_of
from buildtrack.workings.cells_own import OwnCurves
from buildtrack.workings.values import Table


@dataclass(frozen=True, slots=True)
class CellReport:
    """Every candidate cell, judged."""

    cells: tuple[CellFacts, ...]
    median_resistance_ohm: float | None
    capacity_factor: float
    """What the measured capacities were multiplied with; 1 where the tester's current was right."""
    leak_curves: tuple[str, ...] = ()
    """The curves whose slopes turned the falls of voltage into leaks."""

    @property
    def kept(self) -> tuple[CellFacts, ...]:
        """The cells that were decided to be kept."""
        return tuple(c for c in self.cells if c.kept)

    def cell(self, name: str) -> CellFacts | None:
        """The cell called `name`, whatever the case of its letters."""
        return next((c for c in self.cells if c.id.casefold() == name.casefold()), None)

    @property
    def summary(self) -> str:
        """The whole in one line."""
        counts = Counter(c.decision or "undecided" for c in self.cells)
        words = [f"{counts[key]} {word}" for key, word in (
            ("keep", "kept"), ("spare", "spare"), ("reject", "rejected"), ("undecided", "undecided")) if counts[key]]
        bad = [c.id for c in self.kept if c.against]
        corrected = f"; capacities × {self.capacity_factor:.3f}" if self.capacity_factor != 1.0 else ""
        return f"{units.counted(len(self.cells), 'cell')}: {', '.join(words)}" + (
            f"; kept against the limits: {', '.join(bad)}" if bad else "") + corrected + (
            f"; leaks by {' and '.join(self.leak_curves)}" if self.leak_curves else "")

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("cell", "decision", "arrival", "drop in 14 d", "slope [mV per 1 %]", "leak per day", "capacity", "kept",
                "R (dc)", "allowance", "speaks against it")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per cell."""
        return tuple((
            c.id, c.decision or "undecided", c.arrival or "-", _shown(c.rest.drop_14d_v if c.rest else None, "mV"),
            _shown(c.rest.slope_v * 10 if c.rest and c.rest.slope_v is not None else None, ""),
            _shown(c.rest.leak_ah_per_day if c.rest else None, "mAh", 2), _shown(c.capacity_ah, "mAh", 4),
            _shown(c.health, "%"), _shown(c.resistance_ohm, "mΩ"), _shown(c.allowance_a, "A"),
            ", ".join((*c.against, *c.doubts)) or "nothing")
            for c in self.cells)


def _shown(value: float | None, unit: str, digits: int = 3) -> str:
    return "-" if value is None else units.show(value, unit, digits=digits)


def median_dc_resistance(candidates: Table) -> float | None:
    """Median direct-current resistance of all candidates that have one."""
    found = [value for row in candidates if (value := dc_resistance(row)[0]) is not None]
    return statistics.median(found) if found else None


def cell_report(candidates: Table, arrival_good: float, arrival_slow: float, arrival_stop: float, arrival_never: float,
                heater_rise: float, heater_limit: float, drop_ok: float, drop_watch: float, drop_reject: float,
                health_good: float, health_fair: float, health_recycle: float, resistance_suspicious: float,
                resistance_reject: float, unknown_c_rate: float, unknown_current: float,
                bench_temperature: float | None = None, capacity_factor: float = 1.0,
                own_curve: OwnCurves | None = None) -> CellReport:
    """Every candidate: capacity kept, self-discharge, resistance, allowance, and what speaks against it."""
    limits = Limits(arrival_good, arrival_slow, arrival_stop, arrival_never, heater_rise, heater_limit, drop_ok,
                    drop_watch, drop_reject, health_good, health_fair, health_recycle, resistance_suspicious,
                    resistance_reject, unknown_c_rate, unknown_current)
    median = median_dc_resistance(candidates)
    cells = tuple(facts_of(row, limits, median, bench_temperature, capacity_factor,
                           own_curve.at_rest(row.id) if own_curve else None) for row in candidates)
    told = (curve_used(c, own_curve) for c in cells if c.rest and c.rest.leak_ah_per_day is not None)
    return CellReport(cells, median, capacity_factor, tuple(dict.fromkeys(told)))


def curve_used(cell: CellFacts, own: OwnCurves | None) -> str:
    """The name of the curve a resting voltage of this cell is read on."""
    if own is not None and own.at_rest(cell.id):
        return own.name
    return f"the published curve of {curve_for(cell.chemistry).title}"
