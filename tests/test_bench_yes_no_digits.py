"""At yes or no the keys are y and n, where y and n are shown; a stray number answers nothing there."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.storage.checklist_file import read_checklist
from tests.bench_walk import Walk, new_build, walk
from tests.test_bench_hold_seen import at, bench, holding, texts

NOTHING = "is no answer here, and nothing is marked"


@pytest.mark.parametrize("name", ["bench_cleared", "meter_proven"])
@pytest.mark.parametrize("digit", ["1", "2"])
def test_a_stray_number_answers_no_hold_point_of_yes_and_no(name: str, digit: str, tmp_path: Path) -> None:
    checklist = holding(tmp_path)

    async def steps(w: Walk) -> None:
        await at(w, name)
        await w.press(digit)
        assert f"'{digit}' {NOTHING}: y or n marks one" in bench(w).card.told and NOTHING in w.text()
        await w.press("enter", "enter")
        assert texts(w, name) == [[]] and bench(w).item_id == name
        await w.press("y", digit, "enter")
        assert texts(w, name) == [[]], "what a number was typed behind is not meant either"
        await w.press("y", "enter")
        assert texts(w, name) == [["yes"]]

    walk(steps, new_build(checklist), checklist)


def test_of_yes_no_and_a_third_answer_only_the_third_has_a_number(tmp_path: Path) -> None:
    holding(tmp_path)
    path = tmp_path / "small.toml"
    text = path.read_text(encoding="utf-8").replace('["no", "No"]]', '["no", "No"], ["unknown", "Not tried yet"]]')
    path.write_text(text, encoding="utf-8")
    checklist = read_checklist(path)

    async def steps(w: Walk) -> None:
        await at(w, "meter_proven")
        assert "3  Not tried yet" in w.text() and "y  Yes" in w.text()
        await w.press("1")
        assert NOTHING in bench(w).card.told and "after Esc" not in bench(w).card.told
        await w.press("escape", "3", "enter")
        assert texts(w, "meter_proven") == [["unknown"]]

    walk(steps, new_build(checklist), checklist)
