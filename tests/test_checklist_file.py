"""Checklists are read strictly, and lint names every mistake with its line."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.storage.checklist_file import ChecklistError, parse_checklist, read_checklist
from tests.small import TEXT, small


def problems(text: str) -> list[str]:
    return [str(p) for p in parse_checklist(text, "test.toml")[1]]


def line_of(text: str, part: str) -> int:
    return next(n for n, line in enumerate(text.splitlines(), 1) if part in line)


def test_a_good_checklist_has_no_problem() -> None:
    assert problems(TEXT) == []
    assert [s.id for s in small().steps] == ["look", "do"]
    assert small().items["checked"].expires_s == 3600.0


BROKEN = [
    ('unit = "V"', 'unit = "volts per furlong"', "not a unit this program knows"),
    ('kind = "tick"', 'kind = "tickle"', "must be one of reading, choice"),
    ('need = "must"\nhold = true', 'need = "optional"\nhold = true', "optional item cannot be a hold point"),
    ('id = "done"', 'id = "checked"', "stands twice"),
    ('value = "60 °C"', 'value = "60 V"', "is a voltage"),
    ('several = 3', 'several = "three"', "whole number"),
    ('hard = ["-50", "300"]', 'hard = ["300", "-50"]', "lowest must lie below"),
    ('options = [["yes", "Yes"], ["no", "No"]]', 'options = [["yes", "Yes"]]', "at least two"),
    ('title = "Do"', 'titel = "Do"', "'titel' is not a key"),
    ('severity = "stop"', 'severity = "fatal"', "must be one of stop, caution, note"),
    ('at_most = "hottest"\n', '', "needs one of at_most"),
    ('label = "Done"', 'label = 3', "must be text in quotes"),
    ('hold = true', 'hold = "yes"', "true or false"),
    ('kind = "tick"', 'kind = "tick"\nmetered = false', "only a reading is 'metered' or not"),
    ('several = 3', 'several = 3\nmetered = "no"', "'metered' must be true or false"),
    ('source = "common practice, no source"', '', "'source' is missing"),
]


@pytest.mark.parametrize(("old", "new", "says"), BROKEN)
def test_each_mistake_is_named(old: str, new: str, says: str) -> None:
    assert old in TEXT
    found = problems(TEXT.replace(old, new, 1))
    assert any(says in p for p in found), found


def test_the_line_of_the_mistake_is_named() -> None:
    text = TEXT.replace('kind = "tick"', 'kind = "tickle"')
    assert problems(text)[0].startswith(f"line {line_of(text, 'tickle')}: step do, item done:")


def test_several_mistakes_are_all_named() -> None:
    text = TEXT.replace('kind = "tick"', 'kind = "tickle"').replace('unit = "V"', 'unit = "VV"')
    assert len(problems(text)) >= 2


def test_what_is_not_toml_is_refused_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_text("format = 1\nid = \n", encoding="utf-8")
    with pytest.raises(ChecklistError, match=r"bad\.toml: line 2: file: is not TOML"):
        read_checklist(path)


def test_a_newer_format_is_refused() -> None:
    with pytest.raises(ChecklistError, match="line 2: file: written by a newer version: format 2, this program reads 1"):
        parse_checklist(TEXT.replace("format = 1", "format = 2"), "new.toml")


def test_a_missing_file_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="there is no such file"):
        read_checklist(tmp_path / "none.toml")
    with pytest.raises(ValueError, match="is not a file"):
        read_checklist(tmp_path)


@given(st.integers(0, len(TEXT) - 1), st.sampled_from(list('"[]={}\n#0aé\x00')))
@settings(max_examples=300, deadline=None, derandomize=True)
def test_a_damaged_checklist_gives_problems_or_a_refusal_never_a_traceback(place: int, mark: str) -> None:
    text = TEXT[:place] + mark + TEXT[place + 1:]
    try:
        parse_checklist(text, "damaged.toml")
    except ChecklistError as error:
        assert "\n" not in str(error)


def test_a_line_of_brackets_and_blanks_is_looked_at_once() -> None:
    """A pattern that looks at every split of the blanks would take minutes here."""
    from buildtrack.storage import toml_lines

    text = "[" + " " * 50_000 + "\n" + "[" * 20_000 + "\n[[steps]] # first\nid = \u2028\nx = 1\n[steps.a]\ny = 2\n"
    lines = toml_lines.index(text)
    assert lines[("steps", 0)] == 3 and lines[("steps", 0, "x")] == 5 and lines[("steps", 0, "a", "y")] == 7
