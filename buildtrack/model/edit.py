"""Every way a build changes: each edit gives a new build and adds to the history; nothing is silently replaced."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from buildtrack.model.build import (
    Build,
    Cell,
    Ended,
    Entry,
    Event,
    LeftOut,
    PolicyChange,
    Reading,
    Review,
    Row,
    Waiver,
)
from buildtrack.model.checklist import Checklist, Item


@dataclass(frozen=True, slots=True)
class Hand:
    """Who edits, and when (UTC, whole seconds)."""

    at: datetime
    by: str = ""


LONGEST_CURRENCY = 8
"""Longest name of a currency [characters]."""


class EditError(ValueError):
    """An edit that cannot be made; the sentence says why."""


def _log(build: Build, hand: Hand, what: str, **where: str) -> Build:
    return replace(build, history=(*build.history, Event(at=hand.at, what=what, by=hand.by, **where)))


def _put(build: Build, item: str, entry: Entry) -> Build:
    return replace(build, entries={**build.entries, item: entry})


def add_reading(build: Build, item: Item, reading: Reading, hand: Hand) -> Build:
    """Append a reading to an item; an earlier one stays."""
    entry = build.entry(item.id)
    before = _told(entry.standing[-1]) if entry.standing else ""
    what = "changed" if before and before != _told(reading) and item.several == 1 else "entered"
    build = _put(build, item.id, replace(entry, readings=(*entry.readings, reading), left_out=None))
    return _log(build, hand, what, step=item.step, item=item.id, before=before, after=_told(reading),
                instrument=reading.instrument, reason=reading.accepted)


def _told(reading: Reading) -> str:
    """A reading in the history: an attached file with its hash, and the columns of a log that were set by hand."""
    hashed = f", SHA-256 {reading.sha256}" if reading.sha256 else ""
    return reading.text + hashed + (f", columns {reading.columns}" if reading.columns else "")


def withdraw_reading(build: Build, item: Item, index: int, reason: str, hand: Hand) -> Build:
    """Mark the reading at `index` as no longer counting; it stays in the file with the reason."""
    entry = build.entry(item.id)
    if not 0 <= index < len(entry.readings):
        raise EditError(f"{item.label}: there is no reading number {index + 1}")
    if not reason.strip():
        raise EditError(f"{item.label}: withdrawing a reading needs a reason")
    readings = list(entry.readings)
    readings[index] = replace(readings[index], withdrawn=reason)
    build = _put(build, item.id, replace(entry, readings=tuple(readings)))
    return _log(build, hand, "withdrawn", step=item.step, item=item.id, before=readings[index].text, reason=reason)


def leave_out(build: Build, item: Item, reason: str, hand: Hand) -> Build:
    """Leave an expected or optional item out, with a reason."""
    if item.need == "must":
        raise EditError(f"{item.label} must be answered: it cannot be left out")
    if item.need == "expected" and not reason.strip():
        raise EditError(f"{item.label}: leaving it out needs a reason")
    entry = replace(build.entry(item.id), left_out=LeftOut(reason, hand.at, hand.by))
    return _log(_put(build, item.id, entry), hand, "left out", step=item.step, item=item.id, reason=reason)


def take_up_again(build: Build, item: Item, hand: Hand) -> Build:
    """Undo a leaving-out."""
    entry = replace(build.entry(item.id), left_out=None)
    return _log(_put(build, item.id, entry), hand, "taken up again", step=item.step, item=item.id)


def add_row(build: Build, item: Item, name: str, hand: Hand) -> Build:
    """Add an empty row called `name` to a table item."""
    entry = build.entry(item.id)
    if not name.strip():
        raise EditError(f"{item.label}: a {item.row_name} needs a name")
    if entry.row(name) is not None:
        raise EditError(f"{item.label}: there is already a {item.row_name} called {name}")
    build = _put(build, item.id, replace(entry, rows=(*entry.rows, Row(name)), left_out=None))
    return _log(build, hand, "row added", step=item.step, item=item.id, row=name)


def delete_row(build: Build, item: Item, name: str, reason: str, hand: Hand) -> Build:
    """Take a row out of a table; what it held goes into the history."""
    entry = build.entry(item.id)
    row = entry.row(name)
    if row is None:
        raise EditError(f"{item.label}: there is no {item.row_name} called {name}")
    held = "; ".join(f"{column} = {cell.text}" for column, cell in row.cells.items())
    rows = tuple(r for r in entry.rows if r.id != name)
    build = _put(build, item.id, replace(entry, rows=rows))
    return _log(build, hand, "row deleted", step=item.step, item=item.id, row=name, before=held, reason=reason)


def set_cell(build: Build, item: Item, row: str, column: str, cell: Cell, hand: Hand, reason: str = "") -> Build:
    """Enter or change one field of a table row; the old text goes into the history."""
    entry = build.entry(item.id)
    found = entry.row(row)
    if found is None:
        raise EditError(f"{item.label}: there is no {item.row_name} called {row}")
    before = found.text(column)
    changed = Row(row, {**found.cells, column: cell})
    if not cell.text:
        changed = Row(row, {k: v for k, v in found.cells.items() if k != column})
    rows = tuple(changed if r.id == row else r for r in entry.rows)
    build = _put(build, item.id, replace(entry, rows=rows))
    what = "changed" if before and before != cell.text else "entered"
    return _log(build, hand, what, step=item.step, item=item.id, row=row, column=column,
                before=before, after=cell.text, instrument=cell.instrument, reason=reason)


def set_policy(build: Build, name: str, text: str, reason: str, hand: Hand) -> Build:
    """Change a policy value, with a reason."""
    if not reason.strip():
        raise EditError(f"policy value {name}: a change needs a reason")
    before = build.policy[name].text if name in build.policy else ""
    build = replace(build, policy={**build.policy, name: PolicyChange(text, reason, hand.at, hand.by)})
    return _log(build, hand, "policy", item=name, before=before, after=text, reason=reason)


def waive(build: Build, checklist: Checklist, check: str, reason: str, hand: Hand, finding: str = "") -> Build:
    """Accept a failed caution, with a reason; a stop can never be waived.

    finding: what the check says now; the waiver stands as long as it says just that.
    """
    rule = checklist.check.get(check)
    if rule is None:
        raise EditError(f"there is no check called {check}")
    if rule.severity != "caution":
        raise EditError(f"'{rule.title}' is a {rule.severity}: only a caution can be accepted with a reason")
    if not reason.strip():
        raise EditError(f"'{rule.title}': accepting it needs a reason")
    kept = tuple(w for w in build.waivers if w.check != check)
    build = replace(build, waivers=(*kept, Waiver(check, reason, hand.by, hand.at, finding)))
    return _log(build, hand, "waived", step=rule.step, item=check, reason=reason)


def take_back_waiver(build: Build, check: str, reason: str, hand: Hand) -> Build:
    """Take a waiver back."""
    build = replace(build, waivers=tuple(w for w in build.waivers if w.check != check))
    return _log(build, hand, "waiver taken back", item=check, reason=reason)


def end_early(build: Build, reason: str, hand: Hand) -> Build:
    """Stop the project for a recorded reason."""
    if not reason.strip():
        raise EditError("ending a project early needs a reason")
    return _log(replace(build, ended=Ended(reason, hand.at, hand.by)), hand, "ended early", reason=reason)


def reopen(build: Build, reason: str, hand: Hand) -> Build:
    """Take an ended project up again."""
    return _log(replace(build, ended=None), hand, "reopened", reason=reason)


def add_review(build: Build, review: Review, hand: Hand) -> Build:
    """Add a reviewer's decision."""
    return _log(replace(build, reviews=(*build.reviews, review)), hand, "reviewed", after=review.decision)


def rename(build: Build, title: str, hand: Hand) -> Build:
    """Give the build another title."""
    if not title.strip():
        raise EditError("a build needs a title")
    return _log(replace(build, title=title), hand, "renamed", before=build.title, after=title)


def set_currency(build: Build, currency: str, hand: Hand) -> Build:
    """Say in which currency the prices of a build are; amounts that stand are not converted."""
    named = currency.strip()
    if not named or len(named) > LONGEST_CURRENCY or any(c.isdigit() for c in named):
        raise EditError(f"a currency is a short word or sign like EUR or €, at most {LONGEST_CURRENCY} characters")
    return _log(replace(build, currency=named), hand, "currency set", before=build.currency, after=named)


def edits_since(now: Build, earlier: Build, taken: str = "undone") -> tuple[Event, ...]:
    """The events that lead from `earlier` to `now` and were not taken back, in their order.

    earlier: a past state of `now`, so that its history is the beginning of that of `now`.
    """
    standing: list[Event] = []
    for event in now.history[len(earlier.history):]:
        if event.what != taken:
            standing.append(event)
        elif standing:
            standing.pop()
    return tuple(standing)


def _turned(build: Build, what: str, events: tuple[Event, ...], hand: Hand) -> Build:
    """One more event for each of `events`, the last first, with before and after turned round."""
    turned = (replace(e, what=what, at=hand.at, by=hand.by, before=e.after, after=e.before) for e in reversed(events))
    return replace(build, history=(*build.history, *turned))


def undo(now: Build, earlier: Build, hand: Hand) -> Build:
    """Go back to `earlier`, keeping the whole history and adding what was undone: what stands since `earlier`."""
    return _turned(replace(earlier, history=now.history), "undone", edits_since(now, earlier), hand)


def redo(now: Build, later: Build, hand: Hand) -> Build:
    """Bring `later` back, from which `now` came by `undo`, keeping the whole history and adding what was redone."""
    return _turned(replace(later, history=now.history), "redone", edits_since(now, later, "redone"), hand)


def with_entries(build: Build, entries: Mapping[str, Entry]) -> Build:
    """Replace all entries at once (a template start, an import)."""
    return replace(build, entries=dict(entries))
