"""Corners of reading files that nothing else walks into: what is wrong is told, never a traceback."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from buildtrack.storage.cell_list import read_cells
from buildtrack.storage.checklist_file import parse_checklist
from buildtrack.storage.journal import why_not_text
from buildtrack.storage.read_tree import spoken
from buildtrack.storage.toml_blocks import cut
from tests.small import TEXT


def test_a_short_line_does_not_decide_the_unit_of_a_list_of_cells(tmp_path: Path) -> None:
    path = tmp_path / "cells.csv"
    path.write_text("resistance;name;capacity\n60;x1\n61;x2;1900\n62;x3;2100\n")
    found = read_cells(path)
    assert "[mAh]" in found.mapping["capacity"]
    assert [round(c.capacity_ah, 3) for c in found.cells] == [1.9, 2.1]


def problems(text: str) -> list[str]:
    return [str(p) for p in parse_checklist(text)[1]]


@pytest.mark.parametrize(("before", "after", "said"), [
    ('title = "A small job"', 'title = "A small job"\nfixed = "light"', "'fixed' is a table of answers"),
    ('plausible = ["-10", "90"]', 'plausible = "warm"', "plausible"),
    ('plausible = ["-10", "90"]', "plausible = [1, 2, 3]", "plausible"),
    ('plausible = ["-10", "90"]', 'plausible = ["90", "-10"]', "plausible"),
    ('hard = ["-50", "300"]', "hard = {}", "hard")])
def test_what_is_no_table_or_no_span_is_named_with_its_line(before: str, after: str, said: str) -> None:
    assert before in TEXT and problems(TEXT) == []
    told = problems(TEXT.replace(before, after, 1))
    assert told and any(said in t and "line" in t for t in told), told


@pytest.mark.parametrize("change", ['columns = "none"', "columns = 5", "columns = [1]", "label = { a = 1 }", "options = { }"])
def test_a_change_of_another_shape_than_a_table_is_a_problem_and_no_traceback(change: str) -> None:
    head = TEXT.replace('purpose = "To test the engine"', 'purpose = "To test the engine"', 1)
    text = head.replace("[[steps]]", f'[change.groups]\n{change}\n\n[[steps]]', 1) + '''
[[steps]]
id = "more"
title = "More"
minutes = 5

[[steps.items]]
include = "shared/cells.toml"
items = ["groups"]
'''
    assert problems(text)


def test_what_stands_before_a_character_that_is_no_text_is_shown() -> None:
    told = why_not_text({"text": "the third reading \ud800 and more"})
    assert "third reading" in told and "and more" not in told and "\ud800" not in told


def test_a_place_in_a_file_is_spoken_as_people_count() -> None:
    assert spoken(("steps", "load", "free_current", "readings", 0)).startswith("step load, item free_current")
    assert spoken(("steps", "load", "free_current", "readings", 0)).endswith("reading 1")
    assert spoken(("history", 4)).endswith("history line 5")


@pytest.mark.parametrize("opened", [
    'l = ["""a\n[no.table]\nb"""]', 'l = ["""a\n[no.table]\nb""""]', 'l = ["""a\n[no.table]\nb"""""]', "l = ['''a\n[no.table]\nb''']",
    'l = ["""a\\"""\n[no.table]\nb"""]', 'l = [\n1, # ]\n[2]]', 'l = """a\n[no.table]""" # """',
    'l = ["""a\nb""", "]",\n"[no.table]"]'])
def test_a_table_begins_only_where_no_text_and_no_list_is_open(opened: str) -> None:
    text = f"# mine\n{opened}\n\n[real]\nx = 1\n"
    assert set(tomllib.loads(text)) == {"l", "real"}
    found = cut(text)
    assert found.text == text
    assert len(found.blocks) == 2 and found.blocks[1].text.strip() == "[real]\nx = 1"
