"""Coded rules about what protects the pack: conductors, fuse, board, taps, alarm, and what limits a stall."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from buildtrack import units
from buildtrack.checks.rules_general_words import PASS, found
from buildtrack.checks.rules_protection_path import chain_carries, conductors_carry, strips_carry
from buildtrack.checks.rules_protection_stall import fuse_idle, stall_ended, stall_limit
from buildtrack.checks.rules_solder import soldered_cell_falls, soldered_on_cells
from buildtrack.checks.ruling import Context, Rule, Ruling, at_least, at_most, combined_spread
from buildtrack.model.build import Entry
from buildtrack.workings.alarm_channels import ChannelReport
from buildtrack.workings.alarm_ladder import Ladder
from buildtrack.workings.explain import show_plain
from buildtrack.workings.inputs import answer
from buildtrack.workings.status import last_taken
from buildtrack.workings.taps import TapReport
from buildtrack.workings.values import Known
from buildtrack.workings.wire_board import OVERCHARGE_TOLERANCE_V, start_origin
from buildtrack.workings.wire_runs import JointReport


def _number(context: Context, name: str) -> Known | None:
    value = context.value(name)
    return value if isinstance(value, Known) and isinstance(value.value, float) else None


def _shown(context: Context, name: str, value: Known) -> str:
    return show_plain(value.value, context.unit(name), value.plus_minus)


def equal_numbers(context: Context) -> Ruling:
    """Two counts are the same; settings: value, other."""
    names = context.rule.settings["value"], context.rule.settings["other"]
    first, second = _number(context, names[0]), _number(context, names[1])
    if first is None or second is None:
        return context.unknown(*names)
    facts = {"value": _shown(context, names[0], first), "limit": _shown(context, names[1], second)}
    return Ruling("pass" if first.value == second.value else "fail", facts)


def strictly_above(context: Context) -> Ruling:
    """A value lies above a limit, not merely on it; settings: value, other."""
    names = context.rule.settings["value"], context.rule.settings["other"]
    value, limit = _number(context, names[0]), _number(context, names[1])
    if value is None or limit is None:
        return context.unknown(*names)
    gap, guard = value.value - limit.value, combined_spread(value.spread, limit.spread)
    outcome = "pass" if gap > guard + 1e-9 else "fail" if gap <= 1e-9 - guard else "unsure"
    return Ruling(outcome, {"value": _shown(context, names[0], value), "limit": _shown(context, names[1], limit)})


def clearly_above(context: Context) -> Ruling:
    """Fails only when a value lies above a rule of thumb by more than its ±; settings: value, other."""
    return _clearly(context, at_most)


def clearly_below(context: Context) -> Ruling:
    """Fails only when a value lies below a rule of thumb by more than its ±; settings: value, other."""
    return _clearly(context, at_least)


def _clearly(context: Context, compare: Callable[[Known, Known], str]) -> Ruling:
    names = context.rule.settings["value"], context.rule.settings["other"]
    value, limit = _number(context, names[0]), _number(context, names[1])
    if value is None or limit is None:
        return context.unknown(*names)
    facts = {"value": _shown(context, names[0], value), "limit": _shown(context, names[1], limit)}
    return Ruling("fail" if compare(value, limit) == "fail" else "pass", facts)


def joints_low(context: Context) -> Ruling:
    """No joint above the limit or far above its sisters."""
    report = context.known("joint_report")
    if not isinstance(report, JointReport):
        return context.unknown("joint_report")
    return found([f"{j.id} {units.show(j.resistance_ohm, 'mΩ', digits=2)} ({j.verdict})" for j in report.joints
                  if j.verdict != "good"], limit=units.show(report.limit_ohm, "mΩ", digits=2))


def taps_right(context: Context) -> Ruling:
    """Every tap sits where it belongs."""
    report = context.known("tap_report")
    if not isinstance(report, TapReport):
        return context.unknown("tap_report")
    if report.right:
        return PASS
    coarse = "too coarse" in report.diagnosis.sentence
    return Ruling("unsure" if coarse else "fail", {"value": report.diagnosis.sentence})


def taps_read_first(context: Context) -> Ruling:
    """The taps were read before the board was connected, by the times noted."""
    taps, board = last_taken(context.build.entry("taps")), _first_yes(context.build.entry("board_connected"))
    if taps is None or board is None:
        return PASS if answer(context.build, "board_connected") != "yes" else context.unknown("taps")
    facts = {"value": f"{taps:%Y-%m-%d %H:%M}", "limit": f"{board:%Y-%m-%d %H:%M}"}
    return Ruling("fail" if taps > board else "pass", facts)


def _first_yes(entry: Entry) -> datetime | None:
    return min((r.taken for r in entry.standing if r.text == "yes" and r.taken), default=None)


def board_protects(context: Context) -> Ruling:
    """The board really has an over-charge and an over-discharge cut, and is not dead."""
    cut, cutoff = context.number("board_overcharge"), context.number("board_cutoff")
    if answer(context.build, "board_state") == "dead":
        return Ruling("fail", {"value": "the board is dead"})
    never = context.number("arrival_never")
    if cut is None or cutoff is None or never is None:
        return context.unknown("board_overcharge", "board_cutoff", "arrival_never")
    missing = []
    if cut <= 0:
        missing.append("no over-charge cut")
    if cutoff < never:
        missing.append(f"over-discharge cut at {units.show(cutoff, 'V', digits=3)}, no protection for a cell")
    return Ruling("fail" if missing else "pass", {"value": ", ".join(missing)})


def board_edge(context: Context) -> Ruling:
    """With its tolerance the board ends a charge below the absolute maximum; a tolerance left out is assumed."""
    cut, most = _number(context, "board_cut_highest"), _number(context, "cell_absolute_max")
    if cut is None or most is None:
        return context.unknown("board_cut_highest", "cell_absolute_max")
    stated = context.number("board_overcharge_tolerance") is not None
    asked = "board_overcharge_tolerance" in context.checklist.items
    if not stated and asked and context.build.entry("board_overcharge_tolerance").left_out is None:
        return Ruling("unknown", needs=("board_overcharge_tolerance",))
    assumed = f" ({units.show(OVERCHARGE_TOLERANCE_V, 'mV', digits=2)} assumed, none is stated)"
    return Ruling(at_most(cut, most), {"value": _shown(context, "board_cut_highest", cut),
                                       "limit": context.show("cell_absolute_max"),
                                       "assumed": "" if stated else assumed})


def trips_in_order(context: Context) -> Ruling:
    """The board's highest trip is not below its lowest one."""
    low, high = _number(context, "board_trip_low"), _number(context, "board_trip_high")
    if low is None or high is None:
        return PASS  # each of them is asked for by its own checks
    facts = {"value": _shown(context, "board_trip_high", high), "limit": _shown(context, "board_trip_low", low)}
    return Ruling("fail" if high.value < low.value - 1e-9 else "pass", facts)


def board_starts(context: Context) -> Ruling:
    """A start does not trip the board: its peak on the new pack stays below the lowest trip, or ends before the delay.
    """
    trip, peak = _number(context, "board_trip_low"), _number(context, "start_peak")
    if trip is None or peak is None:
        return context.unknown("board_trip_low", "start_peak")
    measured, carried, stall = (context.number(n) for n in ("start_peak_current", "start_carried", "stall_current"))
    origin = start_origin(peak.value, measured, carried, stall)
    facts = {"value": f"{_shown(context, 'start_peak', peak)} {origin}",
             "limit": _shown(context, "board_trip_low", trip)}
    last, delay = context.number("start_peak_time"), context.number("board_trip_delay")
    if last is not None and delay is not None and last < delay:
        return Ruling("pass", facts)
    outcome = at_most(peak, trip)
    if outcome == "pass":
        # A peak from another source says little of the new pack where nothing can carry it over.
        return Ruling("unsure" if measured is not None and carried is None and stall is None else outcome, facts)
    # The computed stall is only an upper bound of a start: above the trip it says that a start may trip the board.
    seen = measured is not None and (carried is not None or at_most(Known(measured), trip) == "fail")
    return Ruling(outcome if seen else "unsure", facts)


def balancing_starts(context: Context) -> Ruling:
    """The board's balancing starts below the voltage that is charged to."""
    start, target = context.number("board_balance_start"), context.number("charge_policy")
    target = context.number("cell_full") if target is None else target
    if start is None or target is None:
        return context.unknown("board_balance_start", "cell_full")
    facts = {"value": units.show(start, "V"), "limit": units.show(target, "V")}
    return Ruling("fail" if start > target + 1e-9 else "pass", facts)


def ladder_in_order(context: Context) -> Ruling:
    """No two thresholds contradict each other within their tolerances."""
    ladder = context.known("ladder")
    if not isinstance(ladder, Ladder):
        return context.unknown("ladder")
    follows = "; ".join(told.partition(": ")[2] for told in ladder.contradictions)  # the pairs stand in the ladder
    return found(list(ladder.contradictions), rows=follows)


def fuse_inside(context: Context) -> Ruling:
    """The rating carries the job by derating."""
    rating, lowest = _number(context, "fuse_rating"), _number(context, "fuse_lowest")
    if rating is None or lowest is None:
        return context.unknown("fuse_rating", "fuse_lowest")
    facts = {"value": _shown(context, "fuse_rating", rating), "limit": _shown(context, "fuse_lowest", lowest)}
    return Ruling(at_most(lowest, rating), facts)


def channels_right(context: Context) -> Ruling:
    """Every channel of the alarm was heard and lies near its setting."""
    report = context.known("alarm_channel_report")
    if not isinstance(report, ChannelReport):
        return context.unknown("alarm_channel_report")
    off = [f"{c.id} is off" for c in report.channels if c.verdict == "off"]
    return found([*off, *(f"{name} was not heard" for name in report.silent)],
                 limit=units.show(report.allowed_v, "mV", digits=2))


def releases_by_itself(context: Context) -> Ruling:
    """A board that switches on again by itself needs a rule for the user."""
    behaviour = answer(context.build, "release_behaviour")
    if not behaviour:
        return Ruling("unknown", {"sentence": ""}, ("release_behaviour",))
    if behaviour == "needs charger":
        return Ruling("pass", {"sentence": ""})
    return Ruling("fail", {"sentence": "The board switches on again by itself after it has opened: stop there and "
                                       "charge, do not pull the trigger again."})


def thermal_sensor(context: Context) -> Ruling:
    """Something sees a hot cell; where nothing does, the user has to."""
    fitted = answer(context.build, "thermal_sensor")
    if not fitted:
        return Ruling("unknown", {"sentence": ""}, ("thermal_sensor",))
    if fitted == "fitted":
        return Ruling("pass", {"sentence": ""})
    return Ruling("fail", {"sentence": "No sensor sees a hot cell: stop when the pack feels hot, and let it cool."})


RULES: dict[str, Rule] = {
    "equal-numbers": equal_numbers, "strictly-above": strictly_above, "conductors-carry": conductors_carry,
    "joints-low": joints_low, "taps-right": taps_right, "taps-read-first": taps_read_first,
    "board-protects": board_protects, "board-edge": board_edge, "trips-in-order": trips_in_order,
    "board-starts": board_starts,
    "balancing-starts": balancing_starts,
    "ladder-in-order": ladder_in_order, "fuse-inside": fuse_inside, "channels-right": channels_right,
    "releases-by-itself": releases_by_itself, "stall-limit": stall_limit, "thermal-sensor": thermal_sensor,
    "strips-carry": strips_carry, "chain-carries": chain_carries, "fuse-idle": fuse_idle,
    "stall-ended": stall_ended, "soldered-on-cells": soldered_on_cells, "soldered-cell-falls": soldered_cell_falls,
    "clearly-above": clearly_above, "clearly-below": clearly_below,
}
