"""How much charge the groups are apart, what each of them suffers from, and whether the board can even it out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack import units
from buildtrack.physics.balance import Imbalance, imbalance
from buildtrack.physics.balance_end import Board, CanItEnd, GroupFinding, GroupTest, can_balancing_end, diagnose_groups
from buildtrack.workings.cells_curve import curve_for
from buildtrack.workings.cells_own import OwnCurves
from buildtrack.workings.cells_report import CellReport, curve_used
from buildtrack.workings.discharge_groups import GroupResistances
from buildtrack.workings.discharge_test import TestReport
from buildtrack.workings.pack_groups import Group, GroupReport
from buildtrack.workings.values import Table
from buildtrack.workings.wire_board import BALANCE_TOLERANCE_V, OVERCHARGE_TOLERANCE_V

BLEED_HOURS = 0.75
"""Hours a charge spends above the start of the bleed, usually 0.5 to 1 (common practice, no source)."""
DIFFERENCE_V = 0.002
"""Doubt of a difference of two readings of one meter (common practice, no source)."""
DAYS = 7.0
"""Days between two charges (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class GroupBalance:
    """One group: how much more charge it holds than the lowest, and what its two ends point to."""

    group: str
    volts_v: float
    above: Imbalance
    finding: GroupFinding | None


@dataclass(frozen=True, slots=True)
class BalanceReport:
    """The balance of the pack after a charge."""

    basis: str
    """Which readings it rests on: rested, or at the end of the charge."""
    groups: tuple[GroupBalance, ...]
    imbalance_ah: float | None
    cannot_tell: str
    end: CanItEnd | None
    gain_ah: float | None
    """Second test less the first, where both were run."""
    gain: str
    curve: str = ""
    """The curve by whose slope voltages became charge."""

    @property
    def weak(self) -> tuple[str, ...]:
        """Groups that no balancing helps."""
        return tuple(g.group for g in self.groups if g.finding is not None
                     and g.finding.kind in ("small capacity", "high resistance", "leak"))

    @property
    def summary(self) -> str:
        """The whole in one line."""
        if self.imbalance_ah is None:
            told = self.cannot_tell
        else:
            told = units.show(self.imbalance_ah, "mAh", digits=2)
            told += f" apart by the {self.basis} voltages and {self.curve}"
            if self.end is not None:
                told += f"; {self._ending()}"
        findings = [f"{g.group}: {g.finding.kind}" for g in self.groups
                    if g.finding is not None and g.finding.kind not in ("level", "cannot tell")]
        return "; ".join(t for t in (told, ", ".join(findings), self.gain) if t)

    def _ending(self) -> str:
        end = self.end
        if end is None or end.answer == "no":
            return "the board can never even it out: " + "; ".join(end.reasons if end is not None else ())
        charges = max(1.0, end.charges or 0.0)
        many = f"about {charges:.0f} charges" if charges >= 1.5 else "one charge"
        told = f"{units.show(end.bleed_h or 0.0, digits=2)} h of bleeding, {many}"
        return f"{told} ({'; '.join(end.reasons)})" if end.reasons else told

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("group", "voltage", "slope [mV per 1 %]", "above the lowest", "range", "points to")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per group."""
        return tuple((g.group, f"{g.volts_v:.3f} V", _slope(g.above), _charge(g.above.charge_ah), _range(g.above),
                      g.finding.sentence if g.finding is not None else "not judged: needs both ends of a charge")
                     for g in self.groups)


def _charge(value: float | None) -> str:
    return "-" if value is None else units.show(value, "mAh", digits=2)


def _slope(above: Imbalance) -> str:
    return "-" if above.slope_mv_per_percent is None else f"{above.slope_mv_per_percent:.3g}"


def _range(above: Imbalance) -> str:
    if above.low_ah is None or above.high_ah is None:
        return above.note
    return f"{_charge(above.low_ah)} to {_charge(above.high_ah)}" + (f" ({above.note})" if above.note else "")


def _readings(charge_groups: Table, names: Sequence[str]) -> tuple[str, list[float]]:
    """The rested voltages, else those at the end of the charge; empty where a group is missing."""
    for column, basis in (("rested", "rested"), ("at_end", "end-of-charge")):
        rows = [charge_groups.row(name) for name in names]
        volts = [v for row in rows if row is not None and (v := row.number(column)) is not None]
        if len(volts) == len(names):
            return basis, volts
    return "", []


def imbalances(charge_groups: Table, group_report: GroupReport, cell_report: CellReport,
               own: OwnCurves | None = None) -> tuple[str, list[float], tuple[Imbalance, ...]]:
    """Basis, voltages and charge of each group above the lowest, by the slope of the curve near full.

    A pack that rests above the end of the published curve is laid on its top: only differences count here.
    """
    names = [g.id for g in group_report.groups]
    capacities = [g.capacity_ah for g in group_report.groups]
    known = [c for c in capacities if c is not None]
    basis, volts = _readings(charge_groups, names)
    if not basis or len(known) != len(names) or len(names) < 2:
        return "", [], ()
    cell = cell_report.cell(group_report.groups[0].cells[0])
    curve = (own.at_rest(cell.id) if own and cell else None) or curve_for(cell.chemistry if cell is not None else "")
    over = max(0.0, max(volts) - curve.highest_v)
    # min() keeps the top reading on the curve in spite of rounding.
    laid = [min(v - over, curve.highest_v) for v in volts]
    return basis, volts, imbalance(laid, known, curve, DIFFERENCE_V)


def imbalance_charge(charge_groups: Table, group_report: GroupReport, cell_report: CellReport,
                     own_curve: OwnCurves | None = None) -> float | None:
    """Charge between the highest and the lowest group; None where the curve is too flat to tell (see the balance)."""
    _, _, found = imbalances(charge_groups, group_report, cell_report, own_curve)
    if not found:
        return None
    known = [i.charge_ah for i in found if i.charge_ah is not None]
    return max(known) if len(known) == len(found) else None


def balance_report(charge_groups: Table, group_report: GroupReport, cell_report: CellReport, cell_full: float,
                   sum_spread_ok: float, board_balance_current: float | None = None,
                   board_balance_start: float | None = None,
                   board_balance_tolerance: float = BALANCE_TOLERANCE_V,
                   board_overcharge: float | None = None,
                   board_overcharge_tolerance: float = OVERCHARGE_TOLERANCE_V,
                   charge_policy: float | None = None, test_report: TestReport | None = None,
                   group_resistances: GroupResistances | None = None, second_test_capacity: float | None = None,
                   delivered_capacity_tested: float | None = None,
                   own_curve: OwnCurves | None = None) -> BalanceReport | None:
    """Charge apart, whether the board's bleed can ever remove it, and what each group suffers from."""
    basis, volts, above = imbalances(charge_groups, group_report, cell_report, own_curve)
    if not above:
        return None
    first = cell_report.cell(group_report.groups[0].cells[0])
    findings = _findings(group_report, volts, sum_spread_ok, test_report, group_resistances)
    groups = tuple(GroupBalance(g.id, v, a, findings[k] if findings else None)
                   for k, (g, v, a) in enumerate(zip(group_report.groups, volts, above, strict=True)))
    unknown = next((a.note for a in above if a.charge_ah is None), "")
    most = None if unknown else max(a.charge_ah or 0.0 for a in above)
    end = None
    if most is not None and board_balance_current and board_balance_start is not None and board_overcharge is not None:
        board = Board(board_balance_current, board_balance_start, board_balance_tolerance, board_overcharge,
                      board_overcharge_tolerance, BLEED_HOURS)
        end = can_balancing_end(
            board, most, cell_full if charge_policy is None else charge_policy,
            leak_difference_ah_per_day=_leak_difference(group_report), days_between_charges=DAYS,
            capacity_differs=any(f.kind == "small capacity" for f in findings))
    gain, told = _gain(second_test_capacity, delivered_capacity_tested, most)
    return BalanceReport(basis, groups, most, unknown, end, gain, told, curve_used(first, own_curve) if first else "")


def _leak_difference(group_report: GroupReport) -> float:
    leaks = [g.leak_ah_per_day for g in group_report.groups if g.leak_ah_per_day is not None]
    return max(leaks) - min(leaks) if len(leaks) == len(group_report.groups) else 0.0


def _findings(group_report: GroupReport, volts: Sequence[float], spread_ok: float, test: TestReport | None,
              measured: GroupResistances | None) -> list[GroupFinding]:
    """What each group's two ends point to; empty unless every group was read at full, at the end and an hour after."""
    if test is None:
        return []
    turns = {g.id: g for g in test.groups}
    ohms = {g.group: g.measured_ohm for g in measured.groups} if measured is not None else {}
    found = []
    for group, full in zip(group_report.groups, volts, strict=True):
        turn = turns.get(group.id)
        resistance = ohms.get(group.id) or group.resistance_ohm
        if turn is None or turn.cutoff_v is None or turn.rebound_60min_v is None or resistance is None:
            return []
        found.append(GroupTest(full, resistance, turn.cutoff_v, turn.rebound_60min_v))
    told = diagnose_groups(found)
    return [_tempered(f, g, group_report, spread_ok) for f, g in zip(told, group_report.groups, strict=True)]


def _tempered(finding: GroupFinding, group: Group, report: GroupReport, spread_ok: float) -> GroupFinding:
    """At the steep end some group is always first: small is only one whose cells hold less by more than the rule."""
    largest = max((g.capacity_ah for g in report.groups if g.capacity_ah is not None), default=0.0)
    small = group.capacity_ah is not None and group.capacity_ah * (1 + spread_ok) < largest
    if finding.kind != "small capacity" or small:
        return finding
    return GroupFinding("level", "first at the end, but its cells hold as much as the others' within the rule")


def _gain(second_ah: float | None, first_ah: float | None, imbalance_ah: float | None) -> tuple[float | None, str]:
    """What a second test after balancing says: a gain was imbalance, none is a small group."""
    if second_ah is None or first_ah is None:
        return None, ""
    gain = second_ah - first_ah
    shown = units.show(gain, "mAh", digits=2)
    if gain <= 0.01 * first_ah:
        return gain, f"second test {shown} more: no gain, so a group is simply small"
    removed = f" of {_charge(imbalance_ah)} apart" if imbalance_ah is not None else ""
    return gain, f"second test {shown} more{removed}: it was imbalance"
