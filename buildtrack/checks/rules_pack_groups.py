"""Coded rules over the parallel groups: assignment, likeness of their cells, and how they were joined."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from datetime import timedelta

from buildtrack import units
from buildtrack.checks.rules_cells_words import asked_columns, is_unmarked
from buildtrack.checks.rules_general_words import PASS, found, listed
from buildtrack.checks.ruling import Context, Ruling, at_most, worst
from buildtrack.physics.sharing import FAR_RATIO
from buildtrack.workings.pack_groups import Group, GroupReport
from buildtrack.workings.values import Known, Record

CELLS_APART = 0.10
"""Cells of one group may differ so much in capacity: common practice, no source."""
UNEVEN = 0.10
"""Group resistances may differ so much: common practice, no source."""
BESIDE_V = 0.020
"""A joined group may read so much outside the voltages of its cells: common practice, no source."""
SISTERS_V = 0.005
"""Groups may part so much by the day after joining: common practice, no source."""
MOVED_V = 0.100
GAINED_V = 0.020
"""By the next day no joined group falls or rises by more: common practice, no source."""
STALE = timedelta(hours=1)


def _groups(context: Context) -> tuple[Group, ...]:
    report = context.known("group_report")
    return report.groups if isinstance(report, GroupReport) else ()


def _each(context: Context, judge: Callable[[Group], tuple[str, str]], limit: str, need: str) -> Ruling:
    """Judge every group of several cells; one that cannot be judged leaves the answer unknown: the column `need`."""
    groups = _groups(context)
    if not groups:
        return context.unknown("group_report")
    several = [g for g in groups if len(g.cells) > 1]
    open_too = need in asked_columns(context)
    rulings = [r for g in several if (r := (g.id, *judge(g)))[1] != "unknown" or open_too]
    if not rulings:
        return PASS
    outcome = worst(r[1] for r in rulings)
    facts = {"rows": listed([f"{n} ({w})" if w else n for n, o, w in rulings if o == outcome]), "limit": limit}
    return Ruling(outcome, facts, (f"candidates.{need}",) if outcome == "unknown" else ())


def grouped(context: Context) -> Ruling:
    """Every group has its number of kept cells, and no cell stands twice."""
    report = context.known("assignment_report")
    if report is None:
        return context.unknown("assignment_report")
    return found(list(report.problems))


def unknown_in_group(context: Context) -> Ruling:
    """Groups with cells of unknown chemistry, or that nobody can name."""
    report = context.known("cell_report")
    if report is None or not _groups(context):
        return context.unknown("group_report")
    rows = {r.id: r for r in context.rows("candidates")}
    words = []
    for group in _groups(context):
        nameless = [n for n in group.cells if not report.cell(n).identified or is_unmarked(rows[n])
                    or not (rows[n].text("marking") or report.cell(n).rated_ah)]
        if nameless and len(group.cells) > 1:
            words.append(f"{group.id}: {' '.join(nameless)}")
    return found(words)


def cells_apart(context: Context) -> Ruling:
    """Cells of one group are alike in capacity."""
    return _each(context, lambda g: (
        ("unknown", "") if g.capacity_apart is None else
        ("fail" if g.capacity_apart > CELLS_APART + 1e-9 else "pass", units.show(g.capacity_apart, "%", digits=2))),
        units.show(CELLS_APART, "%", digits=2), "capacity")


def resistances_apart(context: Context) -> Ruling:
    """Cells of one group are alike in resistance."""
    limit = context.number("group_resistance_ratio")
    if limit is None:
        return context.unknown("group_resistance_ratio")
    return _ratio(context, limit)


def resistances_far_apart(context: Context) -> Ruling:
    """No cell of a group has more than twice the resistance of another."""
    return _ratio(context, FAR_RATIO)


def _ratio(context: Context, limit: float) -> Ruling:
    return _each(context, lambda g: (
        ("unknown", "") if g.resistance_ratio is None else
        ("fail" if g.resistance_ratio > limit + 1e-9 else "pass", f"{g.resistance_ratio:.2f} : 1")), f"{limit:g} : 1",
        "resistance")


def groups_uneven(context: Context) -> Ruling:
    """Group resistances lie within a tenth of each other."""
    ohms = [g.resistance_ohm for g in _groups(context)]
    known = [r for r in ohms if r is not None]
    if not known or len(known) != len(ohms):
        return context.unknown("pack_resistance")
    apart = (max(known) - min(known)) / min(known)
    facts = {"value": units.show(apart, "%", digits=2), "limit": units.show(UNEVEN, "%", digits=2)}
    return Ruling("fail" if apart > UNEVEN + 1e-9 else "pass", facts)


def best_missed(context: Context) -> Ruling:
    """The chosen grouping gives away no more than the spread that counts as very good."""
    gain, limit = context.number("grouping_gain"), context.number("sum_spread_good")
    best = context.known("best_grouping")
    if gain is None or limit is None or best is None:
        return context.unknown("grouping_gain")
    facts = {"value": units.show(gain, "%", digits=2), "limit": units.show(limit, "%", digits=2),
             "rows": listed([" + ".join(g) for g in best.groups], 20)}
    return Ruling("fail" if gain > limit + 1e-9 else "pass", facts)


def joining_stop(context: Context) -> Ruling:
    """Cells were not joined beyond the voltage difference that is never allowed."""
    return _joining(context, "joining_stop")


def joining_ok(context: Context) -> Ruling:
    """Cells were joined within the voltage difference that needs no resistor."""
    return _joining(context, "joining_ok")


def joining_ideal(context: Context) -> Ruling:
    """Cells were joined within the ideal voltage difference."""
    return _joining(context, "joining_ideal")


def _joining(context: Context, policy: str) -> Ruling:
    limit = context.number(policy)
    groups = _groups(context)
    if limit is None or not groups:
        return context.unknown(policy, "group_report")
    several = [g for g in groups if len(g.cells) > 1]
    if not several:
        return PASS
    if any(g.joining_difference_v is None for g in several):
        return Ruling("unknown", needs=("groups.joining_lowest", "groups.joining_highest"))

    def judge(group: Group) -> tuple[str, str]:
        difference = group.joining_difference_v or 0.0
        spread = {"joining": group.joining_plus_minus_v} if group.joining_plus_minus_v else {}
        return at_most(Known(difference, spread), Known(limit)), units.show(difference, "mV", digits=3)

    rulings = [(g.id, *judge(g)) for g in several]
    outcome = worst(r[1] for r in rulings)
    return Ruling(outcome, {"rows": listed([f"{n} ({w})" for n, o, w in rulings if o == outcome]),
                            "limit": units.show(limit, "mV", digits=3)})


def joined_stale(context: Context) -> Ruling:
    """The two voltages of a group were read within an hour of each other."""
    apart = []
    for row in context.build.entry("groups").rows:
        low, high = row.cells.get("joining_lowest"), row.cells.get("joining_highest")
        if low and high and low.taken and high.taken and abs(high.taken - low.taken) > STALE:
            apart.append(f"{row.id} ({abs(high.taken - low.taken)} apart)")
    return found(apart)


def _alone(context: Context) -> bool:
    """Whether nothing was joined: every group is one cell."""
    groups = _groups(context)
    return bool(groups) and all(len(g.cells) == 1 for g in groups)


def _after(row: Record) -> str:
    after, low, high = row.number("voltage_after"), row.number("joining_lowest"), row.number("joining_highest")
    if after is None or low is None or high is None or low - BESIDE_V <= after <= high + BESIDE_V:
        return ""
    return f"{row.id} reads {units.show(after, 'V')}, its cells read {units.show(low, 'V')} to {units.show(high, 'V')}"


def wrong_after_joining(context: Context) -> Ruling:
    """A joined group reads what its cells read; one cell the wrong way round, or shorted, shows here."""
    wrong = [words for row in context.rows("groups") if (words := _after(row))]
    if wrong:
        return found(wrong)
    joined = {g.id for g in _groups(context) if len(g.cells) > 1}
    lacking = [column for column in ("voltage_after", "joining_lowest", "joining_highest")
               if any(r.id in joined and r.number(column) is None for r in context.rows("groups"))]
    if lacking or not _groups(context):
        return Ruling("unknown", needs=tuple(f"groups.{c}" for c in lacking) or ("groups",))
    return PASS


def settled_apart(context: Context) -> Ruling:
    """No group falls away from its sisters by the day after joining."""
    pairs = {r.id: (r.number("voltage_after"), r.number("voltage_next_day")) for r in context.rows("groups")}
    falls = {name: first - later for name, (first, later) in pairs.items() if first is not None and later is not None}
    if len(falls) < 2:
        return PASS if _alone(context) else Ruling("unknown", needs=("groups.voltage_next_day",))
    middle = statistics.median(falls.values())
    words = [f"{name} fell {units.show(fall - middle, 'mV', digits=2)} more" for name, fall in falls.items()
             if fall - middle > SISTERS_V + 1e-9]
    if not words and any(g.id not in falls for g in _groups(context) if len(g.cells) > 1):
        return Ruling("unknown", needs=("groups.voltage_after", "groups.voltage_next_day"))
    return found(words)


def next_day_odd(context: Context) -> Ruling:
    """No group reads by the next day what a resting group cannot read."""
    odd = []
    for row in context.rows("groups"):
        after, later = row.number("voltage_after"), row.number("voltage_next_day")
        if after is not None and later is not None and not -MOVED_V - 1e-9 <= later - after <= GAINED_V + 1e-9:
            odd.append(f"{row.id} {units.show(after, 'V')}, a day later {units.show(later, 'V')}")
    return found(odd)
