"""The best grouping of the kept cells, with its proof, and what the chosen grouping gives away against it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from buildtrack import units
from buildtrack.physics import grouping, sharing
from buildtrack.physics.grouping_limits import Limits
from buildtrack.workings.cells_facts import CellFacts
from buildtrack.workings.cells_report import CellReport
from buildtrack.workings.pack_groups import GroupReport, lumped, shown
from buildtrack.workings.pack_refused import limits_told, refusal

MOST_EVENED = 8
"""Resistances are evened out up to so many cells in parallel; beyond, many cells average them out by themselves."""

STEPS_FOR_OTHERS = 40_000
"""Of other counts only whether a grouping within the limits is found is wanted."""


@dataclass(frozen=True, slots=True)
class BestGrouping:
    """S groups of P cells whose smallest group is as large as it can be."""

    groups: tuple[tuple[str, ...], ...]
    group_ah: tuple[float, ...]
    group_ohm: tuple[float, ...] | None
    smallest_ah: float
    optimum_ah: float
    """Smallest group of the best grouping for capacity alone."""
    bound_ah: float
    """What no grouping of these cells can exceed."""
    proven: bool
    plus_minus_ah: float | None
    """Limit of error of the smallest group, as far as the tester's accuracy is known."""
    left_over: tuple[str, ...]
    sentence: str
    limits: str = ""
    """The limits of a stop that were kept, where keeping them costs capacity, or that no grouping keeps."""
    refused: str = ""
    """Where no grouping keeps the limits: what is outside, and what would help. The grouping is not the best then."""

    @property
    def summary(self) -> str:
        """The whole in one line."""
        if self.refused:
            return self.refused
        figure = units.show(self.smallest_ah, "mAh", self.plus_minus_ah)
        return f"smallest group {figure}; {self.sentence}" + (f". Limits: {self.limits}" if self.limits else "")

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("group", "cells", "capacity", "resistance")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per group, and the cells that are left over."""
        ohms = self.group_ohm or (None,) * len(self.groups)
        found = [(f"g{number}", " ".join(cells), shown(capacity, "mAh", 4), shown(ohm, "mΩ"))
                 for number, (cells, capacity, ohm) in enumerate(zip(self.groups, self.group_ah, ohms, strict=True), 1)]
        if self.left_over:
            found.append(("left over", " ".join(self.left_over), "", ""))
        return tuple(found)


def _kind(cell: CellFacts) -> str:
    return cell.chemistry if cell.identified else "unknown"


@lru_cache(maxsize=64)
def _solved(capacities_mah: tuple[float, ...], resistances_ohm: tuple[float | None, ...], kinds: tuple[str, ...],
            series: int, parallel: int, limits: Limits | None, steps: int) -> grouping.Grouping:
    """The search, remembered: an edit that leaves the cells alone does not search again."""
    ohms = resistances_ohm if parallel <= MOST_EVENED else None
    return grouping.best_grouping(capacities_mah, series, parallel, resistances_ohm=ohms, keep_apart=kinds,
                                  limits=limits, steps=steps)


def _ohms(groups: tuple[tuple[int, ...], ...], cells: list[CellFacts]) -> tuple[float, ...] | None:
    """Resistance of every group; None where a cell has none."""
    found = []
    for group in groups:
        known = [ohm for i in group if (ohm := cells[i].resistance_ohm) is not None]
        if len(known) != len(group):
            return None
        found.append(sharing.group_resistance_ohm(known))
    return tuple(found)


def _whole(count: float, what: str) -> int:
    if count < 1 or count != int(count):
        raise ValueError(f"{count:g} {what} is not allowed: a whole number from 1.")
    return int(count)


def best_grouping(cell_report: CellReport, series_count: float, parallel_count: float,
                  duty_rms_current: float | None = None, load_share_max: float | None = None) -> BestGrouping | None:
    """The best grouping of the kept cells that no check has to stop; kinds of cell, known and unknown, never mix.

    Two stops rest on which cells share a group: resistances too far apart, and work above what the cells may give.
    """
    cells = [c for c in cell_report.kept if c.capacity_ah is not None]
    if not cells:
        return None
    series, parallel = _whole(series_count, "groups in series"), _whole(parallel_count, "cells in parallel")
    limits = Limits(tuple(c.resistance_ohm for c in cells), tuple(c.allowance_a for c in cells), sharing.FAR_RATIO,
                    duty_rms_current / load_share_max if duty_rms_current and load_share_max else None)
    found = _solve(cells, series, parallel, limits)
    lowest = found.group_capacity_mah.index(found.smallest_mah)
    costly = not found.kept or found.without_limits_mah is not None
    return BestGrouping(
        tuple(tuple(cells[i].id for i in group) for group in found.groups),
        tuple(mah / 1000 for mah in found.group_capacity_mah), _ohms(found.groups, cells), found.smallest_mah / 1000,
        found.optimum_mah / 1000, found.bound_mah / 1000, found.proven and found.kept,
        _plus_minus([cells[i] for i in found.groups[lowest]]), tuple(cells[i].id for i in found.left_over),
        found.sentence, limits_told(limits) if costly else "",
        "" if found.kept else refusal(cells, found, limits, _others(cells, series, parallel, limits)))


def _solve(cells: list[CellFacts], series: int, parallel: int, limits: Limits,
           steps: int = grouping.DEFAULT_STEPS) -> grouping.Grouping:
    """Without limits first, then with the ratio, then with both: a current that changes seldom searches again."""
    mah, ohms = tuple((c.capacity_ah or 0.0) * 1000 for c in cells), tuple(c.resistance_ohm for c in cells)
    for part in (None, replace(limits, least_current_a=None)):
        found = _solved(mah, ohms, tuple(_kind(c) for c in cells), series, parallel, part, steps)
        if all(limits.keeps(group) for group in found.groups):
            return found
    return _solved(mah, ohms, tuple(_kind(c) for c in cells), series, parallel, limits, steps)


def _others(cells: list[CellFacts], series: int, parallel: int, limits: Limits) -> list[str]:
    """Counts near the planned ones, like 3S3P, that these cells can make within the limits."""
    near = [(series, parallel - 1), (series - 1, parallel), (series, parallel + 1), (series - 1, parallel + 1)]
    possible = [(s, p) for s, p in near if s >= 1 and p >= 1 and s * p <= len(cells)]
    kept = []
    for s, p in possible:
        try:
            if _solve(cells, s, p, limits, STEPS_FOR_OTHERS).kept:
                kept.append(f"{s}S{p}P")
        except grouping.GroupingError:
            continue  # too few cells of one kind for it
    return kept


def _plus_minus(cells: list[CellFacts]) -> float | None:
    errors: dict[str, float] = {}
    for cell in cells:
        for source, limit in cell.capacity_errors.items():
            errors[source] = errors.get(source, 0.0) + limit
    return math.hypot(*lumped(errors, "the cells").values()) if errors else None


def grouping_gain(best_grouping: BestGrouping, group_report: GroupReport) -> float | None:
    """How much larger the smallest group could be, over what it is; 0 where no grouping keeps the limits of a stop."""
    sums = [g.capacity_ah for g in group_report.groups]
    known = [capacity for capacity in sums if capacity is not None]
    if not known or len(known) != len(sums) or len(sums) != len(best_grouping.groups):
        return None
    if best_grouping.refused:
        return 0.0
    # Nine digits, so that a grouping that is as good as the best one gives away nothing.
    return max(0.0, round(best_grouping.optimum_ah / min(known) - 1, 9))
