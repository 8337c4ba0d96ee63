"""What is set of a log by hand wins over what is told from it. Expectations: the numbers written in the file, by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.physics.log_setting import ColumnError, set_mapping, split_typed
from buildtrack.physics.logs import read_log

BARE = "t,load,pack\n" + "".join(f"{60 * n},80,{12.3 - n / 100:.2f}\n" for n in range(61))
"""An hour of 80 of something that has no unit: 80 mA from a small logger, or 80 A."""


def written(folder: Path, text: str) -> Path:
    path = folder / "log.csv"
    path.write_text(text, encoding="utf-8")
    return path


def discharged_ah(path: Path, columns: str) -> float:
    mapping, _ = set_mapping(path, columns)
    return read_log(path, mapping).discharged_ah


@pytest.mark.parametrize(("unit", "ampere_hours"), [("mA", 0.08), ("ma", 0.08), ("A", 80.0)])
def test_a_unit_that_was_set_is_taken_whatever_the_size_of_the_numbers(
    tmp_path: Path, unit: str, ampere_hours: float
) -> None:
    path = written(tmp_path, BARE)
    assert discharged_ah(path, f"current=2:{unit} voltage=3 positive=discharge") == pytest.approx(ampere_hours)


def test_a_current_whose_unit_was_set_is_no_longer_told_by_its_size(tmp_path: Path) -> None:
    path = written(tmp_path, BARE)
    _, guessed = set_mapping(path, "current=2 voltage=3")
    _, told = set_mapping(path, "current=2:mA voltage=3:V")
    assert any("current has no unit" in note for note in guessed)
    assert not any(what in note for note in told for what in ("current has no", "voltage has no"))


def test_the_way_of_the_current_is_the_one_that_was_set(tmp_path: Path) -> None:
    path = written(tmp_path, BARE.replace("load", "current[A]").replace("pack", "voltage[V]"))
    assert set_mapping(path, "positive=discharge")[0].sign == 1
    assert set_mapping(path, "positive=charge")[0].sign == -1
    assert read_log(path, set_mapping(path, "positive=charge")[0]).discharged_ah == 0.0
    assert discharged_ah(path, "positive=discharge") == pytest.approx(80.0)


def test_minutes_that_were_set_are_minutes(tmp_path: Path) -> None:
    path = written(tmp_path, "x,current[A],voltage[V]\n" + "".join(f"{n},2,12.0\n" for n in range(31)))
    assert discharged_ah(path, "time=1:min positive=discharge") == pytest.approx(1.0)  # 2 A for half an hour
    assert discharged_ah(path, "time=1:s positive=discharge") == pytest.approx(1.0 / 60)


def test_groups_in_millivolts_are_read_in_volts(tmp_path: Path) -> None:
    rows = "".join(f"{n},2,12.0,950,960\n" for n in range(20))
    path = written(tmp_path, "time[s],current[A],voltage[V],g1,g2\n" + rows)
    mapping, _ = set_mapping(path, "groups=4:mV+5:mV")
    assert mapping.groups == (3, 4)
    assert mapping.group_scale == 0.001


@pytest.mark.parametrize("columns", ["groups=4:mV+5", "groups=4+5:mV"])
def test_a_unit_behind_one_group_holds_for_all_of_them(tmp_path: Path, columns: str) -> None:
    rows = "".join(f"{n},2,12.0,950,960\n" for n in range(20))
    path = written(tmp_path, "t[s],current[A],voltage[V],g1,g2\n" + rows)
    mapping, notes = set_mapping(path, columns)
    assert mapping.group_scale == 0.001
    assert not any("group voltage has no unit" in note for note in notes)


def test_a_set_sign_over_a_state_column_that_tells_both_ways_is_warned_of(tmp_path: Path) -> None:
    rows = "".join(f"{60 * n},1.0,{12 - n / 100},{'Dchg' if n < 30 else 'Chg'}\n" for n in range(60))
    path = written(tmp_path, "time[s],current[A],voltage[V],state\n" + rows)
    told = read_log(path, set_mapping(path, "state=4")[0])
    assert told.discharged_ah == pytest.approx(told.charged_ah, rel=0.1), "half an hour each way at 1 A"
    assert not [w for w in told.warnings if "state column" in w.text]
    over = read_log(path, set_mapping(path, "positive=discharge")[0])
    assert over.charged_ah == 0.0
    assert [w for w in over.warnings if "state column tells charge from discharge" in w.text]


def test_a_column_whose_name_holds_a_colon_is_found_by_its_name(tmp_path: Path) -> None:
    path = written(tmp_path, "time[s],load:A,voltage[V]\n" + "".join(f"{n},2,12.0\n" for n in range(20)))
    assert set_mapping(path, "current=load:A")[0].current == 1


@pytest.mark.parametrize(
    ("columns", "sentence"),
    [
        ("current=2:V", "one of a, ma"),
        ("temperatures=2:c", "no unit that can be set"),
        ("groups=2:mV+3:V", "groups has one unit"),
        ("positive=up", "positive=discharge or positive=charge"),
        ("positive=charge positive=charge", "set twice"),
        ("sign=1", "positive"),
    ],
)
def test_what_cannot_be_set_is_refused_with_what_would_be_right(tmp_path: Path, columns: str, sentence: str) -> None:
    with pytest.raises(ColumnError, match=sentence):
        set_mapping(written(tmp_path, BARE), columns)


def test_what_is_typed_behind_the_name_of_a_file_may_begin_with_the_sign() -> None:
    assert split_typed("my log.csv positive=charge current=3:mA") == ("my log.csv", "positive=charge current=3:mA")
