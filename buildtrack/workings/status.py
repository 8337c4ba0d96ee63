"""Where the work stands: the state of every item and step, and what comes next."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from buildtrack import units
from buildtrack.model.build import Build, Entry, Event
from buildtrack.model.checklist import Checklist, Column, Item, Step
from buildtrack.model.instruments import meters_of_rows
from buildtrack.workings.asked import applies, visible_columns, wanted_rows
from buildtrack.workings.filled_first import lacking, lacking_words
from buildtrack.workings.graph import Sheet
from buildtrack.workings.inputs import answer, misfit, outside

GLYPHS = {
    "done": "✓", "open": "·", "partly": "◐", "left out": "–", "outside": "▲", "stale": "↻", "expired": "◷",
    "misfit": "✗", "not needed": " ", "held": "■",
}
"""One glyph per state; the word always stands beside it."""


@dataclass(frozen=True, slots=True)
class ItemState:
    """State of one item."""

    item: str
    state: str
    """done, open, partly, left out, outside, stale, expired, misfit or not needed."""
    why: str = ""
    lacks: tuple[str, ...] = ()
    """What it rests on and is still empty (item, or table.column), where it was answered before that."""

    @property
    def settled(self) -> bool:
        """Whether nothing more is asked of it."""
        return self.state in ("done", "left out", "not needed")


@dataclass(frozen=True, slots=True)
class StepState:
    """State of one step."""

    step: str
    state: str
    """done, open, partly or held."""
    held_by: tuple[str, ...]
    """Hold points of earlier steps that are not settled."""
    items: tuple[ItemState, ...]
    stopped_by: tuple[str, ...] = ()
    """Checks of earlier steps that are stops and fail."""

    @property
    def left(self) -> int:
        """How many items are not settled."""
        return sum(1 for i in self.items if not i.settled)


@dataclass(frozen=True, slots=True)
class Status:
    """State of the whole build."""

    steps: tuple[StepState, ...]
    items: Mapping[str, ItemState]
    next_item: str
    """The first item that is asked for and not settled, in a step that is not held; empty when there is none."""
    stops: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Stops that fail, by the step after which they hold the work."""

    def step(self, name: str) -> StepState:
        """State of the step called `name`."""
        return next(s for s in self.steps if s.step == name)


def _entry_state(item: Item, entry: Entry) -> ItemState:
    standing = entry.standing
    if not standing:
        return _unanswered(item, entry, "")
    for number, reading in enumerate(standing, 1):
        if sentence := misfit(item, reading.text):
            return ItemState(item.id, "misfit", f"reading {number}: {sentence}")
    if item.kind == "tick" and standing[-1].text == "no":
        return ItemState(item.id, "outside" if item.hold or item.need == "must" else "done", "answered no")
    if len(standing) < item.several:
        return ItemState(item.id, "partly", f"{len(standing)} of {item.several} readings")
    if item.kind == "reading" and not standing[-1].accepted:
        value = units.parse(standing[-1].text, item.dimension, item.unit).value
        if sentence := outside(item.plausible, value, item.unit, "is unusual"):
            return ItemState(item.id, "outside", sentence)
    return ItemState(item.id, "done")


def _unanswered(item: Item, entry: Entry, why: str) -> ItemState:
    """Open, or left out where that is allowed; what the file says of a must item does not count."""
    if entry.left_out is None:
        return ItemState(item.id, "open", why)
    if item.need == "must":
        return ItemState(item.id, "open", "it cannot be left out")
    if item.need == "expected" and not entry.left_out.reason.strip():
        return ItemState(item.id, "open", "leaving it out needs a reason")
    return ItemState(item.id, "left out", entry.left_out.reason)


def _table_state(item: Item, entry: Entry, build: Build, sheet: Sheet) -> ItemState:
    wanted = wanted_rows(item, sheet)
    if not entry.rows:
        return _unanswered(item, entry, f"{len(wanted)} rows" if wanted else "")
    missing = [name for name in wanted if entry.row(name) is None]
    if missing:
        return ItemState(item.id, "partly", f"{item.row_name} {', '.join(missing[:4])} missing")
    required = [c for c in visible_columns(item, build, sheet) if c.required]
    read = _read_on_a_day(required, visible_columns(item, build, sheet))
    for row in entry.rows:
        if row.text("decision") == "reject":
            continue  # a rejected cell need not be measured to the end
        lacking = [c.label for c in required if not row.text(c.id)]
        if lacking:
            return ItemState(item.id, "partly", f"{item.row_name} {row.id}: {', '.join(lacking[:3])} missing")
        if read and not any(row.text(name) for name in read):
            return ItemState(item.id, "partly", f"{item.row_name} {row.id}: nothing was read")
    used = {row.text("meter").strip().casefold() for row in entry.rows}
    unread = [meter for meter in meters_of_rows(item, build) if meter.casefold() not in used]
    if unread:
        return ItemState(item.id, "partly", f"not read yet with: {', '.join(unread[:4])}")
    return ItemState(item.id, "done")


BESIDE = ("count", "temperature")
"""Readings that only stand beside others."""


def _read_on_a_day(required: Sequence[Column], visible: Sequence[Column]) -> tuple[str, ...]:
    """Columns of which each row needs one, where nothing but its day is required: a day alone says nothing."""
    if not required or any(c.kind != "date" for c in required):
        return ()
    return tuple(c.id for c in visible if c.kind == "reading" and c.dimension not in BESIDE)


def last_taken(entry: Entry) -> datetime | None:
    """When an item was last measured."""
    times = [r.taken for r in entry.standing if r.taken]
    times += [c.taken for row in entry.rows for c in row.cells.values() if c.taken]
    return max(times, default=None)


def measured_at(item: Item, entry: Entry) -> datetime | None:
    """When the oldest reading was taken that an item now rests on: re-taking one of several makes no other fresh."""
    if item.kind == "table":
        asked = [c.id for c in item.columns if c.required and c.kind == "reading"]
        asked = asked or [c.id for c in item.columns if c.kind == "reading"]
        times = [cell.taken for row in entry.rows for name in asked if (cell := row.cells.get(name)) and cell.taken]
    else:
        times = [r.taken for r in entry.standing[-item.several:] if r.taken]
    return min(times, default=None)


CHANGES = ("changed", "withdrawn", "row deleted")
TURNED_BACK = ("undone", "redone")
_TOLD = frozenset((*CHANGES, *TURNED_BACK))


def last_changes(history: tuple[Event, ...]) -> Mapping[str, datetime]:
    """When each item was last changed after it had first been answered; what was undone does not count."""
    told = [e for e in history if e.what in _TOLD]  # one look at a thousand events at every key
    if all(e.what not in TURNED_BACK for e in told):
        return _latest(e for e in told if e.at and e.item)
    standing: dict[str, list[Event]] = {}
    undone: dict[str, list[Event]] = {}
    for event in history:
        if not event.at or not event.item:
            continue
        stands, gone = standing.setdefault(event.item, []), undone.setdefault(event.item, [])
        if event.what == "undone":
            gone += [stands.pop()] if stands else []
        elif event.what == "redone":
            stands.append(replace(gone.pop(), at=event.at) if gone else event)
        else:
            stands.append(event)
            gone.clear()
    return _latest(e for events in standing.values() for e in events if e.what in CHANGES)


def _latest(events: Iterable[Event]) -> Mapping[str, datetime]:
    """The latest of these events by item."""
    found: dict[str, datetime] = {}
    for event in events:
        last = found.get(event.item)
        if event.at is not None and (last is None or event.at > last):
            found[event.item] = event.at
    return found


def _aged(item: Item, taken: datetime | None, build: Build, now: datetime) -> ItemState | None:
    if taken is None or item.expires_s is None or build.ended is not None:
        return None
    end = now
    if item.expires_before:
        later = last_taken(build.entry(item.expires_before))
        if answer(build, item.expires_before) == "yes" and later:
            end = later
    age = end - taken
    if age <= timedelta(seconds=item.expires_s):
        return None
    allowed = units.show(item.expires_s, "h" if item.expires_s < 172800 else "d", digits=3)
    return ItemState(item.id, "expired", f"measured {age} before it was relied on; it holds for {allowed}")


def _rested(item: Item, taken: datetime | None, changed: Mapping[str, datetime],
            checklist: Checklist) -> ItemState | None:
    if taken is None:
        return None
    for name in item.rests_on:
        when = changed.get(name)
        if when and when > taken:
            label = checklist.items[name].label if name in checklist.items else name
            return ItemState(item.id, "stale", f"'{label}' was changed after this was measured: measure again")
    return None


@dataclass(frozen=True, slots=True)
class _Kept:
    """What an entry alone says, worked out once: entries are never changed."""

    item: Item
    entry: Entry
    state: ItemState | None
    """None for a table, whose rows and columns depend on other answers."""
    taken: datetime | None
    """When the oldest reading was taken that the item rests on, where anything depends on it."""


KEPT = "states of entries"
"""Where the sheet's memory keeps them, by item."""


def _kept(item: Item, entry: Entry, sheet: Sheet) -> _Kept:
    kept: dict[str, _Kept] = sheet.memory.setdefault(KEPT, {})
    found = kept.get(item.id)
    if found is None or found.entry is not entry or found.item is not item:
        state = None if item.kind == "table" else _entry_state(item, entry)
        dated = bool(item.rests_on) or item.expires_s is not None
        found = kept[item.id] = _Kept(item, entry, state, measured_at(item, entry) if dated else None)
    return found


def item_state(item: Item, build: Build, checklist: Checklist, sheet: Sheet, now: datetime,
               changed: Mapping[str, datetime]) -> ItemState:
    """State of one item."""
    if item.only_if and not applies(item.only_if, build, sheet):
        return ItemState(item.id, "not needed")
    entry = build.entry(item.id)
    kept = _kept(item, entry, sheet)
    state = kept.state or _table_state(item, entry, build, sheet)
    if state.state != "done":
        return state
    if lacks := lacking(item, build, checklist, sheet):
        why = f"answered before its readings: {lacking_words(lacks, checklist)}"
        return ItemState(item.id, "partly", why, tuple(each.name for each in lacks))
    return _rested(item, kept.taken, changed, checklist) or _aged(item, kept.taken, build, now) or state


def _step_state(step: Step, states: tuple[ItemState, ...], held_by: tuple[str, ...], stopped_by: tuple[str, ...],
                checklist: Checklist) -> StepState:
    asked = [s for s in states if s.state != "not needed"]
    open_needed = [s for s in asked if not s.settled and checklist.items[s.item].need != "optional"]
    if held_by or stopped_by:
        word = "held"
    elif not open_needed:
        word = "done"
    else:
        word = "partly" if any(s.state not in ("open",) for s in asked) else "open"
    return StepState(step.id, word, held_by, states, stopped_by)


def why_held(item: Item, build: Build, checklist: Checklist, status: Status) -> str:
    """Why nothing may be entered for an item yet; empty where it may, and where an answer there is only corrected."""
    step, entry = status.step(item.step), build.entry(item.id)
    if entry.standing or entry.rows or (item.id in SEEN_IN_USE and _in_use(build, checklist, item.step)):
        return ""
    return held_until(step, checklist)


SEEN_IN_USE = ("rechecks", "incidents")
"""What is seen of a pack in use may always be written: a warning that is refused protects nobody."""


def _in_use(build: Build, checklist: Checklist, step: str) -> bool:
    """Whether the work came as far as the step before this one."""
    place = next(n for n, s in enumerate(checklist.steps) if s.id == step)
    before = checklist.steps[place - 1].items if place else ()
    return any(build.entry(i.id).standing or build.entry(i.id).rows for i in before)


def held_until(step: StepState, checklist: Checklist) -> str:
    """Until what a step is held, in a sentence; empty where it is not."""
    if step.state != "held":
        return ""
    held = _several([f"'{checklist.items[name].label}'" for name in step.held_by], "is", "are")
    lasting = [name for name in step.stopped_by if checklist.check[name].ends]
    mended = [name for name in step.stopped_by if name not in lasting]
    stopped = _several([f"'{checklist.check[name].title}'" for name in mended], "is", "are")
    until = [f"{held} settled"] if held else []
    until += [f"the stop{'s' if len(mended) > 1 else ''} {stopped} mended"] if stopped else []
    told = [f"this step is held until {', and until '.join(until)}" if until else "this step is held"]
    rules = (checklist.check[name] for name in lasting[:2])
    told += [f"The stop '{rule.title}' stands until {rule.ends}" for rule in rules]
    return ". ".join(told)


def _several(names: list[str], one: str, more: str) -> str:
    """The first of some names, how many there are beside them, and their verb; empty where there are none."""
    beside = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return f"{', '.join(names[:3])}{beside} {one if len(names) == 1 else more}" if names else ""


def _next(steps: list[StepState], checklist: Checklist) -> str:
    waiting = (state.item for step in steps if step.state != "held" for state in step.items
               if not state.settled and checklist.items[state.item].need != "optional")
    return next(waiting, "")


def _states(step: Step, build: Build, checklist: Checklist, sheet: Sheet, now: datetime,
            changed: Mapping[str, datetime]) -> tuple[ItemState, ...]:
    return tuple(item_state(i, build, checklist, sheet, now, changed) for i in step.items)


def _joined(found: Mapping[str, tuple[ItemState, ...]], checklist: Checklist,
            stops: Mapping[str, tuple[str, ...]]) -> Status:
    """The status of a build from the states of the items of every step; stops: by step, those that fail."""
    steps: list[StepState] = []
    holding: list[str] = []
    stopping: list[str] = []
    for step in checklist.steps:
        states = found[step.id]
        steps.append(_step_state(step, states, tuple(holding), tuple(stopping), checklist))
        holding.extend(s.item for s in states if checklist.items[s.item].hold and not s.settled)
        stopping.extend(stops.get(step.id, ()))
    items = {s.item: s for states in found.values() for s in states}
    return Status(tuple(steps), items, _next(steps, checklist), stops)


def stopped(status: Status, stops: Mapping[str, tuple[str, ...]], checklist: Checklist) -> Status:
    """The status with the stops that fail: what follows the step a stop rests on is held until it is mended.

    stops: checks by the step after which they hold. That step and those before stay open, and an answer already given
    in a later one may be corrected, so that whatever a stop rests on can be entered.
    """
    if stops == status.stops:
        return status
    return _joined({s.step: s.items for s in status.steps}, checklist, stops)


def status_of(build: Build, checklist: Checklist, sheet: Sheet, now: datetime) -> Status:
    """State of every item and step of a build at the moment `now`."""
    changed = last_changes(build.history)
    states = {s.id: _states(s, build, checklist, sheet, now, changed) for s in checklist.steps}
    return _joined(states, checklist, {})


def status_meanwhile(before: Status, asked: Collection[str], build: Build, checklist: Checklist, sheet: Sheet,
                     now: datetime) -> Status:
    """The status right after an edit, until all is computed anew: only the steps `asked` are looked at again.

    sheet: that of before the edit; what depends on a working is still as it was.
    """
    changed = last_changes(build.history)
    states = {s.step: s.items for s in before.steps}
    again = {s.id: _states(s, build, checklist, sheet, now, changed) for s in checklist.steps if s.id in asked}
    return _joined({**states, **again}, checklist, before.stops)
