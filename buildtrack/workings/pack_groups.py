"""Groups of cells as assigned: what is wrong with the assignment, and what every group can do."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics import sharing
from buildtrack.workings.cells_facts import CellFacts
from buildtrack.workings.cells_report import CellReport
from buildtrack.workings.values import Record, Table

_BETWEEN = re.compile(r"[\s,;+]+")
_DECISIONS = {"reject": "was rejected", "spare": "is set aside as a spare", "": "is not decided yet"}


def cell_names(text: str) -> tuple[str, ...]:
    """Ids written one after another with spaces, commas, semicolons or + between them."""
    return tuple(name for name in _BETWEEN.split(text.strip()) if name)


@dataclass(frozen=True, slots=True)
class AssignmentReport:
    """Which cell is in which group, and what is wrong with it."""

    groups: tuple[tuple[str, tuple[str, ...]], ...]
    problems: tuple[str, ...]
    broken: tuple[str, ...]
    """The problems under which no group can be computed: unknown cells, a cell used twice."""

    @property
    def summary(self) -> str:
        """The whole in one line."""
        if self.problems:
            return "; ".join(self.problems)
        cells = sum(len(cells) for _, cells in self.groups)
        return f"{units.counted(len(self.groups), 'group')}, {units.counted(cells, 'cell')}, each used once"


@dataclass(frozen=True, slots=True)
class Group:
    """One parallel group."""

    id: str
    cells: tuple[str, ...]
    capacity_ah: float | None
    rated_ah: float | None
    resistance_ohm: float | None
    allowance_a: float | None
    allowance_by_name_a: float | None
    """What the same cells would be allowed if each took an equal share."""
    limiting_cell: str
    shares: tuple[float, ...] | None
    """Share of the current per cell, by conductance; None where a resistance is missing (equal shares assumed)."""
    leak_ah_per_day: float | None
    capacity_apart: float | None
    """Largest minus smallest cell over the largest."""
    resistance_ratio: float | None
    joining_difference_v: float | None
    joining_plus_minus_v: float | None
    capacity_errors: Mapping[str, float]
    resistance_errors: Mapping[str, float]

    @property
    def largest_share(self) -> float:
        """Share of the most loaded cell."""
        return max(self.shares) if self.shares else 1 / len(self.cells)


@dataclass(frozen=True, slots=True)
class GroupReport:
    """All groups of the pack."""

    groups: tuple[Group, ...]

    @property
    def summary(self) -> str:
        """The whole in one line."""
        sums = [g.capacity_ah for g in self.groups if g.capacity_ah is not None]
        if not sums:
            return f"{units.counted(len(self.groups), 'group')}, capacities missing"
        low, high = min(sums), max(sums)
        if len(self.groups) == 1:
            return f"1 group of {units.show(low, 'mAh')}"
        return (f"{len(self.groups)} groups from {units.show(low, 'mAh')} to {units.show(high, 'mAh')}"
                f" ({units.show((high - low) / low, '%', digits=2)} apart)")

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("group", "cells", "capacity", "printed", "resistance", "allowance", "limited by", "largest share",
                "leak per day", "joined at")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per group."""
        return tuple((
            g.id, " ".join(g.cells), shown(g.capacity_ah, "mAh", 4), shown(g.rated_ah, "mAh", 4),
            shown(g.resistance_ohm, "mΩ"), shown(g.allowance_a, "A"), g.limiting_cell or "-",
            units.show(g.largest_share, "%") if g.shares else "equal shares assumed",
            shown(g.leak_ah_per_day, "mAh", 2),
            "-" if g.joining_difference_v is None else f"{units.show(g.joining_difference_v, 'mV', digits=3)} apart")
            for g in self.groups)


def shown(value: float | None, unit: str, digits: int = 3) -> str:
    """A value that may be missing, for a table."""
    return "-" if value is None else units.show(value, unit, digits=digits)


def lumped(errors: Mapping[str, float], name: str) -> dict[str, float]:
    """Errors by source with all readings' own last digits put together, as the root of the sum of squares."""
    own = [limit for source, limit in errors.items() if source.startswith("last digit")]
    found = {source: limit for source, limit in errors.items() if not source.startswith("last digit") and limit}
    if own and any(own):
        found[f"last digits of {name}"] = math.hypot(*own)
    return found


def _named(row: Record, cell_report: CellReport) -> tuple[str, ...]:
    """Ids of a group's cells as the table of candidates spells them."""
    return tuple(found.id if (found := cell_report.cell(name)) else name for name in cell_names(row.text("cells")))


def assignment_report(groups: Table, cell_report: CellReport, series_count: float,
                      parallel_count: float) -> AssignmentReport:
    """Cells unknown, used twice or not kept; groups missing or of another size."""
    assigned = tuple((row.id, _named(row, cell_report)) for row in groups)
    filled = tuple((name, cells) for name, cells in assigned if cells)
    broken = [*_unknown(filled, cell_report), *_twice(filled)]
    problems = [*broken, *_not_kept(filled, cell_report)]
    problems += [f"{name} has {len(cells)} cells, {parallel_count:g} are planned" for name, cells in filled
                 if len(cells) != parallel_count]
    if len(filled) != series_count:
        problems.append(f"{len(filled)} groups have cells, {series_count:g} are planned")
    return AssignmentReport(filled, tuple(problems), tuple(broken))


def _unknown(filled: Sequence[tuple[str, tuple[str, ...]]], cell_report: CellReport) -> list[str]:
    return [f"{cell} in {name} is not among the candidates" for name, cells in filled for cell in cells
            if cell_report.cell(cell) is None]


def _twice(filled: Sequence[tuple[str, tuple[str, ...]]]) -> list[str]:
    seen: dict[str, str] = {}
    found = []
    for name, cells in filled:
        for cell in cells:
            if cell in seen:
                found.append(f"{cell} stands in {seen[cell]} and in {name}" if seen[cell] != name
                             else f"{cell} stands twice in {name}")
            seen.setdefault(cell, name)
    return found


def _not_kept(filled: Sequence[tuple[str, tuple[str, ...]]], cell_report: CellReport) -> list[str]:
    found = []
    for name, cells in filled:
        for cell in cells:
            facts = cell_report.cell(cell)
            if facts is not None and not facts.kept:
                found.append(f"{cell} in {name} {_DECISIONS.get(facts.decision, 'is not kept')}")
    return found


def _sum(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return math.fsum(known) if known and len(known) == len(values) else None


def _all(values: Sequence[float | None]) -> list[float] | None:
    known = [value for value in values if value is not None]
    return known if len(known) == len(values) else None


def _added(parts: Sequence[tuple[Mapping[str, float], float]]) -> dict[str, float]:
    found: dict[str, float] = {}
    for errors, weight in parts:
        for source, limit in errors.items():
            found[source] = found.get(source, 0.0) + weight * limit
    return found


def _allowance(cells: Sequence[CellFacts], resistances: list[float] | None) -> tuple[float | None, float | None, str]:
    """What the group may carry, what it might if all shares were equal, and the cell that limits it."""
    rated = _all([c.allowance_a for c in cells])
    if rated is None:
        return None, None, ""
    equal = min(rated) * len(rated)
    if resistances is None:
        return equal, equal, cells[rated.index(min(rated))].id
    found = sharing.group_allowance(rated, resistances)
    return found.current_a, equal, cells[found.limiting_cell].id


def _joining(row: Record) -> tuple[float | None, float | None]:
    low, high = row.number("joining_lowest"), row.number("joining_highest")
    if low is None or high is None:
        return None, None
    first, second = row.spreads.get("joining_lowest"), row.spreads.get("joining_highest")
    if not first or not second:
        return high - low, None
    return high - low, math.hypot(*(first.get(s, 0.0) - second.get(s, 0.0) for s in set(first) | set(second)))


def _group(row: Record, cells: Sequence[CellFacts]) -> Group:
    capacities, resistances = _all([c.capacity_ah for c in cells]), _all([c.resistance_ohm for c in cells])
    allowance, equal, limiting = _allowance(cells, resistances)
    together = sharing.group_resistance_ohm(resistances) if resistances else None
    difference, plus_minus = _joining(row)
    return Group(
        row.id, tuple(c.id for c in cells), math.fsum(capacities) if capacities else None,
        _sum([c.rated_ah for c in cells]), together, allowance, equal, limiting,
        sharing.current_shares(resistances) if resistances else None,
        _sum([c.rest.leak_ah_per_day if c.rest else None for c in cells]),
        (max(capacities) - min(capacities)) / max(capacities) if capacities else None,
        max(resistances) / min(resistances) if resistances else None, difference, plus_minus,
        _added([(c.capacity_errors, 1.0) for c in cells]),
        _added([(c.resistance_errors, (together / c.resistance_ohm) ** 2) for c in cells if c.resistance_ohm])
        if together else {})


def group_report(groups: Table, cell_report: CellReport, assignment_report: AssignmentReport) -> GroupReport | None:
    """Capacity, resistance, allowance, shares, leak and joining difference of every group."""
    if assignment_report.broken:
        raise ValueError("; ".join(assignment_report.broken))
    found = []
    for row in groups:
        cells = [facts for name in _named(row, cell_report) if (facts := cell_report.cell(name)) is not None]
        if cells:
            found.append(_group(row, cells))
    return GroupReport(tuple(found)) if found else None
