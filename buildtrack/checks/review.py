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
from buildtrack.checks.review_told import TOLD, Evidence
from buildtrack.checks.ruling import Result
from buildtrack.checks.silent import says_nothing
from buildtrack.model.build import Build, Event
from buildtrack.model.checklist import Checklist, Column, Item
from buildtrack.units import clip, unit_taken
from buildtrack.workings.explain import label_of, show_value, unit_of
from buildtrack.workings.graph import Sheet, needs
from buildtrack.workings.values import Known

STATES = ("finding", "not answered", "in part", "answered")
"""What a question can be: a finding stands against it, no evidence, some evidence, all of it."""
STATE_WORDS = {
    "finding": "a finding stands",
    "not answered": "not answered by this record",
    "in part": "answered in part",
    "answered": "answered",
}


AFTER_END = "q43"
"""The question about what is next, which an ended project has not."""


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
    """Whether a checklist has anything to say to a question; an ended project has no next re-check."""
    if question.id == AFTER_END and assessment.verdict == "ended early":
        return False
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
        *TOLD[question.told](build, checklist, assessment),
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
    known = isinstance(value, Known) and value.value not in ("", ())
    shown = (
        show_value(value, unit_of(name, sheet, checklist), sheet.workings[name].digits)
        if isinstance(value, Known) and known else "not there yet"
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
    lacking = item.several - len(texts) if item.kind == "reading" else 0
    shown = ", ".join(texts[-5:]) + (f" with {last.instrument}" if last.instrument else "")
    if last.value_class != "measured":
        shown += f" ({last.value_class})"
    if last.taken:
        shown += f", {last.taken:%Y-%m-%d %H:%M}"
    if lacking > 0:
        shown += f"; {len(texts)} of {item.several} readings asked for"
    return Evidence(f"item:{item.id}", item.label, shown, lacking <= 0 and not says_nothing(item, last.text))


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
    if place is None:
        shown = f"'{column.replace('_', ' ')}' is not asked by this checklist"
        return Evidence(f"item:{item.id}", label, shown, False)
    filled = [r for r in rows if r.text(column)]
    if not filled:
        return Evidence(f"item:{item.id}", label, "not recorded", False)
    shown = f"{len(filled)} of {len(rows)} {item.row_name}s"
    if len(filled) <= FEW:
        shown += ": " + ", ".join(f"{r.id} {_answer_words(place, clip(r.text(column)))}" for r in filled)
    if len(filled) < len(rows):
        lacking = [r.id for r in rows if not r.text(column)]
        shown += f", missing: {', '.join(lacking[:6])}{'…' if len(lacking) > 6 else ''}"
    silent = any(says_nothing(place, r.text(column)) for r in filled)
    return Evidence(f"item:{item.id}", label, shown, len(filled) == len(rows) and not silent)


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


# -- what changed, and the text form ---------------------------------------------------------------------------


def changed_since_review(build: Build) -> tuple[Event, ...]:
    """What was done to the build after its last review; everything where there was none."""
    places = [n for n, e in enumerate(build.history) if e.what == "reviewed"]
    return build.history[places[-1] + 1 :] if places else build.history


def review_lines(build: Build, checklist: Checklist, assessment: Assessment, width: int = 100) -> Iterator[str]:
    """The questions and their evidence as plain lines; user text is passed on as it is."""
    given = answers(build, checklist, assessment)
    counted = Counter(a.state for a in given)
    told = ", ".join(f"{counted[s]} {STATE_WORDS[s]}" for s in STATES if counted[s])
    yield from textwrap.wrap(f"{len(given)} questions: {told}", width)
    for each in given:
        yield ""
        yield from textwrap.wrap(f"{each.question.id[1:]}. {each.question.text}", width, subsequent_indent="    ")
        yield f"    {STATE_WORDS[each.state]}"
        for e in each.evidence:
            yield from textwrap.wrap(
                f"{e.label}: {e.shown}", width, initial_indent="      - ", subsequent_indent="        "
            )
