"""Bounds of what is read, and corners of lists of cells, backups and fixed answers: by what the file or the rule says."""

from __future__ import annotations

import hashlib
import json
import sys
import tomllib
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from buildtrack.physics.logs import read_log
from buildtrack.storage import backups, journal, log_data, places, toml_guard
from buildtrack.storage.build_file import BuildFileError, parse_build, read_build
from buildtrack.storage.cell_list import CellListError, read_cells
from buildtrack.storage.checklist_file import ChecklistError, Problem, parse_checklist
from buildtrack.storage.checklist_fixed import holds
from buildtrack.storage.unknown import keep_unknown
from buildtrack.storage.write import to_text
from tests.storage_cases import AT, small_build
from tests.test_physics_logs import STEADY, table


def padded(text: str, size: int) -> bytes:
    """The text with a remark of blanks behind it, so many bytes in all."""
    data = text.encode()
    return data + b"#" + b" " * (size - len(data) - 2) + b"\n"


def test_a_build_file_of_the_largest_size_is_read_and_one_byte_more_is_refused(tmp_path: Path) -> None:
    assert toml_guard.LARGEST == 2_000_000
    path, text = tmp_path / "a.toml", to_text(small_build(), None)
    path.write_bytes(padded(text, 2_000_000))
    assert read_build(path).build == small_build()
    path.write_bytes(padded(text, 2_000_001))
    with pytest.raises(BuildFileError, match="2000001 bytes are more than the 2000000"):
        read_build(path)


def test_a_list_of_cells_larger_than_any_is_refused_by_its_size(tmp_path: Path) -> None:
    path = tmp_path / "cells.csv"
    path.write_bytes(b"id;capacity (mAh)\na;2100\n" + b"\n" * (5_000_001 - 25))
    assert path.stat().st_size == 5_000_001
    with pytest.raises(CellListError, match="5000001 bytes are more than the 5000000"):
        read_cells(path)


@pytest.mark.parametrize("above", ["tester;4\n", "tester;0.3\n4;4\n", "", "serial;2.5\n\n"])
def test_only_what_stands_below_the_headings_tells_the_unit(tmp_path: Path, above: str) -> None:
    """A small number above them would make ampere-hours of 2,100."""
    path = tmp_path / "cells.csv"
    path.write_text(f"{above}cell;capacity\na;2100\nb;1980\nc;0\n")
    assert [round(c.capacity_ah, 3) for c in read_cells(path).cells] == [2.1, 1.98]


def test_a_generation_that_somebody_else_thinned_out_is_not_missed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    backups.keep(tmp_path, "b1", b"one", AT)
    monkeypatch.setattr(backups, "thinned", lambda names, _now: [names[0], "000000-20260101T000000Z-000000000000.toml"])
    made = backups.keep(tmp_path, "b1", b"two", AT + timedelta(hours=1))
    assert [p.name for p in backups.generations(tmp_path, "b1")] == [made.name]


@pytest.mark.parametrize(("condition", "text", "expected"), [
    ({"at_least": 2}, "1", False), ({"at_least": 2}, "2", True), ({"at_least": 2}, "3", True),
    ({"at_most": 4}, "4", True), ({"at_most": 4}, "5", False), ({"at_most": 4}, "-1", True),
    ({"at_least": 2, "at_most": 4}, "1", False), ({"at_least": 2, "at_most": 4}, "3", True), ({"at_least": 2, "at_most": 4}, "5", False),
    ({"at_least": 2}, "two", False), ({"at_most": 4}, "", False), ({}, "anything", True),
    ({"is": ["a", "b"]}, "b", True), ({"is": ["a", "b"]}, "c", False), ({"is_not": ["a"]}, "a", False), ({"is_not": ["a"]}, "b", True),
    ({"is": ["a"], "is_not": ["a"]}, "a", False), ({"is": ["3"], "at_least": 4}, "3", False), ({"is": ["5"], "at_least": 4}, "5", True),
    ({"answered": True}, "x", True), ({"answered": False}, "x", False), ({"answered": True, "is": ["y"]}, "x", False)])
def test_a_condition_on_a_fixed_answer_holds_when_each_of_its_parts_does(
        condition: Mapping[str, Any], text: str, expected: bool) -> None:
    assert holds(condition, text) is expected


# --- checklists ---


HEAD = 'format = 1\nid = "x"\nversion = "1"\ntitle = "t"\npurpose = "p"\n[[steps]]\nid = "s"\ntitle = "S"\n'


def item(more: str) -> str:
    return f'[[steps.items]]\nid = "i"\nkind = "choice"\nlabel = "L"\n{more}\n'


@pytest.mark.parametrize(("options", "says"), [
    ('[["a", "Yes"], ["b", "Yes"]]', ""), ('[["a", "Yes"], ["a", "No"]]', "option 'a' stands twice"),
    ('[["a", "Yes"], ["b", "a"]]', "")])
def test_options_are_told_apart_by_their_ids(options: str, says: str) -> None:
    found, problems = parse_checklist(HEAD + item(f"options = {options}"))
    assert [p.message for p in problems] == ([says] if says else [])
    assert [(o.id, o.label) for o in found.items["i"].options] == [tuple(pair) for pair in tomllib.loads(f"x = {options}")["x"]]


def test_a_step_that_names_no_minutes_takes_none() -> None:
    found, problems = parse_checklist(HEAD + item('options = [["a", "A"], ["b", "B"]]'))
    assert problems == [] and found.steps[0].minutes == 0


def test_what_an_item_of_the_checklist_itself_rests_on_is_not_taken_away_though_it_is_not_there() -> None:
    """For items of shared files it falls away in silence; here it is a mistake, which lint names."""
    own = item('options = [["a", "A"], ["b", "B"]]\nrests_on = ["no_such"]')
    assert parse_checklist(HEAD + own)[0].items["i"].rests_on == ("no_such",)


def test_a_checklist_with_one_mistake_names_it_and_with_more_how_many_more() -> None:
    one, two = Problem(3, "step s", "is wrong"), Problem(5, "step t", "is wrong too")
    assert str(ChecklistError("a.toml", [one])) == "a.toml: line 3: step s: is wrong"
    assert str(ChecklistError("a.toml", [one, two])) == "a.toml: line 3: step s: is wrong (and 1 more: buildtrack lint a.toml)"


def test_a_line_of_the_journal_knows_what_was_before_by_half_a_sha256(tmp_path: Path) -> None:
    """16 hexadecimal digits of the JSON with sorted keys: a journal left by one version must fit the next one."""
    old = small_build()
    line = journal.edit(old, replace(old, title="Edger"), str(tmp_path / "a.toml"))
    known = hashlib.sha256(json.dumps(old.title).encode()).hexdigest()[:16]
    assert line["parts"]["title"] == [known, "Edger"]


# --- logs that are kept in memory, folders of the person ---


def logs_of(folder: Path, count: int) -> list[Path]:
    paths = [folder / f"{n}.csv" for n in range(count)]
    for path in paths:
        path.write_text(table(STEADY))
    return paths


def test_the_eight_logs_looked_at_last_are_not_read_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[str] = []

    def reading(path: Path, columns: str) -> log_data.ReadLog:
        read.append(path.stem)
        return log_data.ReadLog(read_log(path), ())

    monkeypatch.setattr(log_data, "read_columns", reading)
    monkeypatch.setattr(log_data, "_kept", OrderedDict())
    paths = logs_of(tmp_path, log_data.KEPT + 1)
    for path in (*paths[:-1], paths[0], paths[-1]):  # the first is looked at once more, so the second is the oldest
        log_data._summary(path, "")
    assert read == [path.stem for path in paths]
    for path in (paths[0], *paths[2:]):
        log_data._summary(path, "")
    assert read == [path.stem for path in paths], "all are still there"
    log_data._summary(paths[1], "")
    assert read[-1] == "1" and len(read) == len(paths) + 1


def test_a_log_of_the_largest_size_is_read_and_one_byte_more_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (path,) = logs_of(tmp_path, 1)
    size = path.stat().st_size
    monkeypatch.setattr(log_data, "_kept", OrderedDict())
    monkeypatch.setattr(log_data, "LARGEST", size)
    assert isinstance(log_data._summary(path, ""), log_data.ReadLog)
    monkeypatch.setattr(log_data, "LARGEST", size - 1)
    assert log_data._summary(path, "") == f"0.csv: {size} bytes are more than the {size - 1} that are read as a log"


@pytest.mark.skipif(sys.platform != "linux", reason="the XDG Base Directory Specification is that of Linux desktops")
def test_folders_of_the_person_are_where_the_desktop_has_them_unless_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """XDG Base Directory Specification: $XDG_CONFIG_HOME and $XDG_STATE_HOME, else ~/.config and ~/.local/state."""
    for name in ("BUILDTRACK_CONFIG", "BUILDTRACK_STATE", "XDG_CONFIG_HOME", "XDG_STATE_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert places.config_folder() == tmp_path / ".config" / "buildtrack"
    assert places.state_folder() == tmp_path / ".local" / "state" / "buildtrack"
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "c"))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "s"))
    assert (places.config_folder(), places.state_folder()) == (tmp_path / "c" / "buildtrack", tmp_path / "s" / "buildtrack")
    assert places.checklist_folders()[0] == tmp_path / "c" / "buildtrack" / "checklists"
    monkeypatch.setenv("BUILDTRACK_CONFIG", str(tmp_path / "mine"))
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "theirs"))
    assert (places.config_folder(), places.state_folder()) == (tmp_path / "mine", tmp_path / "theirs")


@pytest.mark.parametrize(("size", "good"), [("0", True), ("1", True), ("-1", False), ("true", False), ("1.0", False)])
def test_an_attached_file_may_be_empty_but_not_less(size: str, good: bool) -> None:
    text = to_text(small_build(), None) + f'\n[[steps.look.photo.readings]]\ntext = "a.jpg"\nsize = {size}\n'
    if good:
        assert parse_build(text).entry("photo").readings[0].size == int(size)
    else:
        with pytest.raises(BuildFileError, match=r"step look, item photo, reading 1.*size"):
            parse_build(text)


@pytest.mark.parametrize(("old", "new"), [
    ([{"id": "r1", "mine": 1}], {"readings": [{"text": "1 V"}]}), ({"readings": [{"text": "1 V"}], "mine": 1}, [{"id": "r1"}]),
    ("text", {"readings": []}), ({"mine": 1}, [])])
def test_an_item_that_is_now_of_another_shape_takes_nothing_of_the_old_one_along(old: object, new: object) -> None:
    assert keep_unknown({"steps": {"s": {"i": old}}}, {"steps": {"s": {"i": new}}}) == {"steps": {"s": {"i": new}}}
    assert keep_unknown({"expected": {"s": {"i": old}}}, {"expected": {"s": {"i": new}}}) == {"expected": {"s": {"i": new}}}


def test_an_item_of_the_same_shape_keeps_what_is_not_ours() -> None:
    old, new = {"readings": [{"text": "1 V", "mine": 1}], "yours": 2}, {"readings": [{"text": "1 V"}]}
    assert keep_unknown({"steps": {"s": {"i": old}}}, {"steps": {"s": {"i": new}}}) == {"steps": {"s": {"i": old}}}


def test_a_row_of_more_columns_than_any_table_has_is_refused_with_its_place() -> None:
    head = to_text(small_build(), None) + '\n[[steps.look.parts]]\nid = "p1"\n'
    columns = "".join(f'k{n} = ""\n' for n in range(999))
    assert len(parse_build(head + columns).entry("parts").rows[0].cells) == 999
    with pytest.raises(BuildFileError, match="step look, item parts, row 1: a row of 1001 columns; no table has more than 1000"):
        parse_build(head + columns + 'k999 = ""\n')


def test_generations_are_numbered_from_one_on(tmp_path: Path) -> None:
    made = [backups.keep(tmp_path, "b1", text, AT).name[:6] for text in (b"one", b"two", b"three", b"three")]
    assert made == ["000001", "000002", "000003", "000003"]
