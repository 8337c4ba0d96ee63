"""Rules about time: readings in order, nothing relied on after it was overtaken."""

from __future__ import annotations

from datetime import datetime

from buildtrack.checks.rules_general_words import first_taken, found, rests_on_readings
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.model.checklist import Item


def order_of_readings(context: Context) -> Ruling:
    """Readings in the future, repeated readings that go back in time, later steps read before earlier hold points."""
    rests_on_readings(context)
    asked = _asked(context)
    return found([*_in_the_future(context, asked), *_backwards(context, asked), *_before_hold(context)])


def _asked(context: Context) -> list[Item]:
    return [i for i in context.checklist.all_items() if context.status.items[i.id].state != "not needed"]


def _in_the_future(context: Context, asked: list[Item]) -> list[str]:
    late = []
    for item in asked:
        entry = context.build.entry(item.id)
        times = [r.taken for r in entry.standing] + [c.taken for row in entry.rows for c in row.cells.values()]
        if any(t is not None and t > context.now for t in times):
            late.append(f"{item.label} lies in the future")
    return late


def _backwards(context: Context, asked: list[Item]) -> list[str]:
    back = []
    for item in asked:
        times = [r.taken for r in context.build.entry(item.id).standing if r.taken]
        if any(later < earlier for earlier, later in zip(times, times[1:], strict=False)):
            back.append(f"the readings of {item.label} go back in time")
    return back


def _before_hold(context: Context) -> list[str]:
    """Items first answered before a hold point of an earlier step was first answered."""
    early: list[str] = []
    latest: tuple[datetime, str] | None = None
    for step in context.checklist.steps:
        asked = [(i, first_taken(context, i)) for i in step.items
                 if context.status.items[i.id].state != "not needed"]
        for item, taken in asked:
            if taken is not None and latest is not None and taken < latest[0]:
                early.append(f"{item.label} before {latest[1]}")
        for item, taken in asked:
            if item.hold and taken is not None and (latest is None or taken > latest[0]):
                latest = (taken, item.label)
    return early


def overtaken(context: Context) -> Ruling:
    """Readings that a later change made stale, or that had grown too old when they were relied on."""
    rests_on_readings(context)
    return found([f"{context.label(state.item)} ({state.why})" for state in context.status.items.values()
                  if state.state in ("stale", "expired")])
