"""A log of the name of another one, with other contents, has none of its marks; that is said, not passed over."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.bench.marks_log import Log, Marked, is_attached, note_of
from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.model.build import Reading
from tests.bench_walk import Walk
from tests.test_bench_live import add, follow, look, own_state, run, told
from tests.test_log_follow import HEADER, row

__all__ = ["own_state"]
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])


def write(path: Path, count: int, first: float = 3.9) -> None:
    """A log of so many rows; first: volts of the first group at its beginning."""
    path.write_text(HEADER + "".join(row(k, first=first) for k in range(count)), encoding="utf-8")


async def mark_and_leave(w: Walk) -> None:
    """Mark the alarm and the end in test.csv and leave it unattached."""
    await follow(w)
    await w.press("m", "e", "escape", "n")
    assert isinstance(w.screen, BenchScreen)


@SIZES
def test_a_log_of_the_same_name_with_other_contents_has_no_mark_and_says_whose_they_are(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    write(tmp_path / "test.csv", 600)

    async def steps(w: Walk) -> None:
        await mark_and_leave(w)
        write(tmp_path / "test.csv", 700, first=4.0)
        await follow(w)
        shown = told(w)
        assert "✓" not in shown and "alarm not marked: m" in shown
        assert "alarm at 9.98 min is of test.csv with other contents" in shown
        assert "end at 9.98 min is of test.csv with other contents" in shown
        await w.press("m")
        assert isinstance(w.screen, AskOne), "that there is one is asked about all the same"
        assert "marked already, in test.csv with other contents" in " ".join(w.text().split())

    run(steps, tmp_path, size)


def test_the_same_log_keeps_its_marks_while_it_grows(tmp_path: Path) -> None:
    log = tmp_path / "test.csv"
    write(log, 600)

    async def steps(w: Walk) -> None:
        await mark_and_leave(w)
        add(log, "".join(row(k) for k in range(600, 900)))
        await follow(w)
        assert "✓ alarm marked at 9.98 min" in told(w) and "other contents" not in told(w)

    run(steps, tmp_path)


def test_a_log_marked_after_its_first_rows_is_known_again_when_it_is_long(tmp_path: Path) -> None:
    log = tmp_path / "test.csv"
    write(log, 5)

    async def steps(w: Walk) -> None:
        await mark_and_leave(w)
        add(log, "".join(row(k) for k in range(5, 900)))
        await follow(w)
        assert "✓ alarm marked at 0.07 min" in told(w)
        write(log, 900, first=4.0)
        await look(w)
        assert "✓" not in told(w)

    run(steps, tmp_path)


@pytest.mark.parametrize(("at_row", "own"), [(600, True), (601, False)])
def test_a_mark_of_an_older_build_is_no_mark_of_a_log_that_has_not_so_many_rows(
    tmp_path: Path, at_row: int, own: bool
) -> None:
    write(tmp_path / "test.csv", 600)

    async def steps(w: Walk) -> None:
        await mark_and_leave(w)
        assert w.app.desk is not None
        entry = w.build.entry("alarm_after")
        old = replace(entry.readings[-1], note=f"marked by key at row {at_row} of test.csv")
        w.app.desk.build = replace(
            w.build, entries={**w.build.entries, "alarm_after": replace(entry, readings=(old,))}
        )
        await follow(w)
        assert ("✓ alarm marked at 9.98 min" in told(w)) is own

    run(steps, tmp_path)


def test_a_log_attached_that_the_marks_are_not_of_is_told(tmp_path: Path) -> None:
    write(tmp_path / "test.csv", 600)

    async def steps(w: Walk) -> None:
        await mark_and_leave(w)
        write(tmp_path / "test.csv", 700, first=4.0)
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("discharge_log")
        await w.settle()
        await w.press("a")
        await w.type("test.csv")
        assert w.build.entry("discharge_log").standing[-1].text == "test.csv"
        assert "Alarm at 9.98 min and end at 9.98 min are of test.csv with other contents" in w.screen.said

    run(steps, tmp_path, size=(120, 40))


def test_a_log_attached_with_its_own_marks_is_told_nothing(tmp_path: Path) -> None:
    write(tmp_path / "test.csv", 600)

    async def steps(w: Walk) -> None:
        await follow(w)
        await w.press("m", "e", "escape", "y")
        assert isinstance(w.screen, BenchScreen) and w.build.entry("discharge_log").standing
        assert "other contents" not in w.text() and "are of" not in w.screen.said

    run(steps, tmp_path)


@SIZES
def test_following_other_contents_under_the_attached_name_a_first_mark_asks(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    write(tmp_path / "test.csv", 600)

    async def steps(w: Walk) -> None:
        await follow(w)
        await w.press("f")
        await w.press("2", "escape")
        assert w.build.entry("discharge_log").standing
        write(tmp_path / "test.csv", 700, first=4.0)
        await follow(w)
        await w.press("m")
        assert isinstance(w.screen, AskOne)
        shown = " ".join(w.text().split())
        assert "Mark the alarm from another log?" in shown and "has other contents than the test.csv attached" in shown

    run(steps, tmp_path, size)


def test_a_note_tells_its_log_also_where_the_name_holds_what_notes_hold() -> None:
    name = "a; its first 12 bytes: SHA-256 0123456789ab of b.csv"
    log = Log(name, b"time_s\n")
    told_of = Marked.of(note_of(7, log))
    assert told_of is not None and (told_of.row, told_of.file) == (7, name)
    assert told_of.fits(Log(name, b"time_s\n1,2\n")) and not told_of.fits(Log(name, b"volt_s\n1,2\n"))
    assert not told_of.fits(Log(name, b"time")), "a log does not grow shorter"
    assert not told_of.fits(Log("b.csv", b"time_s\n")) and Marked.of("typed by hand") is None


def test_the_file_of_an_attached_log_is_known_by_its_contents(tmp_path: Path) -> None:
    log, text = tmp_path / "test.csv", b"a,b\n1,2\n"
    log.write_bytes(text)
    attached = Reading("test.csv", sha256=hashlib.sha256(text).hexdigest(), size=len(text))
    assert is_attached(log, attached)
    log.write_bytes(text + b"3,4\n")
    assert is_attached(log, attached), "it has grown since"
    for other in (text[:-1], text.replace(b"1", b"9")):
        log.write_bytes(other)
        assert not is_attached(log, attached)
