"""Every committed edit can be put in again from its journal line, once and only where it fits."""

from __future__ import annotations

import errno
import os
import stat
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings

from buildtrack.model import edit
from buildtrack.model.build import Build, Entry, PolicyChange, Reading, Waiver
from buildtrack.model.checklist import Item
from buildtrack.storage.durable import REAL
from buildtrack.storage.journal import DoesNotFit, Journal, apply, from_json, journal_path, orphans, replay, to_json
from buildtrack.storage.journal import edit as line_of
from tests.storage_cases import AT, BUILDS, small_build

HAND = edit.Hand(AT, "maker")
READING = Item("part_temperature", "look", "reading", "Temperature")
OTHER = Item("checked", "do", "reading", "Checked")


def said(text: str, build: Build, item: Item = READING) -> Build:
    return edit.add_reading(build, item, Reading(text, AT, "m1"), HAND)


def lines(*builds: Build) -> list[str]:
    """The journal lines that lead from each build to the next."""
    return [to_json(line_of(a, b, "/x.toml")) for a, b in zip(builds, builds[1:], strict=False)]


@settings(derandomize=True, deadline=None, max_examples=150)
@given(BUILDS, BUILDS)
def test_any_edit_can_be_put_in_again_from_its_line(old: Build, new: Build) -> None:
    new = replace(new, history=(*old.history, *new.history), snapshot=old.snapshot)
    [line] = lines(old, new)
    assert "\n" not in line
    again = apply(old, from_json(line))
    assert again == new
    if new.history != old.history:
        assert apply(new, from_json(line)) is new


def test_three_edits_are_put_in_in_their_order() -> None:
    one = said("1", small_build())
    two = edit.set_policy(said("2", one), "warmest", "41 °C", "why", HAND)
    three = replace(edit.end_early(two, "no time", HAND), title="other")
    done = replay(small_build(), lines(small_build(), one, two, three))
    assert done.build == three
    assert (done.put_in, done.left, done.notes) == (3, (), ())


def test_edits_that_the_file_has_are_not_put_in_twice() -> None:
    start, one = small_build(), said("1", small_build())
    two = said("2", one)
    journal = lines(start, one, two)
    assert replay(two, journal).put_in == 0
    done = replay(one, journal)
    assert (done.build, done.put_in) == (two, 1)


def test_an_edit_elsewhere_in_the_file_does_not_stand_in_the_way() -> None:
    start = small_build()
    journal = lines(start, said("1", start))
    theirs = said("3.3 V", replace(start, title="Renamed by hand"), OTHER)
    done = replay(theirs, journal)
    assert done.put_in == 1
    assert done.build.title == "Renamed by hand"
    assert [r.text for i in ("part_temperature", "checked") for r in done.build.entry(i).readings] == ["1", "3.3 V"]
    assert len(done.build.history) == 2


def test_an_edit_of_what_somebody_else_changed_is_set_aside() -> None:
    start = said("1", small_build())
    journal = lines(start, said("2", start))
    theirs = replace(start, entries={"part_temperature": Entry((Reading("9"),))})
    done = replay(theirs, journal)
    assert done.build == theirs
    assert done.left == tuple(journal)
    [note] = done.notes
    assert note == "an edit in the journal was set aside: item part_temperature is another one in the file by now"


def test_a_change_of_what_is_no_item_is_set_aside_where_it_does_not_fit() -> None:
    start = small_build(policy={"warmest": PolicyChange("1", "x")})
    journal = lines(start, replace(start, policy={}, waivers=(Waiver("a", "b"),)))
    done = replay(replace(start, policy={"warmest": PolicyChange("2", "x")}), journal)
    assert done.notes == ("an edit in the journal was set aside: 'policy' is another one in the file by now",)
    assert replay(start, journal).build.waivers == (Waiver("a", "b"),)


def test_an_edit_without_a_history_line_is_known_again_by_what_it_did() -> None:
    start = small_build()
    changed = replace(start, title="other", entries={"a": Entry((Reading("1"),))})
    journal = lines(start, changed)
    assert replay(start, journal).build == changed
    assert replay(changed, journal).put_in == 0


def test_a_history_that_was_replaced_is_replaced_again() -> None:
    start = said("1", small_build())
    changed = replace(start, history=())
    assert replay(start, lines(start, replace(changed, title="t"))).build == replace(changed, title="t")


@pytest.mark.parametrize("damage", ["cut off", "in the middle", "no edit", "a wrong type", "a wrong value", "deep"])
def test_a_damaged_line_is_told_and_the_others_are_put_in(damage: str) -> None:
    start = small_build()
    one, two = said("1", start), said("3", said("1", start), OTHER)
    first, second = lines(start, one, two)
    broken = {"cut off": [first, second[:50]], "in the middle": [first[:40], second], "no edit": ["5", second],
              "a wrong type": [to_json({**from_json(first), "items": {"x": 5}}), second],
              "a wrong value": [first.replace('"text":"1"', '"text":1'), second],
              "deep": ["[" * 100_000, second]}[damage]
    done = replay(start, broken)
    assert len(done.left) == len(done.notes) == 1
    assert done.put_in == 1
    assert done.build != start
    assert ("cut off by the crash" in done.notes[0]) == (damage == "cut off")


def test_times_come_back_and_what_only_looks_like_one_stays() -> None:
    given = {"a": AT, "b": {"$time": "no time"}, "c": {"$time": 5}, "d": datetime(2026, 1, 1, 1, 2, 3, 5, UTC)}
    assert from_json(to_json(given)) == given
    with pytest.raises(TypeError, match="a journal cannot hold a object"):
        to_json(object())


def test_a_journal_is_appended_to_read_and_forgotten(tmp_path: Path) -> None:
    journal = Journal(journal_path(tmp_path, "b/1", "/a/b.toml"))
    assert journal.lines() == []
    journal.append({"n": 1})
    journal.append({"n": "\u2028\n"})
    assert [from_json(line) for line in journal.lines()] == [{"n": 1}, {"n": "\u2028\n"}]
    assert journal.path.stat().st_mode & 0o077 == 0
    journal.clear()
    journal.clear()
    assert journal.lines() == []


def test_a_line_that_a_crash_cut_off_does_not_spoil_the_next_one(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "j.jsonl")
    journal.path.write_bytes(b'{"n":1}\n{"n":')
    journal.append({"n": 3})
    assert journal.lines() == ['{"n":1}', '{"n":', '{"n":3}']


def test_a_line_that_could_not_be_written_whole_is_taken_back(tmp_path: Path) -> None:
    room = [5]

    def write(handle: int, data: bytes) -> int:
        if not room[0]:
            raise OSError(errno.ENOSPC, "full")
        room[0] -= 5
        return os.write(handle, data[:5])

    journal = Journal(tmp_path / "j.jsonl")
    journal.append({"n": 1})
    with pytest.raises(OSError, match="full"):
        Journal(journal.path, replace(REAL, write=write)).append({"n": "long enough"})
    assert journal.lines() == ['{"n":1}']


def test_a_journal_that_is_absurdly_large_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    journal = Journal(tmp_path / "j.jsonl")
    journal.append({"n": 1})
    monkeypatch.setattr("buildtrack.storage.journal.LARGEST", 3)
    with pytest.raises(OSError, match="too large"):
        journal.lines()


def test_the_journal_of_a_file_that_was_moved_is_found(tmp_path: Path) -> None:
    there = tmp_path / "there.toml"
    there.write_text("")
    own = journal_path(tmp_path, "b1", "/here.toml")
    for name, build in (("/gone/a.toml", "b1"), (str(there), "b1"), ("/gone/a.toml", "b2")):
        Journal(journal_path(tmp_path, build, name)).append({"path": name})
    Journal(journal_path(tmp_path, "b1", "/odd")).append({"odd": 1})
    Journal(journal_path(tmp_path, "b1", "/null")).append({"path": "\0"})
    Journal(own).append({"path": "/gone/here.toml"})
    assert [j.path for j in orphans("b1", own)] == [journal_path(tmp_path, "b1", "/gone/a.toml")]
    assert orphans("b1", tmp_path / "nowhere" / "x.jsonl") == []


def test_the_journal_of_a_build_whose_id_begins_like_this_one_is_no_journal_of_it(tmp_path: Path) -> None:
    other = journal_path(tmp_path, "drill-2", "/gone/a.toml")
    Journal(other).append({"path": "/gone/a.toml"})
    assert [j.path for j in orphans("drill-2", journal_path(tmp_path, "drill-2", "/here/a.toml"))] == [other]
    assert orphans("drill", journal_path(tmp_path, "drill", "/here/a.toml")) == []


def test_an_edit_that_would_make_no_build_does_not_fit() -> None:
    line = line_of(small_build(), replace(small_build(), title="x"), "/x")
    line["parts"]["checklist"] = ["", None]
    with pytest.raises(DoesNotFit):
        apply(small_build(), line)


def test_a_line_is_synced_and_so_is_the_folder_of_a_new_journal(tmp_path: Path) -> None:
    synced: list[str] = []

    def fsync(handle: int) -> None:
        synced.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file")
        os.fsync(handle)

    before = len(os.listdir("/proc/self/fd"))
    journal = Journal(tmp_path / "new" / "j.jsonl", replace(REAL, fsync=fsync))
    journal.append({"n": 1})
    journal.append({"n": 2})
    assert synced == ["file", "folder", "file"]
    assert len(os.listdir("/proc/self/fd")) == before
