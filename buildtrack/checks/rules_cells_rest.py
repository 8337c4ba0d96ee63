"""Coded rules over the rest test: how far a cell fell, and whether the two readings can be subtracted at all."""

from __future__ import annotations

from collections.abc import Callable

from buildtrack import units
from buildtrack.checks.rules_cells_words import kept_cells, over, rest_need, unrested
from buildtrack.checks.rules_general_words import PASS, found, listed
from buildtrack.checks.ruling import Context, Ruling, at_least, at_most, worst
from buildtrack.workings.cells_facts import REST_PERIOD_D, CellFacts
from buildtrack.workings.values import Known, Record

DAY_S = 86400.0


def _fall(cell: CellFacts, limit_v: float) -> tuple[str, str]:
    """Drop in 14 days against a limit, with what the last digit of the meter leaves open."""
    rest = cell.rest
    if rest is None:
        return "unknown", ""
    error = rest.plus_minus_v * REST_PERIOD_D / rest.days if rest.plus_minus_v else None
    spread = {"rest": error} if error else {}
    return at_most(Known(rest.drop_14d_v, spread), Known(limit_v)), units.show(rest.drop_14d_v, "mV", error, 3)


def leaky(context: Context) -> Ruling:
    """Kept cells that fell more than a pack can bear."""
    return _drop(context, "drop_watch")


def leak_watch(context: Context) -> Ruling:
    """Kept cells that fell more than a sound cell does."""
    return _drop(context, "drop_ok")


def _drop(context: Context, policy: str) -> Ruling:
    limit = context.number(policy)
    if limit is None:
        return context.unknown(policy)
    if unrested(context):
        return _judged_only(context, lambda c: _fall(c, limit), limit)
    return over(context, kept_cells(context), lambda c: _fall(c, limit), units.show(limit, "mV", digits=3),
                rest_need(context))


def _judged_only(context: Context, judge: Callable[[CellFacts], tuple[str, str]], limit: float) -> Ruling:
    """Nobody asks for the rest test: only cells that have it are judged."""
    rested = [c for c in kept_cells(context) if c.rest is not None]
    if not kept_cells(context):
        return Ruling("unknown", needs=("candidates",))
    return over(context, rested, judge, units.show(limit, "mV", digits=3)) if rested else PASS


def leak_reject(context: Context) -> Ruling:
    """Kept cells that fell beyond any use, or ended the rest below the lowest voltage."""
    limit, lowest = context.number("drop_reject"), context.number("rest_lowest")
    if limit is None:
        return context.unknown("drop_reject")
    rows = {row.id: row for row in context.rows("candidates", "kept")}

    def judge(cell: CellFacts) -> tuple[str, str]:
        fallen, words = _fall(cell, limit)
        row = rows[cell.id]
        end = row.number("rest_2_voltage")
        if end is None or lowest is None or fallen == "unknown":
            return fallen, words
        low = at_least(Known(end, row.spreads.get("rest_2_voltage", {})), Known(lowest))
        return worst((fallen, low)), f"{words}, rests at {units.show(end, 'V')}"

    if unrested(context):
        return _judged_only(context, judge, limit)
    return over(context, kept_cells(context), judge, units.show(limit, "mV", digits=3), rest_need(context))


def _rested(context: Context) -> list[Record]:
    return [r for r in context.rows("candidates", "kept") if r.number("rest_1_voltage") is not None]


def rest_baseline(context: Context) -> Ruling:
    """The first rest reading is taken long enough after the charge."""
    wait = context.number("rest_baseline")
    rows = _rested(context)
    if wait is None:
        return context.unknown("rest_baseline")
    if not rows:
        return PASS if unrested(context) else Ruling("unknown", needs=("candidates.rest_1_voltage",))
    short, open_ = [], ""
    for row in rows:
        charged, first = row.number("charged_on"), row.number("rest_1_on")
        if charged is None or first is None:
            open_ = open_ or ("charged_on" if charged is None else "rest_1_on")
        elif (first - charged) * DAY_S < wait:
            short.append(f"{row.id} ({first - charged:.0f} d)")
    if short:
        return found(short, limit=units.show(wait, "h", digits=3))
    return Ruling("unknown", needs=(f"candidates.{open_}",)) if open_ else Ruling("pass")


def rest_duration(context: Context) -> Ruling:
    """The two rest readings lie far enough apart."""
    wanted = context.number("rest_duration")
    if wanted is None:
        return context.unknown("rest_duration")
    open_ = "pass" if unrested(context) else "unknown"
    return over(context, kept_cells(context), lambda c: (
        open_ if c.rest is None else "fail" if c.rest.days * DAY_S < wanted else "pass",
        f"{c.rest.days:.0f} d" if c.rest else ""), units.show(wanted, "d", digits=3), rest_need(context, "rest_2_on"))


def rest_meters(context: Context) -> Ruling:
    """Both rest readings come from the same meter and range."""
    mixed, open_ = [], []
    for row in _rested(context):
        first, second = row.marks.get("rest_1_voltage"), row.marks.get("rest_2_voltage")
        if first and second and first != second:
            mixed.append(f"{row.id} ({units.clip(first)}, then {units.clip(second)})")
        elif bool(first) != bool(second) and row.number("rest_2_voltage") is not None:
            open_.append(f"{row.id} ({units.clip(first or 'not said')}, then {units.clip(second or 'not said')})")
    return found(mixed) if mixed or not open_ else Ruling("unsure", {"rows": listed(open_)})


def rest_temperature(context: Context) -> Ruling:
    """The resting place was at room temperature: 15 to 30 °C (common practice, no source)."""
    odd = [f"{r.id} ({units.show(t, '°C', digits=3)})" for r in _rested(context)
           if (t := r.number("rest_temperature")) is not None and not 15 <= t <= 30]
    return found(odd)
