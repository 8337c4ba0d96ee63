"""A logger restarted in the midst of its file, and rows that cannot be right: said, and never taken for an alarm.

Expected values: the same rows written in the order of the first header, or numbers worked out by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from buildtrack.console.follow import lines
from buildtrack.physics.log_follow import Follower, Seen
from buildtrack.physics.logs import LogSummary, read_log
from tests.test_log_follow import HEADER, row, test

OTHER = "cell3_V,time_s,cell1_V,voltage_V,cell2_V,current_A\n"


def in_other_order(line: str) -> str:
    t, i, v, c1, c2, c3 = line.strip().split(",")
    return ",".join((c3, t, c1, v, c2, i)) + "\n"


def followed(path: Path, *texts: str) -> Seen:
    """What is seen at the end of a file that grew by these texts."""
    follower = Follower(path)
    seen = follower.look()
    for text in texts:
        with path.open("a", encoding="utf-8") as file:
            file.write(text)
        seen = follower.look()
    return seen


def names(log: LogSummary) -> dict[str, int]:
    return dict(log.warning_counts)


@pytest.mark.parametrize("before", [30, 300], ids=["form still told anew", "form settled"])
def test_rows_under_a_second_header_in_another_order_are_read_by_its_names(tmp_path: Path, before: int) -> None:
    rest = [row(k) for k in range(before, before + 60)]
    straight, turned = tmp_path / "straight.csv", tmp_path / "turned.csv"
    straight.write_text(test(before) + "".join(rest), encoding="utf-8")
    turned.write_text(test(before) + OTHER + "".join(map(in_other_order, rest)), encoding="utf-8")
    wanted, found = read_log(straight), read_log(turned)
    for part in ("charge_ah", "energy_wh"):
        assert getattr(found, part) == pytest.approx(getattr(wanted, part)), part
    for part in ("group_lowest", "lowest_v", "last", "used", "duration_s"):
        assert getattr(found, part) == getattr(wanted, part), part
    assert names(found) == {"other header": 1}, "and nothing is said to go back in time"
    seen = followed(tmp_path / "grown.csv", test(before), OTHER, "".join(map(in_other_order, rest)))
    assert seen.now is not None and seen.now.groups_v == wanted.last.groups_v
    assert seen.remarks == (f"line {before + 2}: another header; rows after it are read by the names of its columns",)


@pytest.mark.parametrize("begun", [0, 1, 20])
def test_the_time_may_begin_anew_under_the_second_header(tmp_path: Path, begun: int) -> None:
    rest = [row(k) for k in range(begun, begun + 60)]
    path = tmp_path / "log.csv"
    path.write_text(test(100) + OTHER + "".join(map(in_other_order, rest)), encoding="utf-8")
    log = read_log(path)
    assert "backward time" not in names(log) and names(log)["clock restarted"] == 1
    assert log.last.time_s == pytest.approx(99 + begun + 59)


@pytest.mark.parametrize("other", ["time_s,current_A,voltage_V,zelle_a,zelle_b,zelle_c\n", "t,U,I\n",
                                   "time_s,current_A,voltage_V,cell1_mV,cell2_mV,cell3_mV\n"])  # fmt: skip
def test_rows_under_a_header_that_does_not_tell_all_columns_are_not_counted_and_that_is_said(
    tmp_path: Path, other: str
) -> None:
    wrong = "600,2.0,12,2.0,2.0,600\n" * 5
    path = tmp_path / "log.csv"
    path.write_text(test(250) + other + wrong, encoding="utf-8")
    log, seen = read_log(path), followed(path)
    assert log.used == 250 and min(v for v, _ in log.group_lowest) > 3.8
    assert seen.now is not None and seen.now.time_s == 249
    assert seen.remarks == ("line 252: another header, and it does not tell all the columns: rows after it are not "
                            "counted; 5 rows not counted",)  # fmt: skip
    with path.open("a", encoding="utf-8") as file:
        file.write(HEADER + row(251))
    assert read_log(path).used == 251, "the first header again: counted again"


def test_a_line_of_units_or_a_remark_in_the_midst_is_no_header(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(test(50) + "s,A,V,V,V,V\n" + row(50) + "paused,by hand,,,,\n" + row(51), encoding="utf-8")
    log = read_log(path)
    assert log.used == 52 and names(log) == {"text line": 2}


@pytest.mark.parametrize(("bad", "why"), [
    ("300,4,611.4,3.8,600.0,3.8\n", "group 2 reads 600.000 V, which no cell has"),
    ("300,4,11.4,3.8,-0.4,3.8\n", "group 2 reads -0.400 V: a wire is off, or it is driven backwards"),
    ("300,4,11.4,3.8,2.0,3.8\n", "the groups add up to 9.600 V, the pack reads 11.400 V"),
])  # fmt: skip
def test_a_row_that_cannot_be_right_marks_no_alarm_and_is_counted_as_doubtful(
    tmp_path: Path, bad: str, why: str
) -> None:
    path = tmp_path / "log.csv"
    path.write_text(test(300) + bad + row(301), encoding="utf-8")
    log, seen = read_log(path, watch_v=[2.8]), followed(path)
    assert log.marks == () and min(v for v, _ in log.group_lowest) > 3.8
    assert names(log) == {"doubtful row": 1} and log.ignored == 1
    assert seen.remarks == (f"1 doubtful row not counted, first line 302: {why}",)
    assert min(v for _, v in seen.lowest) > 3.8


def test_leads_between_groups_and_pack_and_an_open_board_are_not_doubtful(tmp_path: Path) -> None:
    """10.0 V at the terminals under 11.4 V of groups is 0.3 V and a tenth; a board that opened leaves 0.1 V there."""
    path = tmp_path / "log.csv"
    path.write_text(test(300) + "300,4,10.0,3.8,3.8,3.8\n301,0,0.1,3.8,3.8,3.8\n", encoding="utf-8")
    log = read_log(path)
    assert log.used == 302 and not names(log)


def test_groups_that_never_add_up_are_said_once_and_still_raise_the_alarm(tmp_path: Path) -> None:
    """Only two of three groups are logged: a low one must not be hidden for that."""
    path = tmp_path / "log.csv"
    path.write_text("time_s,current_A,voltage_V,cell1_V,cell2_V\n" + "".join(
        f"{k},4,11.4,3.8,{3.8 - 0.02 * k:.3f}\n" for k in range(60)), encoding="utf-8")  # fmt: skip
    log = read_log(path, watch_v=[2.8])
    assert names(log) == {"groups and pack": 1} and log.used == 60 and len(log.marks) == 1
    assert "from the first row on" in followed(path).remarks[0]


def test_the_command_says_it_once_though_the_count_grows(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(test(300), encoding="utf-8")

    def wrong(second: int) -> Callable[[], object]:
        return lambda: path.write_text(path.read_text("utf-8") + f"{second},4,611,3.8,600,3.8\n", encoding="utf-8")

    events = iter((wrong(300), wrong(301)))
    told = [text for text in lines(Follower(path), None, lambda: next(events)()) if "doubtful" in text]
    assert len(told) == 1 and "600.000 V" in told[0]
