"""The maker's own curve: from slow logs of one of the lot's cells, and which cells it stands for."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics.ocv import Curve, CurveError
from buildtrack.physics.ocv_own import SLOW_C_RATE, loaded_rows
from buildtrack.physics.ocv_own import own_curve as curve_from_rows
from buildtrack.workings.cells_curve import curve_for
from buildtrack.workings.cells_facts import capacity_of, dc_resistance
from buildtrack.workings.discharge_log import LogData, OwnLogs
from buildtrack.workings.values import Record, Table

ENDS_V = 0.08
"""A log from full to empty reaches the ends of the published curve at least so closely; our own choice."""
FASTEST_C = 3.0
"""A second log, for the forecast only, may be as fast as this; our own choice."""
KEPT = 16
"""Curves kept in memory."""
SHOWN = (1.0, 0.97, 0.94, 0.88, 0.79, 0.7, 0.61, 0.52, 0.43, 0.34, 0.25, 0.16, 0.1, 0.08,
         0.06, 0.05, 0.04, 0.03, 0.02, 0.01, 0.0)
"""Charge left at which a curve is shown: points of the curve itself, all of them where it is steep."""


@dataclass(frozen=True, slots=True)
class OwnCurves:
    """The curves of one cell, the slowest first, and the cells they stand for."""

    cell: str
    curves: tuple[Curve, ...]
    stands_for: tuple[str, ...]
    """Cells of the same chemistry and print."""
    published: Curve
    logged_ah: float
    """Charge of the slowest log."""
    tested_ah: float | None
    """Capacity of the same cell by its own test."""
    notes: tuple[str, ...]

    def at_rest(self, cell: str) -> Curve | None:
        """The curve for slopes of rested voltages: the slowest; None for another kind of cell."""
        return self.curves[0] if cell in self.stands_for else None

    def nearest(self, cell: str, rate_c: float | None) -> Curve | None:
        """The curve logged nearest to a rate (in ratio), the slowest where no rate is known; None for other cells."""
        if cell not in self.stands_for or not rate_c:
            return self.at_rest(cell)
        return min(self.curves, key=lambda c: max(c.logged_rate_c / rate_c, rate_c / c.logged_rate_c))

    @property
    def name(self) -> str:
        """What it is called where it is used."""
        return f"the own curve of {self.cell}"

    @property
    def summary(self) -> str:
        """The whole in one line."""
        rates = " and ".join(f"{c.logged_rate_c:.2g} C" for c in self.curves)
        told = f"{self.curves[0].title}, logged at {rates}; stands for {units.counted(len(self.stands_for), 'cell')}"
        return "; ".join((told, *self.notes))

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("charge left", "own curve", "slope [mV per 1 %]", "published curve", "own less published")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """Own and published curve side by side, each by its own charge."""
        own = self.curves[0]
        return tuple((f"{100 * s:.0f} %", f"{own.voltage(s):.3f} V", f"{own.slope_mv_per_percent(s):.2f}",
                      f"{self.published.voltage(s):.3f} V",
                      _millivolts(own.voltage(s) - self.published.voltage(s))) for s in SHOWN)


def _millivolts(difference_v: float) -> str:
    whole = round(1000 * difference_v)
    return f"{whole:+d} mV" if whole else "0 mV"


def own_curve(own_curve_data: OwnLogs, own_curve_cell: str, candidates: Table) -> OwnCurves:
    """Open-circuit curve of the logged cell: its logged voltage with current times resistance put back."""
    row = _logged(own_curve_cell, candidates)
    resistance, why = dc_resistance(row)
    if resistance is None:
        raise ValueError(f"{row.id}: its direct-current resistance is needed for its curve"
                         + (f": {why}" if why else ""))
    published = curve_for(row.text("chemistry"))
    found = [_curve(data, row, resistance) for data in own_curve_data.logs]
    curves = tuple(sorted(found, key=lambda c: c.logged_rate_c))
    slowest = min(own_curve_data.logs, key=lambda d: d.log.discharged_ah / max(d.log.loaded_s, 1.0))
    if curves[0].logged_rate_c > SLOW_C_RATE:
        raise ValueError(f"logged at {curves[0].logged_rate_c:.2g} C; a curve needs a log of at most {SLOW_C_RATE} C")
    for curve in curves:
        _refuse_part(curve, published)
    tested = capacity_of(row)
    return OwnCurves(row.id, curves, _alike(row, candidates), published, slowest.log.discharged_ah, tested,
                     tuple(dict.fromkeys(note for c in curves for note in c.notes)))


def _logged(name: str, candidates: Table) -> Record:
    found = next((r for r in candidates if r.id.casefold() == name.strip().casefold()), None)
    if found is None:
        raise ValueError(f"'{units.clip(name, 40)}' is no candidate cell: write the number of the logged cell, like "
                         f"{next((r.id for r in candidates), 'c01')}")
    return found


_kept: dict[tuple[str, str, str, str, str, float], Curve] = {}
"""Curves made lately, by log, columns, cell and resistance: an edit elsewhere in the table does not make them again."""


def _curve(data: LogData, row: Record, resistance_ohm: float) -> Curve:
    key = (data.log.sha256, data.set_by_hand, data.path, row.id, row.text("chemistry"), resistance_ohm)
    if key not in _kept:
        if len(_kept) >= KEPT:
            _kept.clear()
        _kept[key] = _made(data, row, resistance_ohm)
    return _kept[key]


def _made(data: LogData, row: Record, resistance_ohm: float) -> Curve:
    try:
        time_s, current_a, voltage_v = loaded_rows(data.log)
        return curve_from_rows(
            time_s, current_a, voltage_v, resistance_ohm, key=f"own_{row.id}", name=f"own curve of {row.id}",
            chemistry=row.text("chemistry"), source=f"own log {data.path}", fastest_c=FASTEST_C)
    except CurveError as error:
        raise ValueError(f"{data.path}: {error}") from error


def _refuse_part(curve: Curve, published: Curve) -> None:
    """A discharge that began below full or ended early has the wrong charge under it."""
    if curve.highest_v < published.highest_v - ENDS_V:
        raise ValueError(f"the log begins at {curve.highest_v:.2f} V at rest, which is not full: charge the cell to "
                         f"its end first (the published curve is full at {published.highest_v:.2f} V)")
    if curve.lowest_v > published.lowest_v + ENDS_V:
        raise ValueError(f"the log ends at {curve.lowest_v:.2f} V at rest, which is not empty: discharge further (the "
                         f"published curve is empty at {published.lowest_v:.2f} V)")


def _alike(row: Record, candidates: Table) -> tuple[str, ...]:
    """Cells of the same chemistry and the same print; where a print is missing, the chemistry decides."""
    def same(other: Record, column: str) -> bool:
        a, b = row.text(column).strip().casefold(), other.text(column).strip().casefold()
        return a == b or (column == "marking" and not (a and b))

    return tuple(r.id for r in candidates if same(r, "chemistry") and same(r, "marking"))
