"""Coded rules over the pack: voltage, groups, currents, joining, fit."""

from __future__ import annotations

from buildtrack import units
from buildtrack.checks.rules_general_words import PASS, found
from buildtrack.checks.rules_pack_groups import (
    best_missed,
    cells_apart,
    grouped,
    groups_uneven,
    joined_stale,
    joining_ideal,
    joining_ok,
    joining_stop,
    next_day_odd,
    resistances_apart,
    resistances_far_apart,
    settled_apart,
    unknown_in_group,
    wrong_after_joining,
)
from buildtrack.checks.rules_protection_path import duty_against_run
from buildtrack.checks.rules_protection_stall import ends_stall
from buildtrack.checks.ruling import Context, Rule, Ruling, at_most
from buildtrack.workings.inputs import answer
from buildtrack.workings.values import Known

FAR_OVER = 0.10
"""A full voltage so far over the old pack's cannot be accepted any more: common practice, no source."""
SLOW_TEST = 3.0
"""A capacity tested at less than a third of the working current says little: common practice, no source."""


def voltage_above_old(context: Context) -> Ruling:
    """The full pack stays within the full voltage of the old one."""
    return _excess(context, 0.0)


def voltage_far_above_old(context: Context) -> Ruling:
    """The full pack does not exceed the old one by more than a tenth."""
    return _excess(context, FAR_OVER)


def _excess(context: Context, limit: float) -> Ruling:
    excess = context.number("full_voltage_excess")
    if excess is None:
        return context.unknown("full_voltage_excess")
    facts = {"value": context.show("pack_full_voltage"), "limit": context.show("old_full_voltage"),
             "excess": units.show(excess, "%", digits=2), "most": context.show("highest_series").partition(".")[0]}
    return Ruling("fail" if excess > limit + 1e-9 else "pass", facts)


def enough_cells(context: Context) -> Ruling:
    """One sound cell more than the pack needs."""
    series, parallel = context.number("series_count"), context.number("parallel_count")
    rows = context.rows("candidates")
    if series is None or parallel is None or not rows:
        return context.unknown("series_count", "parallel_count", "candidates")
    have = sum(1 for r in rows if r.get("decision") in ("keep", "spare"))
    wanted = series * parallel + 1
    return Ruling("fail" if have < wanted else "pass", {"value": f"{have}", "limit": f"{wanted:.0f}"})


def capacity_test_slow(context: Context) -> Ruling:
    """Capacities were tested at not much less than the current each cell works at."""
    working = context.value("cell_current_working")
    if not isinstance(working, Known):
        return context.unknown("cell_current_working")
    tested = [v for r in context.rows("candidates", "kept") if (v := r.number("capacity_current")) is not None]
    if not tested:
        return Ruling("unknown", needs=("candidates.capacity_current",))
    facts = {"value": units.show(min(tested), "A", digits=3), "limit": units.show(working.value, "A", digits=3)}
    return Ruling("fail" if working.value > SLOW_TEST * min(tested) else "pass", facts)


def stall_exposure(context: Context) -> Ruling:
    """A stall stays within the pack's allowance, or something known limits it."""
    stall, allowed = context.value("stall_current"), context.value("pack_allowance")
    if not isinstance(stall, Known) or not isinstance(allowed, Known):
        return context.unknown("stall_current", "pack_allowance")
    facts = {"value": context.show("stall_current"), "limit": context.show("pack_allowance"),
             "rows": _per_cell(context), "count": "nothing in the tool limits it", "ends": ends_stall(context)}
    outcome = at_most(stall, allowed)
    if outcome == "pass":
        return Ruling("pass", facts)
    limiter = answer(context.build, "current_limiter")
    if not limiter:
        return Ruling("unknown", needs=("current_limiter",))
    if limiter == "none":
        return Ruling(outcome, facts)
    limit = context.value("limiter_current")
    if not isinstance(limit, Known):
        return Ruling(outcome, {**facts, "count": f"the {limiter} limits it, but at a current nobody measured"})
    words = f"the {limiter} lets {context.show('limiter_current')} through"
    return Ruling(at_most(limit, allowed), {**facts, "count": words})


def _per_cell(context: Context) -> str:
    current, rate = context.number("cell_current_stall"), context.number("cell_c_rate_stall")
    words = [units.show(current, "A", digits=3)] if current is not None else []
    words += [units.show(rate, "C", digits=2)] if rate is not None else []
    return " or ".join(words) + " per cell" if words else "per cell not known"


def salvaged_in_heavy_tool(context: Context) -> Ruling:
    """Salvaged cells in a drill or garden tool are asked for no more in a stall than five times their capacity.

    What limits the stall counts where it was measured, and so does a rating that covers it.
    """
    rate, stall = context.number("cell_c_rate_stall"), context.number("stall_current")
    if rate is None or stall is None:
        return context.unknown("cell_c_rate_stall")
    limit = context.number("limiter_current") if answer(context.build, "current_limiter") not in ("", "none") else None
    asked = stall if limit is None else min(stall, limit)
    rate *= asked / stall
    allowed = context.number("pack_allowance")
    covered = allowed is not None and asked <= allowed
    facts = {"value": units.show(rate, "C", digits=2), "limit": "5 C"}
    return Ruling("fail" if rate > 5.0 and not covered else "pass", facts)


def does_not_fit(context: Context) -> Ruling:
    """At least one layout of the cells fits the housing."""
    fit = context.known("layout")
    if fit is None:
        return context.unknown("layout")
    return PASS if fit.fits else Ruling("fail", {"rows": fit.summary})


def useful_above_empty(context: Context) -> Ruling:
    """The tool is useful down to the empty pack, so that all of its charge can be used."""
    useful, empty = context.number("useful_group_voltage"), context.number("cell_empty")
    if useful is None or empty is None:
        return context.unknown("useful_group_voltage")
    facts = {"value": units.show(useful, "V", digits=3), "limit": units.show(empty, "V", digits=3)}
    return Ruling("fail" if useful > empty + 1e-9 else "pass", facts)


def prices_missing(context: Context) -> Ruling:
    """Bought cells in the pack have their price."""
    return found([r.id for r in context.rows("candidates", "kept") if r.number("price") is None])


RULES: dict[str, Rule] = {
    "voltage-above-old": voltage_above_old, "voltage-far-above-old": voltage_far_above_old,
    "enough-cells": enough_cells, "capacity-test-slow": capacity_test_slow, "stall-exposure": stall_exposure,
    "duty-against-run": duty_against_run,
    "salvaged-in-heavy-tool": salvaged_in_heavy_tool, "does-not-fit": does_not_fit,
    "useful-above-empty": useful_above_empty, "prices-missing": prices_missing, "grouped": grouped,
    "unknown-in-group": unknown_in_group, "cells-apart": cells_apart, "resistances-apart": resistances_apart,
    "resistances-far-apart": resistances_far_apart, "groups-uneven": groups_uneven, "best-missed": best_missed,
    "joining-stop": joining_stop, "joining-ok": joining_ok, "joining-ideal": joining_ideal,
    "joined-stale": joined_stale, "wrong-after-joining": wrong_after_joining, "settled-apart": settled_apart,
    "next-day-odd": next_day_odd,
}
