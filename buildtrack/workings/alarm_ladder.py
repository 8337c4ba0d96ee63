"""The ladder: every voltage threshold with its tolerance, per cell and per pack, and what stands out of order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics.alarm import Conflict, Rung, ladder_conflicts
from buildtrack.workings.wire_board import BALANCE_TOLERANCE_V, CUTOFF_TOLERANCE_V, OVERCHARGE_TOLERANCE_V

MAXIMUM, CUT, END, BALANCE = "cell's absolute maximum", "over-charge cut", "end of charge", "balance start"
RELEASE, ALARM, CUTOFF, MINIMUM = "board releases again", "alarm", "board cutoff", "cell's minimum"

ORDER: Mapping[tuple[str, str], str] = {
    (MAXIMUM, CUT): "the board may let a group rise to {top} V, above what a cell stands",
    (CUT, END): "the board may end the charge before the charger does",
    (CUT, BALANCE): "the board may end the charge before it balances",
    (END, BALANCE): "balancing may never start, because the charge ends below it",
    (RELEASE, CUTOFF): "the board releases where it has just opened: it will switch on and off",
    (ALARM, CUTOFF): "the board may open before the alarm sounds",
    (ALARM, MINIMUM): "the alarm sounds below what a cell stands",
    (CUTOFF, MINIMUM): "the board may let a group fall to {bottom} V, below what a cell stands",
}
"""Pairs that must stand in this order, upper first, and what follows where they do not."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """All thresholds, highest first."""

    rungs: tuple[Rung, ...]
    series: float
    contradictions: tuple[str, ...]
    """Each pair that is not safely in order, and what follows from it, in one sentence."""
    pairs: tuple[tuple[str, str], ...] = ()
    """The same pairs by name, the upper first."""

    @property
    def summary(self) -> str:
        """The whole in one line."""
        if not self.contradictions:
            return f"{len(self.rungs)} thresholds, all in order with their tolerances"
        count = len(self.contradictions)
        return f"{len(self.rungs)} thresholds; {count} pair{'s are' if count > 1 else ' is'} not clear of each other"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("threshold", "per cell", "lowest", "highest", "per pack", *(("not clear of",) if self.pairs else ()))

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per threshold, highest first."""
        return tuple((r.name, f"{r.voltage_v:.3f} V", f"{r.voltage_v - r.minus_v:.3f} V",
                      f"{r.voltage_v + r.plus_v:.3f} V", f"{r.voltage_v * self.series:.2f} V",
                      *((self._below(r.name),) if self.pairs else ())) for r in self.rungs)

    def _below(self, name: str) -> str:
        """Lower thresholds that one is not clear of."""
        return ", ".join(lower for upper, lower in self.pairs if upper == name)


def ladder(series_count: float, cell_full: float, cell_absolute_max: float, cell_nominal: float, storage_low: float,
           storage_high: float, group_minimum: float, charger_tolerance: float, charge_policy: float | None = None,
           board_overcharge: float | None = None, board_overcharge_tolerance: float = OVERCHARGE_TOLERANCE_V,
           board_balance_start: float | None = None, board_balance_tolerance: float = BALANCE_TOLERANCE_V,
           alarm_setting: float | None = None, alarm_resolution: float = 0.0, board_release: float | None = None,
           board_cutoff: float | None = None, board_cutoff_tolerance: float = CUTOFF_TOLERANCE_V) -> Ladder:
    """Every known threshold per cell with its tolerance, sorted, with each pair that is not safely in order."""
    end = cell_full if charge_policy is None else charge_policy
    middle, half = (storage_low + storage_high) / 2, abs(storage_high - storage_low) / 2
    given = (
        (MAXIMUM, cell_absolute_max, 0.0), (CUT, board_overcharge, board_overcharge_tolerance),
        (END, end, end * charger_tolerance), (BALANCE, board_balance_start, board_balance_tolerance),
        ("storage", middle, half), ("nominal", cell_nominal, 0.0), (ALARM, alarm_setting, alarm_resolution),
        (RELEASE, board_release, 0.0), (CUTOFF, board_cutoff, board_cutoff_tolerance), (MINIMUM, group_minimum, 0.0))
    rungs = {name: Rung(name, volts, tolerance, tolerance) for name, volts, tolerance in given if volts is not None}
    ordered = sorted(rungs.values(), key=lambda r: -r.voltage_v)
    found = _contradictions(rungs)
    return Ladder(tuple(ordered), series_count, tuple(found.values()), tuple(found))


def _contradictions(rungs: Mapping[str, Rung]) -> dict[tuple[str, str], str]:
    """By pair of names, upper first: what does not stand in order, in words."""
    found: dict[tuple[str, str], str] = {}
    for (upper, lower), follows in ORDER.items():
        if upper in rungs and lower in rungs:
            for conflict in ladder_conflicts((rungs[upper], rungs[lower])):
                if sentence := _sentence(conflict, rungs, follows):
                    found[upper, lower] = sentence
    return found


def _sentence(conflict: Conflict, rungs: Mapping[str, Rung], follows: str) -> str:
    """The conflict in words; two thresholds that only touch, without any tolerance, are not one."""
    upper, lower = rungs[conflict.upper], rungs[conflict.lower]
    if conflict.margin_v == 0 and upper.minus_v == 0 and lower.plus_v == 0:
        return ""
    where = (f"{upper.name} {_edges(upper.voltage_v, upper.minus_v)} and {lower.name} "
             f"{_edges(lower.voltage_v, lower.plus_v)}")
    kind = "are out of order" if upper.voltage_v < lower.voltage_v else "meet within their tolerances"
    told = follows.format(top=units.short(lower.voltage_v + lower.plus_v),
                          bottom=units.short(upper.voltage_v - upper.minus_v))
    return f"{where} {kind}: {told}"


def _edges(volts: float, tolerance: float) -> str:
    return f"{volts:.2f} V" + (f" ± {units.short(tolerance, 'mV')}" if tolerance else "")
