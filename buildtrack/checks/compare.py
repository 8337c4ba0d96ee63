"""Checks that are a comparison written in data: a value against a limit, or an answer against the allowed ones."""

from __future__ import annotations

from buildtrack import units
from buildtrack.checks.ruling import Context, Ruling, at_least, at_most, coarse_meter, worst
from buildtrack.model.checklist import CheckRule
from buildtrack.workings.explain import show_plain
from buildtrack.workings.values import Known, Record, Table


def compare(context: Context) -> Ruling:
    """Rule on a check that names a `value`."""
    name, _, column = context.rule.value.partition(".")
    if column:
        return _rows(context, name, column)
    value = context.value(name)
    if not isinstance(value, Known):
        return context.unknown(name)
    return _one(context, value, context.unit(name))


def limit_of(context: Context, text: str) -> Known | None:
    """A limit: the name of an item, working or policy value, or a quantity written out (4.25 V)."""
    if context.has(text):
        value = context.value(text)
        return value if isinstance(value, Known) and isinstance(value.value, float) else None
    number, _, unit = text.partition(" ")
    found = units.find_unit(unit) if unit else None
    try:
        return Known(units.parse(text, found.dimension if found else "count").value)
    except units.QuantityError:
        return None


def _limit_name(rule: CheckRule) -> str:
    return rule.at_most or rule.at_least


def _limit_text(context: Context, limit: Known, unit: str) -> str:
    """A policy value and a quantity written out as they are written; everything else by its value."""
    name = _limit_name(context.rule)
    if name in context.checklist.policy:
        return context.show(name)
    return show_plain(limit.value, unit, limit.plus_minus) if context.has(name) else name


def _one(context: Context, value: Known, unit: str) -> Ruling:
    rule = context.rule
    shown = show_plain(value.value, unit, value.plus_minus)
    if rule.is_ or rule.is_not:
        good = (not rule.is_ or value.value in rule.is_) and value.value not in rule.is_not
        if isinstance(value.value, bool):
            good = (not rule.is_ or shown in rule.is_) and shown not in rule.is_not
        return Ruling("pass" if good else "fail", {"value": shown})
    limit = limit_of(context, _limit_name(rule))
    if limit is None:
        return context.unknown(_limit_name(rule))
    if not isinstance(value.value, float):
        return Ruling("unknown", {"value": shown}, (rule.value,))
    outcome = at_most(value, limit) if rule.at_most else at_least(value, limit)
    facts = {"value": shown, "limit": _limit_text(context, limit, unit)}
    return Ruling(outcome, facts, meter=coarse_meter(value, limit) if outcome == "unsure" else "")


def _rows(context: Context, name: str, column: str) -> Ruling:
    table = context.value(name)
    if not isinstance(table, Known) or not isinstance(table.value, Table):
        return context.unknown(name)
    item = context.checklist.items.get(name)
    found = item.column(column) if item else None
    unit = found.unit if found else ""
    rulings: list[tuple[Record, Ruling]] = []
    for row in context.rows(name, context.rule.rows):
        value = row.get(column)
        if value is None:
            rulings.append((row, Ruling("unknown", needs=(f"{name}.{column}",))))
            continue
        rulings.append((row, _one(context, Known(value, row.spreads.get(column, {})), unit)))
    if not rulings:
        return Ruling("unknown", needs=(name,))
    outcome = worst(r.outcome for _, r in rulings)
    bad = [(row, r) for row, r in rulings if r.outcome == outcome]
    words = ", ".join(f"{row.id} ({r.facts['value']})" if "value" in r.facts else row.id for row, r in bad[:8])
    more = f" and {len(bad) - 8} more" if len(bad) > 8 else ""
    limit = next((r.facts["limit"] for _, r in rulings if "limit" in r.facts), "")
    needs = tuple(dict.fromkeys(n for _, r in rulings if r.outcome == "unknown" for n in r.needs))
    facts = {"rows": words + more, "limit": limit, "count": str(len(bad)), "value": words + more}
    return Ruling(outcome, facts, needs, meter=next((r.meter for _, r in bad if r.meter), ""))
