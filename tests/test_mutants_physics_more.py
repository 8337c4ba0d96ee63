"""More corners of the physics: cycles, layouts, times of a log, each by its closed form or by what the file plainly says."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest

from buildtrack.physics.fit import Box, layouts
from buildtrack.physics.forecast import forecast
from buildtrack.physics.forecast_loads import checked_duty
from buildtrack.physics.forecast_string import Group
from buildtrack.physics.log_columns import guess_mapping
from buildtrack.physics.log_errors import LogError
from buildtrack.physics.log_sniff import sniff
from buildtrack.physics.logs import read_log
from buildtrack.physics.ocv import make_curve
from buildtrack.physics.sharing import group_currents_a
from tests.test_physics_logs import STEADY, table, write

STRAIGHT = make_curve("straight", [0.0, 0.5, 1.0], [3.0, 3.5, 4.0])


def test_every_other_staggered_row_is_shifted_and_holds_one_cell_less() -> None:
    """Plane geometry: three rows of 18 mm lie 18 sqrt(3)/2 apart; in 54 mm three, two and three cells stand."""
    box = Box(54.0, 18.0 * (1 + sqrt(3)), 65.0)
    found = [x for x in layouts(box, 18.0, 65.0) if x.axis == "z" and x.row_axis == "x" and x.pattern == "staggered"]
    assert [x.count for x in found] == [8]
    first = [sorted(p[0] for p in found[0].positions_mm if abs(p[1] - y) < 0.01)
             for y in sorted({round(p[1], 3) for p in found[0].positions_mm})]
    assert first == [pytest.approx([9, 27, 45]), pytest.approx([18, 36]), pytest.approx([9, 27, 45])]


def test_a_square_grid_is_listed_once_and_staggered_rows_both_ways() -> None:
    found = layouts(Box(100.0, 100.0, 100.0), 18.0, 65.0)
    assert sorted((x.axis, x.pattern) for x in found) == sorted(
        [(axis, "rectangular") for axis in "xyz"] + [(axis, "staggered") for axis in "xyz"] * 2)


def test_a_cycle_that_divides_the_charge_ends_with_its_load_and_not_with_the_rest_behind_it() -> None:
    """2 Ah at 1 A for an hour and an hour of rest: empty after 3 h, not 4 h."""
    result = forecast([Group(2.0, STRAIGHT)], checked_duty([(3600.0, 1.0), (3600.0, 0.0)]), cutoff_v=2.0)
    assert result.ended_by == "empty"
    assert result.cutoff_s == pytest.approx(3 * 3600.0)
    assert result.delivered_ah == pytest.approx(2.0)


@pytest.mark.parametrize("cutoff_v", [3.1, 2.9])  # 2.9 V is never reached without a load
@pytest.mark.parametrize("pieces", [
    [(600.0, 0.0), (600.0, 4.0)], [(600.0, 4.0), (600.0, 0.0)], [(600.0, 0.5), (600.0, 4.0)], [(300.0, 0.0), (300.0, 0.5), (600.0, 4.0)]])
def test_the_first_moment_below_the_cutoff_under_a_cycle_is_that_of_small_steps(
        pieces: list[tuple[float, float]], cutoff_v: float) -> None:
    """U = 4 V - q / 2 Ah * 1 V - I R with R = 0.1 ohm, by steps of a tenth of a second."""
    result = forecast([Group(2.0, STRAIGHT, 0.1)], checked_duty(pieces), cutoff_v=cutoff_v)
    period, time_s, drawn = sum(t for t, _ in pieces), 0.0, 0.0
    while True:
        into = time_s % period
        amperes = next(i for k, (_, i) in enumerate(pieces) if into < sum(t for t, _ in pieces[:k + 1]))
        if 4.0 - drawn / 2.0 - 0.1 * amperes <= cutoff_v:
            break
        drawn, time_s = drawn + amperes * 0.1 / 3600, round(time_s + 0.1, 1)
    assert result.cutoff_s == pytest.approx(time_s, abs=1.0)


def test_what_is_left_is_told_for_the_end_and_not_for_the_alarm() -> None:
    """Two groups in series, 2 Ah and 3 Ah: when the smaller one is empty the other has 1 Ah."""
    result = forecast([Group(2.0, STRAIGHT), Group(3.0, STRAIGHT)], checked_duty([(3600.0, 1.0)]), alarm_v=3.4, cutoff_v=2.0)
    assert result.alarm_s is not None and result.alarm_s < result.cutoff_s
    assert result.left_ah == pytest.approx((0.0, 1.0), abs=1e-9)


def test_cells_of_a_group_need_a_voltage_and_a_resistance_each() -> None:
    with pytest.raises(ValueError):
        group_currents_a([4.0, 4.1, 4.2], [0.05, 0.05], 1.0)
    with pytest.raises(ValueError):
        group_currents_a([4.0], [0.05, 0.05], 1.0)


# --- logs ---


def test_the_line_of_the_header_is_named_where_a_column_is_missing(tmp_path: Path) -> None:
    text = "Tester 4\nModel X\n" + table([(t, i) for t, _, i in STEADY], "time_s,current_A")
    with pytest.raises(LogError, match="no voltage column") as refused:
        read_log(write(tmp_path, text))
    assert refused.value.line == 3


def test_a_log_without_a_time_column_is_understood_as_far_as_it_goes(tmp_path: Path) -> None:
    path = write(tmp_path, table([(v, i) for _, v, i in STEADY], "voltage_V,current_A"))
    mapping, _ = guess_mapping(sniff(path), complete=False)
    assert (mapping.time, mapping.voltage, mapping.current) == (None, 0, 1)


def test_an_hour_set_back_is_an_hour_and_no_second_less(tmp_path: Path) -> None:
    clock = [f"2025-10-26 {moment}" for moment in ("02:59:45", "02:59:50", "02:59:55", "02:00:00", "02:00:05", "02:00:10")]
    log = read_log(write(tmp_path, table([(c, 12 - 0.1 * k, 2.0) for k, c in enumerate(clock)], "time,voltage_V,current_A")))
    assert dict(log.warning_counts) == {"clock set back": 1}
    assert log.duration_s == 25.0
    assert log.discharged_ah == pytest.approx(2.0 * 25 / 3600)


def test_times_of_a_log_that_begins_late_count_from_its_first_row(tmp_path: Path) -> None:
    times = [*range(1000, 1100), *range(1300, 1400)]
    rows = [(t, round(8 - t / 1000, 3), 2.0, round(4 - t / 2000, 4), round(4 - t / 2000, 4)) for t in times]
    log = read_log(write(tmp_path, table(rows, "time_s,voltage_V,current_A,cell1_V,cell2_V")))
    assert [gap.time_s for gap in log.gaps] == [300.0]
    assert [at for _, at in log.group_lowest] == [399.0, 399.0]
    assert (log.first.time_s, log.last.time_s, log.duration_s) == (0.0, 399.0, 399.0)
    assert log.outline[0].time_s == 0.0 and all(0.0 <= p.time_s <= 399.0 for p in log.outline)
