"""Coded rules about what was tested: discharge, log, charge, handing over and service."""

from __future__ import annotations

from dataclasses import replace

from buildtrack import units
from buildtrack.checks.rules_charger import charger_steady
from buildtrack.checks.rules_general_words import PASS, found
from buildtrack.checks.rules_service import dates_ahead, kept_up, said_in_words, stored_level
from buildtrack.checks.rules_tests_charge import (
    balance_possible,
    charge_in_zone,
    charge_tapered,
    charger_aged,
    drift,
    groups_stay_below,
    recheck_due,
    recheck_undated,
    rest_even,
    worn_out,
)
from buildtrack.checks.rules_tests_duration import ran_as_computed
from buildtrack.checks.rules_tests_empty import found_empty
from buildtrack.checks.rules_tests_log import (
    log_agrees,
    log_has_groups,
    log_of,
    log_usable,
    log_whole,
    own_curve_usable,
)
from buildtrack.checks.ruling import Context, Rule, Ruling, at_least, at_most
from buildtrack.physics.alarm import is_sag_trip
from buildtrack.physics.logs import END_OF_BOARD, END_OF_TESTER, END_UNTOLD
from buildtrack.workings.discharge_difference import ForecastDifference
from buildtrack.workings.discharge_groups import GroupResistances
from buildtrack.workings.discharge_test import TestReport
from buildtrack.workings.explain import show_plain
from buildtrack.workings.inputs import answer
from buildtrack.workings.values import Known

OPEN_V = 2.0
"""A meter may show a volt or two at an open output: a phantom (common practice, no source)."""
OFF_V = 0.05
"""An alarm may sound so far from its setting, beside its own step (common practice, no source)."""
EARLY_V = 0.15
"""The board sees less than a meter at the cells; it may seem to open so much early (common practice, no source)."""
BELOW_V = 0.010
"""Readings of a group before and after may differ so much by the meter (common practice, no source)."""
CANNOT_TELL = "the log cannot tell: its pack voltage is the sum of the groups, not the output"
ENDED = {"tester": "the load's own limit", "by hand": "a hand on the switch", "nothing": "nothing"}


def _test(context: Context) -> TestReport | None:
    report = context.known("test_report")
    return report if isinstance(report, TestReport) else None


def board_opened(context: Context) -> Ruling:
    """The board ended the test: by what was noted, by the output afterwards, and by the log where there is one."""
    ended = answer(context.build, "ended_by")
    if not ended:
        return context.unknown("ended_by")
    if ended != "board":
        return Ruling("fail", {"value": f"the test was ended by {ENDED.get(ended, ended)}, not by the board"})
    log = log_of(context)
    if log is not None and log.log.end_kind == END_OF_TESTER:
        return Ruling("fail", {"value": "noted as the board, but in the log the voltage jumps up at the end: the load "
                                        "was switched off, the board never opened"})
    output = context.number("pack_after_cutoff")
    if output is None:
        untold = log is not None and log.log.end_kind == END_UNTOLD
        return replace(context.unknown("pack_after_cutoff"), message=CANNOT_TELL if untold else "")
    proved = log is not None and log.log.end_kind == END_OF_BOARD
    if output > OPEN_V and not proved:
        return Ruling("fail", {"value": f"noted as the board, but the output still had {units.show(output, 'V')}"
                               + (f"; {CANNOT_TELL}" if log is not None and log.log.end_kind == END_UNTOLD else "")})
    return PASS


def groups_at_cutoff(context: Context) -> Ruling:
    """Every group was read just before the end."""
    report, count = _test(context), context.number("series_count")
    if report is None or count is None:
        return context.unknown("test_report", "series_count")
    read = [g for g in report.groups if g.cutoff_v is not None]
    if len(read) >= count:
        return PASS
    words = f"{len(read)} of {count:.0f} groups were read at the end"
    last = context.known("discharge_points")
    pack = next((p for row in reversed(tuple(last or ())) if (p := row.number("pack")) is not None), None)
    if pack is not None:
        words += f"; {units.show(pack, 'V')} looks like {pack / count:.2f} V each, and may hide an empty one"
    return Ruling("fail", {"value": words})


def group_minimum(context: Context) -> Ruling:
    """No group went below the minimum of its cells."""
    lowest, limit = context.value("lowest_group_seen"), context.value("group_minimum")
    if not isinstance(lowest, Known) or not isinstance(limit, Known):
        return context.unknown("lowest_group_seen", "group_minimum")
    report = _test(context)
    which = f"{report.first_down}: " if report is not None and report.first_down else ""
    return Ruling(at_least(lowest, limit), {"value": which + show_plain(lowest.value, "V", lowest.plus_minus),
                                            "limit": show_plain(limit.value, "V")})


def cell_cool(context: Context) -> Ruling:
    """No cell above its limit in the test, by the reading or by the record of the test; passes where it was left out.

    What is left out with a reason stands in the conditions of the verdict.
    """
    warmest = context.value("warmest_seen")
    if not isinstance(warmest, Known):
        warmest = context.value("warmest_cell")
    limit = context.value("cell_hot")
    if not isinstance(warmest, Known) and context.build.entry("warmest_cell").left_out is not None:
        return PASS
    if not isinstance(warmest, Known) or not isinstance(limit, Known):
        return context.unknown("warmest_cell", "cell_hot")
    return Ruling(at_most(warmest, limit), {"value": show_plain(warmest.value, "°C", warmest.plus_minus),
                                            "limit": show_plain(limit.value, "°C")})


def alarm_as_set(context: Context) -> Ruling:
    """The alarm sounded near its setting in the test."""
    error = context.value("alarm_error")
    if not isinstance(error, Known):
        return PASS if context.known("event_groups") is not None else context.unknown("alarm_error")
    allowed = OFF_V + (context.number("alarm_resolution") or 0.0) + (error.plus_minus or 0.0)
    shown = show_plain(error.value, "mV", error.plus_minus)
    word = "above" if error.value > 0 else "below"
    facts = {"value": f"the lowest group was {shown} from the setting ({word} it); "
                      f"{units.show(allowed, 'mV', digits=2)} is the most"}
    return Ruling("fail" if abs(error.value) > allowed + 1e-9 else "pass", facts)


def cutoff_as_stated(context: Context) -> Ruling:
    """The board opened within its tolerance, or a little early because it sees less than the cells have."""
    error = context.value("cutoff_error")
    if not isinstance(error, Known):
        return context.unknown("cutoff_error")
    tolerance = context.number("board_cutoff_tolerance") or 0.0
    doubt = error.plus_minus or 0.0
    low, high = -tolerance - doubt, tolerance + doubt + EARLY_V
    facts = {"value": f"the lowest group was {show_plain(error.value, 'mV', error.plus_minus)} from the stated cutoff; "
                      f"{units.show(low, 'mV', digits=2)} to {units.show(high, 'mV', digits=2)} is usual"}
    return Ruling("pass" if low - 1e-9 <= error.value <= high + 1e-9 else "fail", facts)


def group_resistances_fit(context: Context) -> Ruling:
    """No group has much more resistance than its cells in parallel; passes where it was not measured."""
    report, limit = context.known("group_resistances"), context.number("group_resistance_ratio")
    if not isinstance(report, GroupResistances) or limit is None:
        return PASS
    return found([f"{g.group} {units.show(g.measured_ohm or 0.0, 'mΩ', digits=3)} measured, its cells "
                  f"{units.show(g.cells_ohm or 0.0, 'mΩ', digits=3)}" for g in report.groups
                  if g.ratio is not None and g.ratio > limit + 1e-9])


def forecast_agrees(context: Context) -> Ruling:
    """The test lies within the forecast's and the capacities' doubts."""
    difference = context.known("forecast_difference")
    if not isinstance(difference, ForecastDifference):
        return context.unknown("forecast_difference")
    tested = context.value("delivered_capacity_tested")
    doubt = tested.plus_minus or 0.0 if isinstance(tested, Known) else 0.0
    inside = difference.low_ah - doubt <= difference.tested_ah <= difference.high_ah + doubt
    good = inside and difference.verdict != "log suspicious" or difference.verdict == "agrees"
    return Ruling("pass" if good else "fail", {"value": difference.summary})


def rebound(context: Context) -> Ruling:
    """Each group recovers to its empty voltage within an hour; passes where that was not read."""
    report, limit = _test(context), context.number("cell_empty")
    if report is None or limit is None:
        return PASS
    return found([f"{g.id} {units.show(g.rebound_60min_v, 'V')}" for g in report.groups
                  if g.rebound_60min_v is not None and g.rebound_60min_v < limit - 1e-9],
                 limit=units.show(limit, "V"))


def rebound_odd(context: Context) -> Ruling:
    """After the load is gone a group recovers: it does not fall, and it does not pass what it had at the start."""
    report = _test(context)
    if report is None:
        return PASS
    odd = []
    for g in report.groups:
        after = g.rebound_60min_v
        if after is None:
            continue
        if g.cutoff_v is not None and after < g.cutoff_v - BELOW_V - 1e-9:
            odd.append(f"{g.id} {units.show(g.cutoff_v, 'V')} at the end, {units.show(after, 'V')} an hour later")
        elif g.start_v is not None and after > g.start_v + 1e-9:
            odd.append(f"{g.id} {units.show(g.start_v, 'V')} at the start, {units.show(after, 'V')} after the test")
    return found(odd)


def sag(context: Context) -> Ruling:
    """At a fifth of charge each group stays above its empty voltage under working current; passes where not read."""
    limit = context.number("cell_empty")
    if limit is None:
        return PASS
    deep = []
    for row in context.rows("sag"):
        under = row.number("under_load")
        if row.text("level") == "20 %" and under is not None and under < limit - 1e-9:
            deep.append(f"{row.text('group') or row.id} {units.show(under, 'V')}")
    return found(deep, limit=units.show(limit, "V"))


def _sagged(context: Context) -> str:
    """Sag readings near empty that came close to the cutoff under a heavy load: the mark of a sag trip."""
    mean, cutoff = context.number("duty_mean_current"), context.number("board_cutoff")
    if not mean or mean < 0 or cutoff is None:
        return ""
    deep = [f"{row.text('group') or row.id} {units.show(volts, 'V')} at {units.show(current, 'A', digits=3)}"
            for row in context.rows("sag") if row.text("level") == "20 %"
            and (volts := row.number("under_load")) is not None and (current := row.number("current")) is not None
            and is_sag_trip(volts, current, mean, cutoff)]
    return f"; read under load near empty: {', '.join(deep)}, so it sags" if deep else ""


def low_trips(context: Context) -> Ruling:
    """The nearly empty pack does not trip; where it does, the current tells whether it sags."""
    trips = context.number("low_trips")
    if trips is None:
        return context.unknown("low_trips")
    if trips == 0:
        return PASS
    told = f"{trips:.0f} of ten starts tripped"
    limit, stall = context.number("sagging_cutoff_current"), context.number("stall_current")
    if limit is not None and stall is not None:
        why = "sags to the cutoff" if stall > limit else "does not sag to the cutoff, so it was empty or over-current"
        told += (f"; from {units.show(limit, 'A', digits=3)} a group sags to the board's cutoff, and a start draws up "
                 f"to {units.show(stall, 'A', digits=3)}: it {why}")
    told += _sagged(context)
    return Ruling("fail", {"value": told})


def label_measured(context: Context) -> Ruling:
    """Energy and capacity for the label come from the test of this pack."""
    energy, capacity = context.value("delivered_energy"), context.value("delivered_capacity_tested")
    if not isinstance(energy, Known) or not isinstance(capacity, Known):
        return context.unknown("delivered_energy", "delivered_capacity_tested")
    typed = [r.value_class for name in ("delivered_capacity", "test_current", "cutoff_after")
             for r in context.build.entry(name).standing]
    worst = next((c for c in ("guessed", "taken over")
                  if c in typed or c in (energy.value_class, capacity.value_class)), "")
    if worst:
        return Ruling("fail", {"value": f"the delivered charge is {worst}, not measured on this pack"})
    return PASS


def costs_there(context: Context) -> Ruling:
    """Each part has a price, and there are cells among the parts."""
    rows = context.rows("costs")
    if not rows:
        return Ruling("fail", {"rows": "nothing is entered"})
    bare = [f"{row.text('what') or row.id} has no amount" for row in rows if row.number("amount") is None]
    for kind in ("cells", "board", "charger"):
        if not any(row.text("kind") == kind for row in rows):
            bare.append(f"no line for {kind}")
    return found(bare)


def test_overtaken(context: Context) -> Ruling:
    """Nothing the discharge test rests on was changed after it."""
    items = [i for i in context.checklist.all_items() if i.step == "discharge" and i.kind == "table"]
    return found([f"{i.label}: {context.status.items[i.id].why}" for i in items
                  if context.status.items[i.id].state == "stale"])


def standing(context: Context) -> Ruling:
    """A condition that holds for every pack of this kind."""
    return PASS


RULES: dict[str, Rule] = {
    "board-opened": board_opened, "groups-at-cutoff": groups_at_cutoff, "group-minimum": group_minimum,
    "cell-cool": cell_cool, "groups-stay-below": groups_stay_below,
    "alarm-as-set": alarm_as_set, "cutoff-as-stated": cutoff_as_stated, "group-resistances-fit": group_resistances_fit,
    "forecast-agrees": forecast_agrees, "rebound": rebound, "rebound-odd": rebound_odd, "sag": sag,
    "low-trips": low_trips,
    "label-measured": label_measured, "costs-there": costs_there,
    "test-overtaken": test_overtaken, "standing": standing, "log-usable": log_usable, "log-whole": log_whole,
    "log-has-groups": log_has_groups, "log-agrees": log_agrees, "charge-tapered": charge_tapered,
    "balance-possible": balance_possible, "rest-even": rest_even, "drift": drift,
    "charge-in-zone": charge_in_zone, "own-curve-usable": own_curve_usable, "found-empty": found_empty,
    "recheck-undated": recheck_undated,
    "worn-out": worn_out, "recheck-due": recheck_due, "charger-aged": charger_aged, "charger-steady": charger_steady,
    "kept-up": kept_up, "stored-level": stored_level, "dates-ahead": dates_ahead, "said-in-words": said_in_words,
    "ran-as-computed": ran_as_computed,
}
