"""A question counts as answered only by an answer that says something, and by a number where one is asked for."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from buildtrack.checks.engine import assess
from buildtrack.checks.review import Answer, answer, answers, questions
from buildtrack.checks.silent import says_nothing
from buildtrack.judging import Judged
from buildtrack.model.build import Build
from buildtrack.model.checklist import Item, Option
from buildtrack.record.gather_front import told_to_users
from buildtrack.workings.registry import sheet_of
from tests import back
from tests.back import rule
from tests.front import cell, checklist
from tests.make import NOW, Given

LIMITS = Item(id="user_limits", step="s", label="Limits for the user", kind="text")

EMPTY = ["none written yet", "none", "None.", "n/a", "N.A.", "-", "—", "?", "nothing", "no limits", "no limits for the user",
         "not yet", "unknown", "tbd", "not known yet", "there are none", "nothing to do", "later", "nobody knows"]
SAID = ["no stalling, bits up to 8 mm", "no heavy drilling", "charge only while somebody is there", "8 mm", "limits of the user",
        "measured", "not by post", "none of the limits was measured below 10 °C"]


@pytest.mark.parametrize("text", EMPTY)
def test_a_text_that_says_there_is_none_says_nothing(text: str) -> None:
    assert says_nothing(LIMITS, text)


@pytest.mark.parametrize("text", SAID)
def test_a_text_that_names_something_says_it(text: str) -> None:
    assert not says_nothing(LIMITS, text)


def test_an_option_that_means_nobody_knows_says_nothing_but_no_fuse_does() -> None:
    stall = replace(LIMITS, kind="choice", options=(Option("not tried", "Not tried"), Option("none", "No fuse")))
    assert says_nothing(stall, "not tried") and not says_nothing(stall, "none")


def asked(number: str, given: dict[str, Given | None], at: datetime = NOW, built: Build | None = None) -> Answer:
    build = built or back.build(given)
    found = assess(build, back.checklist(), sheet_of(build, back.checklist(), at.date()), at)
    question = next(q for q in questions() if q.id == number)
    return answer(question, build, back.checklist(), found)


def shown(given: Answer, label: str) -> str:
    return next(e.shown for e in given.evidence if e.label == label)


@pytest.mark.parametrize(("limits", "state"), [
    ("none written yet", "not answered"), ("n/a", "not answered"), (None, "not answered"),
    ("no stalling, bits up to 8 mm, charge only while watched", "answered")])
def test_limits_that_are_not_written_are_not_answered_whatever_the_user_was_told(limits: str | None, state: str) -> None:
    """PRACTICE E 46 asks for concrete limits; the verdict, which every record has, does not stand for them."""
    assert asked("q46", {"user_limits": limits, "user_told": "yes"}).base == state


def test_the_check_on_the_limits_does_not_take_none_for_a_limit() -> None:
    for text, outcome in (("none written yet", "fail"), ("no stalling at all", "pass")):
        assert rule("limits-not-said", back.made({"user_limits": text})).outcome == outcome


def test_fewer_readings_than_asked_for_answer_in_part() -> None:
    """PRACTICE E 4: working current, n >= 5."""
    full = asked("q04", {"working_current": ["5 A"] * 4 + ["5.1 A"], "current_method": "clamp"})
    few = asked("q04", {"working_current": ["5 A", "5.1 A"], "current_method": "clamp"})
    label = checklist().items["working_current"].label
    assert next(e.known for e in full.evidence if e.label == label)
    assert not next(e.known for e in few.evidence if e.label == label)
    assert shown(few, label).endswith("2 of 5 readings asked for")


def test_the_days_of_the_rests_are_told_as_numbers() -> None:
    """Charged 1 October, read 3 and 15 October: 2 days and 12 days, by the calendar."""
    found = asked("q10", {})
    assert shown(found, "Days from charge to first rest reading") == "2 d, 7 of 7 cells"
    assert shown(found, "Days between the rest readings") == "12 d, 7 of 7 cells"
    one = asked("q10", {"candidates": [cell("c01", rest_2_on="2026-10-20"), cell("c02", rest_2_on="")]})
    assert shown(one, "Days between the rest readings") == "17 d, 1 of 2 cells" and one.state == "in part"


def test_the_day_of_each_arrival_is_asked_for() -> None:
    """PRACTICE E 7: an id, a donor, an arrival voltage and a date."""
    found = asked("q07", {})
    assert shown(found, "Day of the arrival reading") == f"7 of 7 cells, {NOW.date()}"
    build = back.build({})
    entry = build.entry("candidates")
    first, *rest = entry.rows
    undated = replace(first, cells={**first.cells, "arrival_voltage": replace(first.cells["arrival_voltage"], taken=None)})
    later = replace(rest[0], cells={**rest[0].cells, "arrival_voltage": replace(
        rest[0].cells["arrival_voltage"], taken=NOW - timedelta(days=3))})
    entries = {**build.entries, "candidates": replace(entry, rows=(undated, later, *rest[1:]))}
    lacking = asked("q07", {}, built=replace(build, entries=entries))
    assert shown(lacking, "Day of the arrival reading") == f"6 of 7 cells, {NOW.date() - timedelta(days=3)} to {NOW.date()}"


def test_the_highest_resistance_is_told_as_a_multiple_of_the_median() -> None:
    """Kept: 68, 71, 70, 74, 77, 76 mΩ, spare: 74 mΩ; the median of all seven is 74 mΩ, 77/74 = 1.04."""
    assert shown(asked("q13", {}), "Highest resistance of a kept cell") == "c05, 1.04 times the median"


def test_the_smallest_group_is_named_beside_the_first_one_down() -> None:
    """Sums: g1 1948+1851, g2 1935+1864, g3 1902+1887 mAh: g3 is the smallest with 3789 mAh."""
    assert shown(asked("q32", {}), "Smallest group by its cells").startswith("g3; first down: ")


def test_an_empty_record_answers_no_question() -> None:
    build = replace(back.build({}), entries={}, history=())
    found = assess(build, back.checklist(), sheet_of(build, back.checklist(), NOW.date()), NOW)
    given = {a.question.id: a.state for a in answers(build, back.checklist(), found)}
    assert set(given.values()) == {"not answered"}, {q: s for q, s in given.items() if s != "not answered"}


@pytest.mark.parametrize(("text", "told"), [
    ("none written yet", []), ("no stalling at all", ["Limits for the user: no stalling at all"])])
def test_what_says_there_is_no_limit_is_not_printed_as_one(text: str, told: list[str]) -> None:
    build = back.build({"user_limits": text})
    found = assess(build, back.checklist(), sheet_of(build, back.checklist(), NOW.date()), NOW)
    assert told_to_users(Judged(build, back.checklist(), Path("."), NOW, found)) == told
