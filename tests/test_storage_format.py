"""Files of another format or of an older checklist: refused unchanged, upgraded step by step, or told and carried over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from buildtrack.judging import judge
from buildtrack.model import edit
from buildtrack.model.build import Reading
from buildtrack.model.checklist import Checklist
from buildtrack.storage import backups, journal, upgrade
from buildtrack.storage.build_file import BuildFileError, open_text, read_build
from buildtrack.storage.checklist_file import ChecklistError, find_checklist, parse_checklist
from buildtrack.storage.hashing import content_hash
from buildtrack.storage.session import BuildSession, create, open_session
from buildtrack.storage.write import rewrite
from tests.small import TEXT, small
from tests.storage_cases import AT, small_build

SMALL = small()
READING = SMALL.items["part_temperature"]
OLD = sorted((Path(__file__).parent / "old_builds").glob("*.toml"))

FORMAT_0 = """# of the time before
format = 0
id = "b1"
name = "Hedge trimmer"   # what it is

[checklist]
id = "small"
version = "1"

# mine
[steps.look.part_temperature]
reading = "21 °C"
colour = "blue"

[mine]
kept = true
"""


def _titled(tree: dict[str, Any]) -> dict[str, Any]:
    """An invented step: format 0 called the title a name, and had one reading an item, as plain text."""
    tree["title"] = tree.pop("name")
    for items in tree.get("steps", {}).values():
        for item in items.values():
            item["readings"] = [{"text": item.pop("reading")}]
    return tree


@pytest.fixture
def with_step(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(upgrade, "BUILD", {0: _titled})


@pytest.fixture(autouse=True)
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    return tmp_path / "state"


def opened(path: Path, checklist: Checklist = SMALL) -> BuildSession:
    return open_session(path, find=lambda _name: checklist, clock=lambda: AT)


# ------------------------------------------------------------------------------------------------ newer


def test_a_newer_build_is_refused_in_one_line_and_left_as_it_is(tmp_path: Path, state: Path) -> None:
    path = tmp_path / "newer.toml"
    path.write_text(FORMAT_0.replace("format = 0", "format = 2"), encoding="utf-8")
    before = path.read_bytes()
    with pytest.raises(BuildFileError) as refused:
        opened(path)
    assert str(refused.value) == (
        f"{path}: line 2: format: written by a newer version: format 2, this program reads 1. "
        "The file is sound; a newer buildtrack opens it")
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["newer.toml"], "no lock, no state, no left-over"


def test_a_newer_checklist_is_refused_in_one_line() -> None:
    with pytest.raises(ChecklistError, match="newer version: format 7, this program reads 1") as refused:
        parse_checklist(TEXT.replace("format = 1", "format = 7"), "mine.toml")
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(("given", "says"), [
    ("true", "'format' must be 1"), ("1.0", "'format' must be 1"), ('"1"', "'format' must be 1"),
    ("0", "'format' must be 1"), ("-1", "'format' must be 1")])
def test_a_format_that_never_was_is_refused(given: str, says: str) -> None:
    for read in (lambda t: open_text(t).build, parse_checklist):
        with pytest.raises(ValueError, match=says):
            read(TEXT.replace("format = 1", f"format = {given}"))


# ------------------------------------------------------------------------------------------------ older


@pytest.mark.usefixtures("with_step")
def test_an_older_build_is_upgraded_in_memory_and_the_file_stays(tmp_path: Path) -> None:
    path = tmp_path / "old.toml"
    path.write_text(FORMAT_0, encoding="utf-8")
    with opened(path) as session:
        assert session.build.title == "Hedge trimmer"
        assert session.build.entry("part_temperature").readings == (Reading("21 °C"),)
        assert session.notes == ("the file is in format 0: the next save writes it in format 1, and keeps the old one "
                                 "as a backup",)
    assert path.read_text(encoding="utf-8") == FORMAT_0


@pytest.mark.usefixtures("with_step")
def test_the_next_save_writes_the_new_format_and_keeps_the_old_file(tmp_path: Path, state: Path) -> None:
    path = tmp_path / "old.toml"
    path.write_text(FORMAT_0, encoding="utf-8")
    with opened(path) as session:
        assert session.commit(edit.add_reading(session.build, READING, Reading("22 °C", AT), edit.Hand(AT))).saved
    found = read_build(path)
    assert found.raw is None and found.tree["format"] == 1
    assert [r.text for r in found.build.entry("part_temperature").readings] == ["21 °C", "22 °C"]
    assert found.tree["mine"] == {"kept": True}
    assert found.tree["steps"]["look"]["part_temperature"]["colour"] == "blue"
    for remark in ("# of the time before", "# mine"):
        assert remark in found.text
    kept = backups.generations(state, "b1")
    assert [p.read_text(encoding="utf-8") for p in kept] == [FORMAT_0]


@pytest.mark.usefixtures("with_step")
def test_a_file_put_back_in_the_old_format_while_it_is_open_is_kept_too(tmp_path: Path, state: Path) -> None:
    path = tmp_path / "old.toml"
    path.write_text(FORMAT_0, encoding="utf-8")
    again = FORMAT_0.replace("21 °C", "20 °C")
    with opened(path) as session:
        session.commit(edit.add_reading(session.build, READING, Reading("22 °C", AT), edit.Hand(AT)))
        path.write_text(again, encoding="utf-8")
        session.reload()
        session.commit(edit.add_reading(session.build, READING, Reading("23 °C", AT), edit.Hand(AT)))
    assert [p.read_text(encoding="utf-8") for p in backups.generations(state, "b1")] == [FORMAT_0, again]


def test_steps_are_taken_one_after_the_other_and_the_file_as_read_stays_whole() -> None:
    def renamed(tree: dict[str, Any]) -> dict[str, Any]:
        tree["b"] = tree.pop("a")
        return tree

    steps = {1: renamed, 2: lambda tree: {**tree, "c": tree["b"] + 1}}
    read = {"format": 1, "a": 5, "deep": {"x": [1]}}
    assert upgrade.raised(read, 3, steps, "build file") == {"format": 3, "b": 5, "c": 6, "deep": {"x": [1]}}
    assert read == {"format": 1, "a": 5, "deep": {"x": [1]}}
    assert upgrade.raised({"format": 3, "b": 1}, 3, steps, "build file") == {"format": 3, "b": 1}


def test_a_gap_in_the_steps_ends_what_is_read() -> None:
    with pytest.raises(upgrade.Unknown, match="'format' must be 4, or from 3 on"):
        upgrade.raised({"format": 1}, 4, {1: dict, 3: dict}, "build file")


def test_an_older_checklist_is_upgraded(monkeypatch: pytest.MonkeyPatch) -> None:
    def step(tree: dict[str, Any]) -> dict[str, Any]:
        return {**tree, "purpose": tree["purpose"].upper()}

    monkeypatch.setattr(upgrade, "CHECKLIST", {0: step})
    found, problems = parse_checklist(TEXT.replace("format = 1", "format = 0"))
    assert not problems
    assert (found.format, found.purpose) == (1, "TO TEST THE ENGINE")


def test_an_edit_in_the_journal_of_another_format_is_set_aside_not_forced_in() -> None:
    old = small_build()
    new = edit.add_reading(old, READING, Reading("21 °C", AT), edit.Hand(AT))
    line = journal.edit(old, new, "a.toml")
    assert journal.replay(old, [journal.to_json(line)]).build == new
    other = journal.replay(old, [journal.to_json({**line, "format": 2})])
    assert other.build == old
    assert len(other.left) == 1 and "another version of the program" in other.notes[0]
    before = {key: value for key, value in line.items() if key != "format"}
    assert journal.replay(old, [journal.to_json(before)]).build == new, "lines were written without a format at first"


def test_a_new_format_alone_leaves_reviews_standing(monkeypatch: pytest.MonkeyPatch) -> None:
    before = content_hash(small_build())
    monkeypatch.setattr("buildtrack.storage.make_tree.FORMAT", 2)
    assert content_hash(small_build()) == before


# ------------------------------------------------------------------------------------ files of earlier days


@pytest.mark.parametrize("path", OLD, ids=lambda p: p.stem)
def test_a_file_of_the_first_day_opens_is_judged_and_is_kept_to_the_byte(path: Path) -> None:
    found = read_build(path)
    checklist = find_checklist(found.build.checklist.id)
    assert found.build.history and found.build.entries
    assert rewrite(found.build, checklist, found).text == path.read_text(encoding="utf-8")
    judged = judge(found.build, checklist, path.parent, AT)
    assert judged.assessment.verdict in {"cleared", "cleared with conditions", "not cleared", "incomplete", "ended early"}


@pytest.mark.parametrize("path", OLD, ids=lambda p: p.stem)
def test_a_file_of_the_first_day_can_be_gone_on_with(path: Path, tmp_path: Path) -> None:
    copy = tmp_path / path.name
    copy.write_bytes(path.read_bytes())
    session = open_session(copy, clock=lambda: AT)
    with session:
        assert "the checklist was changed since the build was made, under the same version" in session.notes
        item = next(i for i in session.checklist.all_items() if i.id in session.build.entries and i.kind == "text")
        session.commit(edit.add_reading(session.build, item, Reading("added", AT), edit.Hand(AT)))
    before, after = read_build(path).build, read_build(copy).build
    assert after.entry(item.id).standing[-1].text == "added"
    for name, entry in before.entries.items():
        assert after.entry(name).readings[:len(entry.readings)] == entry.readings
        assert after.entry(name).rows == entry.rows


# ------------------------------------------------------------------------------ another checklist by now


@pytest.fixture
def of_yesterday(tmp_path: Path) -> Iterator[Path]:
    path = tmp_path / "a.toml"
    build = edit.add_reading(small_build(), READING, Reading("21 °C", AT), edit.Hand(AT))
    build = edit.add_reading(build, SMALL.items["checked"], Reading("3.3 V", AT), edit.Hand(AT))
    create(path, build, SMALL)
    yield path


def test_items_are_known_again_by_their_id_whatever_step_they_stand_in_by_now(of_yesterday: Path) -> None:
    look, do = SMALL.steps
    moved = replace(READING, step="do")
    today = replace(SMALL, version="2", sha256="22", steps=(
        replace(look, items=tuple(i for i in look.items if i.id != READING.id)),
        replace(do, items=(moved, *do.items))))
    with opened(of_yesterday, today) as session:
        assert "made with version 1 of the checklist; this is version 2" in session.notes
        assert session.build.entry(READING.id).standing[-1].text == "21 °C"
        session.commit(edit.add_reading(session.build, moved, Reading("22 °C", AT), edit.Hand(AT)))
    found = read_build(of_yesterday)
    assert [r.text for r in found.build.entry(READING.id).readings] == ["21 °C", "22 °C"]
    assert found.steps[READING.id] == "look", "it stays where the file has it"


def test_what_the_checklist_no_longer_asks_is_told_and_kept_through_saves(of_yesterday: Path) -> None:
    look, do = SMALL.steps
    today = replace(SMALL, version="2", sha256="22",
                    steps=(look, replace(do, items=tuple(i for i in do.items if i.id != "checked"))))
    with opened(of_yesterday, today) as session:
        assert "kept, though the checklist does not ask for it any more: checked" in session.notes
        session.commit(edit.add_reading(session.build, READING, Reading("22 °C", AT), edit.Hand(AT)))
    assert read_build(of_yesterday).build.entry("checked").standing[-1].text == "3.3 V"
