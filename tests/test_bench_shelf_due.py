"""What is due across all builds is seen on the shelf at a glance, the overdue first; the order it was left in is kept."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from buildtrack import cli
from buildtrack.bench import shelf_due
from buildtrack.bench.shelf_list import COLUMNS, Shelved, column_widths, list_builds, ordered, row_words
from buildtrack.bench.surroundings import Surroundings
from buildtrack.model.build import Build, Cell, Ended, Entry, PolicyChange, Reading, Row
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import NOW, Clock, Walk, new_build, small_checklist, walk

CHECKLIST = small_checklist()
TODAY = date(2026, 11, 25)
NAMES = [name for name, _, _ in COLUMNS]


@pytest.fixture
def samples(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    shutil.copytree(shipped_samples(), tmp_path / "builds")
    return tmp_path / "builds"


def _there(samples: Path, surroundings: Surroundings) -> Surroundings:
    return replace(Surroundings(), clock=Clock())


def test_what_is_overdue_stands_first_on_the_smallest_screen_with_a_glyph_and_a_word(samples: Path) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f6")
        rows = w.text().splitlines()
        head = next(n for n, r in enumerate(rows) if "verdict" in r)
        assert "sorted by due" in rows[1] and "overdue" in rows[1]
        late = [r for r in rows if r.endswith("▲ overdue")]
        assert late and late == rows[head + 1 : head + 1 + len(late)], "first, and together"
        assert "2026-12-01" in rows[head + 1 + len(late)], "then what is due next"
        assert "overdue since 2026-" in w.text() and "re-check the pack" in w.text()

    walk(steps, new_build(CHECKLIST), CHECKLIST, path=samples / "shed-light-cleared.toml",
         around=lambda s: _there(samples, s))


@pytest.mark.parametrize("column", NAMES)
def test_what_is_due_keeps_its_column_on_the_smallest_screen(column: str) -> None:
    rows = [Shelved("a.toml", "Bottle battery of a bicycle light", verdict="cleared with conditions",
                    day="2026-09-20", due="2026-11-20", layout="2S2P", capacity="6466 mAh", usable="96.6 %")]
    widths = column_widths(rows, 73, column)
    assert widths[NAMES.index(column)] and widths[NAMES.index("due")]
    assert "▲ overdue" in row_words(rows[0], widths, TODAY)
    assert len(row_words(rows[0], widths, TODAY)) <= 73


def test_a_column_of_what_is_due_takes_no_room_where_nothing_is() -> None:
    rows = [Shelved("a.toml", "Bottle battery of a bicycle light", verdict="cleared with conditions", day="2026-09-20")]
    widths = dict(zip(NAMES, column_widths(rows, 74, "day"), strict=True))
    assert widths["due"] == 0 and widths["title"] == len(rows[0].title)


def test_the_order_the_shelf_was_left_in_is_kept_for_the_next_visit(samples: Path) -> None:
    async def left(w: Walk) -> None:
        await w.press("f6", "o")
        assert "sorted by S × P" in w.text()

    async def back(w: Walk) -> None:
        await w.press("f6")
        assert "sorted by S × P" in w.text()

    for steps in (left, back):
        walk(steps, new_build(CHECKLIST), CHECKLIST, path=samples / "shed-light-cleared.toml",
             around=lambda s: _there(samples, s))


def test_what_is_due_is_said_against_the_day() -> None:
    assert shelf_due.word("2026-11-24", TODAY) == "▲ overdue"
    assert shelf_due.word("2026-11-25", TODAY) == "▲ today"
    assert shelf_due.word("2026-11-26", TODAY) == "2026-11-26"
    assert shelf_due.word("", TODAY) == ""
    assert shelf_due.told("2026-11-24", "re-check the pack", TODAY) == "overdue since 2026-11-24: re-check the pack"
    assert shelf_due.told("", "", TODAY) == ""


def test_builds_stand_in_the_order_in_which_something_is_due_then_by_their_last_entry() -> None:
    rows = [Shelved("a", "a", day="2026-01-01"), Shelved("b", "b", day="2026-02-01"),
            Shelved("c", "c", due="2027-01-01"), Shelved("d", "d", due="2026-01-01")]
    assert [r.path for r in ordered(rows, "due")] == ["d", "c", "b", "a"]


def _resting(**policy: PolicyChange) -> Build:
    rows = tuple(Row(f"c0{n}", {"rest_1_on": Cell(f"2026-11-{10 + n}")}) for n in (1, 2))
    return replace(new_build(CHECKLIST), entries={"candidates": Entry(rows=rows)}, policy=policy)


def test_cells_that_rest_are_due_after_the_limit_of_the_file_or_the_changed_one() -> None:
    told = {"checklist_outline": {"limits": {"rest_duration": "14 d"}}}
    assert shelf_due.due_next(replace(_resting(), snapshot=told), "incomplete", "") == ("2026-11-25", "read c01 again")
    changed = _resting(rest_duration=PolicyChange("10 d", "short of time"))
    assert shelf_due.due_next(replace(changed, snapshot=told), "incomplete", "")[0] == "2026-11-21"
    assert shelf_due.due_next(_resting(), "incomplete", "")[0] == "2026-11-23", "12 days, where the file does not say"


def test_nothing_is_due_of_a_project_that_was_ended() -> None:
    ended = replace(_resting(), ended=Ended("the cells are gone"))
    assert shelf_due.due_next(ended, "ended early", "2020-01-01") == ("", "")


def test_a_re_check_is_due_of_a_pack_that_is_in_use() -> None:
    build = new_build(CHECKLIST)
    assert shelf_due.due_next(build, "cleared", "2027-01-01") == ("2027-01-01", "re-check the pack")
    assert shelf_due.due_next(build, "incomplete", "2027-01-01") == ("", "")
    given = replace(build, entries={"handed_over_on": Entry((Reading("2026-11-01", NOW),))})
    assert shelf_due.due_next(given, "not cleared", "2027-01-01")[0] == "2027-01-01"


def test_a_pack_in_use_whose_stop_is_open_stands_first_with_sign_and_word_and_is_due_now(samples: Path) -> None:
    """A re-check on 2026-11-25 finds one group 150 mV lower than its sisters, which were left within 20 mV."""
    path = samples / "garden-screwdriver-cleared.toml"
    for column, text in {"on": "2026-11-25", "days_since_charge": "12", "temperature": "21", "g1": "4.100",
                         "g2": "4.101", "g3": "3.95"}.items():  # fmt: skip
        assert cli.main(["enter", str(path), "rechecks", text, "--row", "a3", "--column", column]) == 0
    rows = list_builds(samples, samples / "cache.json")
    for column in NAMES:
        first = ordered(rows, column)[0]
        assert first.path == str(path), f"first when sorted by {column}"
    told = row_words(first, column_widths(rows, 110), TODAY)
    assert "✗ stop open · incomplete" in told and "▲ now" in told
    assert first.stop == "One group leaks: out of service"

    async def steps(w: Walk) -> None:
        await w.press("f6")
        assert "✗ 1 stop open" in w.text() and "▲ now" in w.text()
        assert "due now, before it is used: One group leaks: out of service" in w.text()

    walk(steps, new_build(CHECKLIST), CHECKLIST, path=samples / "shed-light-cleared.toml",
         around=lambda s: _there(samples, s))


def test_a_stop_of_a_build_at_work_is_no_pack_to_be_taken_out_of_use(samples: Path) -> None:
    rows = list_builds(samples, samples / "cache.json")
    assert any(r.verdict == "not cleared" for r in rows) and not any(r.stop for r in rows)
