"""The rule about a charger whose readings differ: one that holds its voltage shows the same each time."""

from __future__ import annotations

from collections.abc import Iterator

from buildtrack import units
from buildtrack.checks.rules_general_words import meters_of
from buildtrack.checks.ruling import Context, Ruling, at_most, combined_spread
from buildtrack.workings.explain import show_plain
from buildtrack.workings.inputs import reading_value
from buildtrack.workings.values import Known


def charger_steady(context: Context) -> Ruling:
    """All readings of a charger lie within its tolerance to either side; settings: item, before = an earlier item.

    Readings of one meter share its scale error, so their difference is judged by what is not shared.
    """
    names = [n for n in (context.rule.settings.get("before", ""), context.rule.settings["item"]) if n]
    tolerance = context.number("charger_tolerance")
    if tolerance is None:
        return context.unknown("charger_tolerance")
    read = sorted((v for name in names for v in _readings(context, name)), key=lambda v: float(v.value))
    if len(read) < 2:
        return Ruling("pass")
    low, high = read[0], read[-1]
    apart = Known(high.value - low.value, {"difference": combined_spread(high.spread, low.spread)})
    limit = Known(2 * tolerance * high.value)
    return Ruling(at_most(apart, limit), {
        "rows": f"{units.show(low.value, 'V')} and {units.show(high.value, 'V')}",
        "value": show_plain(apart.value, "V", apart.plus_minus), "limit": units.show(limit.value, "V", digits=2)})


def _readings(context: Context, name: str) -> Iterator[Known]:
    item = context.checklist.items.get(name)
    if item is None:
        return
    context.value(name)  # what the rule rests on
    meters = meters_of(context)
    for number, reading in enumerate(context.build.entry(name).standing, 1):
        try:
            yield reading_value(item, reading, meters, f"{name} {number}")
        except units.QuantityError:
            continue  # the item itself shows the refusal
