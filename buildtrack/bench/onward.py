"""What comes next: an item that is asked for, a check that wants mending, or the field a check waits for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from buildtrack.bench.desk import Desk
from buildtrack.bench.due import due
from buildtrack.bench.faults import faults_text
from buildtrack.bench.plain import listed
from buildtrack.checks.ruling import Result
from buildtrack.model.checklist import Column, Item, Step
from buildtrack.workings.asked import visible_columns
from buildtrack.workings.status import ItemState
from buildtrack.workings.values import Missing

NOTHING_LEFT = "nothing is left to do: review (F5), record (F9)"


@dataclass(frozen=True, slots=True)
class Onward:
    """The next thing to do, and where."""

    text: str
    item: str = ""
    """The item to go to."""
    check: str = ""
    """The check to look at, where nothing is asked for any more."""
    field: tuple[str, str] | None = None
    """Row and column of a table that a check waits for."""

    @property
    def key(self) -> str:
        """What a line that says it stands for."""
        if self.field:
            return f"field:{self.item}:{self.field[0]}:{self.field[1]}"
        return f"check:{self.check}" if self.check else f"item:{self.item}" if self.item else "next"


def onward(desk: Desk, current: Item | None = None) -> Onward:
    """The next thing to do, always named; told shorter where it is in the step of the current item."""
    if desk.build.ended is not None:
        return Onward("this project was ended early; take it up again from the palette")
    if desk.status.next_item:
        return _asked(desk, desk.status.next_item, current)
    held = next((s for s in desk.status.steps if s.state == "held"), None)
    if held is not None and held.held_by:
        names = listed([desk.checklist.items[n].label for n in held.held_by])
        return Onward(f"settle the hold points: {names}", held.held_by[0])
    fault = next_fault(desk)
    if fault is not None and fault.severity == "stop":
        return _mend(fault)
    if waiting := lacking(desk):  # before the cautions: what is missing leaves the verdict incomplete
        return waiting[0]
    if fault is not None:
        return _mend(fault)
    late = next((each for each in due(desk.judged) if each.item and each.on <= desk.judged.now.date()), None)
    return Onward(late.what, late.item) if late is not None else Onward(NOTHING_LEFT)


def _mend(fault: Result) -> Onward:
    untold = fault.severity == "stop" and fault.outcome == "unsure"
    does = "settle what cannot be told" if untold else f"mend the {fault.severity}"
    return Onward(f"{does}: {fault.title}", check=fault.check)


def lacking(desk: Desk) -> list[Onward]:
    """What stops and cautions wait for that leaves the verdict incomplete, the gravest first, each place once.

    Where no field can be told, the check itself is named: it may come with a field that others wait for.
    """
    reasons = desk.judged.assessment.reasons
    told = [r for r in _waiting(desk) if f"{r.severity} not settled: {r.title}: {r.message}" in reasons]
    fields = [field for r in told if (field := wanted(desk, r)) is not None]
    found = fields or [_settle(r) for r in told]
    once: dict[str, Onward] = {}
    for each in found:
        once.setdefault(each.key, each)
    return list(once.values())


def _settle(result: Result) -> Onward:
    return Onward(f"settle the {result.severity}: {result.title} ({result.message})", check=result.check)


def lacking_in(desk: Desk, step: Step) -> list[Onward]:
    """Of these the ones that are entered in a step, or belong to a check of it."""
    items, checks = {i.id for i in step.items}, {r.check for r in _waiting(desk) if r.step == step.id}
    return [each for each in lacking(desk) if each.item in items or each.check in checks]


def lacking_text(found: list[Onward]) -> str:
    """How much is missing, in words: 1 table not full, 2 not judged."""
    tables = len({each.item for each in found if each.item})
    others = sum(not each.item for each in found)
    told = [f"{tables} table{'' if tables == 1 else 's'} not full"] if tables else []
    return ", ".join([*told, *([f"{others} not judged"] if others else [])])


def settled_text(desk: Desk, step: Step) -> str:
    """What is said when nothing more is asked for in a step: what a stop of it still waits for, or how to go on."""
    stops = (r for r in _waiting(desk) if r.severity == "stop" and r.step == step.id)
    waiting = next((found for r in stops if (found := wanted(desk, r)) is not None), None)
    mine = lacking_in(desk, step) if desk.step_state(step.id).state == "done" else []
    if waiting is None and mine and not desk.status.next_item:
        waiting = mine[0]
    if waiting is not None:
        return f"Still needed: {waiting.text}. x goes on."
    settled = f"Everything asked for in this step is settled{_against(desk, step)}."
    if step is desk.checklist.steps[-1]:
        return f"{settled} Next: {onward(desk).text}."
    return f"{settled} ] goes on to the next step."


def _against(desk: Desk, step: Step) -> str:
    """What stands against a step that is settled, with the keys that show and accept it."""
    faults = [r for r in desk.standing() if r.outcome in ("fail", "unsure") and r.step == step.id]
    if not faults:
        return ""
    cautions = any(r.severity == "caution" for r in faults)
    keys = "F2 shows them" if len(faults) > 1 else "F2 shows it"
    counted = faults_text(faults).replace(", ", " and ")
    return f", but {counted} against it: {keys}{', w accepts a caution' if cautions else ''}"


def _asked(desk: Desk, name: str, current: Item | None) -> Onward:
    item, state = desk.checklist.items[name], desk.item_state(name)
    if (place := _first_lacking(desk, item, state)) is not None:
        return place
    why = f" ({state.why})" if state.why else ""
    step = desk.checklist.step(item.step)
    there = "" if current is not None and current.step == item.step else f"{step.title if step else item.step}: "
    return Onward(f"{there}{item.label}{why}", name)


def _first_lacking(desk: Desk, item: Item, state: ItemState) -> Onward | None:
    """The first empty field below an answer that was given before it; None where that cannot be said."""
    for name in state.lacks:
        below, _, column = name.partition(".")
        table = desk.checklist.items[below]
        if (place := _empty_field(desk, table, column)) is not None:
            text = f"{table.label}, {place[0]}: {place[1].label}. '{item.label}' waits for it"
            return Onward(text, below, field=(place[0], place[1].id))
        if not column or not desk.build.entry(below).rows:
            return Onward(f"{table.label}. '{item.label}' waits for it", below)
    return None


def next_fault(desk: Desk) -> Result | None:
    """The gravest check that stands failed and is not accepted."""
    return next((r for r in desk.standing() if r.outcome in ("fail", "unsure")), None)


def _waiting(desk: Desk) -> Iterator[Result]:
    return (r for r in desk.standing() if r.outcome == "unknown")


def wanted(desk: Desk, result: Result) -> Onward | None:
    """Where that is entered which a check waits for; None where that cannot be said."""
    for name in _roots(desk, result.needs):
        item = desk.checklist.items.get(name.partition(".")[0])
        if item is None or desk.item_state(item.id).state == "not needed" or desk.build.entry(item.id).left_out:
            continue
        if item.kind != "table":
            return Onward(f"{item.label}: the {result.severity} '{result.title}' waits for it", item.id)
        if (place := _empty_field(desk, item, name.partition(".")[2])) is not None:
            row, column = place
            text = f"{item.label}, {row}: {column.label}. The {result.severity} '{result.title}' waits for it"
            return Onward(text, item.id, field=(row, column.id))
    return None


def _roots(desk: Desk, names: tuple[str, ...]) -> Iterator[str]:
    """Items and columns behind names; a working stands for the inputs it misses."""
    for name in names:
        value = desk.judged.assessment.sheet.value(name)
        if name.partition(".")[0] in desk.checklist.items:
            yield name
        elif isinstance(value, Missing):
            yield from sorted(value.inputs)


def _empty_field(desk: Desk, item: Item, column: str) -> tuple[str, Column] | None:
    """The first empty field of a column in a row that is kept."""
    visible = visible_columns(item, desk.build, desk.judged.assessment.sheet)
    found = next((c for c in visible if c.id == column), None)
    kept = (r for r in desk.build.entry(item.id).rows if r.text("decision") != "reject")
    row = next((r.id for r in kept if not r.text(column)), "")
    return (row, found) if found is not None and row else None
