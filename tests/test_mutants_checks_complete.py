"""Nothing in the lists of checks and of the reviewer's questions is untried: each is tripped by one build and not by another."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from buildtrack.checks.engine import Assessment, assess
from buildtrack.checks.review import Answer, Question, answers, questions
from buildtrack.model.build import Build
from buildtrack.storage.checklist_file import check_library
from buildtrack.workings.inputs import ATTACHED
from buildtrack.workings.registry import sheet_of
from buildtrack.workings.values import Known
from tests import back, back_cases, front, front_cases
from tests.make import NOW
from tests.test_checks_back import STANDING

RECORD = {"attached-file-changed"}
"""Checks of checks_record.toml; they are tried below."""
NO_FINDING = {"q04", "q07", "q40"}
"""Questions that only notes, a check that waits, or the record as a whole speak to: nothing can stand against them."""


def judged(made: back.Made, checks: tuple[str, ...]) -> Assessment:
    own = replace(front.checklist(), checks=tuple(check_library()[c] for c in checks))
    return assess(made.build, own, sheet_of(made.build, own, NOW.date(), made.extras), NOW)


def front_made(which: int, check: str) -> back.Made:
    case = front_cases.CASES[check][which]
    return back.Made(case() if callable(case) else front.build(case), {})


def back_made(which: int, check: str, folder: Path) -> back.Made:
    case = back_cases.CASES[check][which]
    return case(folder) if callable(case) else back.made(case)


def case_of(check: str, which: int, folder: Path) -> back.Made:
    return front_made(which, check) if check in front_cases.CASES else back_made(which, check, folder)


def answer_to(question: Question, build: Build, found: Assessment, checks: tuple[str, ...]) -> Answer:
    own = replace(front.checklist(), checks=tuple(check_library()[c] for c in checks))
    return next(a for a in answers(build, own, found) if a.question.id == question.id)


def test_every_check_of_the_library_is_tried_by_a_build_that_trips_it_and_one_that_does_not() -> None:
    tried = set(front_cases.CASES) | set(back_cases.CASES)
    assert set(check_library()) - tried == STANDING | RECORD
    assert all(len(pair) == 2 for pair in [*front_cases.CASES.values(), *back_cases.CASES.values()])


@pytest.mark.parametrize(("faults", "outcome"), [("", "pass"), ("photo.jpg is missing", "fail")])
def test_a_file_that_is_no_longer_the_one_attached_trips_its_check(faults: str, outcome: str) -> None:
    found = judged(back.Made(back.build(), {ATTACHED: Known(faults)}), ("attached-file-changed",))
    assert [r.outcome for r in found.results] == [outcome]
    assert (faults in found.results[0].message) and found.results[0].severity == "caution"


@pytest.mark.parametrize("check", sorted(STANDING))
def test_a_standing_condition_passes_and_stands_in_every_verdict(check: str) -> None:
    found = judged(back.made(), (check,))
    assert [r.outcome for r in found.results] == ["pass"] or found.results[0].condition in found.conditions


def tripping() -> list[tuple[str, str]]:
    """For each question the first of its checks that a reviewer would hold against a build: a stop or a caution."""
    found = []
    for question in questions():
        serious = [c for c in question.checks if check_library()[c].severity != "note" and c not in STANDING
                   and c not in front_cases_that_only_wait()]
        if serious:
            found.append((question.id, serious[0]))
    return found


def front_cases_that_only_wait() -> set[str]:
    """Checks that never fail, they only wait for readings."""
    return {"kept-cells-incomplete"}


@cache
def by_id() -> dict[str, Question]:
    return {q.id: q for q in questions()}


def test_a_stop_or_a_caution_speaks_to_every_question_but_three() -> None:
    assert {q.id for q in questions()} - {question for question, _ in tripping()} == NO_FINDING


@pytest.mark.parametrize(("question", "check"), tripping(), ids=[q for q, _ in tripping()])
def test_a_question_carries_a_finding_when_its_check_is_tripped_and_none_when_not(
        question: str, check: str, tmp_path: Path) -> None:
    asked = by_id()[question]
    states = []
    for which in (0, 1):
        (folder := tmp_path / str(which)).mkdir()
        made = case_of(check, which, folder)
        answer = answer_to(asked, made.build, judged(made, (check,)), (check,))
        states.append(answer.state)
        spoken = [e for e in answer.evidence if e.key == f"check:{check}"]
        assert [e.against for e in spoken] in ([which == 0], []), (which, spoken)
    assert states[0] == "finding" and states[1] != "finding", states


WITH_EVIDENCE = [q.id for q in questions() if q.evidence]


@cache
def sides() -> tuple[tuple[back.Made, Assessment], tuple[back.Made, Assessment]]:
    """The sound build and one without an answer, each judged without checks."""
    sound = back.made()
    empty = back.Made(replace(sound.build, entries={}), {})
    return (sound, judged(sound, ())), (empty, judged(empty, ()))


@pytest.mark.parametrize("question", WITH_EVIDENCE)
def test_a_question_is_answered_by_the_sound_build_and_not_by_an_empty_one(question: str) -> None:
    asked = by_id()[question]
    (sound, found), (empty, nothing) = sides()
    assert answer_to(asked, sound.build, found, ()).state in ("answered", "in part")
    bare = answer_to(asked, empty.build, nothing, ())
    if not asked.told:
        assert bare.state == "not answered", bare
    assert not any(e.known for e in bare.evidence if e.key.startswith("item:"))


