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
from buildtrack.checks.review_remarks import answer_words, beside_evidence, remarks
from buildtrack.checks.review_told import TOLD, Evidence
from buildtrack.checks.ruling import Result
from buildtrack.checks.silent import says_nothing
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist, Item
from buildtrack.model.instruments import taken_with
from buildtrack.units import clip
from buildtrack.workings.explain import label_of, show_value, unit_of
from buildtrack.workings.graph import Sheet, needs
from buildtrack.workings.values import Known

STATES = ("finding", "not answered", "in part", "answered")
"""What a question can be: a finding stands against it, no evidence, some evidence, all of it."""
STATE_WORDS = {
    "finding": "with an open caution or a stop",
    "not answered": "not answered by this record",
    "in part": "answered in part",
    "answered": "answered",
}


WEIGHTS = {"stop": "a stop", "caution": "an open caution", "accepted": "an accepted caution", "note": "a note"}
"""What checks found, the heaviest first, in words."""

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
    also: tuple[str, ...]
    """Checks that bear on it and are shown only where they find something."""
    told: str
    """What is answered from the record as a whole: order, waivers, typing, classes, verdict."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A question with what the record says."""

    question: Question
    state: str
    evidence: tuple[Evidence, ...]
    base: str
    """What it would be without what checks found."""

    @property
    def weight(self) -> str:
        """The heaviest of what checks found: stop, caution, accepted, note; empty where they found nothing."""
        found = {e.weight for e in self.evidence}
        return next((w for w in WEIGHTS if w in found), "")

    @property
    def words(self) -> str:
        """What the record says in a few words: answered, with an open caution."""
        more = f", with {WEIGHTS[self.weight]}" if self.weight else ""
        return STATE_WORDS[self.base] + more


@lru_cache(maxsize=1)
def questions() -> tuple[Question, ...]:
    """Every question, in the order of the work."""
    return tuple(_question(row) for row in _file()["questions"])


def _question(row: Mapping[str, Any]) -> Question:
    evidence, checks, also = (tuple(row.get(name, ())) for name in ("evidence", "checks", "also"))
    return Question(row["id"], row["text"], evidence, checks, also, row.get("told", ""))


def bears_on_none() -> frozenset[str]:
    """Checks that are known to bear on no question."""
    return frozenset(_file()["on_no_question"])


@lru_cache(maxsize=1)
def _file() -> Mapping[str, Any]:
    return tomllib.loads((Path(__file__).parent / "review_questions.toml").read_text(encoding="utf-8"))


def applies(question: Question, checklist: Checklist, assessment: Assessment) -> bool:
    """Whether a checklist has anything to say to a question; an ended project has no next re-check."""
    if question.id == AFTER_END and assessment.verdict == "ended early":
        return False
    names = {n.partition(".")[0] for n in question.evidence}
    known = set(checklist.items) | set(assessment.sheet.workings)
    found = {r.check for r in assessment.findings if r.outcome != "unknown"}
    checks = set(question.checks) & set(checklist.check) | set(question.also) & found
    return bool(question.told or names & known or checks)


def answers(build: Build, checklist: Checklist, assessment: Assessment) -> tuple[Answer, ...]:
    """Every question that applies, answered from the record."""
    return tuple(answer(q, build, checklist, assessment) for q in questions() if applies(q, checklist, assessment))


def on_no_question(given: tuple[Answer, ...], assessment: Assessment) -> tuple[Result, ...]:
    """The findings that none of the answers shows."""
    shown = {e.key for a in given for e in a.evidence if e.weight}
    return tuple(r for r in assessment.findings if r.outcome in ("fail", "unsure") and f"check:{r.check}" not in shown)


def counted(given: tuple[Answer, ...]) -> str:
    """How many questions are in which state, in words; of those with a finding, how many are not answered besides."""
    found = Counter(a.state for a in given)
    silent = sum(a.state == "finding" and a.base == "not answered" for a in given)
    beside = {"finding": f" ({silent} of them {STATE_WORDS['not answered']})" if silent else ""}
    return ", ".join(f"{found[s]} {STATE_WORDS[s]}{beside.get(s, '')}" for s in STATES if found[s])


def answer(question: Question, build: Build, checklist: Checklist, assessment: Assessment) -> Answer:
    """One question answered from the record."""
    found = [
        *_from_names(question, build, checklist, assessment),
        *_from_checks(question, assessment),
        *TOLD[question.told](build, checklist, assessment),
        *beside_evidence(_asked(question, assessment), remarks(build, checklist)),
    ]
    facts = [e for e in found if not e.key.startswith("check:") and not e.stated]
    known = [e for e in facts if e.known]
    if not facts:
        base = "answered" if any(e.known for e in found) else "not answered"
    elif not known:
        base = "not answered"
    else:
        base = "answered" if len(known) == len(facts) else "in part"
    return Answer(question, "finding" if any(e.against for e in found) else base, tuple(found), base)


def _asked(question: Question, assessment: Assessment) -> tuple[str, ...]:
    """What a question rests on of what this build was asked for."""
    items = assessment.status.items
    roots = {name: name.partition(".")[0] for name in question.evidence}
    return tuple(n for n, root in roots.items() if root in items and items[root].state != "not needed")


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
    texts = [answer_words(item, r.text) for r in entry.standing]
    lacking = item.several - len(texts) if item.kind == "reading" else 0
    shown = ", ".join(texts[-5:]) + (f" with {meter}" if (meter := taken_with(item, last)) else "")
    if last.value_class != "measured":
        shown += f" ({last.value_class})"
    if last.taken:
        shown += f", {last.taken:%Y-%m-%d %H:%M}"
    if lacking > 0:
        shown += f"; {len(texts)} of {item.several} readings asked for"
    return Evidence(f"item:{item.id}", item.label, shown, lacking <= 0 and not says_nothing(item, last.text))


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
        shown += ": " + ", ".join(f"{r.id} {answer_words(place, clip(r.text(column)))}" for r in filled)
    if len(filled) < len(rows):
        lacking = [r.id for r in rows if not r.text(column)]
        shown += f", missing: {', '.join(lacking[:6])}{'…' if len(lacking) > 6 else ''}"
    silent = any(says_nothing(place, r.text(column)) for r in filled)
    return Evidence(f"item:{item.id}", label, shown, len(filled) == len(rows) and not silent)


def _from_checks(question: Question, assessment: Assessment) -> Iterator[Evidence]:
    by_id = {r.check: r for r in assessment.results}
    for name in (*question.checks, *question.also):
        result = by_id.get(name)
        if result is None or result.outcome == "unknown" or result.outcome == "pass" and name in question.also:
            continue
        yield _check(result)


def _check(result: Result) -> Evidence:
    against = result.outcome in ("fail", "unsure") and result.severity != "note" and result.waiver is None
    shown = result.message if result.outcome != "pass" else "in order"
    if result.waiver is not None:
        shown = f"accepted: {result.waiver.reason}"
    elif against:
        shown = f"{result.severity}: {shown}"
    weight = "accepted" if result.waiver is not None else result.severity
    if result.outcome not in ("fail", "unsure"):
        weight = ""
    return Evidence(f"check:{result.check}", result.headline, shown, True, against, weight=weight)


# -- the text form ---------------------------------------------------------------------------


def review_lines(build: Build, checklist: Checklist, assessment: Assessment, width: int = 100) -> Iterator[str]:
    """The questions and their evidence as plain lines; user text is passed on as it is."""
    given = answers(build, checklist, assessment)
    yield from textwrap.wrap(f"{len(given)} questions: {counted(given)}", width)
    for each in given:
        yield ""
        yield from textwrap.wrap(f"{each.question.id[1:]}. {each.question.text}", width, subsequent_indent="    ")
        yield f"    {each.words}"
        for e in each.evidence:
            yield from textwrap.wrap(
                f"{e.label}: {e.shown}", width, initial_indent="      - ", subsequent_indent="        "
            )
    yield from _listed(
        "Findings on no question",
        [f"{r.severity}: {r.title}: {r.message}" for r in on_no_question(given, assessment)],
        width,
    )
    yield from _listed("Remarks beside answers", [r.line for r in remarks(build, checklist)], width)


def _listed(head: str, lines: list[str], width: int) -> Iterator[str]:
    if lines:
        yield from ("", f"{head}: {len(lines)}")
        for each in lines:
            yield from textwrap.wrap(each, width, initial_indent="  - ", subsequent_indent="    ")
