"""Rules about the charge and about the pack in service."""

from __future__ import annotations

from buildtrack import units
from buildtrack.checks.rules_general_words import PASS, found, listed
from buildtrack.checks.rules_service import unread
from buildtrack.checks.ruling import SUSPECTED, Context, Ruling, at_most, worst
from buildtrack.workings.aftercare_ageing import RetireReport
from buildtrack.workings.aftercare_rechecks import DriftReport
from buildtrack.workings.charge_balance import BalanceReport
from buildtrack.workings.charge_groups import TIMES, RestDropReport
from buildtrack.workings.charge_zone import Zone
from buildtrack.workings.explain import show_plain
from buildtrack.workings.inputs import TODAY, parse_date
from buildtrack.workings.status import last_taken
from buildtrack.workings.values import Known, Record

CHECKED_S = 180 * 86400.0
"""A charger's voltage is looked at again after so long, where its item does not say (common practice, no source)."""
TAPERED = 2.0
"""A charge has tapered when its last current is at most so many times the end current (common practice, no source)."""


def charge_tapered(context: Context) -> Ruling:
    """The current had fallen near its end value when the charge ended."""
    last, end = context.number("end_current"), context.number("charge_end_current")
    if last is None or end is None:
        return context.unknown("end_current", "charge_end_current")
    facts = {"value": units.show(last, "mA", digits=3), "end": units.show(end, "mA", digits=3)}
    return Ruling("fail" if last > TAPERED * end + 1e-9 else "pass", facts)


def groups_stay_below(context: Context) -> Ruling:
    """No group above a limit at any reading of either charge; settings: other = the limit."""
    name = context.rule.settings["other"]
    limit = context.value(name)
    tables = [t for t in ("first_charge_groups", "charge_groups") if context.rows(t)]
    if not isinstance(limit, Known) or not tables:
        return context.unknown("charge_groups", name)
    outcomes: list[str] = []
    high: dict[str, Known] = {}
    for table in tables:
        for row in context.rows(table):
            for column in TIMES:
                volts = row.number(column)
                if volts is None:
                    continue
                reading = Known(volts, row.spreads.get(column, {}))
                outcomes.append(at_most(reading, limit))
                if outcomes[-1] != "pass" and (row.id not in high or volts > high[row.id].value):
                    high[row.id] = reading
    if not outcomes:
        return context.unknown("charge_groups", name)
    told = [f"{group} {show_plain(r.value, 'V', r.plus_minus)}" for group, r in high.items()]
    return Ruling(worst(outcomes), {"rows": listed(told), "limit": show_plain(limit.value, "V")})


def rest_even(context: Context) -> Ruling:
    """No group falls more than its sisters after the charge; passes where the rest was not read."""
    report = context.known("rest_drop_report")
    return found(list(report.leaking)) if isinstance(report, RestDropReport) else PASS


def charge_in_zone(context: Context) -> Ruling:
    """Rate and voltage of the charge are within what the cells' temperature allows."""
    zone, rate = context.known("charge_zone"), context.value("charge_c_rate")
    target = context.number("charge_policy") or context.number("cell_full")
    if not isinstance(zone, Zone) or not isinstance(rate, Known) or target is None:
        return context.unknown("charge_zone", "charge_c_rate")
    outcomes = [at_most(rate, Known(zone.rate_per_h)), "fail" if target > zone.volts_v + 1e-9 else "pass"]
    facts = {"value": f"{show_plain(rate.value, 'C', rate.plus_minus, 2)} to {units.show(target, 'V', digits=3)}",
             "limit": zone.summary}
    return Ruling(worst(outcomes), facts)


def drift(context: Context) -> Ruling:
    """No group moves against its sisters by more than the limit; settings: worst = watch or stop."""
    report, wanted = context.known("drift_report"), context.rule.settings["worst"]
    if not isinstance(report, DriftReport):
        return unread(context) or PASS
    if report.assumed:  # a group far from its sisters after a charge: a leak, or a charge that did not make them equal
        bad = report.verdict in ("stop", wanted)
        if bad and wanted == "stop":
            return Ruling("unsure", {"value": report.summary}, message=f"{SUSPECTED}: {report.summary}")
        return Ruling("fail" if bad else "pass", {"value": report.summary})
    return Ruling("fail" if report.verdict == wanted else "pass", {"value": report.summary})


def recheck_undated(context: Context) -> Ruling:
    """Every re-check that holds a reading has its date: else its drift is known only as "at least"."""
    return found([r.id for r in context.rows("rechecks") if r.get("on") is None and _is_read(r)])


def _is_read(row: Record) -> bool:
    """Whether a row of the re-checks holds a reading."""
    return any(isinstance(value, float) for value in row.values.values())


def worn_out(context: Context) -> Ruling:
    """Neither capacity nor resistance has reached its limit."""
    report = context.known("retire_report")
    if not isinstance(report, RetireReport):
        return PASS if context.known("recheck_report") is not None else unread(context) or PASS
    return Ruling("fail" if report.retire else "pass", {"value": report.summary})


def recheck_due(context: Context) -> Ruling:
    """The next re-check still lies ahead."""
    due, today = context.known("next_recheck"), context.number(TODAY)
    if not isinstance(due, str) or today is None:
        return context.unknown("next_recheck")
    return Ruling("fail" if parse_date(due).toordinal() < today else "pass", {"value": due})


def charger_aged(context: Context) -> Ruling:
    """The charger was checked lately: once the pack is in use its item no longer expires, but chargers do drift."""
    taken = last_taken(context.build.entry("charger_voltage"))
    item = context.checklist.items.get("charger_voltage")
    if taken is None or item is None:
        return PASS
    days = (context.now - taken).total_seconds() / 86400.0
    allowed = (item.expires_s or CHECKED_S) / 86400.0
    facts = {"value": f"{days:.0f} d", "limit": f"{allowed:.0f} d"}
    return Ruling("fail" if days > allowed + 1e-9 else "pass", facts)


def balance_possible(context: Context) -> Ruling:
    """Groups that are apart can be evened out by the board; passes where they are together."""
    report, limit = context.known("balance_report"), context.number("charge_spread")
    if not isinstance(report, BalanceReport) or limit is None:
        return context.unknown("balance_report", "charge_spread")
    volts = [g.volts_v for g in report.groups]
    facts = {"value": report.summary}
    if max(volts) - min(volts) <= limit + 1e-9:
        return Ruling("pass", facts)
    if report.weak or report.imbalance_ah is None or report.end is None:
        return Ruling("fail" if report.weak else "unsure", facts)
    return Ruling({"yes": "pass", "no": "fail"}.get(report.end.answer, "unsure"), facts)
