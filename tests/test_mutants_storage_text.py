"""Corners of writing and parting TOML texts, and of refusing: each against what TOML says, or what the file plainly holds."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from buildtrack.model.checklist import Span
from buildtrack.storage import toml_guard, toml_patch, toml_text, upgrade
from buildtrack.storage.build_file import BuildFileError, open_text
from buildtrack.storage.checklist_file import parse_checklist
from buildtrack.storage.durable import remove_left_overs, temporary_prefix
from buildtrack.storage.toml_blocks import cut
from tests.small import TEXT

LARGEST = 2**63 - 1
"""TOML 1.0: "Arbitrary 64-bit signed integers (from -2^63 to 2^63-1) should be accepted and handled losslessly"."""


@pytest.mark.parametrize(("number", "written"), [
    (LARGEST, "9223372036854775807"), (-LARGEST - 1, "-9223372036854775808"), (LARGEST + 1, "0x8000000000000000")])
def test_numbers_that_toml_promises_are_written_in_tens_and_larger_ones_in_sixteens(number: int, written: str) -> None:
    assert toml_text.value(number) == written
    assert tomllib.loads(f"x = {written}") == {"x": number}


def test_a_number_of_any_length_in_sixteens_is_written_back() -> None:
    """In tens, Python would refuse one of more than 4,300 digits."""
    number = tomllib.loads("x = 0x" + "f" * 6_000)["x"]
    assert tomllib.loads(f"x = {toml_text.value(number)}")["x"] == number


@pytest.mark.parametrize(("one", "other"), [([], ""), ([], {}), ([], 0), ({}, []), ("", []), ([1], 1), ({"a": 1}, "a"), (1, True),
                                            (1, 1.0), ([1], [1, 1]), ({"a": 1}, {"b": 1})])
def test_values_of_different_kinds_are_never_the_same(one: object, other: object) -> None:
    assert not toml_patch.same(one, other)
    assert not toml_patch.same([one], [other])


@pytest.mark.parametrize(("length", "keeps"), [(toml_patch.LONGEST, True), (toml_patch.LONGEST + 1, False)])
def test_a_line_of_twenty_thousand_characters_keeps_its_remark_and_a_longer_one_is_written_afresh(length: int, keeps: bool) -> None:
    remark = "  # mine\n"
    line = 'a = "' + "x" * (20_000 - len('a = ""') - len(remark) + length - toml_patch.LONGEST) + '"' + remark
    assert len(line) == length
    found = toml_patch.patch(line, tomllib.loads(line), {"a": "short"})
    assert found == ('a = "short"' + remark if keeps else 'a = "short"\n')


def test_a_quote_before_the_closing_ones_belongs_to_the_text_and_not_to_what_follows() -> None:
    """Taken for the beginning of another text, it would hide the bracket that opens a list, and with it the next table."""
    for last in ('""""', '"""""'):
        text = f'l = ["""a\nb{last}, "[",\n1]\n[real]\nx = 1\n'
        assert set(tomllib.loads(text)) == {"l", "real"}
        assert [b.path for b in cut(text).blocks] == [(), ("real",)]


@pytest.mark.parametrize(("number", "shown"), [(999_999_999, "format 999999999,"), (10**9, "format far above,"), (2, "format 2,")])
def test_a_number_of_a_format_is_shown_as_long_as_it_can_be_one(number: int, shown: str) -> None:
    with pytest.raises(upgrade.Unknown, match=shown):
        upgrade.raised({"format": number}, 1, {}, "build file")


@pytest.mark.parametrize("given", ['plausible = "warm"', "plausible = [1, 2, 3]", "plausible = 5", "plausible = []"])
def test_an_item_whose_span_cannot_be_used_has_an_open_one(given: str) -> None:
    """So that whoever goes on with the checklist, to look for more mistakes, finds no hole in it."""
    before = 'plausible = ["-10", "90"]'
    assert before in TEXT
    found, problems = parse_checklist(TEXT.replace(before, given, 1))
    assert any("plausible" in str(p) for p in problems)
    (item,) = [i for i in found.all_items() if i.id == "part_temperature"]
    assert item.plausible == Span()


def test_an_item_without_a_unit_has_open_spans_and_the_mistake_is_named() -> None:
    text = TEXT.replace('plausible = ["-10", "90"]', 'plausible = ["-10", "90"]', 1)
    (kept,) = [i for i in parse_checklist(text)[0].all_items() if i.id == "part_temperature"]
    assert kept.plausible != Span()
    bare = '[[steps]]\nid = "s"\n[[steps.items]]\nid = "i"\nkind = "text"\nlabel = "L"\nplausible = ["1", "2"]\n'
    found, problems = parse_checklist('format = 1\nid = "x"\nversion = "1"\ntitle = "t"\npurpose = "p"\n' + bare)
    assert [i.plausible for i in found.all_items()] == [Span()]
    assert any("'plausible' needs a unit" in str(p) for p in problems)


def test_left_overs_are_counted_and_none_are_found_in_a_folder_that_is_gone(tmp_path: Path) -> None:
    path = tmp_path / "build.toml"
    for number in range(3):
        (tmp_path / f"{temporary_prefix(path.name)}{number}").write_text("half")
    (tmp_path / "other.toml").write_text("kept")
    assert remove_left_overs(path) == 3
    assert [p.name for p in tmp_path.iterdir()] == ["other.toml"]
    assert remove_left_overs(path) == 0
    assert remove_left_overs(tmp_path / "gone" / "build.toml") == 0


def listed(names: str) -> str:
    return "".join(f'# above {n}\n[[t]]\nid = "{n}"  # {n}\n\n' for n in names)


@pytest.mark.parametrize(("before", "after"), [
    ("abc", "axyc"), ("abcd", "axd"), ("abcd", "axyzd"), ("abc", "xyz"), ("abc", "c"), ("abcd", "bxya"), ("ab", "axyzwb"),
    ("abcdef", "axyef"), ("abcdef", "abxyzdeq")])
def test_some_elements_of_a_list_replaced_by_more_or_fewer_others_leave_the_rest_as_it_stood(before: str, after: str) -> None:
    text = listed(before)
    new = {"t": [{"id": n} for n in after]}
    found = toml_patch.patch(text, tomllib.loads(text), new)
    assert tomllib.loads(found) == new
    stay = [n for n in before if n in after]
    if stay == [n for n in after if n in before]:
        assert all(f'id = "{n}"  # {n}\n' in found for n in stay)


@pytest.mark.parametrize("held", ["x = %s", "x = [1, %s, 2]", "x = {a = 1, %s = 2}", "[%s]", "x = 1.%s # 1"])
def test_an_endless_word_is_refused_wherever_it_stands_and_one_of_ten_thousand_is_not(held: str) -> None:
    with pytest.raises(toml_guard.Refused, match="a number or key of more than 10000 characters") as refused:
        toml_guard.loads("a = 1\n" + held % ("9" * 10_001))
    assert refused.value.line == 2
    toml_guard.refuse_words("a = 1\n" + held % ("9" * 9_990))


def test_a_summary_in_one_line_at_the_top_is_replaced_by_its_table() -> None:
    text = 'a = 1  # mine\nsnapshot = {old = 1}\nb = 2\n\n[t]\nsnapshot = 3\n'
    new = {"a": 1, "b": 2, "t": {"snapshot": 3}, "snapshot": {"verdict": "cleared"}}
    found = toml_patch.patch(text, tomllib.loads(text), new, frozenset({"snapshot"}))
    assert tomllib.loads(found) == new
    assert found == 'a = 1  # mine\nb = 2\n\n[t]\nsnapshot = 3\n\n[snapshot]\nverdict = "cleared"\n'
    gone = toml_patch.patch(text, tomllib.loads(text), {k: v for k, v in new.items() if k != "snapshot"}, frozenset({"snapshot"}))
    assert gone == 'a = 1  # mine\nb = 2\n\n[t]\nsnapshot = 3\n'


def named(names: str) -> list[dict[str, str]]:
    return [{"id": n} for n in names]


@pytest.mark.parametrize(("old", "new", "steps"), [
    ("", "", []), ("ab", "ab", [("equal", 0, 2, 0, 2)]), ("", "a", [("insert", 0, 0, 0, 1)]), ("a", "", [("delete", 0, 1, 0, 0)]),
    ("abc", "xbc", [("replace", 0, 1, 0, 1), ("equal", 1, 3, 1, 3)]), ("abc", "abx", [("equal", 0, 2, 0, 2), ("replace", 2, 3, 2, 3)]),
    ("abc", "ac", [("equal", 0, 1, 0, 1), ("delete", 1, 2, 1, 1), ("equal", 2, 3, 1, 2)])])
def test_the_steps_from_one_list_to_another_hold_no_empty_one(
        old: str, new: str, steps: list[tuple[str, int, int, int, int]]) -> None:
    assert toml_patch.steps(named(old), named(new)) == steps


@pytest.mark.parametrize("tables", ["", "\n[t]\nx = 3\n", "\n[t]\nx = 3\n\n[u]\ny = 1\n"])
def test_a_summary_in_one_line_goes_whatever_tables_follow(tables: str) -> None:
    text = "a = 1\nsnapshot = {old = 1}\n" + tables
    new = {k: v for k, v in tomllib.loads(text).items() if k != "snapshot"} | {"snapshot": {"new": 2}}
    found = toml_patch.patch(text, tomllib.loads(text), new, frozenset({"snapshot"}))
    assert found == f"a = 1\n{tables}\n[snapshot]\nnew = 2\n"


def test_a_file_without_a_format_is_told_for_the_whole_file_and_a_wrong_one_for_its_line() -> None:
    with pytest.raises(BuildFileError) as missing:
        open_text('title = "t"\nid = "b"\n', "a.toml")
    assert str(missing.value) == "a.toml: line 1: file: 'format' is missing: the first line of a build file is format = 1"
    with pytest.raises(BuildFileError) as wrong:
        open_text('title = "t"\nformat = "1"\n', "a.toml")
    assert str(wrong.value) == "a.toml: line 2: format: 'format' must be 1"
