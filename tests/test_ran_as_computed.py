"""A run far from the one that charge and mean current give is doubted, with both numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buildtrack.checks.ruling import Result
from buildtrack.judging import judge
from buildtrack.model.build import Build
from buildtrack.storage.checklist_file import find_checklist
from tests.make import build_with
from tests.sample_edits import sample
from tests.test_bench_what_is_missing import at_the_end, without

CHECK = "duration-unlike-computed"
OTHERS = ("bicycle-light", "garden-light-lfp", "hand-held-radio", "hand-vacuum", "shed-light-lfp")


def ran(name: str, text: str, *taken_away: str) -> Result:
    build, checklist, folder = sample(name)
    build = _with(build, name, text)
    for item in taken_away:
        build = without(build, item, "")
    results = judge(build, checklist, folder, at_the_end(name)[1]).assessment.results
    return next(r for r in results if r.check == CHECK)


def _with(build: Build, name: str, text: str) -> Build:
    made = build_with({"measured_duration": text}, sample(name)[1])
    return replace(build, entries={**build.entries, **made.entries})


# the sample's tested 4.72 Ah over its mean current of 6.187 A are 45.8 min by hand: 45.8 / 1.5 = 30.5, 45.8 x 1.5 = 68.7
@pytest.mark.parametrize(("text", "outcome"), [
    ("8.2 min", "fail"), ("30 min", "fail"), ("31 min", "pass"), ("43 min", "pass"), ("68 min", "pass"), ("70 min", "fail")])
def test_a_run_is_held_against_the_computed_one(text: str, outcome: str) -> None:
    assert ran("stick-vacuum-cleared", text).outcome == outcome


def test_the_caution_names_both_numbers_and_where_the_factor_is_from() -> None:
    found = ran("stick-vacuum-cleared", "8.2 min")
    assert (found.severity, found.item) == ("caution", "measured_duration")
    assert "It ran 8.2 min, computed are 45.8 min (tested charge" in found.message
    assert "1.5 times apart is doubted (chosen, no source)" in found.message


def test_without_a_test_the_capacity_of_the_smallest_group_is_taken() -> None:
    found = ran("path-light-cleared", "20 min")
    assert found.outcome == "fail" and "capacity of the smallest group" in found.message


@pytest.mark.parametrize("name", OTHERS)
def test_every_checklist_that_asks_how_long_it_ran_doubts_it(name: str) -> None:
    checklist = find_checklist(name)
    assert CHECK in checklist.check and "measured_duration" in checklist.items
