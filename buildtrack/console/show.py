"""`buildtrack show`: the whole build line by line, for scripts and screen readers."""

from __future__ import annotations

import argparse

from buildtrack.checks.ruling import Result
from buildtrack.console.common import load, plain, wrapped
from buildtrack.console.judge import finding_text
from buildtrack.judging import Judged
from buildtrack.model.build import Entry
from buildtrack.model.checklist import Column, Item, Step
from buildtrack.model.instruments import taken_with
from buildtrack.units import clip, in_currency
from buildtrack.workings.asked import visible_columns
from buildtrack.workings.explain import explain
from buildtrack.workings.inputs import counting


def show(options: argparse.Namespace) -> int:
    """Print the items, workings and checks of a build, step by step."""
    judged = load(options.file)
    steps = [s for s in judged.checklist.steps if options.step in (None, s.id)]
    if not steps:
        raise ValueError(f"there is no step '{clip(options.step)}'; there are: "
                         f"{', '.join(s.id for s in judged.checklist.steps)}")
    print(f"{plain(judged.build.title)}\nverdict so far: {judged.assessment.verdict}")
    if judged.build.notice:
        print(plain(judged.build.notice))
    for number, step in enumerate(judged.checklist.steps, 1):
        if step in steps:
            _step(judged, step, number)
    return 0


def _step(judged: Judged, step: Step, number: int) -> None:
    state = judged.assessment.status.step(step.id)
    print(f"\n{number}. {step.title} [{step.id}]: {state.state}")
    if state.held_by:
        names = ", ".join(judged.checklist.items[i].label for i in state.held_by[:3])
        print(wrapped(f"held until settled: {names}{' and more' if len(state.held_by) > 3 else ''}", "   ", "   "))
    if state.stopped_by:
        stops = ", ".join(judged.checklist.check[c].title for c in state.stopped_by[:3])
        print(wrapped(f"held by a stop: {stops}{' and more' if len(state.stopped_by) > 3 else ''}", "   ", "   "))
    for item in step.items:
        item_state = judged.assessment.status.items[item.id]
        if item_state.state != "not needed":
            _item(judged, item, item_state.state, item_state.why)
    for name in step.workings:
        if name in judged.assessment.sheet.workings:
            _working(judged, name)
    for result in judged.assessment.results:
        if result.step == step.id:
            _check(result)


def _item(judged: Judged, item: Item, state: str, why: str) -> None:
    entry = judged.build.entry(item.id)
    hold = " (hold point)" if item.hold else ""
    print(wrapped(f"{item.label}{hold} [{item.id}]: {state}{': ' + plain(why) if why else ''}", "      ", "   * "))
    if item.kind == "table":
        columns = visible_columns(item, judged.build, judged.assessment.sheet)
        print(wrapped(f"columns: {', '.join(_column_name(c) for c in columns)}", "        ", "      "))
    for line in entry_lines(judged, item, entry):
        print(wrapped(line, "        ", "      "))


def _column_name(column: Column) -> str:
    """What --column takes, and in brackets what the screen calls it, where that is another word."""
    head = column.head or column.label
    return column.id if head.casefold() == column.id.replace("_", " ").casefold() else f"{column.id} ({head})"


def entry_lines(judged: Judged, item: Item, entry: Entry) -> list[str]:
    """What was entered for an item, a line a reading or a row."""
    lines, made_of = [], counting(item, entry)
    for reading in entry.readings:
        when = reading.taken.strftime("%Y-%m-%d %H:%M") if reading.taken else ""
        meter = taken_with(item, reading)
        marks = [m for m in (when, f"with {meter}" if meter else "", reading.note,
                             f"columns set by hand: {reading.columns}" if reading.columns else "",
                             reading.value_class if reading.value_class != "measured" else "",
                             f"withdrawn: {reading.withdrawn}" if reading.withdrawn else "",
                             "" if reading.withdrawn or reading in made_of else "replaced",
                             f"accepted: {reading.accepted}" if reading.accepted else "") if m]
        lines.append(plain(f"{reading.text}" + (f" ({'; '.join(marks)})" if marks else "")))
    columns = visible_columns(item, judged.build, judged.assessment.sheet)
    for row in entry.rows:
        fields = [f"{c.id} {row.text(c.id)}" for c in columns if row.text(c.id)]
        lines.append(plain(f"{row.id}: {', '.join(fields) or 'empty'}"))
    if entry.expected:
        lines.append(plain(f"expected from the past build: {entry.expected}"))
    return lines


def _working(judged: Judged, name: str) -> None:
    told = explain(name, judged.assessment.sheet, judged.checklist)
    shown, substituted = (in_currency(plain(t), plain(judged.build.currency)) for t in (told.shown, told.substituted))
    print(wrapped(f"{told.label}: {shown}", "      ", "   = "))
    if told.state == "known":
        if substituted:
            print(wrapped(f"{told.formula} = {substituted} [{told.source}]", "        ", "      "))
        head, rows = getattr(told.value, "head", None), getattr(told.value, "lines", None)
        if head and rows:
            print_table(head, rows)


def print_table(head: tuple[str, ...], rows: tuple[tuple[str, ...], ...]) -> None:
    """A table in aligned columns."""
    every = [tuple(head), *rows]
    widths = [max(len(str(row[i])) for row in every if i < len(row)) for i in range(len(head))]
    for row in every:
        print("        " + "  ".join(plain(str(cell)).ljust(w) for cell, w in zip(row, widths, strict=False)).rstrip())


def _check(result: Result) -> None:
    if result.outcome == "pass":
        print(wrapped(f"{result.headline} ({result.severity})", "      ", "   + " if not result.idle else "   . "))
    else:
        print(finding_text(result).replace("  - ", "   ! ", 1))
