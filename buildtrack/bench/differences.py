"""Two states of a build told apart, item by item: what one says and what the other says. Knows no screen, no files."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from buildtrack.model.build import Build, Cell, Entry, Reading, Row
from buildtrack.model.checklist import Checklist, Option


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
    options = item.options if item is not None else ()
    plain, whole = ([_readings(e, in_full, options) for e in (before, after)] for in_full in (False, True))
    yield from _one(label, *(plain if plain[0] != plain[1] else whole))
    for row in dict.fromkeys(r.id for r in (*before.rows, *after.rows)):
        old, new = before.row(row), after.row(row)
        if (old is None) is not (new is None):
            yield Difference(f"{label}, {row}", "a row" if old else "no row", "a row" if new else "no row")
        cells: Mapping[str, object] = {**(old.cells if old else {}), **(new.cells if new else {})}
        for column in cells:
            found = item.column(column) if item is not None else None
            head = found.label if found is not None else column
            shown = found.options if found is not None else ()
            texts, whole = ([_cell(r, column, in_full, shown) for r in (old, new)] for in_full in (False, True))
            yield from _one(f"{label}, {row}, {head}", *(texts if texts[0] != texts[1] else whole))


def _cell(row: Row | None, column: str, in_full: bool, options: Sequence[Option]) -> str:
    found = row.cells.get(column) if row is not None else None
    return _said(found, in_full, options) if found is not None else ""


def _said(answer: Reading | Cell, in_full: bool, options: Sequence[Option]) -> str:
    """An answer as it is read, with its remark; in full, where two say the same, with all that may tell them apart."""
    told = [answer.note] if answer.note else []
    if in_full:
        told += [f"{name.replace('_', ' ')} {value}" for name in _BESIDE if (value := getattr(answer, name, ""))]
    text = next((o.label for o in options if o.id == answer.text), answer.text)
    return text + (f" ({'; '.join(told)})" if told else "")


_BESIDE = ("taken", "instrument", "value_class", "accepted", "withdrawn", "columns", "sha256")
"""What stands beside the text of an answer."""


def _readings(entry: Entry, in_full: bool, options: Sequence[Option]) -> str:
    said = [_said(r, in_full, options) for r in (entry.readings if in_full else entry.standing)]
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
