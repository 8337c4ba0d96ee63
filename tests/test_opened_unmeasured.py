"""Emptying or opening the old pack before the load was measured with it is said at once, and is never a dead end."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from buildtrack.bench.meaning import touches
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.checks.ruling import Result
from buildtrack.judging import judge
from buildtrack.model.build import Build, Ended, Entry
from buildtrack.storage.checklist_file import find_checklist
from tests.bench_walk import Clock, Walk, walk
from tests.make import NOW, Given, build_with
from tests.sample_edits import sample
from tests.test_bench_what_is_missing import CLEARED, at_the_end

CHECK = "opened-unmeasured"
EMPTIED: Mapping[str, Given] = {"opening_voltage": "9.8 V"}
TAKES: Mapping[str, Given] = {"old_pack_takes_charge": "yes"}


def found(given: Mapping[str, Given], checklist: str = "nickel-tool-pack", ended: bool = False) -> Result | None:
    its = find_checklist(checklist)
    build = build_with(given, its)
    build = replace(build, ended=Ended("dead", NOW)) if ended else build
    folder = sample(CLEARED[0])[2]
    return next((r for r in judge(build, its, folder, NOW).assessment.results if r.check == CHECK), None)


def outcome(given: Mapping[str, Given], checklist: str = "nickel-tool-pack") -> str:
    result = found(given, checklist)
    assert result is not None
    return result.outcome


@pytest.mark.parametrize("checklist", ["nickel-tool-pack", "hand-vacuum", "hand-held-radio"])
def test_emptied_or_opened_with_the_load_unmeasured_is_a_caution(checklist: str) -> None:
    assert outcome({}, checklist) == "pass"
    emptied = found(EMPTIED, checklist)
    assert emptied is not None and (emptied.outcome, emptied.severity, emptied.item) == ("fail", "caution", "opening_voltage")
    assert emptied.message == "It is emptied already, and no current of the real job is measured yet."
    opened = found({**EMPTIED, "opened_state": "clean"}, checklist)
    assert opened is not None and opened.message.startswith("It is opened already")
    assert "bench supply or another battery" in opened.advice, "the way on for a pack that is open"


def test_a_measured_load_ends_it() -> None:
    assert outcome({**EMPTIED, **TAKES, "working_current": ["7 A"] * 5}) == "pass"


@pytest.mark.parametrize("source", ["bench supply", "other battery"])
def test_another_source_that_is_named_ends_it_for_those_who_have_opened_the_pack(source: str) -> None:
    assert outcome({**EMPTIED, **TAKES, "opened_state": "wet", "load_source": source}) == "pass"
    assert outcome({**EMPTIED, **TAKES, "opened_state": "wet", "load_source": "old pack"}) == "fail"


def test_a_pack_that_takes_no_charge_could_not_have_fed_the_tool() -> None:
    assert outcome({**EMPTIED, "old_pack_takes_charge": "no"}) == "pass"


def test_an_ended_project_is_not_asked() -> None:
    assert found({**EMPTIED, **TAKES}, ended=True) is None


def early(build: Build) -> Build:
    """The sample as it was with the pack whole and nothing measured in the step of the load."""
    gone = {"opening_voltage", "opened_state", "load_source", "working_current"}
    return replace(build, entries={n: Entry() if n in gone else e for n, e in build.entries.items()})


def test_the_bench_says_it_where_the_emptied_pack_is_answered() -> None:
    name = CLEARED[0]
    build, checklist, folder = sample(name)

    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("opening_voltage")
        await w.settle()
        assert "Caution: The old pack" not in w.text()
        await w.press(*"9.55", "enter")
        await w.settle()
        text = " ".join(w.text().split())
        assert "Caution: The old pack goes before the load was measured with it" in text
        result = next(r for r in w.screen.desk.faults() if r.check == CHECK)
        assert touches(w.screen.desk, result, "opening_voltage")

    walk(steps, early(build), checklist, size=(120, 40), clock=Clock(at_the_end(name)[1]), path=folder / f"{name}.toml")
