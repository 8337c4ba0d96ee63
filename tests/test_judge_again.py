"""A build judged again after an edit says what a judgement from scratch says: nothing it remembers shows."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.judging import as_json, judge, judge_again
from buildtrack.model import edit
from buildtrack.model.build import Cell, Reading
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples

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
