"""Coded rules over the candidate cells: kinds, completeness, capacity, resistance, heat, weight."""

from __future__ import annotations

import re
import statistics
from dataclasses import replace

from buildtrack import units
from buildtrack.checks.rules_cells_rest import (
    leak_reject,
    leak_watch,
    leaky,
    rest_baseline,
    rest_duration,
    rest_meters,
    rest_temperature,
)
from buildtrack.checks.rules_cells_words import SAY_SO, kept_cells, over, report_of, rest_need, unmarked_cells, unrested
from buildtrack.checks.rules_general_words import PASS, found, listed
from buildtrack.checks.ruling import Context, Rule, Ruling, at_least, at_most, fill
from buildtrack.physics.chemistries import chemistry
from buildtrack.workings.cells_facts import AGAINST_WORDS, CellFacts
from buildtrack.workings.values import Known

LIGHTEST_G = 40.0
"""An 18650 of under 40 g is filled with something else: common practice, no source."""
LARGEST_AH = 3.6
"""No 18650 holds more: common practice, no source."""
WARMER_K = 5.0
"""A cell so much warmer than the others is suspicious: common practice, no source."""


def chemistry_mixed(context: Context) -> Ruling:
    """Kept cells of more than one chemistry, or unknown ones beside known ones."""
    kinds: dict[str, list[str]] = {}
    for cell in kept_cells(context):
        kinds.setdefault(cell.chemistry if cell.identified else "unknown", []).append(cell.id)
    if not kinds:
        return Ruling("unknown", needs=("candidates",))
    words = [f"{kind}: {' '.join(names)}" for kind, names in kinds.items()]
    return found(words if len(kinds) > 1 else [])


def chemistry_unknown(context: Context) -> Ruling:
    """Kept cells of which nobody knows the chemistry."""
    return over(context, kept_cells(context), lambda c: ("pass" if c.identified else "fail", ""))


def _limit_of(context: Context, cell: CellFacts) -> float | None:
    """What the cell may be charged to: as stated, else the usual full voltage of its chemistry where that is known."""
    row = next((r for r in context.rows("candidates") if r.id == cell.id), None)
    stated = row.number("charge_limit") if row else None
    if stated is not None or not cell.identified:
        return stated
    kind = chemistry(cell.chemistry)
    usual = kind.limits.get("cell_full") if kind is not None else None
    return units.parse(usual.value, "voltage").value if usual is not None else None


def charge_limit(context: Context) -> Ruling:
    """Kept cells that may not be charged as high as this pack will be."""
    full = context.number("charge_policy") or context.number("cell_full")
    if full is None:
        return context.unknown("cell_full")

    def judge(cell: CellFacts) -> tuple[str, str]:
        limit = _limit_of(context, cell)
        if limit is None:
            return "unknown", ""
        return at_most(Known(full), Known(limit)), units.show(limit, "V", digits=3)

    return over(context, kept_cells(context), judge, units.show(full, "V", digits=3), "charge_limit")


def charge_limit_mixed(context: Context) -> Ruling:
    """Kept cells with different upper voltage limits."""
    limits = {c.id: limit for c in kept_cells(context) if (limit := _limit_of(context, c)) is not None}
    if not kept_cells(context):
        return Ruling("unknown", needs=("candidates",))
    if len(set(limits.values())) <= 1:
        return PASS
    return found([f"{name} {units.show(limit, 'V', digits=3)}" for name, limit in limits.items()])


def complete(context: Context) -> Ruling:
    """Every kept cell has what the decision rests on: look, arrival, capacity, and the rest test when salvaged."""
    cells = kept_cells(context)
    if not cells:
        return Ruling("unknown", needs=("candidates",))
    wanted = ("visual", "arrival_voltage", "capacity")
    rested = not unrested(context)
    lacking = {f"candidates.{column}" for cell in cells for column in wanted if _lacks(cell, column)}
    if rested:
        lacking |= {f"candidates.{rest_need(context)}" for cell in cells if cell.rest is None}
    return Ruling("unknown", needs=tuple(sorted(lacking))) if lacking else PASS


def _lacks(cell: CellFacts, column: str) -> bool:
    have = {"visual": cell.look or None, "arrival_voltage": cell.arrival_v, "capacity": cell.capacity_ah}
    return have[column] is None


def torn(context: Context) -> Ruling:
    """Kept cells with a torn wrapper."""
    return over(context, kept_cells(context), lambda c: ("fail" if c.look == "torn wrapper" else "pass", ""))


def slow_start(context: Context) -> Ruling:
    """Kept cells that arrived low enough to need a slow first charge and a stricter watch."""
    return over(context, kept_cells(context), lambda c: (
        "fail" if c.arrival in ("slow start", "suspicious") else "pass",
        units.show(c.arrival_v, "V", digits=3) if c.arrival_v is not None else ""))


def health_poor(context: Context) -> Ruling:
    """Kept cells below the share of their capacity that a tool pack asks for, or of which nobody knows it.

    A cell without print has no such share: it is judged by what was measured (1 A per Ah and 3 A at most, the allowance
    of an unknown rating: common practice, no source), and that has to be accepted with a reason.
    """
    ruling = _health(context, "health_fair")
    unmarked = [(c.id, c.capacity_ah) for c in kept_cells(context)
                if c.id in unmarked_cells(context) and c.capacity_ah is not None]
    if not unmarked or ruling.outcome == "unknown":
        return ruling
    words = listed([f"{name} ({units.show(ah, 'mAh', digits=4)})" for name, ah in unmarked])
    told = f"Nobody knows what these unmarked cells held when new; they count by their measured capacity: {words}."
    before = f"{fill(context.rule.message, ruling.facts)} " if ruling.outcome != "pass" else ""
    return Ruling("fail", {**ruling.facts, "rows": words}, message=before + told)


def health_bad(context: Context) -> Ruling:
    """Kept cells below the share at which a cell is only good for recycling."""
    return _health(context, "health_recycle")


def health_fair(context: Context) -> Ruling:
    """Kept cells that are fair, not good."""
    return _health(context, "health_good")


def _health(context: Context, policy: str) -> Ruling:
    limit = context.number(policy)
    if limit is None:
        return context.unknown(policy)

    unmarked = unmarked_cells(context)

    def judge(cell: CellFacts) -> tuple[str, str]:
        if cell.id in unmarked and cell.capacity_ah is not None:
            return "pass", ""  # told by health_poor, where it has to be accepted
        if cell.health is None or not cell.rated_ah:
            return "unknown", ""
        spread = {source: error / cell.rated_ah for source, error in cell.capacity_errors.items()}
        return at_least(Known(cell.health, spread), Known(limit)), units.show(cell.health, "%", digits=3)

    ruling = over(context, kept_cells(context), judge, units.show(limit, "%", digits=3), "rated_capacity")
    return replace(ruling, message=SAY_SO) if ruling.outcome == "unknown" else ruling


def resistance_high(context: Context) -> Ruling:
    """Kept cells with a resistance over the limit for tools, or far over the median of the lot."""
    highest, ratio = context.number("resistance_reject"), context.number("resistance_suspicious")
    report = report_of(context)
    if highest is None or ratio is None or report is None:
        return context.unknown("cell_report")
    middle = report.median_resistance_ohm

    def judge(cell: CellFacts) -> tuple[str, str]:
        if cell.resistance_ohm is None:
            return "unknown", ""
        limit = min(highest, ratio * middle) if middle else highest
        return (at_most(Known(cell.resistance_ohm, cell.resistance_errors), Known(limit)),
                units.show(cell.resistance_ohm, "mΩ", digits=3))

    words = f"{units.show(highest, 'mΩ', digits=3)} or {units.show(ratio, '%', digits=3)} of the median"
    ruling = over(context, report.kept, judge, words, "resistance")
    lacking = {c.id for c in report.kept if c.resistance_ohm is None}
    stated = {r.id for r in context.rows("candidates") if r.id in lacking and r.number("resistance") is not None}
    if ruling.outcome == "unknown" and stated == lacking:  # there is one of each, but by alternating current
        return replace(ruling, needs=("candidates.resistance_method",))
    return ruling


def heater(context: Context) -> Ruling:
    """Kept cells that warmed up in their first charge more than the policy allows."""
    return over(context, kept_cells(context), lambda c: (
        "unknown" if c.heater is None else "fail" if c.heater else "pass",
        f"{c.rise_k:.0f} K over the room" if c.rise_k is not None else ""), need="warmest")


def warmer(context: Context) -> Ruling:
    """Kept cells that were clearly warmer than the others."""
    rows = {r.id: v for r in context.rows("candidates", "kept") if (v := r.number("warmest")) is not None}
    if len(rows) < 3:
        return PASS
    middle = statistics.median(rows.values())
    return found([f"{name} ({units.show(v, '°C', digits=3)})" for name, v in rows.items() if v > middle + WARMER_K],
                 limit=units.show(middle, "°C", digits=3))


def counterfeit(context: Context) -> Ruling:
    """Cells that are too light, or claim more than an 18650 can hold."""
    words = []
    for cell in kept_cells(context):
        if cell.mass_g is not None and cell.mass_g < LIGHTEST_G:
            words.append(f"{cell.id} weighs {units.show(cell.mass_g, 'g', digits=3)}")
        if cell.rated_ah is not None and cell.rated_ah > LARGEST_AH:
            words.append(f"{cell.id} claims {units.show(cell.rated_ah, 'mAh')}")
    return found(words)


def capacity_conditions(context: Context) -> Ruling:
    """Capacities of kept cells taken at different currents or to different end voltages."""
    rows = [r for r in context.rows("candidates", "kept") if r.number("capacity") is not None]
    needs = tuple(f"candidates.{c}" for c in ("capacity_current", "capacity_end_voltage")
                  if any(r.number(c) is None for r in rows))
    currents = [v for r in rows if (v := r.number("capacity_current")) is not None]
    ends = [v for r in rows if (v := r.number("capacity_end_voltage")) is not None]
    words = []
    if currents and max(currents) > 1.1 * min(currents) + 1e-9:
        words.append(f"{units.show(min(currents), 'A', digits=3)} to {units.show(max(currents), 'A', digits=3)}")
    if ends and max(ends) - min(ends) > 0.02 + 1e-9:
        words.append(f"down to {units.show(min(ends), 'V', digits=3)} and to {units.show(max(ends), 'V', digits=3)}")
    if words:
        return found(words)
    if not rows:
        return Ruling("unknown", needs=("candidates.capacity",))
    return Ruling("unknown", needs=needs) if needs else PASS


def capacity_not_measured(context: Context) -> Ruling:
    """Kept cells whose capacity was taken over, guessed, or stands as printed on three or more of them."""
    words, equal = [], []
    for cell in kept_cells(context):
        row = context.build.entry("candidates").row(cell.id)
        entry = row.cells.get("capacity") if row else None
        if entry is not None and entry.value_class in ("taken over", "guessed"):
            words.append(f"{cell.id} ({entry.value_class})")
        elif cell.health is not None and round(cell.health, 6) == 1.0:
            equal.append(f"{cell.id} (exactly as printed)")
    return found([*words, *(equal if len(equal) >= 3 else [])])


def ac_against_dc(context: Context) -> Ruling:
    """Kept cells with resistances of both kinds, or with alternating-current values only."""
    cells = kept_cells(context)
    if not cells:
        return Ruling("unknown", needs=("candidates",))
    direct = [c.id for c in cells if c.resistance_ohm is not None]
    other = [c.id for c in cells if c.resistance_ohm is None and c.ac_resistance_ohm is not None]
    if not direct and not other:
        return Ruling("unknown", needs=("candidates.resistance",))
    if not direct:
        return found(["all kept cells were read by alternating current only"])
    words = f"by alternating current, beside current-step values of the others: {' '.join(other)}"
    return found([words] if other else [])


YEAR = re.compile(r"(?<!\d)(?:19|20)\d\d(?!\d)")


def donors_impossible(context: Context) -> Ruling:
    """Donor packs with a year that lies ahead, or a highest group below the lowest."""
    odd = []
    for row in context.rows("donors"):
        ahead = [y for y in YEAR.findall(row.text("year")) if int(y) > context.now.year]
        odd += [f"{row.id}: the year {ahead[0]} lies ahead"] if ahead else []
        high, low = row.number("highest"), row.number("lowest")
        if high is not None and low is not None and high < low - 1e-9:
            odd.append(f"{row.id}: highest group {units.show(high, 'V')}, below the lowest {units.show(low, 'V')}")
    return found(odd)


def contradictions(context: Context) -> Ruling:
    """Cells whose readings contradict each other."""
    report = report_of(context)
    if report is None:
        return context.unknown("cell_report")
    return found([f"{c.id}: {doubt}" for c in report.cells for doubt in c.doubts])


def new_lot(context: Context) -> Ruling:
    """New cells of one lot lie close together: 5 mV, 1 g, 2 % of capacity, 3 mΩ to either side."""
    cells = kept_cells(context)
    spans = (("arrival voltage", [c.arrival_v for c in cells], 0.010, "mV"),
             ("mass", [c.mass_g for c in cells], 2.0, "g"),
             ("resistance", [c.resistance_ohm for c in cells], 0.006, "mΩ"))
    words = []
    for name, values, widest, unit in spans:
        known = [v for v in values if v is not None]
        if len(known) >= 2 and max(known) - min(known) > widest + 1e-9:
            words.append(f"{name} {units.show(max(known) - min(known), unit, digits=2)} apart")
    capacities = [c.capacity_ah for c in cells if c.capacity_ah is not None]
    if len(capacities) >= 2 and max(capacities) - min(capacities) > 0.04 * statistics.mean(capacities) + 1e-9:
        words.append(f"capacity {units.show(max(capacities) - min(capacities), 'mAh', digits=2)} apart")
    return found(words)


def _undecided(cell: CellFacts) -> str:
    words = ", ".join(AGAINST_WORDS[each] for each in cell.against)
    return f"no decision; against it: {words}" if words else "no decision"


def unexplained(context: Context) -> Ruling:
    """Cells without a decision, and rejected ones of which nobody can say why."""
    report, tally = report_of(context), context.known("cell_tally")
    if report is None or tally is None:
        return context.unknown("cell_tally")
    return found([*(f"{c.id} ({_undecided(c)})" for c in report.cells if not c.decision),
                  *(f"{name} (rejected, no reason)" for name in tally.unexplained)])


RULES: dict[str, Rule] = {
    "chemistry-mixed": chemistry_mixed, "chemistry-unknown": chemistry_unknown, "charge-limit": charge_limit,
    "charge-limit-mixed": charge_limit_mixed, "cells-complete": complete, "torn-wrapper": torn,
    "slow-start": slow_start, "health-poor": health_poor, "health-bad": health_bad, "health-fair": health_fair,
    "resistance-high": resistance_high, "heater": heater, "warmer-than-others": warmer, "counterfeit": counterfeit,
    "capacity-conditions": capacity_conditions, "capacity-not-measured": capacity_not_measured,
    "ac-against-dc": ac_against_dc, "donors-impossible": donors_impossible,
    "cell-contradictions": contradictions, "new-lot": new_lot,
    "unexplained-cells": unexplained, "leaky": leaky, "leak-watch": leak_watch, "leak-reject": leak_reject,
    "rest-baseline": rest_baseline, "rest-duration": rest_duration, "rest-meters": rest_meters,
    "rest-temperature": rest_temperature,
}
