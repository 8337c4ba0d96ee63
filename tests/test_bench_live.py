"""Following a log while it is written, and a test by hand by the clock: alarm and end by one key each, undoable."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from rich.cells import cell_len

from buildtrack.bench import marks
from buildtrack.bench.followed import recall
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.screens.live import LiveLog
from buildtrack.bench.screens.table import TableScreen
from buildtrack.bench.widgets.line_text import Line
from buildtrack.bench.widgets.lines import LineList
from buildtrack.model.build import Build
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import NOW, Clock, Walk, main_checklist, walk
from tests.test_log_follow import HEADER, row

CHECKLIST = main_checklist()
ASKED_ANEW = ("discharge_log", "log_kind", "discharge_points", "alarm_after", "cutoff_after", "event_groups")


@pytest.fixture(autouse=True)
def own_state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))


def before_the_test() -> Build:
    """The finished sample as it stood before its discharge test."""
    build = read_build(shipped_samples() / "garden-screwdriver-cleared.toml").build
    entries = {name: entry for name, entry in build.entries.items() if name not in ASKED_ANEW}
    return replace(build, entries=entries)


async def follow(w: Walk, name: str = "test.csv") -> LiveLog:
    assert isinstance(w.screen, BenchScreen)
    w.screen.jump("discharge_log")
    await w.settle()
    await w.press("f")
    if isinstance(w.screen, AskText):
        await w.type(name)
    assert isinstance(w.screen, LiveLog)
    return w.screen


async def look(w: Walk) -> None:
    assert isinstance(w.screen, LiveLog)
    w.screen.look()
    await w.settle()


def told(w: Walk) -> str:
    """The numbers, unbroken."""
    lines = w.screen.query_one("#numbers", LineList).lines
    return "\n".join(" ".join(p.text for p in (*entry.left, *entry.right)) for entry in lines)


def run(steps: Callable[[Walk], Awaitable[None]], folder: Path, size: tuple[int, int] = (120, 40),
        clock: Clock | None = None, build: Build | None = None) -> None:  # fmt: skip
    walk(steps, build or before_the_test(), CHECKLIST, size=size, path=folder / "build.toml", clock=clock)


def add(path: Path, text: str) -> None:
    with path.open("a", encoding="utf-8") as file:
        file.write(text)


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 50)])
def test_a_log_that_is_not_there_yet_is_waited_for_and_then_charted_as_it_grows(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    log = tmp_path / "test.csv"

    async def steps(w: Walk) -> None:
        await follow(w)
        assert "test.csv: the file is not there yet" in told(w) and "the file is not there" in w.text()
        log.write_text(HEADER + "".join(row(k, fall=0.0004) for k in range(600)), encoding="utf-8")
        await look(w)
        assert "600 rows" in w.text() and "9:59" in w.text() and "4.000 A" in w.text()
        for volts in ("3.660 V", "3.650 V", "3.640 V"):  # 3.9 V less 0.4 mV a second, 10 mV less a group
            assert volts in w.text()
        add(log, "".join(row(k, fall=0.0004) for k in range(600, 660)))
        await look(w)
        assert "660 rows" in w.text() and "10:59" in w.text()
        assert any("⠀" < c <= "⣿" for c in w.text()), "the curve is drawn"

    run(steps, tmp_path, size)


def test_the_time_to_the_alarm_is_told_from_the_slope(tmp_path: Path) -> None:
    log = tmp_path / "test.csv"
    log.write_text(HEADER + "".join(row(k, fall=0.001) for k in range(600)), encoding="utf-8")

    async def steps(w: Walk) -> None:
        screen = await follow(w)
        assert w.app.desk is not None
        level = w.app.desk.judged.assessment.sheet.number("alarm_setting")
        assert level is not None
        minutes = (3.9 - 0.02 - 0.001 * 599 - level) / 0.001 / 60
        assert f"alarm {level:.2f} V: in at most {minutes:.1f} min at this slope" in told(w)
        assert screen.said == ""

    run(steps, tmp_path, (200, 50))


def test_a_group_below_what_any_cell_may_have_is_told_whatever_alarm_and_board_are_set_to(tmp_path: Path) -> None:
    """2.75 V is where the sheets of ordinary 18650 cells end a discharge; neither level is entered here."""
    bare = before_the_test()
    bare = replace(bare, entries={n: e for n, e in bare.entries.items() if n not in ("alarm_setting", "board_cutoff")})
    log = tmp_path / "test.csv"

    async def steps(w: Walk) -> None:
        add(log, HEADER + "".join(row(5 * n, first=2.9) for n in range(20)))
        await follow(w)
        assert "take the load off" not in w.text()
        add(log, "".join(row(5 * n, first=2.75) for n in range(20, 24)))
        await look(w)
        assert "take the load off now" in " ".join(w.text().split())

    run(steps, tmp_path, build=bare)


def test_alarm_and_end_are_one_key_each_saved_at_once_and_taken_back_by_one_undo(tmp_path: Path) -> None:
    log = tmp_path / "test.csv"
    log.write_text(HEADER + "".join(row(k, fall=0.0004) for k in range(600)), encoding="utf-8")

    async def steps(w: Walk) -> None:
        await follow(w)
        await w.press("m")
        assert [r.text for r in w.build.entry("alarm_after").standing] == ["9.98 min"]
        groups = {r.id: r.text("at_alarm") for r in w.build.entry("event_groups").rows}
        assert groups == {"g1": "3.660 V", "g2": "3.650 V", "g3": "3.640 V"}
        assert w.session.commits[-1] is w.build, "saved at once"
        await w.press("u")
        assert not w.build.entry("alarm_after").standing and not w.build.entry("event_groups").rows
        await w.press("r")
        assert w.build.entry("alarm_after").standing
        add(log, "".join(row(k, fall=0.0004) for k in range(600, 700)) + "700,0,0.3,3.6,3.6,3.6\n")
        await look(w)
        assert "The load went away" in w.text()
        await w.press("e")
        assert w.build.entry("cutoff_after").standing[-1].text == "11.65 min", "the last row under load"
        first = w.build.entry("event_groups").row("g1")
        assert first is not None and first.text("before_cutoff") == "3.620 V"
        await w.press("e")
        assert isinstance(w.screen, AskOne), "a second press asks"
        await w.press("escape")
        assert len(w.build.entry("cutoff_after").standing) == 1

    run(steps, tmp_path)


def test_at_the_end_the_file_is_attached_like_any_log(tmp_path: Path) -> None:
    log, clock = tmp_path / "test.csv", Clock()
    log.write_text(HEADER + "".join(row(k) for k in range(600)), encoding="utf-8")

    async def steps(w: Walk) -> None:
        await follow(w)
        await w.press("e", "f")
        assert isinstance(w.screen, AskOne) and "still growing" in w.text()
        await w.press("escape")
        clock.now = NOW + timedelta(seconds=90)
        await look(w)
        assert "no new row for 1:30" in told(w)
        await w.press("escape")
        assert "Attach test.csv" in w.text() and "growing" not in w.text()
        await w.press("y")
        assert isinstance(w.screen, BenchScreen)
        attached = w.build.entry("discharge_log").standing[-1]
        assert attached.text == "test.csv" and attached.size == log.stat().st_size
        assert recall(w.session.path, "discharge_log") is None

    run(steps, tmp_path, clock=clock)


def test_reopening_goes_on_with_the_same_file_and_its_columns(tmp_path: Path) -> None:
    log = tmp_path / "test.csv"
    log.write_text("time_s,current_A,x,voltage_V\n" + "".join(f"{k},4,11.{k:03d},12\n" for k in range(300)), encoding="utf-8")

    async def first(w: Walk) -> None:
        await follow(w)
        await w.press("c")
        assert "voltage: column 4 (voltage_V)" in w.text()
        await w.type("voltage=x")
        assert "11.299 V" in w.text()

    async def again(w: Walk) -> None:
        screen = await follow(w)
        assert screen.followed is not None and screen.followed.columns == "voltage=x"
        assert "11.299 V" in w.text()

    run(first, tmp_path)
    run(again, tmp_path)


def test_a_file_that_is_begun_anew_is_told_and_a_name_that_is_no_log_as_well(tmp_path: Path) -> None:
    log = tmp_path / "test.csv"
    log.write_text(HEADER + "".join(row(k) for k in range(300)), encoding="utf-8")

    async def steps(w: Walk) -> None:
        await follow(w)
        log.write_text(HEADER + row(0) + row(1), encoding="utf-8")
        await look(w)
        assert "2 rows; begun anew 1×" in told(w)
        (tmp_path / "note.csv").write_bytes(b"PK\x03\x04" + bytes(100))
        await w.press("l")
        await w.type("note.csv")  # in place of the name that stands there
        assert isinstance(w.screen, LiveLog) and w.screen.followed is not None
        assert w.screen.followed.path == "note.csv"
        assert "this is no text file" in told(w)
        await w.press("m")
        assert "There is no row in the log yet" in w.text()

    run(steps, tmp_path)


def test_a_test_by_hand_runs_by_the_clock_and_rings_for_the_next_point(tmp_path: Path) -> None:
    clock = Clock()

    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("discharge_points")
        await w.settle()
        await w.press("enter")
        assert isinstance(w.screen, TableScreen) and "n starts the test" in w.text()
        await w.press("m")
        assert "was not started" in w.text() and not w.build.entry("alarm_after").standing
        await w.press("n")
        assert w.build.entry("discharge_points").rows[0].text("minute") == "0.00 min"
        assert w.session.commits[-1] is w.build
        clock.now = NOW + timedelta(minutes=5)
        assert w.app.timers.rang() == ["next point"]
        clock.now = NOW + timedelta(minutes=5, seconds=6)
        await w.press("n")
        assert [r.text("minute") for r in w.build.entry("discharge_points").rows] == ["0.00 min", "5.10 min"]
        clock.now = NOW + timedelta(minutes=40, seconds=30)
        await w.press("m")
        assert w.build.entry("alarm_after").standing[-1].text == "40.50 min"
        clock.now = NOW + timedelta(minutes=48)
        await w.press("e")
        assert w.build.entry("cutoff_after").standing[-1].text == "48.00 min"
        assert not w.app.timers.running, "the bell stops with the test"
        assert not any(r.text("at_alarm") for r in w.build.entry("event_groups").rows), "no old point stands for it"

    run(steps, tmp_path, clock=clock)


def test_reopening_the_table_goes_on_from_the_beginning_of_the_test(tmp_path: Path) -> None:
    build = before_the_test()
    item = CHECKLIST.items["discharge_points"]
    from buildtrack.model.edit import Hand

    begun = marks.with_point(build, item, "d1", Hand(NOW, ""))
    clock = Clock(NOW + timedelta(minutes=12))

    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("discharge_points")
        await w.settle()
        await w.press("enter")
        assert "running 12:00" in w.text() and "next point in 5:00" in w.text()
        await w.press("n")
        assert w.build.entry("discharge_points").rows[-1].text("minute") == "12.00 min"

    run(steps, tmp_path, clock=clock, build=begun)


def test_a_point_just_read_stands_for_the_alarm_and_the_bell_rings_sooner_once_a_group_is_low(tmp_path: Path) -> None:
    clock = Clock()

    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("discharge_points")
        await w.settle()
        await w.press("enter", "n")
        assert marks.interval_s(w.build) == 300.0
        clock.now = NOW + timedelta(minutes=30)
        await w.press("n")
        for text in ("2", "10.05", "3.36", "3.35", "3.34"):
            await w.type(text)
        assert marks.interval_s(w.build) == 30.0
        clock.now = NOW + timedelta(minutes=30, seconds=20)
        await w.press("escape", "m")
        groups = [r.text("at_alarm") for r in w.build.entry("event_groups").rows]
        assert groups[:3] == ["3.360 V", "3.350 V", "3.340 V"]

    run(steps, tmp_path, clock=clock)


def test_a_log_that_stopped_is_told_after_two_of_its_own_intervals(tmp_path: Path) -> None:
    log, clock = tmp_path / "test.csv", Clock()
    log.write_text(HEADER + "".join(row(60 * k) for k in range(20)), encoding="utf-8")

    async def steps(w: Walk) -> None:
        await follow(w)
        add(log, row(60 * 20))
        clock.now = NOW + timedelta(seconds=30)
        await look(w)
        assert "● growing: 21 rows" in told(w)
        clock.now = NOW + timedelta(seconds=30 + 119)
        await look(w)
        assert "growing" in told(w), "a row every minute: one may be late"
        clock.now = NOW + timedelta(seconds=30 + 121)
        await look(w)
        assert "▲ no new row for 2:01 (21 rows)" in told(w) and "growing" not in told(w)

    run(steps, tmp_path, clock=clock)


def test_a_log_that_was_finished_before_is_never_called_growing(tmp_path: Path) -> None:
    log, clock = tmp_path / "test.csv", Clock()
    log.write_text(HEADER + "".join(row(k) for k in range(600)), encoding="utf-8")

    async def steps(w: Walk) -> None:
        await follow(w)
        assert "growing" not in told(w) and "600 rows read; the next one is waited for" in told(w)
        clock.now = NOW + timedelta(seconds=6)
        await look(w)
        assert "▲ no new row for 0:06, not since it is followed here (600 rows)" in told(w)
        add(log, row(600))
        await look(w)
        assert "● growing: 601 rows" in told(w)

    run(steps, tmp_path, clock=clock)


def test_the_first_curve_has_the_room_that_the_numbers_leave_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("buildtrack.bench.screens.live.EVERY_S", 1000.0)  # else the next look would mend it
    (tmp_path / "test.csv").write_text(HEADER + "".join(row(k) for k in range(600)), encoding="utf-8")

    async def steps(w: Walk) -> None:
        await follow(w)
        curve = w.screen.query_one("#curve", LineList)
        for _ in range(10):  # the second look is begun by a frame, and its curve comes from a thread
            await w.settle()
        assert len(curve.lines) <= curve.size.height and "min" in w.text().splitlines()[-3]

    run(steps, tmp_path, (80, 24))


def test_u_in_a_followed_log_is_offered_only_where_an_edit_is_taken_back(tmp_path: Path) -> None:
    (tmp_path / "test.csv").write_text(HEADER + "".join(row(k) for k in range(600)), encoding="utf-8")

    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, BenchScreen)
        w.screen.jump("discharge_log")
        await w.settle()
        await w.press("enter", "x", "escape")
        await follow(w)
        assert "u undo" not in w.text(), "a text dropped at the bench is not brought back here"
        await w.press("e")
        assert "u undo" in w.text()

    run(steps, tmp_path, (120, 40))


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (170, 48)])
def test_no_curve_is_ever_drawn_for_another_room_than_it_has(
    tmp_path: Path, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a look at the file has drawn comes later than the look: the room may be another one by then."""
    drawn: list[tuple[int, int]] = []
    shown = LineList.show

    def show(self: LineList, lines: Sequence[Line], key: str | None = None) -> None:
        if self.id == "curve":
            widest = max((sum(cell_len(p.text) for p in (*e.left, *e.right)) for e in lines), default=0)
            drawn.append((widest, self.size.width))
        shown(self, lines, key)

    monkeypatch.setattr(LineList, "show", show)
    log = tmp_path / "test.csv"
    log.write_text(HEADER + "".join(row(k, fall=0.0004) for k in range(600)), encoding="utf-8")

    async def steps(w: Walk) -> None:
        await follow(w)
        assert any("⠀" < c <= "⣿" for c in w.text()), "the curve is drawn without waiting for the next look"
        assert drawn and [pair for pair in drawn if pair[0] > pair[1]] == []
        assert drawn[-1][0] > drawn[-1][1] // 2, "and fills its room"
        await w.press("escape")
        drawn.clear()
        await follow(w)
        assert drawn and [pair for pair in drawn if pair[0] > pair[1]] == [], "also where the log is known at once"
        drawn.clear()
        await w.pilot.resize_terminal(size[0] - 30, size[1])
        await w.settle()
        assert drawn and [pair for pair in drawn if pair[0] > pair[1]] == []

    run(steps, tmp_path, size)
