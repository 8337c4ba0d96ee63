"""A log from the balance plug shows no output voltage: it cannot tell whether the board opened."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.physics import logs
from buildtrack.physics.log_follow import Follower
from buildtrack.workings.discharge_log import LogData
from buildtrack.workings.inputs import LOG_DATA
from buildtrack.workings.values import Known, Value
from tests.back import made, rule

HEAD = "time_s,current_A,pack_V,g1_V,g2_V,g3_V"
ENDED = {"ended_by": "board"}


def log(folder: Path, *, digits: int = 3, output_drop: float = 0.0, last_pack: float | None = None, pack: bool = True,
        ) -> logs.LogSummary:
    """Three groups fall for 300 s and rebound to 3.4 V as the load goes; the pack column is their sum less a drop."""
    lines = [HEAD if pack else HEAD.replace("pack_V,", "")]
    for second in range(0, 320, 10):
        loaded = second <= 300
        one = 3.6 - 0.002 * second if loaded else 3.4
        groups = (one, one - 0.004, one + 0.0034)
        total = sum(groups) - (output_drop if loaded else 0.0)
        if not loaded and last_pack is not None:
            total = last_pack
        told = [f"{second}", "3.000" if loaded else "0.000", *([f"{total:.{digits}f}"] if pack else []),
                *(f"{g:.{digits}f}" for g in groups)]
        lines.append(",".join(told))
    path = folder / "taps.csv"
    path.write_text("\n".join(lines) + "\n")
    return logs.read_log(path)


def extras(summary: logs.LogSummary) -> dict[str, Value]:
    return {LOG_DATA: Known(LogData("taps.csv", 1, summary))}


@pytest.mark.parametrize("digits", [2, 3, 4])
def test_a_pack_column_that_is_the_sum_of_the_groups_is_no_output(tmp_path: Path, digits: int) -> None:
    found = log(tmp_path, digits=digits)
    assert found.pack_is_sum and found.end_kind == logs.END_UNTOLD


def test_without_a_pack_column_the_sum_is_all_there_is(tmp_path: Path) -> None:
    found = log(tmp_path, pack=False)
    assert found.pack_is_sum and found.end_kind == logs.END_UNTOLD


def test_an_output_column_tells_who_ended_the_test(tmp_path: Path) -> None:
    # 3 A through 20 mOhm of board and leads: 60 mV less under load, and the full sum when the load is off
    stopped = log(tmp_path, output_drop=0.060)
    assert not stopped.pack_is_sum and stopped.end_kind == logs.END_OF_TESTER
    opened = log(tmp_path, output_drop=0.060, last_pack=0.3)
    assert not opened.pack_is_sum and opened.end_kind == logs.END_OF_BOARD
    # an output without any drop is seen to be one by its collapse
    assert log(tmp_path, last_pack=0.3).end_kind == logs.END_OF_BOARD


def test_the_measured_output_decides_where_the_log_cannot(tmp_path: Path) -> None:
    taps = extras(log(tmp_path))
    assert rule("board-did-not-open", made({**ENDED, "pack_after_cutoff": "0.3 V"}, taps)).outcome == "pass"
    shut = rule("board-did-not-open", made({**ENDED, "pack_after_cutoff": "9.8 V"}, taps))
    assert shut.outcome == "fail" and "the output still had 9.800 V" in shut.facts["value"]
    asked = rule("board-did-not-open", made({**ENDED, "pack_after_cutoff": None}, taps))
    assert asked.outcome == "unknown" and asked.needs == ("pack_after_cutoff",)
    assert asked.message == "the log cannot tell: its pack voltage is the sum of the groups, not the output"


def test_a_log_of_the_output_that_jumps_up_stays_a_stop(tmp_path: Path) -> None:
    output = extras(log(tmp_path, output_drop=0.060))
    found = rule("board-did-not-open", made({**ENDED, "pack_after_cutoff": "0.3 V"}, output))
    assert found.outcome == "fail" and "the board never opened" in found.facts["value"]


def test_live_and_attached_log_tell_one_charge(tmp_path: Path) -> None:
    # 8 A from 0 s to 1190 s, off at the next row: 8 x 1190 / 3600 = 2.6444 Ah; the half interval after it is not known
    rows = [f"{t},8.000,{18.0 - t / 1000:.3f}" for t in range(0, 1191, 10)] + ["1200,0.000,17.4", "1210,0.000,17.5"]
    path = tmp_path / "live.csv"
    path.write_text("time_s,current_A,voltage_V\n" + "\n".join(rows) + "\n")
    attached, live = logs.read_log(path), Follower(path).look()
    assert live.charge_ah == pytest.approx(8 * 1190 / 3600, abs=1e-9)
    assert attached.discharged_ah == pytest.approx(8 * 1190 / 3600, abs=1e-9)
