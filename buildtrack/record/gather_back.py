"""The back of the record: findings, waivers, what was left out, changed or is missing, history, files."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from buildtrack.checks.ruling import Result
from buildtrack.judging import Judged
from buildtrack.model.build import Event
from buildtrack.record.gridding import grid
from buildtrack.record.minus import below_zero
from buildtrack.record.pages import FindingGroup, FindingLine, Grid, History
from buildtrack.record.shorten import WHERE
from buildtrack.record.text import day, line, moment, plain, sentence, tied
from buildtrack.workings.explain import explain
from buildtrack.workings.inputs import problems
from buildtrack.workings.status import StepState

EXPLAINED = {"stop": "A stop that fails cannot be accepted: the pack is not cleared while it stands.",
             "caution": "A caution is either mended or accepted with a written reason.",
             "note": "A note does not change the verdict."}
CHANGES_PRINTED = LINES_PRINTED = 120
LONGEST_MESSAGE = 900
_ARTICLES = ("a", "an", "the", "no")
"""Words that begin a sentence of ours, whatever a row is called."""
_PLAIN_ENTRIES = ("entered", "row added")


def _step_title(judged: Judged, step: str) -> str:
    found = judged.checklist.step(step)
    return line(found.title) if found else line(step)


def _finding(judged: Judged, result: Result) -> FindingLine:
    waiver = result.waiver
    waived = ""
    if waiver is not None:
        who = ", ".join(x for x in (line(waiver.by), day(waiver.at)) if x)
        waived = f"Accepted{f' ({who})' if who else ''}: {line(waiver.reason)}"
    message = below_zero(judged, line(result.message, LONGEST_MESSAGE))
    return FindingLine(line(result.title), result.severity, result.outcome, _step_title(judged, result.step),
                       tied(_begun(judged, message)), tied(line(result.advice)), result.mistakes, waived)


def _begun(judged: Judged, message: str) -> str:
    """A message that begins with a capital; one that begins with the name of a row keeps it as it was typed."""
    rows = {row.id.casefold() for entry in judged.build.entries.values() for row in entry.rows}
    first = message.split(" ", 1)[0].rstrip(",:;").casefold()
    return message if first in rows and first not in _ARTICLES else sentence(message)


def findings(judged: Judged) -> tuple[FindingGroup, ...]:
    """The checks that did not pass, by severity."""
    return tuple(FindingGroup(s, EXPLAINED[s], tuple(_finding(judged, r) for r in judged.assessment.findings
                                                     if r.severity == s)) for s in EXPLAINED)


def passed(judged: Judged) -> tuple[str, ...]:
    """Titles of the checks that passed, where there was something to look at."""
    return tuple(line(r.title) for r in judged.assessment.results if r.outcome == "pass" and not r.idle)


def idle(judged: Judged) -> tuple[str, ...]:
    """Titles of the checks without anything to look at yet: they stand against nothing and have passed nothing."""
    return tuple(line(r.title) for r in judged.assessment.results if r.idle)


def _grid(title: str, head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> Grid | None:
    left = len(rows) - LINES_PRINTED
    notes = (f"{left} more are not printed; {WHERE} holds them, and the program lists them.",) if left > 0 else ()
    return grid(title, head, rows[:LINES_PRINTED], (), notes) if rows else None


def waivers(judged: Judged) -> Grid | None:
    """Cautions that were accepted, by whom and why; also those that are no longer needed."""
    failing = {r.check for r in judged.assessment.findings}
    rows = []
    for w in judged.build.waivers:
        rule = judged.checklist.check.get(w.check)
        state = "in force" if w.check in failing else "no longer needed: the check passes or does not apply"
        rows.append((line(rule.title if rule else w.check), line(w.reason), line(w.by), day(w.at), state))
    return _grid("", ("Caution", "Reason", "By", "Day", "State"), rows)


def left_out(judged: Judged) -> Grid | None:
    """Items that were left out, with the reason."""
    rows = [(line(i.label), i.need, line(e.left_out.reason) or "none given", line(e.left_out.by), day(e.left_out.at))
            for i in judged.checklist.all_items() if (e := judged.build.entry(i.id)).left_out]
    return _grid("", ("Item", "It is", "Reason", "By", "Day"), rows)


def policy(judged: Judged) -> Grid | None:
    """Limits that were changed from their default."""
    rows = []
    for name, change in judged.build.policy.items():
        known = judged.checklist.policy.get(name)
        rows.append((line(known.label if known else name), tied(known.text) if known else "",
                     tied(line(change.text, 60)), line(change.reason),
                     ", ".join(x for x in (line(change.by), day(change.at)) if x)))
    return _grid("", ("Limit", "Default", "Changed to", "Reason", "By"), rows)


def missing(judged: Judged) -> Grid | None:
    """Items that are not settled, and texts that do not fit their place."""
    rows = [row for step in judged.assessment.status.steps for row in _missing_of(judged, step)]
    for step_id, name, problem in problems(judged.build, judged.checklist):
        known = judged.checklist.items.get(name)
        label = line(known.label if known else name)
        rows.append((_step_title(judged, step_id), "", "does not fit", f"{label}: {line(problem, 300)}"))
    return _grid("", ("Step", "It is", "State", "Items"), rows)


def _missing_of(judged: Judged, step: StepState) -> list[tuple[str, ...]]:
    """What of one step is not settled: a line for each item begun or in doubt, the open ones together by their need."""
    title = _step_title(judged, step.step)
    rows: list[tuple[str, ...]] = []
    waiting: dict[str, list[str]] = {}
    for state in step.items:
        item = judged.checklist.items[state.item]
        if state.settled or item.need == "optional":
            continue
        need = item.need + (", hold point" if item.hold else "")
        if state.state == "open" and not judged.build.entry(item.id).readings:
            why = f" ({line(state.why, 300)})" if state.why else ""
            waiting.setdefault(need, []).append(line(item.label) + why)
        else:
            why = f": {line(state.why, 300)}" if state.why else ""
            rows.append((title, need, state.state, line(item.label) + why))
    return rows + [(title, need, "open", "; ".join(waiting[need])) for need in sorted(waiting, key=_by_need)]


def _by_need(need: str) -> int:
    """Hold points first, then what must be there, then what is expected."""
    return 0 if "hold point" in need else 1 if need == "must" else 2


def not_computed(judged: Judged) -> Grid | None:
    """Workings without a value, those that need the same together."""
    found: dict[str, list[str]] = {}
    for name in judged.assessment.sheet.workings:
        told = explain(name, judged.assessment.sheet, judged.checklist)
        if told.state != "known":
            found.setdefault(line(told.shown, 300), []).append(line(told.label))
    return _grid("", ("Why there is no value", "Workings"), [(why, "; ".join(names)) for why, names in found.items()])


def _where(judged: Judged, event: Event) -> str:
    item = judged.checklist.items.get(event.item)
    check = judged.checklist.check.get(event.item)
    limit = judged.checklist.policy.get(event.item)
    name = item.label if item else check.title if check else limit.label if limit else event.item
    column = item.column(event.column) if item else None
    parts = (line(name, 120), line(event.row, 40), line(column.label if column else event.column, 80))
    return ", ".join(p for p in parts if p)


def _from_to(event: Event) -> str:
    before, after = line(event.before, 200), line(event.after, 200)
    return tied(f"{before} → {after}" if before and after else before or after)


Change = tuple[str, str, str, str, str]
"""When, what, where, before and after, reason and name."""
FOLDED = 4
"""So many like lines of one minute are told in one: the file attached to the record has each. Chosen."""


def history(judged: Judged) -> History:
    """First entries counted by day; every change, waiver, leaving-out and review in full, like ones in one line."""
    counts: Counter[str] = Counter()
    steps: dict[str, dict[str, None]] = {}
    events = []
    for event in judged.build.history:
        if event.what not in _PLAIN_ENTRIES:
            events.append(event)
            continue
        when = day(event.at) or "undated"
        counts[when] += 1
        if event.step:
            steps.setdefault(when, {})[_step_title(judged, event.step)] = None
    changes = [c for _, alike in groupby(events, _occasion) for c in _changes(judged, list(alike))]
    days = tuple((d, str(n), line(", ".join(steps.get(d, {})), 400)) for d, n in counts.items())
    return History(days[-LINES_PRINTED:], tuple(changes[-CHANGES_PRINTED:]), max(0, len(changes) - CHANGES_PRINTED))


def _occasion(event: Event) -> tuple[str, ...]:
    return moment(event.at), event.what, event.item, event.reason, event.by


def _changes(judged: Judged, events: list[Event]) -> Iterator[Change]:
    """The lines of changes that were made to one item on one occasion."""
    rows = list(dict.fromkeys(e.row for e in events if e.row))
    if events[0].what == "undone" and rows and len(events) >= FOLDED:
        # what a person took back at once, such as an import of the wrong columns: no value that ever counted
        yield _change(judged, events[0], replace(events[0], row=_few_rows(rows), column=""), f"{len(events)} fields")
        return
    for _, alike in groupby(events, lambda e: (e.column, e.before, e.after)):
        same = list(alike)
        if len(same) >= FOLDED and all(e.row for e in same):
            yield _change(judged, same[0], replace(same[0], row=_few_rows([e.row for e in same])))
        else:
            yield from (_change(judged, e, e) for e in same)


def _few_rows(rows: Sequence[str]) -> str:
    return ", ".join(rows) if len(rows) < FOLDED else f"{len(rows)} rows {rows[0]} to {rows[-1]}"


def _change(judged: Judged, event: Event, told: Event, values: str = "") -> Change:
    why = "; ".join(x for x in (line(event.reason, 400), line(event.by, 80)) if x)
    return moment(event.at), line(event.what), _where(judged, told), values or _from_to(event), why


def cautions(judged: Judged) -> tuple[str, ...]:
    """What is said about harm, of the whole checklist."""
    return tuple(plain(c) for c in judged.checklist.cautions)
