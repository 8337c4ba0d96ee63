"""The old pack is opened once: what is to be measured with it is measured before."""

from __future__ import annotations

from buildtrack.checks.rules_general_words import PASS
from buildtrack.checks.ruling import Context, Ruling

OTHER_SOURCES = ("bench supply", "other battery")


def opened_unmeasured(context: Context) -> Ruling:
    """The load is measured, or fed from something else, before the old pack is emptied and opened.

    A pack that no longer takes a charge cannot feed the tool: then nothing is lost.
    """
    opened, emptied = _answered(context, "opened_state"), _answered(context, "opening_voltage")
    if not (opened or emptied) or not context.has("working_current"):
        return PASS
    if _answered(context, "old_pack_takes_charge") == "no" or _answered(context, "load_source") in OTHER_SOURCES:
        return PASS
    if context.number("working_current") is not None:
        return PASS
    return Ruling("fail", {"value": f"It is {'opened' if opened else 'emptied'} already"})


def _answered(context: Context, name: str) -> str:
    """What an item was answered; empty where it was not, or is no item here."""
    known = context.known(name) if context.has(name) else None
    return "" if known is None else str(known)
