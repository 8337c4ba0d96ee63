"""The reviewer's questions, each answered from the record with its evidence, or said to be not answered by it."""

from __future__ import annotations

import textwrap
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from buildtrack.checks.engine import Assessment
from buildtrack.checks.ruling import Result
from buildtrack.model.build import Build, Event, Reading
from buildtrack.model.checklist import Checklist, Column, Item
from buildtrack.units import clip, unit_taken
from buildtrack.workings.explain import label_of, show_value, unit_of
from buildtrack.workings.graph import Sheet, needs
from buildtrack.workings.inputs import counting
from buildtrack.workings.values import Known

STATES = ("finding", "not answered", "in part", "answered")
"""What a question can be: a finding stands against it, no evidence, some evidence, all of it."""
STATE_WORDS = {
    "finding": "a finding stands",
    "not answered": "not answered by this record",
    "in part": "answered in part",
    "answered": "answered",
}


@dataclass(frozen=True, slots=True)
class Question:
    """One question of a reviewer."""

    id: str
    text: str
    evidence: tuple[str, ...]
    """Items, item.column, workings."""
    checks: tuple[str, ...]
    told: str
    """What is answered from the record as a whole: order, waivers, typing, classes, verdict."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One thing the record says to a question."""

    key: str
    """item:x, working:x, check:x, or nothing."""
    label: str
    shown: str
    known: bool
    against: bool = False
    stated: bool = False
    """A limit of the checklist that stands without any answer: shown, but it answers nothing."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A question with what the record says."""

    question: Question
    state: str
    evidence: tuple[Evidence, ...]


@lru_cache(maxsize=1)
def questions() -> tuple[Question, ...]:
    """Every question, in the order of the work."""
    text = (Path(__file__).parent / "review_questions.toml").read_text(encoding="utf-8")
    rows: list[Mapping[str, Any]] = tomllib.loads(text)["questions"]
    return tuple(
        Question(r["id"], r["text"], tuple(r.get("evidence", ())), tuple(r.get("checks", ())), r.get("told", ""))
        for r in rows
    )


def applies(question: Question, checklist: Checklist, assessment: Assessment) -> bool:
    """Whether a checklist has anything to say to a question."""
    names = {n.partition(".")[0] for n in question.evidence}
    known = set(checklist.items) | set(assessment.sheet.workings)
    return bool(question.told or names & known or set(question.checks) & set(checklist.check))


def answers(build: Build, checklist: Checklist, assessment: Assessment) -> tuple[Answer, ...]:
    """Every question that applies, answered from the record."""
    return tuple(answer(q, build, checklist, assessment) for q in questions() if applies(q, checklist, assessment))


def answer(question: Question, build: Build, checklist: Checklist, assessment: Assessment) -> Answer:
    """One question answered from the record."""
    found = [
        *_from_names(question, build, checklist, assessment),
        *_from_checks(question, assessment),
        *_TOLD.get(question.told, _nothing)(build, checklist, assessment),
    ]
    facts = [e for e in found if not e.key.startswith("check:") and not e.stated]
    known = [e for e in facts if e.known]
    if any(e.against for e in found):
        state = "finding"
    elif not facts:
        state = "answered" if any(e.known for e in found) else "not answered"
    elif not known:
        state = "not answered"
    else:
        state = "answered" if len(known) == len(facts) else "in part"
    return Answer(question, state, tuple(found))


def _from_names(question: Question, build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    for name in question.evidence:
        root, _, column = name.partition(".")
        item = checklist.items.get(root)
        if item is not None:
            if assessment.status.items[root].state != "not needed":
                yield _item(item, column, build)
        elif root in assessment.sheet.workings:
            yield _working(root, checklist, assessment)


def _working(name: str, checklist: Checklist, assessment: Assessment) -> Evidence:
    sheet = assessment.sheet
    value = sheet.value(name)
    known = isinstance(value, Known)
    shown = (
        show_value(value, unit_of(name, sheet, checklist), sheet.workings[name].digits) if known else "not there yet"
    )
    stated = known and not _rests_on_an_answer(name, checklist, sheet)
    return Evidence(f"working:{name}", label_of(name, sheet, checklist), shown, known, stated=stated)


def _rests_on_an_answer(name: str, checklist: Checklist, sheet: Sheet) -> bool:
    """Whether anything that was entered is under a working, directly or through others."""
    waiting, seen = [name], {name}
    while waiting:
        here = waiting.pop()
        if here in checklist.items and isinstance(sheet.value(here), Known):
            return True
        fresh = set(needs(sheet.workings[here])) - seen if here in sheet.workings else set()
        seen |= fresh
        waiting.extend(fresh)
    return False


def _item(item: Item, column: str, build: Build) -> Evidence:
    entry = build.entry(item.id)
    if item.kind == "table":
        return _column(item, column, build)
    if not entry.standing:
        shown = f"left out: {entry.left_out.reason}" if entry.left_out else "not recorded"
        return Evidence(f"item:{item.id}", item.label, shown, False)
    last = entry.standing[-1]
    texts = [_answer_words(item, r.text) for r in entry.standing]
    shown = ", ".join(texts[-5:]) + (f" with {last.instrument}" if last.instrument else "")
    if last.value_class != "measured":
        shown += f" ({last.value_class})"
    if last.taken:
        shown += f", {last.taken:%Y-%m-%d %H:%M}"
    return Evidence(f"item:{item.id}", item.label, shown, True)


def _answer_words(place: Item | Column, text: str) -> str:
    if place.kind == "reading" and (taken := unit_taken(text, place.unit)):
        return f"{text} {taken}"
    return next((o.label for o in place.options if o.id == text), text)


FEW = 8
"""So many fields of a column are told one by one; more are counted."""


def _column(item: Item, column: str, build: Build) -> Evidence:
    rows = [
        r
        for r in build.entry(item.id).rows
        if r.text("decision") != "reject" or column in ("decision", "reason", "source")
    ]
    place = item.column(column)
    label = f"{item.label}: {place.label}" if place else item.label
    filled = [r for r in rows if r.text(column)]
    if not filled:
        return Evidence(f"item:{item.id}", label, "not recorded", False)
    shown = f"{len(filled)} of {len(rows)} {item.row_name}s"
    if place is not None and len(filled) <= FEW:
        shown += ": " + ", ".join(f"{r.id} {_answer_words(place, clip(r.text(column)))}" for r in filled)
    if len(filled) < len(rows):
        lacking = [r.id for r in rows if not r.text(column)]
        shown += f", missing: {', '.join(lacking[:6])}{'…' if len(lacking) > 6 else ''}"
    return Evidence(f"item:{item.id}", label, shown, len(filled) == len(rows))


def _from_checks(question: Question, assessment: Assessment) -> Iterator[Evidence]:
    by_id = {r.check: r for r in assessment.results}
    for name in question.checks:
        result = by_id.get(name)
        if result is not None and result.outcome != "unknown":
            yield _check(result)


def _check(result: Result) -> Evidence:
    against = result.outcome in ("fail", "unsure") and result.severity != "note" and result.waiver is None
    shown = result.message if result.outcome != "pass" else "in order"
    if result.waiver is not None:
        shown = f"accepted: {result.waiver.reason}"
    elif against:
        shown = f"{result.severity}: {shown}"
    return Evidence(f"check:{result.check}", result.headline, shown, True, against)


# -- told from the record as a whole ---------------------------------------------------------------------------


def _nothing(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    yield from ()


def _order(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    holds = [i for i in checklist.all_items() if i.hold and assessment.status.items[i.id].state != "not needed"]
    settled = [i for i in holds if assessment.status.items[i.id].settled]
    yield Evidence("", "Hold points settled", f"{len(settled)} of {len(holds)}", bool(settled))
    for step in checklist.steps:
        stops = assessment.status.step(step.id).stopped_by
        if stops and any(build.entry(i.id).standing or build.entry(i.id).rows for i in step.items):
            shown = ", ".join(checklist.check[name].title for name in stops)
            yield Evidence(f"check:{stops[0]}", f"{step.title}: entered although a stop holds it", shown, True, True)


def _waivers(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    for waiver in build.waivers:
        rule = checklist.check.get(waiver.check)
        shown = _said_by(waiver.by, waiver.reason)
        yield Evidence(f"check:{waiver.check}", f"Accepted: {rule.title if rule else waiver.check}", shown, True)
    for item in checklist.all_items():
        entry = build.entry(item.id)
        if (
            entry.left_out is not None
            and assessment.status.items[item.id].state == "left out"
            and item.need == "expected"
        ):
            shown = _said_by(entry.left_out.by, entry.left_out.reason)
            yield Evidence(f"item:{item.id}", f"Left out: {item.label}", shown, True)
        for reading in counting(item, entry):
            if reading.accepted and assessment.status.items[item.id].state != "not needed":
                shown = _said_by(_entered_by(build, item, reading), reading.accepted)
                yield Evidence(f"item:{item.id}", f"Accepted as unusual: {item.label} {reading.text}", shown, True)
    if not build.waivers:
        yield Evidence("", "Accepted cautions", "none", True)


def _said_by(who: str, reason: str) -> str:
    return f"{who}: {reason}" if who else reason


def _entered_by(build: Build, item: Item, reading: Reading) -> str:
    """Who entered a reading, by the history; empty where that does not say."""
    return next((e.by for e in reversed(build.history) if e.item == item.id and e.after == reading.text and e.by), "")


def _typing(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    times = [e.at for e in build.history if e.at is not None and e.what in ("entered", "changed")]
    if times:
        yield Evidence(
            "", "Entries", f"{len(times)} from {min(times):%Y-%m-%d %H:%M} to {max(times):%Y-%m-%d %H:%M}", True
        )
    else:
        yield Evidence("", "Entries", "none in the history", False)


def _classes(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    counted: Counter[str] = Counter()
    for entry in build.entries.values():
        counted.update(r.value_class for r in entry.standing)
        counted.update(c.value_class for row in entry.rows for c in row.cells.values() if c.text)
    shown = ", ".join(f"{counted[k]} {k}" for k in ("measured", "taken over", "guessed") if counted[k])
    yield Evidence("", "Answers by how they were obtained", shown or "none", bool(counted))


def _verdict(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    yield Evidence("", "Verdict by rule", assessment.verdict, True)
    yield Evidence("", "Conditions", f"{len(assessment.conditions)} named", True)


_TOLD = {
    "": _nothing,
    "order": _order,
    "waivers": _waivers,
    "typing": _typing,
    "classes": _classes,
    "verdict": _verdict,
}


# -- what changed, and the text form ---------------------------------------------------------------------------


def changed_since_review(build: Build) -> tuple[Event, ...]:
    """What was done to the build after its last review; everything where there was none."""
    places = [n for n, e in enumerate(build.history) if e.what == "reviewed"]
    return build.history[places[-1] + 1 :] if places else build.history


def review_lines(build: Build, checklist: Checklist, assessment: Assessment, width: int = 100) -> Iterator[str]:
    """The questions and their evidence as plain lines; user text is passed on as it is."""
    given = answers(build, checklist, assessment)
    counted = Counter(a.state for a in given)
    yield f"{len(given)} questions: " + ", ".join(f"{counted[s]} {STATE_WORDS[s]}" for s in STATES if counted[s])
    for each in given:
        yield ""
        yield from textwrap.wrap(f"{each.question.id[1:]}. {each.question.text}", width, subsequent_indent="    ")
        yield f"    {STATE_WORDS[each.state]}"
        for e in each.evidence:
            yield from textwrap.wrap(
                f"{e.label}: {e.shown}", width, initial_indent="      - ", subsequent_indent="        "
            )
