"""A build judged again after an edit says what a judgement from scratch says: nothing it remembers shows."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.checks import engine
from buildtrack.checks.engine import KEPT
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.judging import Judged, as_json, judge, judge_again, snapshot
from buildtrack.model import edit
from buildtrack.model.build import Cell, Reading
from buildtrack.model.checklist import CheckRule
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from tests import sample_edits

SAMPLES = ("garden-screwdriver-cleared.toml", "drill-not-cleared.toml")
EDITS = (("working_current", "4.995 A"), ("series_count", "2"), ("series_count", "3"), ("board_idle_current", "33 µA"),
         ("test_current", "nonsense"), ("test_current", "2.00 A"), ("cell_full", "4.10 V"), ("instruments", "2 % + 5"),
         ("instruments", "nonsense"), ("cell_full", "4.20 V"))


@pytest.mark.parametrize("name", SAMPLES)
def test_after_every_edit_and_back_again_the_judgement_is_that_from_scratch(name: str) -> None:
    path = shipped_samples() / name
    build = read_build(path).build
    checklist = find_checklist(build.checklist.id)
    moment = build.history[-1].at
    assert moment is not None
    first = judged = judge(build, checklist, Path(path.parent), moment)
    told = as_json(first)
    hand = edit.Hand(moment)
    for item, text in EDITS:
        if item in checklist.policy:
            changed = edit.set_policy(judged.build, item, text, "tried", hand)
        elif item == "instruments":
            row = judged.build.entry(item).rows[0].id
            changed = edit.set_cell(judged.build, checklist.items[item], row, "accuracy", Cell(text, moment), hand)
        else:
            changed = edit.add_reading(judged.build, checklist.items[item], Reading(text, moment), hand)
        judged = judge_again(judged, changed, moment)
        fresh = judge(changed, checklist, path.parent, moment)
        assert as_json(judged) == as_json(fresh), (item, text)
        assert judged.assessment.status == fresh.assessment.status, (item, text)
    assert as_json(first) == told == as_json(judge_again(judged, build, moment))


def whole(judged: Judged) -> tuple[object, ...]:
    """All that is told of a build: values with their ±, results, states, verdict, reasons, conditions, summary."""
    said = judged.assessment
    return as_json(judged), said.results, said.status, said.verdict, said.reasons, said.conditions, snapshot(judged)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.sampled_from(sample_edits.SAMPLES), st.lists(st.tuples(sample_edits.DRAWS, st.integers(0, 5)), min_size=1, max_size=7))
def test_after_any_edits_at_any_moment_and_back_nothing_is_said_otherwise_than_from_scratch(
        name: str, changes: list[tuple[sample_edits.Draw, int]]) -> None:
    build, checklist, folder = sample_edits.sample(name)
    now = build.history[-1].at
    assert isinstance(now, datetime)
    first = judged = judge(build, checklist, folder, now)
    told, past = whole(first), [build]
    for draw, more in changes:
        now += timedelta(days=more * more * more)  # some checks rest on the day
        back = past[draw[2] % len(past)]
        changed = back if more == 4 else sample_edits.edited(judged.build, checklist, draw, edit.Hand(now))
        past.append(changed)
        judged = judge_again(judged, changed, now)
        assert whole(judged) == whole(judge(changed, checklist, folder, now))
    assert whole(first) == told, "what was judged before is not touched"


def test_only_checks_that_rest_on_an_edit_are_ruled_on_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """The idle current of the board stands in one comparison; checks of charger and wires do not look at it."""
    build, checklist, folder = sample_edits.sample(SAMPLES[0].removesuffix(".toml"))
    now = build.history[-1].at
    assert isinstance(now, datetime)
    before = judge(build, checklist, folder, now)
    ruled: list[str] = []
    plainly = engine.rule_on

    def noted(rule: CheckRule, context: Context) -> Ruling:
        ruled.append(rule.id)
        return plainly(rule, context)

    monkeypatch.setattr(engine, "rule_on", noted)
    changed = edit.add_reading(build, checklist.items["board_idle_current"], Reading("33 µA", now), edit.Hand(now))
    judge_again(before, changed, now)
    assert "board-idle-current" in ruled
    assert not {"charger-voltage-high", "conductor-overloaded"} & set(ruled)
    by_comparison = [c.id for c in checklist.checks if c.value]
    assert 0 < len(set(by_comparison) & set(ruled)) < len(by_comparison) / 10
    ruled.clear()
    limit = edit.set_policy(build, "cell_full", "4.10 V", "tried", edit.Hand(now))
    judge_again(before, limit, now)
    assert set(by_comparison) & {r.check for r in before.assessment.results} <= set(ruled), "a limit may stand in any of them"


def test_a_rule_that_looks_further_than_at_values_is_ruled_on_every_time() -> None:
    build, checklist, folder = sample_edits.sample(SAMPLES[0].removesuffix(".toml"))
    now = build.history[-1].at
    assert isinstance(now, datetime)
    judged = judge(build, checklist, folder, now)
    kept = judged.assessment.sheet.memory[KEPT]
    assert {"board-idle-current"} <= set(kept)
    assert not {"readings-out-of-order", "photo-missing", "readings-typed-over", "cells-dated-ahead"} & set(kept)


def test_a_caution_that_is_accepted_says_so_though_nothing_it_looks_at_has_changed() -> None:
    build, checklist, folder = sample_edits.sample(SAMPLES[1].removesuffix(".toml"))
    now = build.history[-1].at
    assert isinstance(now, datetime)
    before = judge(build, checklist, folder, now)
    accepted = judge_again(before, edit.waive(build, checklist, "alarm-silent", "a bell is fitted", edit.Hand(now)), now)
    again = judge_again(accepted, build, now)
    waivers = [next(r.waiver for r in j.assessment.results if r.check == "alarm-silent") for j in (before, accepted, again)]
    assert [w.reason if w else "" for w in waivers] == ["", "a bell is fitted", ""]


def test_whatever_a_rule_looks_at_is_noted() -> None:
    build, checklist, folder = sample_edits.sample(SAMPLES[0].removesuffix(".toml"))
    now = build.history[-1].at
    assert isinstance(now, datetime)
    said = judge(build, checklist, folder, now).assessment

    def context() -> Context:
        return Context(build, checklist, said.sheet, said.status, checklist.checks[0], now)

    seen = context()
    seen.value("chain"), seen.number("series_count"), seen.rows("candidates")
    assert seen.seen == seen.asked == {"chain", "series_count", "candidates"} and not seen.wide
    told = context()
    told.missing("wire_resistance"), told.show("pack_resistance"), told.label("taps"), told.unit("taps"), told.has("taps")
    assert told.asked == {"wire_resistance", "pack_resistance"} and not told.seen and not told.wide
    for further in ("build", "status", "sheet", "now", "memo"):
        looked = context()
        getattr(looked, further)
        assert looked.wide, further


def test_the_end_of_a_project_settles_a_stop_that_only_the_end_settles() -> None:
    build, checklist, folder = sample_edits.sample(SAMPLES[1].removesuffix(".toml"))
    now = build.history[-1].at
    assert isinstance(now, datetime)
    lasting = {c.id for c in checklist.checks if c.ends}

    def advice(judged: Judged) -> set[str]:
        return {r.advice for r in judged.assessment.results if r.check in lasting and r.outcome == "fail"}

    hired = edit.add_reading(build, checklist.items["may_be_modified"], Reading("no", now), edit.Hand(now))
    before = judge(hired, checklist, folder, now)
    after = judge_again(before, edit.end_early(hired, "the tool is hired", edit.Hand(now)), now)
    assert advice(before) and all("stands until" in text for text in advice(before))
    assert advice(after) == {"The end of the project settles it."}
    assert advice(judge_again(after, hired, now)) == advice(before)
