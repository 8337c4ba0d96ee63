"""Rules about the attached log: usable, whole, with groups, and in accord with the notes."""

from __future__ import annotations

from buildtrack import units
from buildtrack.checks.rules_general_words import PASS, found
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.workings.cells_own import OwnCurves
from buildtrack.workings.discharge_log import LogData
from buildtrack.workings.inputs import LOG_DATA
from buildtrack.workings.values import Failed, Known

APART = 0.02
"""Log and notes may differ by so much (common practice, no source)."""
OTHER_CELL = 0.10
"""A log so far from the cell's capacity test is another cell's (common practice, no source)."""
APART_S = 60.0
APART_V = 0.2
"""At the moment the alarm was noted the log's lowest group may be so far from its setting (common practice)."""
GAP_SHARE = 0.01
"""Charge in gaps that does not matter (common practice, no source)."""


def log_of(context: Context) -> LogData | None:
    """The log as read, None where there is none or it cannot be read."""
    data = context.known(LOG_DATA)
    return data if isinstance(data, LogData) else None


def log_usable(context: Context) -> Ruling:
    """The attached file is there, unchanged, and a log."""
    value = context.value(LOG_DATA)
    return Ruling("fail", {"value": value.why}) if isinstance(value, Failed) else PASS


def own_curve_usable(context: Context) -> Ruling:
    """The logs of one cell give a curve, and hold about what the cell's capacity test says."""
    value = context.value("own_curve")
    if isinstance(value, Failed):
        return Ruling("fail", {"value": value.why})
    if not isinstance(value, Known) or not isinstance(value.value, OwnCurves):
        return context.unknown("own_curve")
    curve = value.value
    if curve.tested_ah and abs(curve.logged_ah / curve.tested_ah - 1) > OTHER_CELL:
        logged, tested = (units.show(ah, "Ah", digits=3) for ah in (curve.logged_ah, curve.tested_ah))
        return Ruling("fail", {"value": f"the log holds {logged}, the capacity test of {curve.cell} says {tested}"})
    return PASS


def log_whole(context: Context) -> Ruling:
    """No stretch without readings that holds more than a little of the charge, none near the end."""
    data = log_of(context)
    if data is None or not data.log.gaps:
        return PASS
    log = data.log
    share = abs(log.gap_charge_ah) / log.discharged_ah if log.discharged_ah > 0 else 1.0
    # Only gaps under load count: the pause before the load comes on holds nothing.
    loaded = [g for g in log.gaps if g.time_s > data.begin_s and g.time_s - g.length_s < data.end_s]
    late = [g for g in loaded if g.time_s > data.begin_s + 0.9 * (data.end_s - data.begin_s)]
    longest = max((g.length_s for g in loaded), default=0.0)
    facts = {"value": f"{len(loaded)} gaps under load, the longest {longest:.0f} s, with {share * 100:.1f} % of the "
                      f"charge" + ("; one near the end, where groups fall fast" if late else "")}
    return Ruling("fail" if loaded and (share > GAP_SHARE or late) else "pass", facts)


def log_has_groups(context: Context) -> Ruling:
    """The file holds a voltage of each group."""
    data, count = log_of(context), context.number("series_count")
    if data is None or count is None or count < 2:
        return PASS
    return PASS if len(data.log.mapping.groups) >= count else Ruling("fail")


def _alarm_apart(context: Context, data: LogData) -> list[str]:
    """The alarm as noted lies within the test, and the log's groups stand near its setting then."""
    after, setting = context.number("alarm_after"), context.number("alarm_setting")
    if after is None:
        return []
    if after > data.end_s - data.begin_s + APART_S:
        return [f"alarm noted after {after / 60:.1f} min, the log's load ended after "
                f"{(data.end_s - data.begin_s) / 60:.1f} min"]
    groups = data.groups_at(after)
    if setting is None or not groups or abs(min(groups) - setting) <= APART_V:
        return []
    return [f"alarm set to {units.show(setting, 'V')}; when it was noted the log's lowest group had "
            f"{units.show(min(groups), 'V')}"]


def log_agrees(context: Context) -> Ruling:
    """Charge and time of the log agree with what was noted beside it."""
    data = log_of(context)
    if data is None:
        return PASS
    duration, apart = data.end_s - data.begin_s, []
    noted = context.number("cutoff_after")
    if noted is not None and abs(noted - duration) > max(APART_S, APART * duration):
        apart.append(f"ended after {noted / 60:.1f} min by the notes, {duration / 60:.1f} min by the log")
    apart += _alarm_apart(context, data)
    shown = context.number("delivered_capacity")
    if shown is not None and abs(shown - data.log.discharged_ah) > APART * data.log.discharged_ah:
        apart.append(f"{units.show(shown, 'Ah')} by the load's display, {units.show(data.log.discharged_ah, 'Ah')} by "
                     "the log")
    current = context.number("test_current")
    mean = data.log.discharged_ah * 3600 / duration if duration > 0 else None
    if current is not None and mean is not None and abs(current - mean) > 0.05 * current:
        apart.append(f"{units.show(current, 'A', digits=3)} noted, {units.show(mean, 'A', digits=3)} in the mean by "
                     "the log")
    apart += [w.text for w in data.log.warnings if w.name == "counter differs"]
    return found(apart)
