"""The reviewer's questions: every name in them exists, and the faulty sample's faults are found from the review alone."""

from __future__ import annotations

from functools import cache

import pytest

from buildtrack.bench.chart import Chart, Limit, Series, draw, round_steps, scale_for, thinned
from buildtrack.bench.widgets.canvas import Canvas
from buildtrack.checks.review import STATES, Answer, answers, questions, review_lines
from buildtrack.judging import Judged, judge
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import shipped_samples
from buildtrack.storage.template import start_new
from buildtrack.workings.registry import all_workings
from tests.bench_walk import NOW, main_checklist

CHECKLIST = main_checklist()


@cache
def judged(sample: str) -> Judged:
    path = shipped_samples() / f"{sample}.toml"
    return judge(read_build(path).build, CHECKLIST, path.parent, NOW)


def answered(sample: str) -> dict[str, Answer]:
    found = judged(sample)
    return {a.question.id: a for a in answers(found.build, CHECKLIST, found.assessment)}


def test_there_are_forty_six_questions_in_the_order_of_the_work() -> None:
    assert [q.id for q in questions()] == [f"q{n:02d}" for n in range(1, 47)]


@pytest.mark.parametrize("question", questions(), ids=lambda q: q.id)
def test_every_name_in_a_question_exists(question: object) -> None:
    workings = {w.id for w in all_workings()}
    for name in question.evidence:  # type: ignore[attr-defined]
        item, _, column = name.partition(".")
        assert item in CHECKLIST.items or item in workings, name
        assert not column or CHECKLIST.items[item].column(column) is not None, name
    assert set(question.checks) <= set(CHECKLIST.check)  # type: ignore[attr-defined]


def test_an_empty_build_answers_no_question_of_the_work() -> None:
    build = start_new(CHECKLIST, "empty", "", NOW, "x")
    assessment = judge(build, CHECKLIST, shipped_samples(), NOW).assessment
    states = {a.question.id: a.state for a in answers(build, CHECKLIST, assessment)}
    assert states["q07"] == states["q23"] == states["q31"] == "not answered"
    assert set(states.values()) <= set(STATES)


def test_the_faulty_sample_shows_its_faults_in_the_review_alone() -> None:
    found = answered("drill-not-cleared")
    assert found["q23"].state == "finding" and any("swapped" in e.shown for e in found["q23"].evidence)
    assert found["q33"].state == "finding", "the alarm came too late"
    assert found["q36"].state == "finding", "the groups are apart"


def test_the_cleared_sample_has_no_finding_and_nearly_every_answer() -> None:
    found = answered("garden-screwdriver-cleared")
    assert not [a.question.id for a in found.values() if a.state == "finding"]
    assert sum(a.state in ("answered", "in part") for a in found.values()) >= 40


def test_the_review_prints_every_question_as_text() -> None:
    found = judged("drill-not-cleared")
    text = "\n".join(review_lines(found.build, CHECKLIST, found.assessment, 90))
    assert all(f"\n{q.id[1:]}. " in text for q in questions())
    assert max(len(row) for row in text.splitlines()) <= 90


# -- geometry of the charts ---------------------------------------------------------------------------------------------


def test_round_steps_lie_inside_and_are_one_two_or_five_apart() -> None:
    assert [round(v, 6) for v in round_steps(2.7, 4.3, 4)] == [3.0, 3.5, 4.0]
    assert round_steps(0, 57, 6) == [0, 10, 20, 30, 40, 50]
    assert round_steps(1, 1, 4) == [] and round_steps(float("nan"), 2, 4) == []


def test_a_scale_puts_ends_at_the_ends() -> None:
    scale = scale_for([2.0, 4.0], margin=0.0)
    assert scale.at(2.0, 100) == 0 and scale.at(4.0, 100) == 99


def test_a_dot_is_the_braille_bit_of_its_place() -> None:
    canvas = Canvas(1, 1)
    canvas.dot(0, 0)
    canvas.dot(1, 3)
    canvas.dot(5, 5)
    assert ["".join(p.text for p in row) for row in canvas.rows()] == [chr(0x2800 + 0x01 + 0x80)]


def test_thinning_keeps_the_lowest_and_highest_of_every_stretch() -> None:
    points = [(float(n), 3.0) for n in range(1000)]
    points[501] = (501.0, 2.0)
    points[777] = (777.0, 4.2)
    kept = thinned(points, 50)
    assert (501.0, 2.0) in kept and (777.0, 4.2) in kept and len(kept) <= 100


def test_a_chart_names_its_limits_and_refuses_to_draw_nothing() -> None:
    chart = Chart((Series("g1", ((0, 4.1), (60, 3.0))),), (Limit("alarm", 3.3),))
    text = "\n".join("".join(p.text for p in row) for row in draw(chart, 80, 16).rows())
    assert "3.3 V alarm" in text and "min" in text
    with pytest.raises(ValueError, match="nothing to draw"):
        draw(Chart(()), 80, 16)
