"""Soldering on cells is a caution that names what would show harm, and stays a condition once it is accepted."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buildtrack.checks.engine import Assessment
from buildtrack.judging import judge
from buildtrack.model.build import Build, Waiver
from buildtrack.storage.checklist_file import find_checklist
from tests.make import Given, build_with
from tests.sample_edits import sample
from tests.test_bench_what_is_missing import CLEARED, at_the_end

NAME = CLEARED[0]


def assessed(build: Build) -> Assessment:
    _, checklist, folder = sample(NAME)
    return judge(build, checklist, folder, at_the_end(NAME)[1]).assessment


def with_solder(given: dict[str, Given]) -> Build:
    """The cleared sample with its cells soldered."""
    build, checklist, _ = sample(NAME)
    made = build_with({"joining_method": "solder", **given}, checklist)
    return replace(build, entries={**build.entries, **made.entries})


def caution(build: Build) -> str:
    found = next(r for r in assessed(build).results if r.check == "soldered-on-cells")
    assert (found.severity, found.outcome, found.item) == ("caution", "fail", "joining_method")
    return found.message


def members() -> list[str]:
    build, _, _ = sample(NAME)
    return [name for row in build.entry("groups").rows for name in row.text("cells").split()]


def read_again(*days: str) -> dict[str, Given]:
    names = members()
    rows = [{"id": n, "after_hour": "3.786 V", "after_day": d} for n, d in zip(names, days, strict=False)]
    return {"soldered_cells": rows, "solder_care": "yes", "remeasured_after_solder": "yes"}


def test_welded_cells_pass_and_nothing_more_is_asked_of_them() -> None:
    found = assessed(sample(NAME)[0])
    told = {r.check: r.headline for r in found.results if r.outcome == "pass" and r.check.startswith("soldered")}
    assert told == {"soldered-on-cells": "The cells are not soldered"}
    assert found.status.items["soldered_cells"].state == "not needed"


def test_it_names_the_evidence_that_is_wanted_and_what_of_it_is_there() -> None:
    assert "forbid soldering on cells; no cell is read again an hour and a day after it" in caution(with_solder({}))
    some = caution(with_solder(read_again("3.785 V", "3.784 V")))
    assert "not read again an hour and a day after it: " in some and members()[2] in some and members()[0] not in some
    whole = caution(with_solder(read_again("3.785 V", "3.784 V", *["3.785 V"] * 4)))
    assert "6 cells read again after a day, the largest fall 2 mV" in whole


def test_accepted_it_clears_with_a_condition_for_the_user_and_not_before() -> None:
    build = with_solder(read_again("3.785 V", "3.784 V", *["3.785 V"] * 4))
    assert any("cells are soldered" in reason for reason in assessed(build).reasons)
    build = replace(build, waivers=(*build.waivers, Waiver("soldered-on-cells", "no welder", finding=caution(build))))
    found = assessed(build)
    assert not any("cells are soldered" in reason for reason in found.reasons)
    assert any(c.startswith("Soldered on the cells, against their makers' data sheets") for c in found.conditions)


def test_the_hold_point_of_measuring_again_rests_on_both_readings_of_every_line() -> None:
    hold = assessed(with_solder({"remeasured_after_solder": "yes"})).status.items["remeasured_after_solder"]
    assert hold.lacks == ("soldered_cells",)
    full = assessed(with_solder(read_again("3.785 V"))).status.items["remeasured_after_solder"]
    assert full.settled


@pytest.mark.parametrize("name", ["nickel-tool-pack", "bicycle-light", "hand-held-radio", "hand-vacuum", "shed-light-lfp"])
def test_every_checklist_that_lets_cells_be_soldered_has_the_cautions_and_the_help_for_a_gun(name: str) -> None:
    checklist = find_checklist(name)
    assert {"soldered-on-cells", "soldered-cell-falls"} <= set(checklist.check)
    assert "soldering gun" in checklist.items["solder_care"].how
