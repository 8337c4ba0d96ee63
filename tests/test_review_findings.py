"""Whatever a check finds stands under a question it bears on, or is listed as on none; remarks beside answers are seen."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from buildtrack.bench.widgets.lines import LineList
from buildtrack.checks.review import Answer, answers, bears_on_none, on_no_question, questions, review_lines
from buildtrack.checks.review_remarks import remarks
from buildtrack.judging import Judged, judge
from buildtrack.model.build import Cell, Entry, Event, Row
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import check_library, find_checklist
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import NOW, Walk, walk

SAMPLES = sorted(p.stem for p in shipped_samples().glob("*.toml"))
DRILL = "drill-not-cleared"
EXCHANGED = "after B1 and B2 had been exchanged; the taps were not measured again"


@cache
def judged(sample: str) -> Judged:
    path = shipped_samples() / f"{sample}.toml"
    build = read_build(path).build
    return judge(build, find_checklist(build.checklist.id), path.parent, NOW)


def given(sample: str) -> tuple[Answer, ...]:
    found = judged(sample)
    return answers(found.build, found.checklist, found.assessment)


def cited() -> set[str]:
    return {c for q in questions() for c in (*q.checks, *q.also)}


@pytest.mark.parametrize("sample", SAMPLES)
def test_every_check_that_finds_something_in_a_sample_is_cited_under_a_question_or_known_to_bear_on_none(sample: str) -> None:
    found = judged(sample).assessment
    failing = {r.check for r in found.results if r.outcome in ("fail", "unsure")}
    assert failing - cited() - bears_on_none() == set()
    loose = {r.check for r in on_no_question(given(sample), found)}
    assert loose <= bears_on_none() or found.verdict == "ended early", "an ended project is not asked what is next"
    shown = {e.key for a in given(sample) for e in a.evidence if e.weight}
    standing = {r.check for r in found.findings if r.outcome in ("fail", "unsure")}
    assert standing == {c for c in standing if f"check:{c}" in shown} | loose


def test_every_check_of_the_library_is_cited_or_known_to_bear_on_none_and_none_is_both() -> None:
    assert set(check_library()) - cited() - bears_on_none() == set()
    assert cited() & bears_on_none() == set()
    for question in questions():
        assert not set(question.checks) & set(question.also), question.id


def test_a_question_with_an_open_caution_is_not_plainly_answered() -> None:
    told = {a.question.id: a for a in given(DRILL)}
    assert (told["q18"].state, told["q18"].words) == ("finding", "answered, with an open caution")
    assert "check:board-over-charge-edge" in {e.key for e in told["q18"].evidence if e.against}
    assert told["q23"].words == "answered, with a stop"
    assert told["q38"].state == "finding" and "check:stall-not-ended" in {e.key for e in told["q38"].evidence}
    assert told["q19"].words.endswith("with a note"), "thresholds that meet are a note"
    accepted = {a.question.id: a for a in given("garden-screwdriver-cleared")}["q18"]
    assert (accepted.state, accepted.words) == ("answered", "answered, with an accepted caution")


def test_a_finding_of_a_check_that_no_question_names_is_listed_as_on_none() -> None:
    found = judged(DRILL)
    first = next(r for r in found.assessment.findings if r.outcome == "fail")
    own = replace(first, check="of-my-own", title="A check of my own")
    assessment = replace(found.assessment, results=(*found.assessment.results, own))
    told = answers(found.build, found.checklist, assessment)
    assert "of-my-own" in {r.check for r in on_no_question(told, assessment)}
    text = "\n".join(review_lines(found.build, found.checklist, assessment, 90))
    assert "A check of my own" in text.partition("Findings on no question")[2]


def test_a_remark_stands_with_the_evidence_of_its_question_and_among_all_remarks() -> None:
    told = {a.question.id: a for a in given(DRILL)}
    assert EXCHANGED in {e.shown for e in told["q26"].evidence}
    found = judged(DRILL)
    lines = " ".join("\n".join(review_lines(found.build, found.checklist, found.assessment, 90)).split())
    listed = lines.partition("Remarks beside answers")[2]
    assert EXCHANGED in listed and "2026-" in listed.partition(EXCHANGED)[2][:40]


def test_the_same_remark_beside_several_readings_is_told_once_and_a_field_of_a_table_has_its_own() -> None:
    found = judged(DRILL)
    drilled = [r for r in remarks(found.build, found.checklist) if r.text == "6 mm holes in spruce"]
    assert [r.values for r in drilled] == [("5.1 A", "5.6 A", "5.3 A", "5.8 A", "5.4 A")]
    row = Row("c01", {"visual": Cell("sound", NOW, note="a dent at the foot")})
    event = Event(NOW, "entered", item="candidates", row="c01", column="visual", after="sound", by="second bench")
    build = replace(found.build, entries={"candidates": Entry(rows=(row,))}, history=(event,))
    (one,) = remarks(build, found.checklist)
    assert one.values[0].startswith("c01 ") and one.by == "second bench" and one.at == NOW


def test_a_remark_answers_nothing() -> None:
    found = judged(DRILL)
    entry = found.build.entry("board_woken")
    bare = replace(found.build, entries={**found.build.entries, "board_woken": replace(
        entry, readings=tuple(replace(r, note="") for r in entry.readings))})
    states = {a.question.id: a.base for a in answers(bare, found.checklist, found.assessment)}
    assert states == {a.question.id: a.base for a in given(DRILL)}


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_the_screen_of_the_review_shows_all_of_it(size: tuple[int, int]) -> None:
    found = judged(DRILL)

    async def steps(w: Walk) -> None:
        await w.press("f5")
        shown = [("".join(p.text for p in e.left), e.key) for e in w.screen.query_one(LineList).lines]
        texts = [text for text, _ in shown]
        assert any(text.startswith("Remarks beside answers: ") for text in texts)
        assert any(EXCHANGED in text and key == "item:board_woken" for text, key in shown)
        assert any(text.startswith("Findings on no question: 1") for text in texts)
        assert "      answered, with an open caution" in texts and "      answered, with a stop" in texts

    walk(steps, found.build, found.checklist, size=size)


def test_the_remedy_for_wrong_taps_holds_before_and_after_the_board_was_connected() -> None:
    advice = check_library()["taps-wrong"].advice
    assert "Do not connect the board" in advice and "if it is connected, take it off" in advice
