"""Two states of a build told apart, item by item: what one says and what the other says. Knows no screen, no files."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from buildtrack.model.build import Build, Entry
from buildtrack.model.checklist import Checklist


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that two states of a build say otherwise; an empty text says nothing."""

    where: str
    before: str
    after: str


def differences(before: Build, after: Build, checklist: Checklist) -> list[Difference]:
    """What differs, in the order of the checklist; history and comments aside."""
    names = [*checklist.items, *(n for n in {**before.entries, **after.entries} if n not in checklist.items)]
    entries = (d for name in names for d in _of_item(name, before.entry(name), after.entry(name), checklist))
    return [*_of_head(before, after), *entries, *_of_rest(before, after, checklist)]


def _of_head(before: Build, after: Build) -> Iterator[Difference]:
    for name in ("title", "maker", "currency", "notice"):
        yield from _one(name.capitalize(), getattr(before, name), getattr(after, name))
    yield from _one("Ended early", *(b.ended.reason if b.ended else "" for b in (before, after)))


def _of_item(name: str, before: Entry, after: Entry, checklist: Checklist) -> Iterator[Difference]:
    item = checklist.items.get(name)
    label = item.label if item is not None else name
    yield from _one(label, _readings(before), _readings(after))
    for row in dict.fromkeys(r.id for r in (*before.rows, *after.rows)):
        old, new = before.row(row), after.row(row)
        if (old is None) is not (new is None):
            yield Difference(f"{label}, {row}", "a row" if old else "no row", "a row" if new else "no row")
        cells: Mapping[str, object] = {**(old.cells if old else {}), **(new.cells if new else {})}
        for column in cells:
            found = item.column(column) if item is not None else None
            head = found.label if found is not None else column
            yield from _one(f"{label}, {row}, {head}", old.text(column) if old else "", new.text(column) if new else "")


def _readings(entry: Entry) -> str:
    said = [r.text + (f" ({r.note})" if r.note else "") for r in entry.standing]
    return ", ".join([*said, f"left out: {entry.left_out.reason}"] if entry.left_out is not None else said)


def _of_rest(before: Build, after: Build, checklist: Checklist) -> Iterator[Difference]:
    for name in dict.fromkeys([*before.policy, *after.policy]):
        limit = checklist.policy.get(name)
        old, new = (b.policy[name].text if name in b.policy else "" for b in (before, after))
        yield from _one(f"Limit: {limit.label if limit is not None else name}", old, new)
    reasons = [{w.check: w.reason for w in b.waivers} for b in (before, after)]
    for name in dict.fromkeys([*reasons[0], *reasons[1]]):
        rule = checklist.check.get(name)
        yield from _one(f"Accepted: {rule.title if rule is not None else name}", *(r.get(name, "") for r in reasons))
    yield from _one("Reviews", *(", ".join(f"{r.reviewer}: {r.decision}" for r in b.reviews) for b in (before, after)))


def _one(where: str, before: str, after: str) -> Iterator[Difference]:
    if before != after:
        yield Difference(where, before, after)
