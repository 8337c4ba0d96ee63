"""Coded rules over the record as a whole: instruments, times, guesses, what was overwritten, what is missing."""

from __future__ import annotations

from collections.abc import Callable
from statistics import fmean

from buildtrack import units
from buildtrack.checks.rules_general_limits import limits_changed, out_of_bounds
from buildtrack.checks.rules_general_opening import opened_unmeasured
from buildtrack.checks.rules_general_time import order_of_readings, overtaken
from buildtrack.checks.rules_general_trust import (
    copied_from_past,
    far_from_past,
    guessed_under_hold,
    looks_copied,
    looks_rounded,
    retaken,
    typed_in_one_go,
)
from buildtrack.checks.rules_general_words import PASS, found, meter_of, meters_of, places, rests_on_readings
from buildtrack.checks.ruling import Context, Rule, Ruling
from buildtrack.model.instruments import known_names, parse_accuracy
from buildtrack.workings.inputs import answer
from buildtrack.workings.values import Failed

TOLD_ELSEWHERE = ("best_grouping", "group_report", "pack_options", "layout", "designation")
"""Workings that refuse a plan, not a reading."""
ELECTRICAL = ("voltage", "current", "resistance", "capacity")


def all_yes(context: Context) -> Ruling:
    """Every tick of a list is yes; settings: items = the ticks, with commas."""
    names = [n.strip() for n in context.rule.settings.get("items", "").split(",")]
    asked = [n for n in names if n in context.checklist.items and context.status.items[n].state != "not needed"]
    refused = [context.label(n) for n in asked if answer(context.build, n) == "no"]
    if refused:
        return found(refused)
    open_ = tuple(n for n in asked if answer(context.build, n) != "yes")
    return Ruling("unknown", needs=open_) if open_ else PASS


def beyond_range(context: Context) -> Ruling:
    """Readings that use more of their instrument's range than the policy allows."""
    meters, share = meters_of(context), context.number("meter_share")
    if share is None:
        return context.unknown("meter_share")
    far = []
    for place in places(context):
        if (value := place.value) is None:
            continue
        meter = meter_of(place, meters)
        if meter is None or not meter.top:
            continue
        used = abs(value) / meter.top
        if used > share + 1e-9:
            far.append(f"{place.words} {place.answer.text} ({used * 100:.0f} % of the range of {meter.id})")
    return found(far, limit=units.short(share, "%"))


BY_ROW = "meter_check"
"""The table whose rows name their meter in a column of their own."""


def without_instrument(context: Context) -> Ruling:
    """Electrical readings of this build that do not say, or name wrongly, what they were taken with."""
    names = set(known_names(meters_of(context).values()))
    bare = []
    for place in places(context):
        if not place.metered or place.dimension not in ELECTRICAL or place.answer.value_class != "measured":
            continue
        named = place.answer.instrument
        if place.item.id == BY_ROW and (row := context.build.entry(BY_ROW).row(place.row)) is not None:
            named = row.text("meter") or named
        if not named:
            bare.append(place.words)
        elif named not in names:
            bare.append(f"{place.words} (by {units.clip(named)}, which is not in the list)")
    return found(bare)


def without_accuracy(context: Context) -> Ruling:
    """Instruments whose accuracy is not stated, or not in a form that can be read."""
    blind = []
    for row in context.build.entry("instruments").rows:
        text, quantity = row.text("accuracy"), row.text("quantity")
        if not text or quantity not in units.dimensions():
            blind.append(row.text("meter") or row.id)
            continue
        try:
            parse_accuracy(text, quantity)
        except units.QuantityError:
            blind.append(f"{row.text('meter') or row.id} ('{units.clip(text)}')")
    return found(blind)


def single_reading(context: Context) -> Ruling:
    """Items that ask for several readings and have fewer."""
    short = []
    rests_on_readings(context)
    for item in context.checklist.all_items():
        count = len(context.build.entry(item.id).standing)
        if item.several > 1 and 0 < count < item.several and context.status.items[item.id].state != "not needed":
            short.append(f"{item.label} ({count} of {item.several})")
    return found(short)


def readings_scatter(context: Context) -> Ruling:
    """Items of which the mean is taken, and whose readings lie further apart than a share of it; settings: most."""
    most = units.parse(context.rule.settings.get("most", ""), "ratio", "%").value
    apart = []
    for item in context.checklist.all_items():
        if item.several < 2 or item.use not in ("mean", "median") or item.dimension == "temperature":
            continue
        values = [p.value for p in places(context) if p.item is item and p.value is not None]
        middle = abs(fmean(values)) if values else 0.0
        if middle and max(values) - min(values) > most * middle * (1 + 1e-9):
            low, high = (units.short(v, item.unit) for v in (min(values), max(values)))
            apart.append(f"{item.label}: {low} to {high}")
    return found(apart, limit=units.show(most, "%"))


def photo_missing(context: Context) -> Ruling:
    """Photos that are asked for and neither there nor left out with a reason."""
    return found([item.label for item in context.checklist.all_items()
                  if item.kind == "photo" and item.need != "optional"
                  and context.status.items[item.id].state in ("open", "misfit")])


def voltmeter_checked(context: Context) -> Ruling:
    """The voltmeter was compared with another one."""
    if context.number("meter_disagreement") is not None:
        return PASS
    meters = context.number("voltmeters")
    if meters is None:
        return context.unknown("instruments")
    if meters > 1 and context.build.entry("meter_check").left_out is None:
        return context.unknown("meter_check")
    few = {0: "the list names no voltmeter", 1: "the list names one voltmeter"}
    told = few.get(int(meters), "the comparison was left out")
    return Ruling("fail", {"value": f"{told}: every voltage rests on its booklet alone"})


def tester_current(context: Context) -> Ruling:
    """The tester's current agrees with the meter's within 5 %; a factor is applied beyond 2 %."""
    factor = context.number("current_factor")
    if factor is None:
        return context.unknown("current_factor")
    facts = {"value": units.show(factor, digits=4), "limit": "5 %"}
    return Ruling("fail" if abs(factor - 1) > 0.05 + 1e-9 else "pass", facts)


def planned_money(context: Context) -> Ruling:
    """Parts may cost up to the gate's share of a bought pack, unless the work is done to learn."""
    share, gate = context.number("planned_share"), context.number("money_gate")
    if share is None or gate is None:
        return context.unknown("planned_share", "money_gate")
    facts = {"value": units.show(share, "%", digits=3), "limit": units.show(gate, "%", digits=3)}
    dear = share > gate + 1e-9 and answer(context.build, "worth_going_on") != "go on to learn"
    return Ruling("fail" if dear else "pass", facts)


def cell_count(context: Context) -> Ruling:
    """The cells counted agree with the voltage on the label, at 1.2 V each within 0.3 V."""
    cells, rated = context.number("old_cells"), context.number("rated_voltage")
    if cells is None or rated is None:
        return context.unknown("old_cells", "rated_voltage")
    facts = {"value": units.show(cells * 1.2, "V"), "limit": units.show(rated, "V"), "cells": f"{cells:.0f}"}
    return Ruling("fail" if abs(cells * 1.2 - rated) > 0.3 + 1e-9 else "pass", facts)


def old_cells_damaged(context: Context) -> Ruling:
    """Old cells that leak, swell or corrode."""
    report = context.known("old_cell_report")
    if report is None:
        return context.unknown("old_cell_report")
    return found(list(report.named("leaking", "swollen", "corroded")))


def supply_in_limit(context: Context) -> Ruling:
    """No current of the tool may lie at the limit of the supply that fed it."""
    limit = context.number("supply_limit")
    if limit is None:
        return context.unknown("supply_limit")
    held = []
    for name in ("free_current", "working_current", "heaviest_current", "stall_burst_current", "start_peak_current"):
        value = context.number(name)
        if value is not None and value >= 0.95 * limit:
            held.append(f"{context.label(name)} {units.show(value, 'A', digits=3)}")
    return found(held, limit=units.show(limit, "A"))


def stall_too_high(context: Context) -> Ruling:
    """A measured stall may not be a quarter above the computed one: then the winding was read too high."""
    return _stall(context, lambda share: share > 1.25)


def stall_too_low(context: Context) -> Ruling:
    """A measured stall a quarter below the computed one is a lower bound only."""
    return _stall(context, lambda share: share < 0.75)


def _stall(context: Context, bad: Callable[[float], bool]) -> Ruling:
    share = context.number("stall_agreement")
    if share is None:
        return context.unknown("stall_agreement")
    facts = {"value": context.show("stall_burst_current"), "limit": context.show("stall_current_source")}
    return Ruling("fail" if bad(share) else "pass", facts)


def light_duty(context: Context) -> Ruling:
    """The duty cycle reaches the working current that was measured."""
    peak, working = context.number("duty_peak_current"), context.number("working_current")
    if peak is None or working is None:
        return context.unknown("duty_peak_current", "working_current")
    facts = {"value": units.show(peak, "A", digits=3), "limit": units.show(working, "A", digits=3)}
    return Ruling("fail" if peak < working - 1e-9 else "pass", facts)


def sheet_failed(context: Context) -> Ruling:
    """Workings that refuse the readings they were given, and have no check of their own that says so."""
    rests_on_readings(context)
    return found([f"{context.label(name)}: {value.why}" for name, value in context.sheet.values.items()
                  if isinstance(value, Failed) and value.working == name and name not in TOLD_ELSEWHERE])


RULES: dict[str, Rule] = {
    "all-yes": all_yes, "beyond-range": beyond_range, "without-instrument": without_instrument,
    "without-accuracy": without_accuracy, "single-reading": single_reading, "photo-missing": photo_missing,
    "readings-scatter": readings_scatter,
    "limits-changed": limits_changed, "tester-current": tester_current, "voltmeter-checked": voltmeter_checked,
    "planned-money": planned_money,
    "cell-count": cell_count, "old-cells-damaged": old_cells_damaged, "supply-in-limit": supply_in_limit,
    "stall-too-high": stall_too_high, "stall-too-low": stall_too_low, "light-duty": light_duty,
    "readings-refused": sheet_failed, "order-of-readings": order_of_readings, "overtaken": overtaken,
    "guessed-under-hold": guessed_under_hold, "looks-copied": looks_copied, "looks-rounded": looks_rounded,
    "typed-in-one-go": typed_in_one_go, "retaken": retaken, "copied-from-past": copied_from_past,
    "far-from-past": far_from_past, "policy-out-of-bounds": out_of_bounds,
    "opened-unmeasured": opened_unmeasured,
}
