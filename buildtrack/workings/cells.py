"""Workings of the step `cells`: what the screening says of every cell and of the lot."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from buildtrack.workings.cells_own import own_curve
from buildtrack.workings.cells_report import CellReport, cell_report, median_dc_resistance
from buildtrack.workings.cells_rest import rest_to_see_leak
from buildtrack.workings.graph import Working
from buildtrack.workings.values import Table, WithSpread

STEP = "cells"
COMMON = "common practice, no source"
TESTER_TOLERANCE = 0.02
"""A tester's current that differs less from the meter's is left alone: common practice, no source."""


@dataclass(frozen=True, slots=True)
class CellTally:
    """How many cells were looked at and what became of them."""

    tested: int
    kept: int
    spare: int
    rejected: int
    undecided: int
    by_code: tuple[tuple[str, int], ...]
    """How many rejected cells each reason speaks against; a cell may have several."""
    unexplained: tuple[str, ...]
    """Rejected cells that no reading speaks against and for which no reason was written."""

    @property
    def summary(self) -> str:
        """The whole in one line."""
        reasons = ", ".join(f"{code} {count}" for code, count in self.by_code)
        if sum(count for _, count in self.by_code) > self.rejected:
            reasons += "; one cell may have several reasons"
        return (f"{self.kept} kept and {self.spare} spare of {self.tested}; {self.rejected} rejected"
                + (f" ({reasons})" if reasons else "") + (f"; {self.undecided} undecided" if self.undecided else ""))

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("reason", "cells")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per reason."""
        return tuple((code, str(count)) for code, count in self.by_code)


def capacity_factor(current_factor: float) -> float | WithSpread:
    """Factor on all measured capacities: that of the tester's current, left at 1 within 2 %."""
    if abs(current_factor - 1.0) <= TESTER_TOLERANCE + 1e-9:
        return WithSpread(1.0, {})  # nothing is multiplied, so no error comes in
    return current_factor


def kept_count(candidates: Table) -> float:
    """How many cells were decided to be kept."""
    return float(sum(1 for row in candidates if row.text("decision") == "keep"))


def cell_tally(candidates: Table, cell_report: CellReport) -> CellTally:
    """Cells tested, kept, rejected, and by which reason."""
    counts = Counter(c.decision for c in cell_report.cells)
    rejected = [c for c in cell_report.cells if c.decision == "reject"]
    codes = Counter(code for c in rejected for code in c.against)
    told = {row.id for row in candidates if row.text("reason")}
    return CellTally(
        len(cell_report.cells), counts["keep"], counts["spare"], len(rejected), counts[""], tuple(codes.most_common()),
        tuple(c.id for c in rejected if not c.against and c.id not in told))


def cell_yield(kept_count: float, candidates: Table) -> float:
    """Share of the candidates that was kept."""
    return kept_count / len(candidates)


def median_resistance(candidates: Table) -> float | None:
    """Median direct-current resistance of the lot."""
    return median_dc_resistance(candidates)


def health_worst(cell_report: CellReport) -> WithSpread | None:
    """Least capacity kept of the kept cells."""
    known = [(c.health, c.rated_ah, c.capacity_errors) for c in cell_report.kept if c.health is not None and c.rated_ah]
    if not known:
        return None
    health, rated_ah, errors = min(known, key=lambda cell: cell[0])
    return WithSpread(health, {source: limit / rated_ah for source, limit in errors.items()})


def leak_worst(cell_report: CellReport) -> WithSpread | None:
    """Largest self-discharge of a kept cell, per day."""
    found = [(leak, c) for c in cell_report.kept if c.rest and (leak := c.rest.leak_ah_per_day) is not None]
    if not found:
        return None
    leak, cell = max(found, key=lambda pair: pair[0])
    error = cell.rest.leak_plus_minus_ah if cell.rest is not None else None
    return WithSpread(leak, {f"rest of {cell.id}": error} if error else {})


def cells_cost(candidates: Table) -> float | None:
    """What the kept and the spare cells cost."""
    prices = [row.number("price") for row in candidates if row.text("decision") in ("keep", "spare")]
    known = [price for price in prices if price is not None]
    return math.fsum(known) if known else None


WORKINGS = (
    Working(capacity_factor, STEP, "Correction of the capacities", "", "1 within 2 %, else the meter's current over "
            "the tester's", f"charge is current × time (OpenStax University Physics 9.1); 2 %: {COMMON}",
            expression=False, digits=4),
    Working(own_curve, STEP, "Own curve", "", "U0(s) = U + I R of the slow log, s = 1 - q / Q; straight between "
            "its points; slope: mean over 2.5 % of charge to either side, up to the end of the curve",
            "own method; tried against a published cell with two time constants (Chen and Rincon-Mora 2006)",
            expression=False,
            note="preferred to the published curve of the chemistry for leaks, joining, balance and forecast; rested "
                 "voltages of a pack that was emptied stay on the published curve, which was read at rest"),
    Working(cell_report, STEP, "Every cell", "",
            "kept = Q / Q_rated; drop in 14 d = (V1 - V2) / days × 14; leak = (V1 - V2) / slope / days × Q; "
            "R = (U1 - U2) / (I2 - I1); allowance = min(I_rated, C-rate × Q), I_rated × kept where no C-rate is "
            "stated; of an unmarked or unrated cell at most the current and C-rate of a cell without a sheet",
            f"IEC 61960-3 (two-load resistance); limits: {COMMON}", expression=False,
            note="alternating-current resistances are listed but never used in their place"),
    Working(kept_count, STEP, "Cells kept", "", "cells with the decision keep", "definition", expression=False),
    Working(cell_tally, STEP, "What became of the cells", "", "counts by decision and by reason", "definition",
            expression=False),
    Working(cell_yield, STEP, "Share of the cells kept", "%", "cells kept / candidates", "definition",
            expression=False),
    Working(median_resistance, STEP, "Median resistance of the lot", "mΩ", "median of R (dc) over all candidates",
            "definition", "R_median", expression=False),
    Working(health_worst, STEP, "Least capacity kept", "%", "least Q / Q_rated of the kept cells", "definition",
            expression=False),
    Working(leak_worst, STEP, "Largest leak of a kept cell, per day", "mAh", "largest leak of the kept cells",
            "slope of the resting-voltage curve (arithmetic)", expression=False, digits=2),
    Working(rest_to_see_leak, STEP, "Rest until the usual self-discharge shows", "d",
            "3 × last digit / slope / usual self-discharge a day", "arithmetic (steps of the last digit); 3: common "
            "practice, no source", expression=False, digits=2,
            note="of the slowest cell; slope of its resting curve; sooner this meter tells nothing of a sound cell"),
    Working(cells_cost, STEP, "Cost of the cells", "money", "sum of the prices of kept and spare cells", "definition",
            expression=False, digits=4),
)
