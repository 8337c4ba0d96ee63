"""What the bench says about items, steps and values: one line each, no layout, no screen."""

from __future__ import annotations

import statistics

from buildtrack import units
from buildtrack.bench.desk import Desk
from buildtrack.bench.plain import listed, plain
from buildtrack.checks.ruling import Result
from buildtrack.model.build import Entry
from buildtrack.model.checklist import Column, Item, Option, Span, Step
from buildtrack.model.instruments import instruments
from buildtrack.workings.explain import show_value
from buildtrack.workings.status import GLYPHS, wanted_rows
from buildtrack.workings.values import Known

STEP_WORDS = {"done": "done", "open": "open", "partly": "begun", "held": "held"}
SEVERITY_GLYPHS = {"stop": "✗", "caution": "▲", "note": "○"}
VERDICT_GLYPHS = {
    "incomplete": "◐",
    "not cleared": "✗",
    "cleared with conditions": "✓",
    "cleared": "✓",
    "ended early": "■",
}
KINDS = {
    "reading": "reading",
    "choice": "choice",
    "text": "text",
    "tick": "yes or no",
    "table": "table",
    "photo": "photo",
    "file": "file",
}


def glyph(state: str) -> str:
    """The sign of a state; the word always stands beside it."""
    return GLYPHS.get(state, "·")


def option_label(options: tuple[Option, ...], name: str) -> str:
    """Label of an option, or the text itself where it is none."""
    return next((o.label for o in options if o.id == name), name)


def answer_text(item: Item, entry: Entry) -> str:
    """The answer of an item, short, for the list."""
    if item.kind == "table":
        return f"{len(entry.rows)} {item.row_name}{'s' if len(entry.rows) != 1 else ''}" if entry.rows else ""
    standing = entry.standing
    if not standing:
        return ""
    last = plain(standing[-1].text)
    if item.kind == "choice":
        return option_label(item.options, last)
    if item.kind == "reading":
        return with_unit(last, item.unit)
    return last


def with_unit(text: str, unit: str) -> str:
    """Typed text with the unit behind it where only a number was typed."""
    return f"{text} {unit}" if unit and text[-1:] in "0123456789.," else text


def combined_text(item: Item, desk: Desk) -> str:
    """Mean, lowest or highest of several readings with their spread; empty where there is only one."""
    standing = desk.build.entry(item.id).standing
    if item.kind != "reading" or len(standing) < 2 or item.use in ("last", "first"):
        return ""
    value = desk.judged.assessment.sheet.value(item.id)
    if not isinstance(value, Known):
        return ""
    numbers = [units.parse(r.text, item.dimension, item.unit).value for r in standing]
    shown = f"{item.use} {show_value(value, item.unit)}"
    low, high = units.show(min(numbers), item.unit), units.show(max(numbers), item.unit)
    deviation = f", scatter {units.show(statistics.stdev(numbers), item.unit, digits=2)}" if len(numbers) > 2 else ""
    return f"{shown}, from {low} to {high}{deviation}"


def span_text(span: Span, unit: str) -> str:
    """A range for people: 2.5 V to 4.25 V."""
    tail = f" {unit}" if unit else ""
    low, high = (f"{units.in_unit(v, unit):.6g}" if v is not None else "" for v in (span.low, span.high))
    if low and high:
        return f"{low} to {high}{tail}"
    return f"{low}{tail} or more" if low else f"{high}{tail} or less" if high else ""


def usual_text(place: Item | Column) -> str:
    """What is usual for a field: its range; empty where none is given."""
    usual = span_text(place.plausible, place.unit)
    return f"usually {usual}" if usual else ""


def readings_text(item: Item, desk: Desk) -> str:
    """Every standing reading as typed, with how many are asked for."""
    standing = desk.build.entry(item.id).standing
    if item.several > 1:
        typed = "   ".join(plain(r.text) for r in standing[-8:])
        return f"{len(standing)} of {item.several} readings   {typed}".rstrip()
    return ""


def last_text(item: Item, desk: Desk) -> str:
    """The last answer with when and with what it was taken."""
    entry = desk.build.entry(item.id)
    if not entry.standing:
        return f"left out: {plain(entry.left_out.reason)}" if entry.left_out else ""
    last = entry.standing[-1]
    parts = [f"now {answer_text(item, entry)}"]
    if last.instrument:
        parts.append(f"with {plain(last.instrument)}")
    if last.value_class != "measured":
        parts.append(last.value_class)
    if last.taken:
        parts.append(last.taken.strftime("%-d %b %H:%M"))
    if last.note:
        parts.append(f"remark: {plain(last.note)}")
    return " · ".join(parts)


def expected_text(item: Item, desk: Desk) -> str:
    """What the past build showed for the same item; never a reading."""
    entry = desk.build.entry(item.id)
    if entry.expected:
        return f"in the past build: {plain(entry.expected)}"
    if entry.expected_rows:
        return f"in the past build: {len(entry.expected_rows)} {item.row_name}s"
    return ""


def table_text(item: Item, desk: Desk) -> str:
    """How far a table is filled."""
    entry, sheet = desk.build.entry(item.id), desk.judged.assessment.sheet
    wanted = wanted_rows(item, sheet)
    have = len(entry.rows)
    rejected = sum(1 for r in entry.rows if r.text("decision") == "reject")
    many = f"{item.row_name}{'' if have == 1 and not wanted else 's'}"
    parts = [f"{have} of {len(wanted)} {many}" if wanted else f"{have} {many}"]
    if rejected:
        parts.append(f"{rejected} rejected")
    parts.append(f"columns: {listed([c.label for c in item.columns], 5)}")
    return " · ".join(parts)


def instrument_names(desk: Desk, dimension: str) -> list[tuple[str, str]]:
    """The instruments of the build that measure a dimension: id and words."""
    found = []
    for name, meter in instruments(desk.build).items():
        if meter.quantity == dimension:
            row = desk.build.entry("instruments").row(name)
            reach = f", {plain(row.text('range'))} range" if row and row.text("range") else ""
            found.append((name, f"{name}  {plain(meter.meter)}{reach}"))
    return found


def last_instrument(desk: Desk, step: Step, dimension: str) -> str:
    """The instrument last used in a step for a dimension: chosen once, it stays chosen."""
    taken = [
        (r.taken, r.instrument)
        for i in step.items
        if i.dimension == dimension
        for r in desk.build.entry(i.id).standing
        if r.instrument
    ]
    for item in step.items:
        columns = {c.id for c in item.columns if c.dimension == dimension}
        taken += [
            (cell.taken, cell.instrument)
            for row in desk.build.entry(item.id).rows
            for name, cell in row.cells.items()
            if name in columns and cell.instrument
        ]
    dated = [(when, name) for when, name in taken if when is not None]
    return max(dated)[1] if dated else taken[-1][1] if taken else ""


def next_fault(desk: Desk) -> Result | None:
    """The gravest check that stands failed and is not accepted."""
    return next(
        (
            r
            for r in desk.judged.assessment.findings
            if r.outcome in ("fail", "unsure") and r.severity != "note" and r.waiver is None
        ),
        None,
    )


def next_text(desk: Desk, current: Item | None) -> str:
    """The next thing to do, always named."""
    name = desk.status.next_item
    if desk.build.ended is not None:
        return "this project was ended early; take it up again from the palette"
    if not name:
        held = next((s for s in desk.status.steps if s.state == "held"), None)
        if held is None and (result := next_fault(desk)) is not None:
            return f"mend the {result.severity}: {result.title}"
        if held is None:
            return "nothing is left to do: read the review (F5) and export the record (F9)"
        return "settle the hold points: " + listed([desk.checklist.items[n].label for n in held.held_by])
    item = desk.checklist.items[name]
    state = desk.item_state(name)
    why = f" ({state.why})" if state.why else ""
    if current is not None and current.step == item.step:
        return f"{item.label}{why}"
    step = desk.checklist.step(item.step)
    return f"{step.title if step else item.step}: {item.label}{why}"
