"""Rules about a pack in use: left too long, stored full or nearly empty, days that cannot be, words for its user."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta

from buildtrack import units
from buildtrack.checks.rules_general_words import PASS, found
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.checks.silent import says_nothing
from buildtrack.model.checklist import Item
from buildtrack.workings.aftercare_days import DAY_S
from buildtrack.workings.aftercare_rechecks import Recheck, RecheckReport
from buildtrack.workings.inputs import TODAY, answer, parse_date

GROUP = re.compile(r"g\d+")
"""Columns of the re-checks that hold the voltage of a group."""
FULL_FOR_D = 30.0
"""So long after a charge a pack that still rests nearly full has been stored full (common practice, no source)."""


def _report(context: Context) -> RecheckReport | None:
    report = context.known("recheck_report")
    return report if isinstance(report, RecheckReport) else None


def unread(context: Context) -> Ruling | None:
    """The answer of a check that needs voltages of a re-check, where rows are there and no group was read."""
    rows = context.rows("rechecks")
    read = any(isinstance(v, float) for r in rows for name, v in r.values.items() if GROUP.fullmatch(name))
    return Ruling("unknown", needs=("rechecks.g1",)) if rows and not read else None


def _days(count: float) -> str:
    return units.show(count * DAY_S, "d", digits=3)


def kept_up(context: Context) -> Ruling:
    """Neither the last look nor the last charge lies further back than the interval that was agreed."""
    interval, due, today = context.number("top_up_interval"), context.known("next_top_up"), context.number(TODAY)
    if interval is None or today is None:
        return context.unknown("top_up_interval")
    late = []
    if isinstance(due, str) and (over := today - parse_date(due).toordinal()) > 0:
        late.append(f"nobody has looked for {_days(over + interval / DAY_S)}")
    late += _gap(context, interval / DAY_S)
    return found(late, limit=_days(interval / DAY_S))


def _gap(context: Context, most_d: float) -> Iterator[str]:
    """What the last re-check says of the time before it."""
    report = _report(context)
    if report is None or not report.dated:
        return
    last = report.dated[-1]
    handed_over = answer(context.build, "handed_over_on")
    before = [r.on for r in report.dated[:-1]] or [float(d.toordinal()) for d in _readable(handed_over)]
    if before and last.on - max(before) > most_d:
        yield f"{last.id} came {_days(last.on - max(before))} after the look before it"
    if last.days_since_charge is not None and last.days_since_charge > most_d:
        yield f"at {last.id} the last charge was {_days(last.days_since_charge)} ago"


def _readable(text: str) -> list[date]:
    try:
        return [parse_date(text)] if text else []
    except ValueError:
        return []  # the working that needs it says so


def stored_level(context: Context) -> Ruling:
    """At the last re-check no group had rested nearly full for a month, or wanted a charge; settings: side."""
    side = context.rule.settings["side"]
    name = "storage_full" if side == "full" else "storage_charge"
    limit, report = context.number(name), _report(context)
    if limit is None:
        return PASS
    read = [r for r in report.rechecks if r.voltages_v] if report is not None else []
    if not read:
        return unread(context) or PASS
    last = read[-1]
    sign = 1.0 if side == "full" else -1.0
    bad = [f"{g} {units.show(v, 'V')}" for g, v in last.voltages_v.items() if sign * (v - limit) > 1e-9]
    if side == "full" and not _rested_long(last):
        return PASS
    return found(bad, limit=units.show(limit, "V"), days=_days(last.days_since_charge or 0.0))


def _rested_long(last: Recheck) -> bool:
    return last.days_since_charge is not None and last.days_since_charge >= FULL_FOR_D


FEWEST_WORDS = 3
"""A rule somebody else can follow has at least so many words: our own choice."""


def said_in_words(context: Context) -> Ruling:
    """A text that others must understand is more than a mark, or than that there is none; settings: item."""
    name = context.rule.settings["item"]
    context.value(name)  # what the rule rests on
    text = answer(context.build, name)
    words = [w for w in text.split() if any(c.isalpha() for c in w)]
    item = context.checklist.items.get(name)
    silent = item is not None and says_nothing(item, text)
    return Ruling("fail" if silent or len(words) < FEWEST_WORDS else "pass", {"value": f"'{units.clip(text)}'"})


def dates_ahead(context: Context) -> Ruling:
    """No day lies ahead of today by more than a day, which the place on earth may account for; settings: items."""
    latest = context.now.date() + timedelta(days=1)
    late = []
    for name in (n.strip() for n in context.rule.settings["items"].split(",")):
        item = context.checklist.items.get(name)
        if item is not None:
            context.value(name)  # what the rule rests on
            late += [f"{where} {on.isoformat()}" for where, on in _dates(context, item) if on > latest]
    return found(late)


def _dates(context: Context, item: Item) -> Iterator[tuple[str, date]]:
    entry = context.build.entry(item.id)
    columns = [c for c in item.columns if c.kind == "date"]
    for row in entry.rows:
        for column in columns:
            yield from ((f"{row.id} {column.label}", on) for on in _readable(row.text(column.id)))
    if item.kind == "text":
        yield from ((item.label, on) for on in _readable(answer(context.build, item.id)))
