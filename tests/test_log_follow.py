"""A log that is being written is followed as it grows: nothing twice, nothing lost, in bounded memory."""

from __future__ import annotations

import os
from pathlib import Path

import numpy
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buildtrack.physics.log_follow import MOST_BYTES, MOST_MEDIANS, MOST_RECENT, Follower, Seen, seconds_to
from buildtrack.physics.logs import read_log
from tests.test_physics_logs import UGLY

HEADER = "time_s,current_A,voltage_V,cell1_V,cell2_V,cell3_V\n"
SETTINGS = settings(
    derandomize=True, deadline=None, max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def row(second: float, current: float = 4.0, first: float = 3.9, fall: float = 0.0001) -> str:
    volts = [first - fall * second - 0.01 * k for k in range(3)]
    return f"{second:g},{current:g},{sum(volts):.4f}," + ",".join(f"{v:.4f}" for v in volts) + "\n"


def test(count: int) -> str:
    return HEADER + "".join(row(k) for k in range(count))


test.__test__ = False  # type: ignore[attr-defined]


def add(path: Path, text: str | bytes) -> None:
    with path.open("ab") as file:
        file.write(text.encode() if isinstance(text, str) else text)


def to_the_end(follower: Follower) -> Seen:
    seen = follower.look()
    while seen.behind:
        seen = follower.look()
    return seen


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("text", [UGLY, test(400), test(3).replace("\n", "\r\n")])
@given(cuts=st.lists(st.integers(0, 20_000), max_size=12))
@SETTINGS
def test_a_log_written_in_any_pieces_is_read_as_if_it_had_been_there_at_once(
    tmp_path: Path, text: str, encoding: str, cuts: list[int]
) -> None:
    path, whole = tmp_path / "log.csv", text.encode(encoding)
    path.unlink(missing_ok=True)
    follower = Follower(path)
    assert follower.look().problem == "the file is not there yet"
    places = sorted({*(c for c in cuts if c < len(whole)), len(whole)})
    for begin, end in zip([0, *places], places, strict=False):
        add(path, whole[begin:end])
        seen = follower.look()
    expected = read_log(path)
    assert not seen.problem and seen.now is not None
    assert (seen.rows, seen.ignored) == (expected.rows, expected.ignored)
    assert seen.charge_ah == pytest.approx(expected.discharged_ah - expected.charged_ah, rel=1e-9, abs=1e-12)
    start = expected.first_loaded.time_s if expected.first_loaded is not None else 0.0
    assert seen.now.time_s == pytest.approx(expected.last.time_s - start)
    assert seen.now.groups_v == expected.last.groups_v
    assert seen.begun_anew == 0


def test_a_last_line_that_is_only_partly_written_waits_for_its_end(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(test(5) + "5,4,1", encoding="utf-8")
    follower = Follower(path)
    assert follower.look().rows == 5
    add(path, row(5)[len("5,4,1") :])
    seen = follower.look()
    assert seen.rows == 6 and seen.ignored == 0
    assert seen.now is not None and seen.now.groups_v[0] == pytest.approx(3.8995)


def test_nothing_new_is_told_as_such(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(test(5), encoding="utf-8")
    follower = Follower(path)
    assert follower.look().grew
    assert not follower.look().grew
    add(path, row(5))
    assert follower.look().grew


def test_a_file_that_is_replaced_or_cut_short_is_read_from_its_beginning_again(tmp_path: Path) -> None:
    path, other = tmp_path / "log.csv", tmp_path / "other.csv"
    path.write_text(test(300), encoding="utf-8")
    follower = Follower(path)
    assert follower.look().rows == 300
    path.write_text(test(4), encoding="utf-8")
    seen = follower.look()
    assert (seen.rows, seen.begun_anew) == (4, 1)
    other.write_text(HEADER + "".join(row(k, 3.0) for k in range(500)), encoding="utf-8")
    os.replace(other, path)
    seen = follower.look()
    assert (seen.rows, seen.begun_anew) == (500, 2)
    assert seen.charge_ah == pytest.approx(3.0 * 499 / 3600)


def test_a_logger_that_writes_the_whole_file_anew_each_time_is_followed_without_a_break(tmp_path: Path) -> None:
    path, other = tmp_path / "log.csv", tmp_path / "other.csv"
    follower = Follower(path)
    for count in (3, 50, 51, 900):
        other.write_text(test(count), encoding="utf-8")
        os.replace(other, path)
        seen = follower.look()
        assert (seen.rows, seen.begun_anew) == (count, 0)
    assert seen.charge_ah == pytest.approx(4.0 * 899 / 3600)


def test_a_file_that_vanishes_keeps_what_was_read_until_it_is_back(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(test(10), encoding="utf-8")
    follower = Follower(path)
    follower.look()
    path.unlink()
    seen = follower.look()
    assert seen.problem == "the file is gone" and seen.rows == 10
    path.write_text(test(12), encoding="utf-8")
    seen = follower.look()
    assert (seen.problem, seen.rows, seen.begun_anew) == ("", 12, 0)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "no readings yet"),
        (b"Model X-000\nStart;12.01.2026\n", "no readings yet"),
        (b"PK\x03\x04" + bytes(200), "this is no text file"),
        (b"time_s,voltage_V\n0,12.1\n1,12.0\n2,11.9\n", "no current column was recognised"),
        (b"9" * 300_000, "no rows of readings were found"),
    ],
)
def test_a_file_that_is_no_log_or_not_one_yet_is_told_in_a_sentence(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    follower = Follower(path)
    for _ in range(2):
        seen = follower.look()
        assert said in seen.problem and seen.now is None


def test_a_folder_is_no_log(tmp_path: Path) -> None:
    assert "cannot be read" in Follower(tmp_path).look().problem


def test_a_line_without_an_end_stops_it_instead_of_filling_the_memory(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(test(300), encoding="utf-8")
    follower = Follower(path)
    follower.look()
    add(path, b"1" * 200_000)
    assert "does not end" in follower.look().problem


def test_columns_are_told_from_the_file_and_can_be_set(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("time_s,current_A,x,voltage_V\n" + "".join(f"{k},4,11.{k},12.{k}\n" for k in range(9)), "utf-8")
    assert "voltage: column 4 (voltage_V), times 1 V" in Follower(path).look().columns
    seen = Follower(path, "voltage=x").look()
    assert "voltage: column 3 (x), times 1 V" in seen.columns
    assert seen.now is not None and seen.now.voltage_v == 11.8
    assert "there is no column" in Follower(path, "voltage=nothing").look().problem


def test_a_discharge_logged_as_negative_counts_as_discharge_before_and_after_the_voltage_tells(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(HEADER + "".join(row(k, -4.0) for k in range(3)), encoding="utf-8")
    follower = Follower(path)
    seen = follower.look()
    assert seen.now is not None and seen.now.current_a == 4.0
    assert seen.charge_ah == pytest.approx(4.0 * 2 / 3600)
    add(path, "".join(row(k, -4.0) for k in range(3, 2000)))
    seen = follower.look()
    assert seen.charge_ah == pytest.approx(4.0 * 1999 / 3600)


def test_time_counts_from_the_load_and_the_row_before_the_end_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(
        HEADER + "".join(row(k, 0.0) for k in range(20)) + "".join(row(k) for k in range(20, 80)), encoding="utf-8"
    )
    follower = Follower(path)
    seen = follower.look()
    assert seen.now is not None and seen.now.time_s == 59 and seen.under_load
    add(path, "80,0,0.4,3.7,3.7,3.7\n")
    seen = follower.look()
    assert seen.now is not None and seen.loaded is not None
    assert not seen.under_load and seen.loaded.time_s == 59 and seen.now.time_s == 60
    assert not seen.lowest, "without load there is no slope"


def test_memory_stays_bounded_over_a_long_log(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    follower = Follower(path)
    path.write_text(HEADER, encoding="utf-8")
    for begin in range(0, 60_000, 15_000):
        add(path, "".join(row(0.1 * k, fall=0.00001) for k in range(begin, begin + 15_000)))
        seen = to_the_end(follower)
    assert seen.rows == 60_000
    assert len(seen.points) <= 2000 and len(seen.lowest) <= MOST_RECENT
    reading = follower._reading
    assert reading is not None and len(reading.totals.medians) <= MOST_MEDIANS and len(reading._rest) < 100
    assert path.stat().st_size < MOST_BYTES * 4


def test_the_time_to_a_level_is_where_the_fitted_line_meets_it() -> None:
    falling = [(float(k), 3.6 - 0.0005 * k) for k in range(400)]
    assert seconds_to(3.3, falling) == pytest.approx((3.6 - 0.0005 * 399 - 3.3) / 0.0005)
    uneven = [(t, v + 0.001 * (-1) ** int(t)) for t, v in falling]
    recent = [(t, v) for t, v in uneven if t >= 399 - 39.9]
    slope, at_0 = numpy.polyfit([t for t, _ in recent], [v for _, v in recent], 1)
    assert seconds_to(3.3, uneven) == pytest.approx((3.3 - at_0) / slope - 399)


def test_there_is_no_time_to_a_level_where_nothing_falls_and_none_is_left_where_it_is_passed() -> None:
    assert seconds_to(3.3, []) is None
    assert seconds_to(3.3, [(float(k), 3.6) for k in range(50)]) is None
    assert seconds_to(3.3, [(0.0, 3.4), (1.0, 3.39)]) is None, "two points are no slope yet"
    assert seconds_to(3.3, [(float(k), 3.35 - 0.01 * k) for k in range(9)]) == 0.0
