"""Corners of reading and following logs and of a curve from a log: by what the file plainly says, or by numpy."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy
import pytest

from buildtrack.physics.log_columns import guess_mapping
from buildtrack.physics.log_errors import LogError
from buildtrack.physics.log_follow import Follower
from buildtrack.physics.log_numbers import looks_like_time, read_clock, read_moment, read_number
from buildtrack.physics.log_sniff import sniff
from buildtrack.physics.logs import BLOCK_CHARACTERS, read_log
from buildtrack.physics.ocv import CurveError
from buildtrack.physics.ocv_own import loaded_rows, own_curve
from tests.test_physics_logs import STEADY, table, write


def test_a_header_of_several_words_is_told_by_its_first(tmp_path: Path) -> None:
    log = read_log(write(tmp_path, table(STEADY, "time passed,voltage of pack,current drawn by load")))
    assert (log.mapping.time, log.mapping.voltage, log.mapping.current) == (0, 1, 2)
    assert not any("magnitude" in a for a in log.assumptions)


def test_the_sign_of_a_log_that_is_never_under_load_is_left_as_it_stands(tmp_path: Path) -> None:
    """10 mA is no load, however the voltage goes: what was drawn is drawn."""
    rows = [(k, 12.0 - 0.2 * k, 0.01) for k in range(20)]
    log = read_log(write(tmp_path, table(rows)))
    assert log.discharged_ah == pytest.approx(0.01 * 19 / 3600) and log.charged_ah == 0.0
    assert any("do not tell the sign" in a for a in log.assumptions)


def test_a_sign_beside_a_blank_in_a_chinese_header_does_not_make_it_latin(tmp_path: Path) -> None:
    """GB 2312 writes ℃ as A1 E6: the smallest byte that a pair may begin with."""
    rows = [(*row, 25) for row in STEADY]
    assert "℃".encode("gb18030") == b"\xa1\xe6"
    log = read_log(write(tmp_path, table(rows, "时间(s),电压(V),电流(A),温度(℃)"), "gb18030"))
    assert log.assumptions[0] == "encoding gb18030"
    assert log.mapping.temperatures == (3,)


@pytest.mark.parametrize("bad", [1, 2, 3, 4])
def test_one_bad_row_among_the_first_five_does_not_cost_those_before_it(tmp_path: Path, bad: int) -> None:
    rows: list[tuple[object, ...]] = [*STEADY]
    rows[bad] = (rows[bad][0], "OL", "OL")
    log = read_log(write(tmp_path, table(rows)))
    assert (log.used, log.ignored) == (19, 1)
    assert log.duration_s == 19.0


@pytest.mark.parametrize(("share", "steps"), [(0.3, 1), (0.15, 0)])
def test_a_step_of_the_load_is_a_fifth_of_the_largest_current(tmp_path: Path, share: float, steps: int) -> None:
    rows = [(k, 12 - 0.01 * k, 5.0 if k < 10 else 5.0 * (1 - share)) for k in range(20)]
    log = read_log(write(tmp_path, table(rows)))
    assert log.step_count == steps


@pytest.mark.parametrize(("unreadable", "gaps"), [(9, 0), (10, 1)])
def test_more_than_ten_intervals_of_a_numbered_log_are_a_gap(tmp_path: Path, unreadable: int, gaps: int) -> None:
    """Nine rows that cannot be read leave ten intervals between those around them, ten leave eleven."""
    rows: list[tuple[object, ...]] = [(n, 12 - 0.01 * n, 2.0) for n in range(1, 41)]
    rows[20:20 + unreadable] = [(n, "OL", "OL") for n in range(21, 21 + unreadable)]
    path = write(tmp_path, table(rows, "index,voltage_V,current_A"))
    mapping, _ = guess_mapping(sniff(path), complete=False)
    log = read_log(path, replace(mapping, interval_s=5.0))
    assert log.duration_s == 39 * 5.0
    assert [gap.length_s for gap in log.gaps] == [55.0] * gaps


def long_log(rows: int) -> list[str]:
    return ["time_s,voltage_V,current_A,remark", *(f"{k},{12 - k / 100_000:.5f},2.00,a remark to make it longer" for k in range(rows))]


def test_a_warning_names_the_line_of_the_file_in_every_block_of_a_long_log(tmp_path: Path) -> None:
    lines = long_log(20_000)
    bad = [3_000, 9_999, 15_000, 19_000]  # lines of the file, counted from 1, several blocks apart
    for number in bad:
        lines[number - 1] = "broken,row,here,and"
    assert sum(map(len, lines[:bad[0]])) > 2 * BLOCK_CHARACTERS
    log = read_log(write(tmp_path, "\n".join(lines) + "\n"))
    assert [w.line for w in log.warnings if "broken" in w.text or w.name.startswith("unreadable")] == bad


def test_what_cannot_be_parted_is_named_with_the_line_its_block_begins_on(tmp_path: Path) -> None:
    """csv refuses fields longer than its limit, which is set low here."""
    lines = long_log(30_000)
    lines[9_999] = f'9998,12.0,2.0,"{"x" * 2_000}"'
    path, usual = write(tmp_path, "\n".join(lines) + "\n"), csv.field_size_limit(1_000)
    try:
        with pytest.raises(LogError) as refused:
            read_log(path)
    finally:
        csv.field_size_limit(usual)
    block = BLOCK_CHARACTERS // min(map(len, lines[1:]))
    assert 10_000 - block <= refused.value.line <= 10_000
    assert "cannot be parted" in refused.value.what


def test_a_line_that_does_not_end_is_refused_before_it_fills_the_memory(tmp_path: Path) -> None:
    lines = long_log(10_000)
    for last in ("x" * 1_000_000, "1," * 500_000, '"' * 1_000_000):
        with pytest.raises(LogError, match="this line does not end; a log has one row a line") as refused:
            read_log(write(tmp_path, "\n".join([*lines, last]) + "\n"))
        assert refused.value.line == 10_002
    kept = read_log(write(tmp_path, "\n".join([*lines, "x" * 90_000]) + "\n"))
    assert kept.used == 10_000


@pytest.mark.parametrize("heading", ["a" + " " * 60_000 + "b", "(" * 60_000, "a_" * 30_000, "[" + " " * 60_000, "a" + "/ " * 30_000])
def test_a_heading_of_sixty_thousand_characters_is_looked_at_in_part(tmp_path: Path, heading: str) -> None:
    """The patterns for names and units take the square of the length: this took more than six minutes."""
    log = read_log(write(tmp_path, table([(*row, 1) for row in STEADY], f"time_s,voltage_V,current_A,{heading}")))
    assert log.charge_ah == pytest.approx(2.0 * 19 / 3600)


@pytest.mark.parametrize("field", ["a" + " " * 90_000 + "b", "9" * 90_000, "1" * 90_000 + ":00:00", "1/" * 40_000, "1d " + " " * 90_000 + "x"])
def test_a_field_of_ninety_thousand_characters_is_no_reading(tmp_path: Path, field: str) -> None:
    log = read_log(write(tmp_path, table([*STEADY[:10], (9.5, field, 2.0), (field, 11.9, 2.0), *STEADY[10:]])))
    assert (log.used, log.ignored) == (20, 2)
    assert read_number(field) is None and read_clock(field) is None and read_moment(field, "dmy") is None
    assert not looks_like_time(field)


def test_a_curve_is_the_line_of_least_squares_through_the_rows_half_way_to_its_neighbours() -> None:
    """Against numpy.polyfit of first degree over the same rows; bent enough that other rows give another voltage."""
    seconds = numpy.linspace(0.0, 36_000.0, 4_001)
    soc = 1 - seconds / 36_000
    volts = 3.0 + soc**3 + 0.2 * numpy.sqrt(soc)
    points = [0.0, 0.05, 0.15, 0.3, 0.5, 0.75, 1.0]
    found = own_curve(seconds.tolist(), [0.2] * 4_001, volts.tolist(), 0.0, points=points)
    for before, at, after in zip(points, points[1:], points[2:], strict=False):
        near = (soc >= (before + at) / 2 - 1e-12) & (soc <= (at + after) / 2 + 1e-12)
        slope, level = numpy.polyfit(soc[near], volts[near], 1)
        assert found.voltage(at) == pytest.approx(slope * at + level, abs=1e-4)
    assert found.voltage(0.0) == pytest.approx(volts[-1]) and found.voltage(1.0) == pytest.approx(volts[0])


def test_following_keeps_the_lowest_group_of_each_row_under_load_and_starts_over_where_one_reads_nothing(tmp_path: Path) -> None:
    rows = [(2 * k, 4.0, [3.9 - 0.01 * k, 3.8 - 0.01 * k, 3.85 - 0.01 * k]) for k in range(40)]
    header = "time_s,current_A,voltage_V,cell1_V,cell2_V,cell3_V\n"

    def text(rows: list[tuple[int, float, list[float]]]) -> str:
        return "".join(f"{t},{i},{sum(g):.3f},{','.join(f'{v:.3f}' for v in g)}\n" for t, i, g in rows)

    path = tmp_path / "log.csv"
    path.write_text(header + text(rows))
    assert [round(v, 3) for _, v in Follower(path).look().lowest] == [round(min(g), 3) for _, _, g in rows]
    rows[20] = (40, 4.0, [3.7, 0.0, 3.65])  # a lead that came off
    path.write_text(header + text(rows))
    assert [round(v, 3) for _, v in Follower(path).look().lowest] == [round(min(g), 3) for _, _, g in rows[21:]]
    rows[30] = (60, 0.0, [3.7, 3.6, 3.65])  # the load is off
    path.write_text(header + text(rows))
    assert [round(v, 3) for _, v in Follower(path).look().lowest] == [round(min(g), 3) for _, _, g in rows[31:]]


def test_a_log_of_one_cell_that_names_its_cell_makes_a_curve_and_one_of_two_does_not(tmp_path: Path) -> None:
    rows = [(600 * k, 0.2, f"{4.1 - 0.02 * k:.2f}") for k in range(50)]
    one = read_log(write(tmp_path, table([(*row, row[2]) for row in rows], "time_s,current_A,voltage_V,cell1_V")))
    assert len(one.mapping.groups) == 1
    times, currents, volts = loaded_rows(one)
    assert (times, currents, volts) == ([float(t) for t, _, _ in rows], [0.2] * 50, [float(v) for _, _, v in rows])
    pair = [(t, i, f"{2 * float(v):.2f}", v, v) for t, i, v in rows]
    with pytest.raises(CurveError, match="the log holds 2 groups"):
        loaded_rows(read_log(write(tmp_path, table(pair, "time_s,current_A,voltage_V,cell1_V,cell2_V"))))
