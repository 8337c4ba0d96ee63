"""`log FILE --follow`: the same numbers as text, look by look."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from buildtrack import cli
from buildtrack.console.follow import lines
from buildtrack.physics.log_follow import Follower
from tests.test_log_follow import HEADER, add, row


def said(path: Path, *between: Callable[[], object], columns: str = "", alarm: float | None = None) -> list[str]:
    """What is said when these things happen between the looks."""
    events = iter(between)
    return list(lines(Follower(path, columns), alarm, lambda: next(events)()))


def test_it_waits_for_the_file_then_tells_columns_and_numbers_as_it_grows(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    told = said(
        path,
        lambda: path.write_text(HEADER + row(0) + row(60), encoding="utf-8"),
        lambda: None,
        lambda: add(path, row(120)),
        lambda: path.write_text(HEADER + row(0, 2.0), encoding="utf-8"),
    )
    assert told[0] == "log.csv: the file is not there yet; looking again"
    assert any("groups: column 4 (cell1_V)" in text for text in told)
    numbers = [text.split() for text in told if " A  " in text]
    assert [line[0] for line in numbers] == ["1.00", "2.00", "0.00"], "a look without new rows says nothing"
    assert "0.1333 Ah" in " ".join(numbers[1]), "4 A for two minutes"
    assert told.index("the file was begun anew: read from its beginning again") == len(told) - 2


def test_the_time_to_the_alarm_is_told_where_its_level_is_given(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(HEADER + "".join(row(k, fall=0.001) for k in range(301)), encoding="utf-8")
    last = said(path, alarm=3.4)[-1]
    assert "alarm in at most 3.0 min at this slope" in last  # (3.9 - 0.02 - 0.3 - 3.4) V / 0.001 V/s = 180 s


@pytest.mark.parametrize(("arguments", "part"), [(["--every", "0 s"], "--every"), (["--alarm", "much"], "much")])
def test_what_cannot_be_used_is_one_line(
    tmp_path: Path, arguments: list[str], part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "log.csv"
    assert cli.main(["log", str(path), "--follow", *arguments]) == cli.UNUSABLE
    found = capsys.readouterr().err.strip()
    assert part in found and "\n" not in found
