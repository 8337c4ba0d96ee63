"""What flows when the cells of a group are joined, and how long until they agree."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics import sharing, sharing_joining
from buildtrack.workings.cells_curve import slope_v_per_share
from buildtrack.workings.cells_facts import CellFacts
from buildtrack.workings.cells_own import OwnCurves
from buildtrack.workings.cells_report import CellReport
from buildtrack.workings.pack_groups import GroupReport, shown
from buildtrack.workings.values import Table

AGREED_V = 0.010


@dataclass(frozen=True, slots=True)
class GroupJoined:
    """One group at the moment of joining."""

    group: str
    difference_v: float
    current_a: float | None
    """First current of the worst case: the cell that rests apart against all others together."""
    agreed_after_s: float | None
    """Least time until they agree within 10 mV; None where the curve cannot tell."""
    fallen_v: float | None
    """How far the group fell from joining to the next day."""


@dataclass(frozen=True, slots=True)
class JoiningReport:
    """All groups that were joined."""

    groups: tuple[GroupJoined, ...]
    own_curve: str = ""
    """The maker's own curve whose slope the times rest on; empty where it is the published one."""

    @property
    def summary(self) -> str:
        """The whole in one line."""
        worst = max(self.groups, key=lambda g: g.difference_v)
        current = f", first current {units.show(worst.current_a, 'A', digits=2)}" if worst.current_a is not None else ""
        told = f"largest difference {units.show(worst.difference_v, 'mV', digits=3)} in {worst.group}{current}"
        return told + (f"; times by {self.own_curve}" if self.own_curve else "")

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("group", "apart", "first current", "agree within 10 mV after", "fell by the next day")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per group."""
        return tuple((
            g.group, shown(g.difference_v, "mV"), shown(g.current_a, "A", 2), shown(g.agreed_after_s, "min", 2),
            shown(g.fallen_v, "mV")) for g in self.groups)


def _current(difference_v: float, resistances_ohm: list[float]) -> float | None:
    """First current of the cell that lies apart into the others; the worst choice of that cell."""
    if len(resistances_ohm) < 2:
        return None
    loops = []
    for index, own in enumerate(resistances_ohm):
        others = resistances_ohm[:index] + resistances_ohm[index + 1:]
        loops.append(own + sharing.group_resistance_ohm(others))
    return abs(sharing_joining.inrush_current_a(difference_v, 0.0, min(loops)))


def _agreed(cells: list[CellFacts], low_v: float, high_v: float, own: OwnCurves | None) -> float | None:
    """Time until two cells of the group agree: the slowest pair."""
    slopes = [slope_v_per_share(c.chemistry, high_v, low_v, own.at_rest(c.id) if own else None) for c in cells]
    times = []
    for i, first in enumerate(cells):
        for j in range(i + 1, len(cells)):
            second, slope_1, slope_2 = cells[j], slopes[i], slopes[j]
            if not (slope_1 and slope_2 and first.capacity_ah and second.capacity_ah and first.resistance_ohm
                    and second.resistance_ohm):
                return None
            times.append(sharing_joining.time_to_agree_s(
                high_v - low_v, first.resistance_ohm + second.resistance_ohm,
                slope_1 / first.capacity_ah + slope_2 / second.capacity_ah, AGREED_V))
    return max(times, default=None)


def joining_current_report(groups: Table, group_report: GroupReport, cell_report: CellReport,
                           own_curve: OwnCurves | None = None) -> JoiningReport | None:
    """First current and time to agree of every group, from the voltages at the moment of joining."""
    found = []
    for group in group_report.groups:
        row = groups.row(group.id)
        low, high = (row.number("joining_lowest"), row.number("joining_highest")) if row else (None, None)
        if row is None or low is None or high is None:
            continue
        cells = [c for name in group.cells if (c := cell_report.cell(name)) is not None]
        ohms = [c.resistance_ohm for c in cells if c.resistance_ohm is not None]
        current = _current(high - low, ohms) if len(ohms) == len(cells) else None
        after, next_day = row.number("voltage_after"), row.number("voltage_next_day")
        fallen = after - next_day if after is not None and next_day is not None else None
        found.append(GroupJoined(group.id, high - low, current, _agreed(cells, low, high, own_curve), fallen))
    return JoiningReport(tuple(found), own_curve.name if own_curve else "") if found else None
