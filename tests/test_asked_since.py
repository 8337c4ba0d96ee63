"""A finished build whose checklist has asked for more since is told which questions are new, not only that it is open."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

from buildtrack.judging import Judged, judge, judge_again
from buildtrack.model.build import Build, Ended, Reading
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_change import KEY, asked_since
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from tests.make import NOW

NEW = "first_charger_voltage"
CHECKLIST = find_checklist("nickel-tool-pack")
LABEL = f"'{CHECKLIST.items[NEW].label}'"


@cache
def cleared() -> Build:
    return read_build(shipped_samples() / "garden-screwdriver-cleared.toml").build


def without(lines: object, name: str) -> list[str]:
    assert isinstance(lines, (list, tuple))
    return [t for t in lines if t.split()[0] != name]


def earlier(*, outline: bool = True, verdict: str = "cleared with conditions", checks: tuple[str, ...] = ()) -> Build:
    """The cleared sample as a checklist without one question, and without some checks, would have left it."""
    build = cleared()
    snapshot: dict[str, Any] = {**build.snapshot, "verdict": verdict}
    was: Any = snapshot.pop(KEY)
    if outline:
        left = [t for t in was["checks"] if t.split()[0] not in checks]
        snapshot[KEY] = {**was, "checks": left, "steps": {k: without(v, NEW) for k, v in was["steps"].items()}}
    entries = {k: v for k, v in build.entries.items() if k != NEW}
    return replace(build, entries=entries, snapshot=snapshot, checklist=replace(build.checklist, sha256="0" * 64))


def judged(build: Build) -> Judged:
    return judge(build, CHECKLIST, shipped_samples(), NOW)


def test_the_sample_itself_is_finished() -> None:
    """Without this the next test could not tell what the earlier checklist changes."""
    found = judged(cleared())
    assert found.assessment.verdict == "cleared with conditions" and not found.assessment.reasons


def test_a_finished_build_is_told_first_which_question_is_new() -> None:
    found = judged(earlier()).assessment
    assert found.verdict == "incomplete"
    assert found.reasons[0] == (
        f"its checklist asks for more since this build was finished: {LABEL}; no other item is open")
    assert any(LABEL in r and "is open" in r for r in found.reasons[1:]), "the item itself is still named as open"


def test_it_is_told_no_more_once_the_question_is_answered() -> None:
    before = judged(earlier())
    answered = replace(before.build, entries={**before.build.entries, NEW: cleared().entries[NEW]})
    again = judge_again(before, answered, NOW)
    assert again.assessment.verdict == "cleared with conditions" and not again.assessment.reasons


def test_beside_other_open_items_it_is_not_said_that_nothing_else_is() -> None:
    build = earlier()
    entries = {k: v for k, v in build.entries.items() if k != "insulating_rings"}
    first = judged(replace(build, entries=entries)).assessment.reasons[0]
    assert LABEL in first and "no other" not in first and "Insulating rings" not in first


def test_a_new_check_that_speaks_against_a_build_is_named() -> None:
    build = earlier(checks=("rings-missing",))
    entry = build.entries["insulating_rings"]
    low = replace(entry, readings=(Reading("1", NOW),))
    first = judged(replace(build, entries={**build.entries, "insulating_rings": low})).assessment.reasons[0]
    assert "its checklist judges by more since this build was finished: 'Insulating rings are missing'" in first


def test_a_build_that_was_never_finished_is_said_to_be_made_before() -> None:
    first = judged(earlier(verdict="incomplete")).assessment.reasons[0]
    assert first.startswith("its checklist asks for more since this build was made: ")


def test_a_file_that_does_not_say_what_its_checklist_asked_is_not_guessed_at() -> None:
    found = judged(earlier(outline=False))
    assert asked_since(found.build, CHECKLIST) == (frozenset(), frozenset())
    assert not any("asks for more" in r for r in found.assessment.reasons)


def test_an_ended_project_is_asked_for_nothing_more() -> None:
    found = judged(replace(earlier(), ended=Ended("handed in", NOW)))
    assert found.assessment.reasons[0] == "handed in"
