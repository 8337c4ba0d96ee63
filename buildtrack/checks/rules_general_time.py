"""Rules about time: readings in order, nothing relied on after it was overtaken."""

from __future__ import annotations

from datetime import datetime
from itertools import groupby

from buildtrack.checks.rules_general_words import Times, found, items_placed, rests_on_readings, times_of
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.model.checklist import Item


def order_of_readings(context: Context) -> Ruling:
    """Readings in the future, repeated readings that go back in time, later steps read before earlier hold points."""
    asked = [(item, times_of(context, item)) for item in items_placed(context)]
    now = context.now
    return found([
        *(f"{item.label} lies in the future" for item, times in asked if times.latest and times.latest > now),
        *(f"the readings of {item.label} go back in time" for item, times in asked if times.goes_back),
        *_before_hold(asked)])


def _before_hold(asked: list[tuple[Item, Times]]) -> list[str]:
    """Items first answered before a hold point of an earlier step was first answered; asked: in the order of work."""
    early: list[str] = []
    latest: tuple[datetime, str] | None = None
    for _, step in groupby(asked, key=lambda one: one[0].step):
        dated = [(item, times.first) for item, times in step if times.first is not None]
        if latest is not None:
            early += [f"{item.label} before {latest[1]}" for item, taken in dated if taken < latest[0]]
        for item, taken in dated:
            if item.hold and (latest is None or taken > latest[0]):
                latest = (taken, item.label)
    return early


def overtaken(context: Context) -> Ruling:
    """Readings that a later change made stale, or that had grown too old when they were relied on."""
    rests_on_readings(context)
    return found([f"{context.label(state.item)} ({state.why})" for state in context.status.items.values()
                  if state.state in ("stale", "expired")])
