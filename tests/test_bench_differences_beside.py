"""Two states of a build told apart: nothing that differs is passed over because its text is the same."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buildtrack.bench.differences import differences
from buildtrack.model.build import Build, Cell, Entry, Reading, Row
from tests.bench_walk import NOW, new_build, small_checklist

CHECKLIST = small_checklist()
READING = Reading("3.7 V", NOW, "meter A", "", "measured", sha256="ab" * 32)


def build(entry: Entry, item: str) -> Build:
    return replace(new_build(CHECKLIST), entries={item: entry})


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        (replace(READING, value_class="guessed"), "guessed"),
        (replace(READING, instrument="meter B"), "meter B"),
        (replace(READING, accepted="looked twice"), "looked twice"),
        (replace(READING, sha256="cd" * 32), "cdcd"),
        (replace(READING, columns="current=3"), "current=3"),
        (replace(READING, withdrawn="wrong cell"), ""),
    ],
)
def test_what_stands_beside_the_same_text_is_told(changed: Reading, said: str) -> None:
    first, second = (build(Entry((r,)), "rated_voltage") for r in (READING, changed))
    found = differences(first, second, CHECKLIST)
    assert len(found) == 1
    assert said in found[0].after and found[0].before != found[0].after


def test_another_text_is_told_without_what_stands_beside_it() -> None:
    first, second = (build(Entry((replace(READING, text=t),)), "rated_voltage") for t in ("3.7 V", "3.8 V"))
    assert [(d.before, d.after) for d in differences(first, second, CHECKLIST)] == [("3.7 V", "3.8 V")]


def test_a_cell_that_became_a_guess_is_told() -> None:
    rows = [Entry(rows=(Row("c01", {"arrival_voltage": Cell("3.9", NOW, "m1", kind)}),)) for kind in ("measured", "guessed")]
    found = differences(build(rows[0], "candidates"), build(rows[1], "candidates"), CHECKLIST)
    assert len(found) == 1 and "guessed" in found[0].after


def test_two_equal_states_differ_in_nothing() -> None:
    assert differences(build(Entry((READING,)), "rated_voltage"), build(Entry((READING,)), "rated_voltage"), CHECKLIST) == []
