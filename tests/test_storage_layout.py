"""A person's comments, order, spelling and own keys survive an edit elsewhere; known traps of TOML writers.

The traps are those of tomlkit 0.15.2 (145, 261, 318, 392, 476, 556, 577, 598, 601 of its tracker, and what a trial
showed): dotted keys, arrays of tables with something between, tables out of order, inline tables, comments
above what is deleted, numbers printed again, offsets with seconds, mixed line ends.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import date, datetime, timedelta, timezone

import pytest

from buildtrack.model import edit
from buildtrack.model.build import Build, Cell, Ended, Entry, PolicyChange, Reading, Row, Waiver
from buildtrack.model.checklist import Item
from buildtrack.storage import toml_patch, write
from buildtrack.storage.build_file import open_text, parse_build
from buildtrack.storage.toml_patch import patch
from buildtrack.storage.write import WriteError, rewrite, to_text
from tests.small import small
from tests.storage_cases import AT, small_build

HAND = edit.Hand(AT, "maker")
READING = Item("part_temperature", "look", "reading", "Temperature")
PARTS = Item("parts", "look", "table", "Parts")
HEAD = """# Build file of the hedge trimmer.
# Kept by hand.

format  =  1   # do not touch
id = 'b1'
title = "Hedge trimmer"  # the small one
notice = ""

[checklist]
version = "1"  # first
id = "small"
"""


def written(build: Build, text: str) -> str:
    """The new text, proven to read back, and not written afresh."""
    done = rewrite(build, small(), open_text(text))
    assert not done.fresh, done.report
    assert parse_build(done.text) == build
    return done.text


def lines_gone(before: str, after: str) -> list[str]:
    """Lines of `before` that are not in `after`, in order."""
    kept = after.split("\n")
    return [line for line in before.split("\n") if line not in kept]


def test_a_changed_title_changes_its_line_only() -> None:
    text = written(replace(parse_build(HEAD), title="Edger"), HEAD)
    assert text == HEAD.replace('"Hedge trimmer"', '"Edger"')


def test_a_reading_is_added_and_nothing_else_is_touched() -> None:
    before = HEAD + """
# first look
[steps.look.part_temperature]   # by hand
# cold morning
[[steps.look.part_temperature.readings]]
text = "21 °C"  # in the shade
taken = 2026-11-03T19:20:00+01:00
note = ""

# parts
[[steps.look.parts]]
id = "p1"
"""
    build = edit.add_reading(parse_build(before), READING, Reading("22 °C", AT), HAND)
    after = written(build, before)
    assert lines_gone(before, after) == []
    assert after.index("22 °C") < after.index("# parts")


def test_a_changed_field_keeps_the_comment_behind_it() -> None:
    before = HEAD + '\n[[steps.look.parts]]\nid = "p1" # left\nwarmth = "30 °C"   # by touch\n'
    build = edit.set_cell(parse_build(before), PARTS, "p1", "warmth", Cell("31 °C", AT, "m1"), HAND)
    after = written(build, before)
    assert 'warmth = "31 °C"   # by touch\n' in after
    assert lines_gone(before, after) == ['warmth = "30 °C"   # by touch']


def test_following_keys_are_not_captured_by_a_dotted_key() -> None:
    before = HEAD + "\n[policy]\nwarmest.value = '40 °C'\nwarmest.reason = 'x'\nhottest.value = '50 °C'\n"
    build = parse_build(before)
    changed = replace(build, policy={**build.policy, "warmest": PolicyChange("41 °C", "y", AT, "me"),
                                     "other": PolicyChange("1", "z")})
    after = written(changed, before)
    assert "hottest.value = '50 °C'\n" in after
    assert "[policy.warmest]\n" in after


def test_an_array_of_tables_with_another_table_between_keeps_its_order() -> None:
    before = HEAD + """
[[steps.look.parts]]
id = "p1"
[steps.look.colour]
[[steps.look.parts]]
id = "p2"
[[steps.look.parts]]
id = "p3"
"""
    build = edit.set_cell(parse_build(before), PARTS, "p2", "warmth", Cell("1 °C"), HAND)
    build = edit.add_row(build, PARTS, "p4", HAND)
    after = written(build, before)
    assert [row.id for row in parse_build(after).entry("parts").rows] == ["p1", "p2", "p3", "p4"]
    assert lines_gone(before, after) == []


def test_tables_out_of_order_are_read_and_edited() -> None:
    before = HEAD + """
[steps.look.part_temperature]
[left_out.do.extra]
reason = "nothing"
[steps.do.checked]
[left_out.look.colour]
reason = "none"
[steps.look.parts]
[policy.warmest]
value = "40 °C"
[steps]
"""
    build = edit.add_reading(parse_build(before), READING, Reading("22 °C", AT), HAND)
    build = edit.take_up_again(build, Item("colour", "look", "text", "Colour"), HAND)
    after = written(build, before)
    assert lines_gone(before, after) == ["[left_out.look.colour]", 'reason = "none"']


def test_a_deleted_row_takes_no_comment_of_the_next_one_along() -> None:
    before = HEAD + """
# the left one
[[steps.look.parts]]
id = "p1"
warmth = "30 °C"
[steps.look.parts.with]
warmth = "m1"

# the right one
[[steps.look.parts]]
id = "p2"
"""
    after = written(edit.delete_row(parse_build(before), PARTS, "p1", "lost", HAND), before)
    assert "# the left one\n" in after
    assert '# the right one\n[[steps.look.parts]]\nid = "p2"\n' in after


def test_a_row_is_put_back_in_the_middle() -> None:
    before = HEAD + "".join(f'\n# row {n}\n[[steps.look.parts]]\nid = "p{n}" # {n}\n' for n in (1, 2, 3))
    start = parse_build(before)
    gone = edit.delete_row(start, PARTS, "p2", "x", HAND)
    without = written(gone, before)
    again = written(edit.undo(gone, start, HAND), without)
    assert [row.id for row in parse_build(again).entry("parts").rows] == ["p1", "p2", "p3"]
    assert "# row 3\n[[steps.look.parts]]\nid = \"p3\" # 3\n" in again


def test_a_table_that_changes_keeps_its_own_comments_and_layout() -> None:
    before = HEAD + """
[policy.warmest]
# agreed on
  value = '40 °C'   # bare hands
  reason = 'x'

  at = 2026-11-03T18:20:00Z
"""
    build = parse_build(before)
    change = replace(build.policy["warmest"], text="41 °C")
    after = written(replace(build, policy={"warmest": change}), before)
    assert after == before.replace("'40 °C'", '"41 °C"')


def test_a_value_that_becomes_a_table_moves_no_key() -> None:
    before = "a = 1\nb = 2\n[c]\nd = 3\n"
    after = patch(before, tomllib.loads(before), {"a": {"x": 1}, "b": 2, "c": {"d": 3, "e": [{"f": 1}]}})
    assert tomllib.loads(after) == {"a": {"x": 1}, "b": 2, "c": {"d": 3, "e": [{"f": 1}]}}
    back = patch(after, tomllib.loads(after), {"a": 1, "b": 2, "c": 5})
    assert tomllib.loads(back) == {"a": 1, "b": 2, "c": 5}


def test_inline_tables_are_read_and_become_tables_when_they_change() -> None:
    inline = 'ended = {reason = "no time"} # sad\npolicy = {a = {value = "1"}, b = {value = "2"}}\n'
    row = '\n[[steps.look.parts]]\nid = "p1"\nwarmth = "1 °C"\ntaken = {warmth = 2026-11-03T18:20:00Z}\n'
    before = HEAD.replace("notice", f"{inline}notice") + row
    build = parse_build(before)
    assert build.ended == Ended("no time")
    build = replace(build, ended=Ended("no cells"), policy={**build.policy, "b": PolicyChange("3", "why")})
    build = edit.set_cell(build, PARTS, "p1", "warmth", Cell("2 °C", None, "m1"), HAND)
    after = written(build, before)
    assert '[ended]\nreason = "no cells"\n' in after
    assert "{" not in after


def test_inline_arrays_of_tables_are_read_and_added_to() -> None:
    before = HEAD.replace("notice", 'waivers = []\nhistory = [{what = "entered"}, {what = "changed"}]\nnotice')
    build = parse_build(before)
    assert [e.what for e in build.history] == ["entered", "changed"]
    after = written(replace(build, waivers=(Waiver("warm", "why"),), history=(*build.history, *build.history)), before)
    assert after.count("[[history]]\n") == 4


def test_numbers_of_keys_that_are_not_ours_keep_their_spelling() -> None:
    numbers = "mass = 3.300\ncount = 1_000\nmask = 0xFF\nsmall = 1e-7\nnone = nan\nlist = [ 1,2 , # two\n  3 ]\n"
    times = "\n[mine]\nx = 3.300\nwhen = 2026-11-03T18:20:00+05:53\nclock = 18:20:00\nday = 2026-11-03\n"
    before = HEAD.replace("notice", f"{numbers}notice") + times
    after = written(edit.add_reading(parse_build(before), READING, Reading("1 °C"), HAND), before)
    assert lines_gone(before, after) == []


def test_a_file_written_afresh_keeps_the_values_of_keys_that_are_not_ours() -> None:
    before = HEAD.replace("notice", "mass = 3.300\nnone = [nan, -inf]\nmask = 0xFFFFFFFFFFFFFFFFFFFF\nnotice") + """
[mine]
when = 2026-11-03T18:20:00+05:53
clock = 18:20:00.5
day = 2026-11-03
early = 0001-01-01T00:00:00+10:00
local = 2026-11-03T18:20:00
mixed = [1, {a = 1}, [{b = 2}]]
"""
    opened = open_text(before)
    text = toml_patch.write(opened.tree)
    assert toml_patch.same(tomllib.loads(text), dict(opened.tree))


@pytest.mark.parametrize("offset", [
    timedelta(hours=1, seconds=30), -timedelta(hours=3, minutes=30), timedelta(hours=5, minutes=45), timedelta(minutes=-44, seconds=-30)])
def test_a_moment_of_any_offset_is_the_same_moment_in_the_file(offset: timedelta) -> None:
    """tomlkit 598: an offset with seconds, as old local times have, is no TOML; TOML 1.0 knows hours and minutes only."""
    taken = AT.replace(tzinfo=timezone(offset))
    before = HEAD + "\n[steps.look.part_temperature]\n"
    build = edit.add_reading(parse_build(before), READING, Reading("22 °C", taken), HAND)
    after = written(build, before)
    (line,) = [line for line in after.split("\n") if line.startswith("taken = ")]
    assert tomllib.loads(line)["taken"] == taken
    assert line.endswith("Z")


def test_what_stands_in_memory_after_a_save_is_plain_and_of_no_writer() -> None:
    """tomlkit's own integers and texts would go on behaving like parts of a document wherever they are used."""
    before = HEAD + '\n[steps.look.part_temperature]\nmine = {a = 1, b = [1.5, "x"], c = 2026-11-03}\nyours = true\n'
    build = edit.add_reading(replace(parse_build(before), title="new"), READING, Reading("22 °C", AT), HAND)
    found = rewrite(build, small(), open_text(before)).opened
    kinds: set[type] = set()

    def walk(value: object) -> None:
        kinds.add(type(value))
        for inner in value.values() if isinstance(value, dict) else value if isinstance(value, (list, tuple)) else ():
            walk(inner)

    walk(found.tree)
    assert kinds == {dict, list, str, int, float, bool, datetime, date}
    walk([[r.text, r.taken] for r in found.build.entry("part_temperature").readings])
    assert {kind.__module__ for kind in kinds} == {"builtins", "datetime"}


def test_windows_line_ends_stay_and_are_not_mixed() -> None:
    before = HEAD.replace("\n", "\r\n")
    build = edit.add_reading(parse_build(before), READING, Reading("1 °C"), HAND)
    after = to_text(build, small(), before)
    assert after.count("\r\n") == after.count("\n") > HEAD.count("\n")
    assert after.startswith(before.rstrip("\r\n"))


def test_a_file_without_a_last_line_end_is_added_to() -> None:
    before = HEAD.rstrip("\n") + "  # end"
    after = written(edit.add_reading(parse_build(before), READING, Reading("1 °C"), HAND), before)
    assert after.startswith(before + "\n")


def test_comments_at_the_end_of_the_file_stay_at_the_end() -> None:
    before = HEAD + "\n# that is all\n"
    after = written(edit.add_reading(parse_build(before), READING, Reading("1 °C"), HAND), before)
    assert after.endswith("\n# that is all\n")


@pytest.mark.parametrize("value", [
    '"""\n[steps.x]\n# no comment\n"""', "'''\n[[history]]\n\"\"\"\n'''",
    '"""a\\"""b"""', '"""x"""""', "''''x'''''", '"a # b"',
    "'a # b [c]'", "[\n  [1, 2], # ]\n  ['[x]'],\n]", '"""\\\n  [x]\n  """', '{ a = "}", b = [1, {c = 2}] }'])
def test_texts_that_look_like_heads_do_not_mislead(value: str) -> None:
    before = HEAD.replace("notice", f"mine = {value}\nnotice") + f"\n[other]\nmine = {value}\nnext = 1\n"
    after = written(replace(edit.add_reading(parse_build(before), READING, Reading("1 °C"), HAND), title="x"), before)
    assert tomllib.loads(after)["mine"] == tomllib.loads(after)["other"]["mine"] == tomllib.loads(f"x = {value}")["x"]


def test_heads_with_quoted_keys_and_blanks_are_understood() -> None:
    heads = ("[ steps . \"look\" . 'part_temperature' ]  # [x]", '[[ steps."look".part_temperature . readings ]]')
    before = "\n".join([HEAD, *heads, 'text = "1"', '["a.b"."c#]d"]', "x = 1", ""])
    after = written(edit.add_reading(parse_build(before), READING, Reading("2"), HAND), before)
    assert lines_gone(before, after) == []
    assert after.index('text = "2"') < after.index('["a.b"')


def test_keys_that_are_not_ours_stay_wherever_they_stand() -> None:
    before = HEAD.replace("notice", "mine = 1\nnotice").replace('id = "small"', 'id = "small"\nmine = 2') + """
[steps.look]
[steps.look.part_temperature]
mine = 3
[[steps.look.part_temperature.readings]]
text = "1"
mine = 4
[[steps.look.parts]]
id = "p1"
warmth = "1"
[steps.look.parts.taken]
gone = 2026-11-03T18:20:00Z
[policy.warmest]
value = "1"
mine = 5
[left_out.do.extra]
reason = "x"
mine = 6
[expected.do.checked]
value = "1"
mine = 7
[[waivers]]
check = "warm"
mine = 8
[[reviews]]
reviewer = "r"
mine = 9
[[history]]
what = "entered"
mine = 10
[other]
mine = 11
"""
    build = parse_build(before)
    build = edit.add_reading(build, READING, Reading("2"), HAND)
    build = edit.set_cell(build, PARTS, "p1", "warmth", Cell("2", AT), HAND)
    build = edit.add_row(build, PARTS, "p0", HAND)
    build = replace(build, waivers=(Waiver("hot", "y"), *build.waivers), title="t", policy={
        "warmest": PolicyChange("2", "z")}, snapshot={"verdict": "cleared"})
    after = written(build, before)
    assert [n for n in range(1, 12) if f"mine = {n}\n" not in after] == []
    assert "gone = 2026-11-03T18:20:00Z\n" in after


def test_an_item_left_out_keeps_the_keys_of_its_table() -> None:
    before = HEAD + "\n[steps.look.part_temperature]\nmine = 3\n"
    item = replace(READING, need="optional")
    after = written(edit.leave_out(parse_build(before), item, "", HAND), before)
    assert "[steps.look.part_temperature]\nmine = 3\n" in after


def test_new_tables_come_in_the_order_of_the_checklist() -> None:
    build, text = parse_build(HEAD), HEAD
    for item in ("checked", "parts", "part_temperature", "allowed"):
        found = small().items[item]
        build = edit.add_row(build, found, "p1", HAND) if found.kind == "table" else edit.add_reading(
            build, found, Reading("1"), HAND)
        text = written(build, text)
    heads = [line for line in text.split("\n") if line.startswith(("[steps", "[[steps"))]
    assert [h.strip("[]").split(".")[2] for h in heads if "readings" not in h] == [
        "allowed", "part_temperature", "parts", "checked"]


def test_items_that_no_checklist_knows_stay_in_their_step() -> None:
    before = HEAD + '\n[steps.paint.colour]\n[[steps.paint.colour.readings]]\ntext = "red"\n'
    colour = Item("colour", "?", "text", "Colour")
    after = written(edit.add_reading(parse_build(before), colour, Reading("blue"), HAND), before)
    assert after.count("[[steps.paint.colour.readings]]") == 2


def test_a_column_named_like_a_word_of_the_format_is_kept_beside_it() -> None:
    row = Row("p1", {"note": Cell("bought", note="in spring"), "id": Cell("7"), "columns": Cell("2"),
                     "with": Cell("bolts")})
    build = replace(parse_build(HEAD), entries={"parts": Entry(rows=(row,))})
    after = written(build, HEAD)
    assert '[steps.look.parts.columns]\nnote = "bought"\nid = "7"\ncolumns = "2"\n' in after
    assert 'with = "bolts"\n' in after


def test_a_summary_is_replaced_whole_and_stands_last() -> None:
    first = rewrite(small_build(), None, None, {"verdict": "incomplete", "workings": {"a": "1", "b": "2"}})
    later = edit.add_reading(first.opened.build, READING, Reading("1"), HAND)
    text = rewrite(later, None, first.opened, {"verdict": "cleared", "workings": {"a": "3"}}).text
    assert text.endswith('[snapshot]\nverdict = "cleared"\n\n[snapshot.workings]\na = "3"\n')
    assert "incomplete" not in text
    after = toml_patch.write(write._target(later, None, open_text(text + "\n[mine]\nx = 1\n")))
    assert after.index("[mine]") < after.index("[snapshot]")


def test_where_the_writer_goes_wrong_a_fresh_file_is_written_and_it_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    build = replace(parse_build(HEAD), title="Edger")
    for broken, says in ((lambda *_a, **_k: HEAD, "would not read back"), (lambda *_a, **_k: "x = [", "is not TOML"),
                         (lambda *_a, **_k: 1 / 0, "ZeroDivisionError")):
        monkeypatch.setattr("buildtrack.storage.toml_patch.patch", broken)
        done = rewrite(build, small(), open_text(HEAD))
        assert done.fresh
        assert says in done.report
        assert parse_build(done.text) == build


@pytest.mark.parametrize("build", [
    small_build(title="\ud800"), small_build(created=AT.replace(tzinfo=None)), small_build(title=5),
    small_build(id=" "),
    small_build(entries={"a": Entry(rows=(Row("x"), Row("x")))}), small_build(maker=object())])
def test_a_build_that_no_file_can_hold_is_refused_in_a_sentence(build: Build) -> None:
    with pytest.raises(WriteError, match="the build cannot be written: "):
        rewrite(build, None)
