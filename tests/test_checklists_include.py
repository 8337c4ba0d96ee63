"""Shared files of checklists: what is put in, what is changed, what falls away, and where a mistake is told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.storage.checklist_file import ChecklistError, find_checklist, parse_whole, read_checklist, read_text
from buildtrack.storage.places import shipped_checklists

SHARED = '''format = 1
cautions = ["Shared caution."]

[step]
id = "look"
title = "Look at it"
minutes = 5

[[items]]
id = "volts"
kind = "reading"
label = "Voltage"
need = "must"
unit = "V"
plausible = ["1 V", "5 V"]
rests_on = ["elsewhere"]

[[items]]
id = "colour"
kind = "choice"
label = "Colour"
options = [["red", "Red"], ["blue", "Blue"]]

[[items]]
id = "shade"
kind = "text"
label = "Shade"
only_if = [{ item = "colour", is = ["red"] }]

[[items]]
id = "parts"
kind = "table"
label = "Parts"
row_name = "part"
columns = [
  { id = "mass", label = "Mass", kind = "reading", unit = "g" },
  { id = "note", label = "Note" },
]

[policy.high]
label = "Highest"
value = "4 V"
unit = "V"
source = "common practice, no source"

[[checks]]
id = "volts-high"
step = "look"
severity = "stop"
title = "Too high"
message = "{value} above {limit}"
value = "volts"
at_most = "high"

[[checks]]
id = "colour-red"
step = "look"
severity = "note"
title = "Red"
message = "{value}"
value = "colour"
is = ["red"]
'''
MAIN = '''format = 1
id = "mine"
version = "1"
title = "Mine"
purpose = "To test includes"
include = "shared/one.toml"
'''


def folder(tmp_path: Path, main: str, shared: str = SHARED) -> Path:
    (tmp_path / "shared").mkdir(exist_ok=True)
    (tmp_path / "shared" / "one.toml").write_text(shared, encoding="utf-8")
    path = tmp_path / "mine.toml"
    path.write_text(MAIN + main, encoding="utf-8")
    return path


def problems(path: Path) -> list[str]:
    return [str(p) for p in parse_whole(read_text(path), str(path)).problems]


WHOLE = '\n[[steps]]\ninclude = "shared/one.toml"\n'


def test_a_whole_step_is_put_in_with_its_head_and_the_rest_merged(tmp_path: Path) -> None:
    found = read_checklist(folder(tmp_path, WHOLE))
    assert [(s.id, s.title, s.minutes) for s in found.steps] == [("look", "Look at it", 5)]
    assert list(found.items) == ["volts", "colour", "shade", "parts"]
    assert found.policy["high"].text == "4 V" and found.cautions == ("Shared caution.",)
    assert list(found.check) == ["volts-high", "colour-red"]


def test_a_step_may_change_its_head_leave_items_out_and_add_its_own(tmp_path: Path) -> None:
    found = read_checklist(folder(tmp_path, '''
[[steps]]
include = "shared/one.toml"
leave_out = ["shade"]
title = "Other title"
[[steps.items]]
id = "own"
kind = "text"
label = "Own"
'''))
    assert found.steps[0].title == "Other title"
    assert list(found.items) == ["volts", "colour", "parts", "own"]


ITEMS = '\n[[steps]]\nid = "look"\ntitle = "T"\n[[steps.items]]\ninclude = "shared/one.toml"\nitems = ["parts", "volts"]\n'


def test_chosen_items_come_in_the_order_they_are_named(tmp_path: Path) -> None:
    found = read_checklist(folder(tmp_path, ITEMS))
    assert list(found.items) == ["parts", "volts"]


def test_a_check_on_an_item_that_was_not_taken_falls_away(tmp_path: Path) -> None:
    assert list(read_checklist(folder(tmp_path, ITEMS)).check) == ["volts-high"]


def test_a_link_to_an_item_that_is_not_there_falls_away(tmp_path: Path) -> None:
    assert read_checklist(folder(tmp_path, ITEMS)).items["volts"].rests_on == ()


def test_items_and_columns_are_changed_in_one_place(tmp_path: Path) -> None:
    found = read_checklist(folder(tmp_path, '''
[change.volts]
label = "Voltage at rest"
plausible = ["2 V", "3 V"]
[change.parts]
keep_columns = ["mass"]
[change.parts.columns.mass]
plausible = ["1 g", "9 g"]
''' + ITEMS))
    assert found.items["volts"].label == "Voltage at rest"
    assert (found.items["volts"].plausible.low, found.items["volts"].plausible.high) == (2.0, 3.0)
    assert [c.id for c in found.items["parts"].columns] == ["mass"]
    assert found.items["parts"].columns[0].plausible.high == 9.0


def test_an_own_policy_value_wins_over_the_shared_one(tmp_path: Path) -> None:
    own = '\n[policy.high]\nlabel = "Highest"\nvalue = "3 V"\nunit = "V"\nsource = "common practice, no source"\n'
    assert read_checklist(folder(tmp_path, own + WHOLE)).policy["high"].value == 3.0


def test_a_fixed_answer_decides_what_is_asked(tmp_path: Path) -> None:
    rest = '\n[[steps]]\ninclude = "shared/one.toml"\nleave_out = ["colour"]\n'
    red = read_checklist(folder(tmp_path, '\n[fixed]\ncolour = "red"\n' + rest))
    assert "shade" in red.items and red.items["shade"].only_if == ()
    assert "shade" not in read_checklist(folder(tmp_path, '\n[fixed]\ncolour = "blue"\n' + rest)).items


@pytest.mark.parametrize("name", ["../secret.toml", "/etc/passwd.toml", "shared/../../x.toml", "shared/.hidden.toml", "shared\\\\one.toml",
                                  "shared/one.txt", ""])
def test_an_include_never_leads_out_of_the_checklist_folders(tmp_path: Path, name: str) -> None:
    path = folder(tmp_path, f'\n[[steps]]\nid = "a"\ntitle = "A"\n[[steps.items]]\ninclude = "{name}"\n')
    assert any("must name a file inside the checklist folder" in p for p in problems(path)), problems(path)


def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path) -> None:
    outside = tmp_path / "outside.toml"
    outside.write_text(SHARED, encoding="utf-8")
    inner = tmp_path / "lists"
    (inner / "shared").mkdir(parents=True)
    (inner / "shared" / "one.toml").symlink_to(outside)
    path = inner / "mine.toml"
    path.write_text(MAIN + WHOLE, encoding="utf-8")
    assert any("there is no file 'shared/one.toml'" in p for p in problems(path))


WRONG = [
    ('\n[[steps]]\ninclude = "shared/none.toml"\n', "there is no file 'shared/none.toml' to include"),
    (ITEMS.replace('"volts"]', '"voltz"]'), "'voltz' is not an item of shared/one.toml"),
    (ITEMS + 'leave_out = ["nothing"]\n', "'nothing' is not an item of shared/one.toml"),
    (ITEMS + 'label = "x"\n', "'label' cannot stand beside 'include': what differs goes under [change.ITEM]"),
    ('\n[change.volts]\nkind = "text"\n' + ITEMS, "'kind' of a shared item cannot be changed"),
    ('\n[change.colour]\nlabel = "x"\n' + ITEMS, "'colour' is not an item put in from a shared file"),
    ('\n[change.parts]\nkeep_columns = ["size"]\n' + ITEMS, "there is no column 'size'"),
    ('\n[change.parts.columns.size]\nlabel = "x"\n' + ITEMS, "there is no column 'size'"),
    ('\n[change.volts]\nunit = "furlong"\n' + ITEMS, "'furlong' is not a unit this program knows"),
    ('\n[fixed]\ncolour = 3\n' + ITEMS, "'fixed' is a table of answers in quotes"),
]


@pytest.mark.parametrize(("main", "says"), WRONG)
def test_each_mistake_with_an_include_is_named(tmp_path: Path, main: str, says: str) -> None:
    found = problems(folder(tmp_path, main))
    assert any(says in p for p in found), found


def test_a_mistake_in_a_shared_file_names_that_file_and_line(tmp_path: Path) -> None:
    shared = SHARED.replace('kind = "choice"', 'kind = "choise"')
    line = next(n for n, text in enumerate(shared.splitlines(), 1) if "choise" in text)
    path = folder(tmp_path, WHOLE, shared)
    assert problems(path)[0].startswith(f"shared/one.toml line {line}: step look, item colour:")
    with pytest.raises(ChecklistError, match=rf"mine\.toml: shared/one\.toml line {line}:"):
        read_checklist(path)


def test_a_mistake_in_a_change_names_the_line_of_the_change(tmp_path: Path) -> None:
    path = folder(tmp_path, '\n[change.volts]\nplausible = ["3 V", "2 V"]\n' + ITEMS)
    line = next(n for n, text in enumerate(read_text(path).splitlines(), 1) if '"3 V", "2 V"' in text)
    assert problems(path) == [f"line {line}: step look, item volts: 'plausible': the lowest must lie below the highest"]


@pytest.mark.parametrize("shared", ["format = ", "format = 1\nbanana = 3\n", "format = 1\nitems = 3\n", "format = 1\nitems = [3]\n"])
def test_a_shared_file_of_any_content_gives_problems_never_a_traceback(tmp_path: Path, shared: str) -> None:
    assert problems(folder(tmp_path, WHOLE, shared))


def test_the_hash_covers_what_is_included(tmp_path: Path) -> None:
    before = read_checklist(folder(tmp_path, WHOLE))
    after = read_checklist(folder(tmp_path, WHOLE, SHARED.replace("Voltage", "Tension")))
    assert before.sha256 != after.sha256
    assert replace(before, sha256="", steps=()) == replace(after, sha256="", steps=())


def test_a_person_may_use_the_shared_files_of_the_program(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(MAIN.replace("shared/one.toml", "shared/limits.toml") +
                    '\n[[steps]]\nid = "plan"\ntitle = "P"\n[[steps.items]]\ninclude = "shared/plan.toml"\nitems = ["tool"]\n', encoding="utf-8")
    assert list(read_checklist(path).items) == ["tool"]


def test_the_main_checklist_is_written_of_shared_steps() -> None:
    main = find_checklist("nickel-tool-pack")
    assert len(main.items) > 250
    assert "[[items]]" not in read_text(shipped_checklists() / "nickel-tool-pack.toml")


@given(st.integers(0, len(SHARED) - 1), st.sampled_from(list('"[]={}\n#0aé')))
@settings(max_examples=150, deadline=None, derandomize=True)
def test_a_damaged_shared_file_never_gives_a_traceback(tmp_path_factory: pytest.TempPathFactory, place: int, mark: str) -> None:
    tmp_path = tmp_path_factory.mktemp("damaged")
    path = folder(tmp_path, WHOLE + ITEMS.replace('id = "look"', 'id = "again"'), SHARED[:place] + mark + SHARED[place + 1:])
    try:
        parse_whole(read_text(path), str(path))
    except ChecklistError as error:
        assert "\n" not in str(error)
