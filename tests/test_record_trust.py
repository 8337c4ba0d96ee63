"""What a file may say does not make a verdict: left-out musts, guesses, missing files, waivers that outlived their facts."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.judging import Judged, judge
from buildtrack.model import edit
from buildtrack.model.build import Build, Entry, LeftOut
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples

CHECKLIST = find_checklist("nickel-tool-pack")
NAME = "garden-screwdriver-cleared"
BUILD = read_build(shipped_samples() / f"{NAME}.toml").build
MOMENT = BUILD.history[-1].at
assert MOMENT is not None
CLEARED = "cleared with conditions"


def judged(build: Build, folder: Path | None = None) -> Judged:
    assert MOMENT is not None
    return judge(build, CHECKLIST, folder or shipped_samples(), MOMENT)


def with_entry(item: str, change: Callable[[Entry], Entry]) -> Build:
    return replace(BUILD, entries={**BUILD.entries, item: change(BUILD.entry(item))})


def test_the_sample_itself_is_cleared() -> None:
    assert judged(BUILD).assessment.verdict == CLEARED


MUSTS = [i.id for i in CHECKLIST.all_items() if i.need == "must" and judged(BUILD).assessment.status.items[i.id].state == "done"]


@pytest.mark.parametrize("item", MUSTS)
def test_no_must_item_can_be_left_out_in_the_file(item: str) -> None:
    build = with_entry(item, lambda _: Entry(left_out=LeftOut("later")))
    assert judged(build).assessment.verdict in ("incomplete", "not cleared")


def test_leaving_out_an_expected_item_without_a_reason_does_not_count() -> None:
    build = with_entry("hours", lambda _: Entry(left_out=LeftOut("  ")))
    assert judged(build).assessment.verdict == "incomplete"
    reasoned = with_entry("hours", lambda _: Entry(left_out=LeftOut("not counted")))
    assert any("not counted" in c for c in judged(reasoned).assessment.conditions)


def test_a_no_to_an_expected_tick_becomes_a_condition() -> None:
    build = with_entry("storage_unplugged", lambda e: Entry((replace(e.readings[-1], text="no"),)))
    found = judged(build).assessment
    said = [*found.conditions, *(r.title for r in found.findings)]
    assert any("answered no" in c or "plugged" in c for c in said)


@pytest.mark.parametrize("item", ["warmest_cell", "fuse_rating", "charge_temperature"])
def test_a_stop_does_not_pass_on_a_guess(item: str) -> None:
    build = with_entry(item, lambda e: Entry(tuple(replace(r, value_class="guessed") for r in e.readings)))
    found = judged(build).assessment
    assert found.verdict in ("incomplete", "not cleared")
    assert any(r.severity == "stop" and r.outcome == "unsure" and "guess" in r.message for r in found.results)


def test_a_waiver_stands_only_for_what_it_accepted() -> None:
    results = {r.check: r for r in judged(BUILD).assessment.results}
    assert results["stall-exposure"].waiver is not None
    loose = with_entry("limiter_current", lambda e: Entry((replace(e.readings[-1], text="20 A"),)))
    found = {r.check: r for r in judged(loose).assessment.results}["stall-exposure"]
    assert found.outcome == "fail" and found.waiver is None
    assert judged(loose).assessment.verdict == "not cleared"


def test_a_waiver_without_a_reason_does_not_stand() -> None:
    empty = replace(BUILD, waivers=tuple(replace(w, reason="") for w in BUILD.waivers))
    assert judged(empty).assessment.verdict == "not cleared"


def test_a_missing_or_changed_file_is_found(tmp_path: Path) -> None:
    for path in shipped_samples().glob(f"{NAME}*"):
        (shutil.copytree if path.is_dir() else shutil.copyfile)(path, tmp_path / path.name)
    assert judged(BUILD, tmp_path).assessment.verdict == CLEARED
    picture = tmp_path / f"{NAME}_files" / "label.png"
    picture.write_bytes(picture.read_bytes() + b"x")
    assert judged(BUILD, tmp_path).assessment.verdict == "not cleared"
    picture.unlink()
    found = judged(BUILD, tmp_path).assessment
    assert found.verdict == "not cleared" and any("label.png" in r for r in found.reasons)


def test_a_waiver_can_be_taken_back() -> None:
    assert MOMENT is not None
    build = edit.take_back_waiver(BUILD, "stall-exposure", "the clutch is worn", edit.Hand(MOMENT))
    assert judged(build).assessment.verdict == "not cleared"
    assert build.history[-1].reason == "the clutch is worn"
