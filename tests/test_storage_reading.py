"""A build file of any content gives a build, or one clear line that names file, line, step and item."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from buildtrack.storage.build_file import (
    BuildFileError,
    open_text,
    parse_build,
    read_build,
    unknown_items,
)
from buildtrack.storage.make_tree import plain
from buildtrack.storage.toml_guard import DEEPEST, LARGEST, MOST_PARTS
from tests.small import small
from tests.storage_cases import small_build

GOOD = """format = 1
id = "b1"
title = "Hedge trimmer"
created = 2026-11-03T18:20:00Z

[checklist]
id = "small"
version = "1"

[policy.warmest]
value = "40 °C"
reason = "bare hands"

[instruments.m1-20v]
kind = "multimeter"

[steps.look.part_temperature]
[[steps.look.part_temperature.readings]]
text = "21 °C"
taken = 2026-11-03T18:20:00Z
with = "m1-20v"

[[steps.look.parts]]
id = "p1"
warmth = "30 °C"
[steps.look.parts.taken]
warmth = 2026-11-03T18:20:00Z
[steps.look.parts.class]
warmth = "guessed"

[[steps.look.parts]]
id = "p2"
warmth = "31 °C"

[left_out.do.extra]
reason = "nothing odd"

[expected.do.checked]
value = "3.3 V"

[[waivers]]
check = "warm"
reason = "it cools"

[[history]]
at = 2026-11-03T18:20:00Z
what = "entered"
"""


def refusal(text: str) -> str:
    with pytest.raises(BuildFileError) as caught:
        parse_build(text, "my.toml")
    said = str(caught.value)
    assert said.startswith("my.toml: ")
    assert "\n" not in said
    assert len(said) < 500
    return said


def test_a_good_file_is_read() -> None:
    build = parse_build(GOOD)
    assert build.entry("part_temperature").readings[0].taken == datetime(2026, 11, 3, 18, 20, tzinfo=UTC)
    assert build.entry("parts").rows[0].cells["warmth"].value_class == "guessed"
    assert build.entry("instruments").rows[0].text("kind") == "multimeter"
    assert build.entry("extra").left_out is not None
    assert build.entry("checked").expected == "3.3 V"
    assert build.policy["warmest"].text == "40 °C"


@pytest.mark.parametrize(("old", "new", "line", "says"), [
    ("format = 1", "format = 2", 1, "written by a newer version: format 2, this program reads 1"),
    ("format = 1", "format = 999999999999999999999999999", 1, "written by a newer version"),
    ("format = 1", "format = 0", 1, "'format' must be 1"),
    ("format = 1", "format = true", 1, "'format' must be 1"),
    ("format = 1", 'format = "1"', 1, "'format' must be 1"),
    ("format = 1\n", "", 1, "'format' is missing"),
    ('id = "b1"\n', "", 1, "'id' is missing: write id = \"...\""),
    ('id = "b1"', 'id = " "', 2, "'id' is empty"),
    ('title = "Hedge trimmer"', "title = 5", 3, "'title' must be text in quotes, not a number"),
    ("created = 2026-11-03T18:20:00Z", 'created = "2026-11-03"', 4,
     "'created' must be a date with time and zone, like 2026-11-03T18:20:00Z, without quotes; here it is text"),
    ("created = 2026-11-03T18:20:00Z", "created = 2026-11-03T18:20:00", 4, "a date with time without zone"),
    ("created = 2026-11-03T18:20:00Z", "created = 2026-11-03", 4, "here it is a date or time"),
    ("created = 2026-11-03T18:20:00Z", "created = 0001-01-01T00:00:00+10:00", 4, "a date beyond the calendar"),
    ("created = 2026-11-03T18:20:00Z", "created = 2026-02-30T18:20:00Z", 4, "is not TOML: Invalid date or datetime"),
    ('[checklist]\nid = "small"', "[checklist]", 6, "'id' is missing"),
    ('[checklist]\nid = "small"\nversion = "1"\n', "", 1, "table [checklist] with 'id' is missing"),
    ('[checklist]\nid = "small"\nversion = "1"', 'checklist = "small"', 6, "'checklist' must be a table, not text"),
    ("[policy.warmest]\nvalue = \"40 °C\"\nreason = \"bare hands\"", "[policy]\nwarmest = 40", 11, "must be a table"),
    ('value = "40 °C"', "value = 40", 11, "policy, warmest, value: 'value' must be text in quotes"),
    ('kind = "multimeter"', "kind = 5", 15, "instruments, m1-20v, kind: 'kind' must be text in quotes"),
    ("[steps.look.part_temperature]\n[[steps.look.part_temperature.readings]]\ntext", "[steps.look]\npart_temperature",
     18, "step look, item part_temperature: an item is a table, headed [steps.look.part_temperature]; here it is text"),
    ('text = "21 °C"', "text = 21", 19,
     "step look, item part_temperature, reading 1, text: 'text' must be text in quotes"),
    ('text = "21 °C"\n', "", 18, "step look, item part_temperature, reading 1: 'text' is missing"),
    ('with = "m1-20v"', 'class = "estimated"', 21,
     "class 'estimated' is not known; it must be one of measured, computed, taken over, guessed"),
    ('with = "m1-20v"', "size = -1", 21, "'size' must be a whole number from 0 on"),
    ('with = "m1-20v"', "size = 1.5", 21, "'size' must be a whole number from 0 on"),
    ("[[steps.look.part_temperature.readings]]", "[steps.look.part_temperature.readings]", 18,
     "must be a list of tables, each headed [[steps.look.part_temperature.readings]]"),
    ('warmth = "30 °C"', "warmth = 30", 25, "step look, item parts, row 1, warmth: 'warmth' must be text in quotes"),
    ("warmth = 2026-11-03T18:20:00Z", 'warmth = "yesterday"', 27, "step look, item parts, row 1, taken, warmth"),
    ('warmth = "guessed"', 'warmth = "perhaps"', 29, "class 'perhaps' is not known"),
    ('id = "p2"', 'id = "p1"', 32, "step look, item parts, row 2, id: there are two rows called 'p1'"),
    ('id = "p2"\n', "", 31, "step look, item parts, row 2: 'id' is missing"),
    ('id = "p2"', 'id = ""', 32, "a row needs a name in 'id'"),
    ("[left_out.do.extra]", "[left_out.look.parts]", 35, ""),
    ("[left_out.do.extra]", "[left_out.do.parts]", 35, "step do, item parts: item 'parts' stands in step 'look' too"),
    ("[expected.do.checked]", "[[expected.do.checked]]", 38, "'checked' must be a table, not a list"),
    ('check = "warm"\n', "", 41, "waiver 1: 'check' is missing"),
    ("[[waivers]]", "[waivers]", 41, "'waivers' must be a list of tables, each headed [[waivers]]"),
    ('what = "entered"', 'what = ["entered"]', 47, "history line 1, what: 'what' must be text in quotes, not a list"),
    ("[[history]]\nat = 2026-11-03T18:20:00Z\nwhat = \"entered\"\n", "[[instruments]]\n", 45, "is not TOML"),
    ("[instruments.m1-20v]", '[instruments.""]', 14, "an instrument needs a name"),
    ("[[waivers]]", "[[waivers", 41, "is not TOML"),
    ("[[waivers]]", "[policy]\n[policy]", 42, "is not TOML"),
    ('id = "b1"', 'id = "b1"\nid = "b2"', 3, "is not TOML: Cannot overwrite a value"),
    ('id = "b1"', 'id = "b\x001"', 2, "is not TOML: Illegal character"),
    ('id = "b1"', "id = " + "9" * 5000, 1, "holds a number that is no measurement"),
])
def test_each_mistake_is_named_with_its_line(old: str, new: str, line: int, says: str) -> None:
    assert old in GOOD
    text = GOOD.replace(old, new, 1)
    if not says:
        assert parse_build(text)
        return
    said = refusal(text)
    assert says in said
    if "no measurement" not in says:
        assert f": line {line}: " in said


@pytest.mark.parametrize("text", [
    "x = " + "[" * 100_000, "x = " + "[" * 200 + "]" * 200, "[" + ".".join(["a"] * 1000) + "]\n",
    "x = {" + ".".join(['"a"'] * 1000) + " = 1}", ".".join(["a"] * 500_000) + " = 1",
    "format = 1\n[" + "a." * 45 + "b]\n", "a . " * 100_000, "a" * 1_900_000 + "." * 70,
    "\n" * 1_000_000 + "[", "[[a]]\n" * 50_000])
def test_what_is_built_to_take_long_is_refused_in_a_line(text: str) -> None:
    refusal(text)


def test_the_line_of_a_long_key_is_named() -> None:
    assert f": line 3: a key of more than {MOST_PARTS} parts" in refusal("a = 1\n\n" + "b." * MOST_PARTS + "c = 1\n")
    assert "'format' is missing" in refusal("b." * (MOST_PARTS - 1) + "c = 1\n")


def test_many_dotted_words_in_a_note_are_a_note() -> None:
    text = GOOD.replace("it cools", ", " + "1." * (MOST_PARTS + 10))
    assert parse_build(text).waivers[0].reason.count(".") == MOST_PARTS + 10


def test_tables_may_lie_as_deep_as_is_said() -> None:
    assert parse_build(GOOD + "\n[deep]\na = " + "[" * (DEEPEST - 2) + "]" * (DEEPEST - 2))
    assert f"more than {DEEPEST} deep" in refusal(GOOD + "\n[deep]\na = " + "[" * DEEPEST + "]" * DEEPEST)


def test_keys_that_are_not_known_are_no_mistake() -> None:
    text = GOOD.replace("[checklist]", "colour = [1, nan, {a = 1}]\n\n[checklist]\nextra = 5\n") + "\n[future]\nx = 1\n"
    assert parse_build(text) == parse_build(GOOD)


def test_a_file_is_named_when_it_cannot_be_had(tmp_path: Path) -> None:
    def said(path: Path) -> str:
        with pytest.raises(BuildFileError) as caught:
            read_build(path)
        return str(caught.value)

    assert said(tmp_path / "none.toml").endswith("none.toml: there is no such file")
    assert said(tmp_path).endswith("this is a folder, not a build file")
    assert "is not a name that a file can have" in said(Path("a\0b"))
    bad = tmp_path / "bad.toml"
    bad.write_bytes(GOOD.encode().replace(b"bare hands", b"bare \xff"))
    assert "line 12: is not UTF-8 text" in said(bad)
    bad.write_bytes(b"# " + b"x" * LARGEST)
    assert f"more than the {LARGEST} this program reads" in said(bad)
    os.mkfifo(tmp_path / "pipe")
    assert said(tmp_path / "pipe").endswith("this is not a file")
    (tmp_path / "round").symlink_to("round")
    assert "the links lead round in a circle" in said(tmp_path / "round")
    assert said(tmp_path / "bad.toml" / "x").endswith("cannot be read (the folder is no longer there)")


def test_a_byte_order_mark_and_other_line_ends_are_read(tmp_path: Path) -> None:
    path = tmp_path / "b.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    opened = read_build(path)
    assert opened.build == parse_build(GOOD)
    assert opened.crlf
    assert opened.sha256 == opened.mark.sha256 if opened.mark else False


def test_a_column_may_be_called_like_a_word_of_the_format() -> None:
    text = GOOD.replace('id = "p2"\n', 'id = "p2"\nnote = "bought"\nclass = "A"\n')
    assert parse_build(text).entry("parts").rows[1].text("note") == "bought"
    assert parse_build(text).entry("parts").rows[1].text("class") == "A"


def test_what_the_checklist_does_not_have_is_named() -> None:
    text = GOOD + '\n[steps.look.colour]\n[[steps.look.colour.readings]]\ntext = "red"\n'
    build = parse_build(text.replace('warmth = "31 °C"', 'weight = "31 g"'))
    assert unknown_items(build, small()) == ("parts.weight", "colour", "instruments")


def test_the_steps_of_all_items_are_told() -> None:
    assert open_text(GOOD).steps == {"part_temperature": "look", "parts": "look", "extra": "do", "checked": "do"}


def test_the_error_holds_its_parts() -> None:
    with pytest.raises(BuildFileError) as caught:
        parse_build(GOOD.replace('text = "21 °C"', "text = 21"), "my.toml")
    error = caught.value
    assert (error.path, error.line, error.where) == (
        "my.toml", 19, "step look, item part_temperature, reading 1, text")


def test_a_snapshot_takes_plain_values_only() -> None:
    given = {"a": None, "b": float("inf"), "c": (1, None, 2.5), "d": {"e": datetime(2026, 1, 1)}}  # noqa: DTZ001
    assert plain(given) == {"b": "inf", "c": [1, 2.5], "d": {"e": datetime(2026, 1, 1, tzinfo=UTC)}}
    with pytest.raises(TypeError, match="a snapshot cannot hold a object"):
        plain({"a": object()})
    assert small_build(snapshot={}).snapshot == {}


@pytest.mark.parametrize(("end", "line", "says"), [
    ('kind = "multim', 15, "is not TOML: it ends in the middle of a text: it was cut off, or a closing mark is missing"),
    ("[steps.look.part_tem", 17, "it ends in the middle of the head of a table"),
    ("[[steps.look.part_temperature.read", 18, "it ends in the middle of the head of a table"),
    ('text = "21 °C"\ntak', 20, "it ends in the middle of a key"), ("taken = ", 20, "it ends in the middle of a value")])
def test_a_file_cut_off_is_refused_with_its_last_line_and_in_the_middle_of_what_it_ends(end: str, line: int, says: str) -> None:
    cut = GOOD[:GOOD.index(end) + len(end)]
    said = refusal(cut)
    assert said.startswith(f"my.toml: line {line}: ") and says in said


def test_of_a_long_text_that_is_never_closed_its_first_line_is_named() -> None:
    opened = GOOD.replace('title = "Hedge trimmer"', 'title = """Hedge trimmer')
    assert "line 47: is not TOML: it ends in the middle of a text that begins on line 3" in refusal(opened)
