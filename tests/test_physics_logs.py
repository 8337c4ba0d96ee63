"""Logs as loggers write them: encodings, marks, headers, times, signs, oddities; one pass gives the right sums."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.integrate import trapezoid

from buildtrack.physics import log_numbers
from buildtrack.physics.log_columns import split_name
from buildtrack.physics.logs import (
    LogCancelled,
    LogError,
    LogSummary,
    describe,
    guess_mapping,
    read_log,
    rows_summary,
    sniff,
)

SETTINGS = settings(
    derandomize=True, deadline=None, max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture]
)

UGLY = """Model;X-000;FW 1.07
Start;03.11.2025 19:02:11
Set;CC 2,000A;Cut 8,10V

Zeit;U[V];I[A];Kap[mAh];T[°C]
00:00:00;12,54;0,000;0;21
00:00:01;12,31;2,001;1;21
00:00:01;12,31;2,001;1;21
00:00:02;12,30;2,001;1;21
01:48:36;8,63;2,000;3619;29
01:48:37;0,41;0,000;3620;29
END
"""


def write(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    path = folder / "log.csv"
    path.write_bytes(text.encode(encoding))
    return path


def names(log: LogSummary) -> dict[str, int]:
    return dict(log.warning_counts)


def table(rows: Sequence[Sequence[object]], header: str = "time_s,voltage_V,current_A", mark: str = ",") -> str:
    return "\n".join([header, *(mark.join(map(str, row)) for row in rows)]) + "\n"


STEADY = [(k, round(12.0 - 0.01 * k, 3), 2.0) for k in range(20)]


def test_the_ugly_but_legal_file_is_read_as_meant(tmp_path: Path) -> None:
    path = write(tmp_path, UGLY)
    log = read_log(path)
    assert (log.rows, log.used, log.ignored) == (7, 5, 2)
    assert log.duration_s == 6517.0
    assert log.charge_ah == pytest.approx((2.001 / 2 + 2.001 + 6514 * 4.001 / 2 + 1.0) / 3600, rel=1e-12)
    assert log.end_kind == "board opened"
    assert log.end_line == 11
    assert [(w.name, w.line) for w in log.warnings] == [("repeated row", 8), ("text line", 12)]
    assert log.counter_ah == pytest.approx(3.62)
    assert (log.temperature_first_degc, log.temperature_highest_degc) == ((21.0,), (29.0,))
    assert log.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert "separator ';', decimal mark ','" in log.assumptions
    assert "time read as hours:minutes:seconds" in log.assumptions
    assert len(log.gaps) == 1 and log.gaps[0].line == 10 and log.gaps[0].length_s == 6514.0
    assert log.last_loaded is not None and log.last_loaded.voltage_v == 8.63


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends_give_the_same(tmp_path: Path, encoding: str, end: str) -> None:
    log = read_log(write(tmp_path, UGLY.replace("\n", end), encoding))
    assert log.charge_ah == pytest.approx(3.62090513888, rel=1e-9)
    assert log.temperature_highest_degc == (29.0,)


def test_a_chinese_header_is_read(tmp_path: Path) -> None:
    log = read_log(write(tmp_path, table(STEADY, "时间(s),电压(V),电流(A)"), "gb18030"))
    assert log.assumptions[0] == "encoding gb18030"
    assert log.charge_ah == pytest.approx(2.0 * 19 / 3600)


@pytest.mark.parametrize(
    ("mark", "decimal"), [(",", "."), (";", ","), (";", "."), ("\t", ","), ("\t", "."), ("|", "."), ("  ", ".")]
)
def test_every_pair_of_separator_and_decimal_mark_is_told(tmp_path: Path, mark: str, decimal: str) -> None:
    rows = [[str(v).replace(".", decimal) for v in row] for row in STEADY]
    log = read_log(write(tmp_path, table(rows, mark.join(["time_s", "voltage_V", "current_A"]), mark)))
    assert log.charge_ah == pytest.approx(2.0 * 19 / 3600, rel=1e-12)
    volts = [v for _, v, _ in STEADY]
    assert log.energy_wh == pytest.approx(float(trapezoid([2 * v for v in volts])) / 3600, rel=1e-12)


def test_a_separator_told_in_the_first_line_is_taken(tmp_path: Path) -> None:
    log = read_log(write(tmp_path, "sep=;\n" + table(STEADY, "time_s;voltage_V;current_A", ";")))
    assert log.used == 20


def test_a_comma_for_both_is_refused_with_its_line(tmp_path: Path) -> None:
    rows = [f"{k},5,12.0,2.0" if k % 2 else f"{k},12.0,2.0" for k in range(20)]
    with pytest.raises(LogError, match=r"log.csv, line 3: the comma is both separator and decimal mark") as caught:
        read_log(write(tmp_path, "time_s,voltage_V,current_A\n" + "\n".join(rows) + "\n"))
    assert caught.value.line == 3
    assert "semicolons" in caught.value.right


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "the file is empty"),
        (b"PK\x03\x04rest", "this is no text file; open it in its program and save it as CSV"),
        (b"\x00\x01\x02\x03" * 50, "no text file"),
        (b"only words here\nand here\n", "no rows of readings"),
        (b"time_s,current_A\n0,2\n1,2\n2,2\n3,2\n4,2\n", "no voltage column"),
        (b"time_s,voltage_V\n0,12\n1,12\n2,12\n3,12\n4,12\n", "no current column was recognised .time_s, voltage_V."),
        (b"index,voltage_V,current_A\n0,12,2\n1,12,2\n2,12,2\n3,12,2\n4,12,2\n", "no time column"),
    ],
)
def test_what_is_no_log_is_refused_with_what_would_be_right(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    with pytest.raises(LogError, match=words):
        read_log(path)


@pytest.mark.parametrize(
    ("field", "expected"),
    [
        ("U[V]", ("u", "v")), ("Cap(mAh)", ("cap", "mah")), ("Current / mA", ("current", "ma")),
        ("time_ms", ("time", "ms")), ("T[°C]", ("t", "°c")), ("Voltage", ("voltage", "")),
        ("cell_1 (V)", ("cell 1", "v")),
        ("Time(hh:mm:ss)", ("time", "clock")),
    ],
)  # fmt: skip
def test_header_fields_are_parted_into_name_and_unit(field: str, expected: tuple[str, str]) -> None:
    assert split_name(field) == expected


@pytest.mark.parametrize(
    "header",
    [
        "Time(s),Voltage(V),Current(A)",
        "Zeit[s],Spannung[V],Strom[A]",
        "t,U,I",
        "Elapsed,Vbat,Amps",
        "temps,tension,courant",
    ],
)
def test_column_names_of_several_tongues_are_told(tmp_path: Path, header: str) -> None:
    assert read_log(write(tmp_path, table(STEADY, header))).charge_ah == pytest.approx(2.0 * 19 / 3600)


def test_units_in_a_line_of_their_own_and_millivolts_are_read(tmp_path: Path) -> None:
    rows = [(1000 * k, 12000 - 10 * k, 2000) for k in range(20)]
    text = "time,voltage,current\nms,mV,mA\n" + "\n".join(",".join(map(str, row)) for row in rows) + "\n"
    log = read_log(write(tmp_path, text))
    assert log.charge_ah == pytest.approx(2.0 * 19 / 3600)
    assert log.first.voltage_v == pytest.approx(12.0)


def test_units_by_size_are_said_to_be_assumed(tmp_path: Path) -> None:
    rows = [(k, 12000 - 10 * k, 2000) for k in range(20)]
    log = read_log(write(tmp_path, table(rows, "time_s,voltage,current")))
    assert "voltage has no unit, read in mV by its size" in log.assumptions
    assert "current has no unit, read in mA by its size" in log.assumptions
    assert log.charge_ah == pytest.approx(2.0 * 19 / 3600)


def test_a_file_without_header_is_told_by_magnitude_and_says_so(tmp_path: Path) -> None:
    log = read_log(write(tmp_path, "\n".join(f"{t},{v},{i}" for t, v, i in STEADY) + "\n"))
    assert "columns told by magnitude: check them" in log.assumptions
    assert log.charge_ah == pytest.approx(2.0 * 19 / 3600)


@pytest.mark.parametrize(
    ("first", "second", "header"),
    [
        ("0:00:00", "0:00:10", "time"), ("00:00", "00:10", "time"), ("00:00:00.000", "00:00:10.000", "time"),
        ("0d 00:00:00", "0d 00:00:10", "time"), ("0", "10000", "time_ms"), ("0", "10", "time_s"),
        ("0.0", "0.002777777777777778", "time_h"), ("0.0", "0.16666666666666666", "time_min"),
        ("2025-11-03 19:02:11", "2025-11-03 19:02:21", "time"), ("03.11.2025 19:02:11", "03.11.2025 19:02:21", "time"),
        ("11/13/2025 7:02:11 PM", "11/13/2025 7:02:21 PM", "time"),
        ("2025-11-03T19:02:11Z", "2025-11-03T19:02:21Z", "time"),
        ("1762196531", "1762196541", "time"), ("1762196531000", "1762196541000", "time"),
    ],
)  # fmt: skip
def test_times_of_every_form_give_ten_seconds(tmp_path: Path, first: str, second: str, header: str) -> None:
    log = read_log(write(tmp_path, table([(first, 12.0, 2.0), (second, 11.9, 2.0)], f"{header},voltage_V,current_A")))
    assert log.duration_s == pytest.approx(10.0, abs=1e-6)


def test_a_date_column_beside_the_clock_is_joined(tmp_path: Path) -> None:
    rows = [
        ("03.11.2025", "23:59:50", 12.0, 2.0),
        ("03.11.2025", "23:59:55", 11.9, 2.0),
        ("04.11.2025", "00:00:00", 11.8, 2.0),
    ]
    log = read_log(write(tmp_path, table(rows, "date,time,voltage_V,current_A")))
    assert (log.duration_s, names(log)) == (10.0, {})


def test_a_row_number_needs_an_interval_that_can_be_set(tmp_path: Path) -> None:
    path = write(tmp_path, table(STEADY, "index,voltage_V,current_A"))
    mapping, _ = guess_mapping(sniff(path), complete=False)
    log = read_log(path, replace(mapping, interval_s=5.0))
    assert log.duration_s == 95.0
    assert "columns as set by hand" in log.assumptions


def test_a_fixed_current_stands_in_for_a_missing_column(tmp_path: Path) -> None:
    path = write(tmp_path, table([(t, v) for t, v, _ in STEADY], "time_s,voltage_V"))
    mapping, _ = guess_mapping(sniff(path), complete=False)
    assert read_log(path, replace(mapping, fixed_current_a=2.0)).charge_ah == pytest.approx(2.0 * 19 / 3600)


def test_midnight_restart_backward_and_repeated_times_are_named(tmp_path: Path) -> None:
    rows = ["23:59:58", "23:59:59", "00:00:00", "00:00:01", "00:00:01", "00:00:03"]
    log = read_log(
        write(tmp_path, table([(t, 12 - 0.1 * k, 2.0) for k, t in enumerate(rows)], "time,voltage_V,current_A"))
    )
    assert names(log) == {"day roll-over": 1, "repeated time": 1}
    assert (log.duration_s, log.used, log.ignored) == (5.0, 5, 1)
    times = [0, 10, 20, 15, 30, 0, 10, 20]
    log = read_log(write(tmp_path, table([(t, 12 - 0.1 * k, 2.0) for k, t in enumerate(times)])))
    assert names(log) == {"backward time": 1, "clock restarted": 1}
    assert log.duration_s == 50.0
    assert [(w.name, w.line) for w in log.warnings] == [("backward time", 5), ("clock restarted", 7)]


def test_summer_time_set_back_is_joined(tmp_path: Path) -> None:
    rows = [("2025-10-26 02:59:50", 12.0, 2), ("2025-10-26 02:00:00", 11.9, 2), ("2025-10-26 02:00:10", 11.8, 2)]
    log = read_log(write(tmp_path, table(rows, "time,voltage_V,current_A")))
    assert names(log) == {"clock set back": 1}
    assert log.duration_s == 20.0


def test_no_readings_repeated_headers_footers_and_cut_lines_are_named(tmp_path: Path) -> None:
    body = table(STEADY).splitlines()
    body[5] = "4,--,2.0"
    body[8] = "7,nan,2.0"
    body.insert(11, body[0])
    text = "\n".join([*body, "total;done", "20,11"]) + "\n"
    log = read_log(write(tmp_path, text))
    assert names(log) == {"unreadable row": 3, "header repeated": 1, "text line": 1}
    assert (log.used, log.ignored) == (18, 5)
    assert math.isfinite(log.energy_wh)


def test_thousands_marks_and_typographic_minus_are_read() -> None:
    assert log_numbers.read_number("1.234,5", ",") == 1234.5
    assert log_numbers.read_number("1,234.5", ".") == 1234.5
    assert log_numbers.read_number("\u22122,5", ",") == -2.5
    assert log_numbers.read_number("12.3 V", ".") == 12.3
    assert log_numbers.read_number("OL", ".") is None
    assert log_numbers.read_number("1_000", ".") is None


def test_a_counter_above_a_thousand_with_a_thousands_point_is_not_read_as_one(tmp_path: Path) -> None:
    rows = [(k, f"{12 - 0.01 * k:.2f}".replace(".", ","), "2,000", f"{1.0 + k * 0.1:.3f}") for k in range(20)]
    log = read_log(write(tmp_path, table(rows, "time_s;voltage_V;current_A;Kap(mAh)", ";")))
    assert log.counter_ah == pytest.approx(2.9)


def test_a_negative_discharge_is_told_by_the_falling_voltage(tmp_path: Path) -> None:
    log = read_log(write(tmp_path, table([(t, v, -i) for t, v, i in STEADY])))
    assert log.charge_ah == pytest.approx(2.0 * 19 / 3600)
    assert log.assumptions[-1] == "discharge taken as negative in the file: the voltage falls under it"


def test_a_charge_is_counted_as_charge(tmp_path: Path) -> None:
    log = read_log(write(tmp_path, table([(t, 24 - v, i) for t, v, i in STEADY])))
    assert log.charged_ah == pytest.approx(2.0 * 19 / 3600)
    assert log.discharged_ah == 0.0


def test_a_set_sign_that_contradicts_the_voltage_is_warned_of(tmp_path: Path) -> None:
    path = write(tmp_path, table(STEADY))
    mapping, _ = guess_mapping(sniff(path))
    log = read_log(path, replace(mapping, sign=-1))
    assert names(log) == {"sign": 1}
    assert log.charge_ah < 0


def test_discharge_ends_with_the_last_row_under_load(tmp_path: Path) -> None:
    """190 s at 2 A up to the cut; the ten seconds in which the board opened are not counted, rests before it are."""
    rows = [(10 * k, 12 - 0.01 * k, 2.0) for k in range(20)] + [(200, 0.3, 0.0), (210, 0.3, 0.0)]
    log = read_log(write(tmp_path, table(rows)))
    assert log.discharged_ah == pytest.approx(2.0 * 190 / 3600)
    assert log.charge_ah == pytest.approx((2.0 * 190 + 10.0) / 3600)  # net over all rows, by the trapezoid
    assert log.mean_v == pytest.approx(12 - 0.01 * 9.5)
    paused = [*rows[:10], (100, 12.2, 0.0), *((t + 10, v, i) for t, v, i in rows[10:])]
    # the pause at 100 s costs two half spans of 10 s
    assert read_log(write(tmp_path, table(paused))).discharged_ah == pytest.approx((2.0 * 180 + 20.0) / 3600)
    charged = [(t, 11 + 0.01 * t, -2.0 if i else 0.0) for t, _, i in rows]
    assert read_log(write(tmp_path, table(charged))).discharged_ah == 0.0


def test_an_unsigned_current_takes_its_direction_from_the_state(tmp_path: Path) -> None:
    rows = [(k, 12 - 0.1 * k, 2.0, "Discharge") for k in range(10)] + [
        (10 + k, 11 + 0.1 * k, 1.0, "Charge") for k in range(10)
    ]
    log = read_log(write(tmp_path, table(rows, "time_s,voltage_V,current_A,state")))
    assert log.discharged_ah == pytest.approx((2.0 * 9 + 1.0) / 3600)
    assert log.charged_ah == pytest.approx((1.0 * 9 + 0.5) / 3600)
    assert "direction of the current told by the state column" in log.assumptions


def test_a_tester_that_stops_shows_a_rise_and_an_open_end_is_unknown(tmp_path: Path) -> None:
    rest = [(20, 12.1, 0.0), (21, 12.15, 0.0)]
    assert read_log(write(tmp_path, table([*STEADY, *rest]))).end_kind == "stopped by tester"
    assert read_log(write(tmp_path, table(STEADY))).end_kind == "unknown"
    assert read_log(write(tmp_path, table([*STEADY, (20, 0.3, 2.0)]))).end_kind == "board opened"


def test_group_columns_spare_ones_and_their_lowest_are_found(tmp_path: Path) -> None:
    rows = [(k, 12 - 0.03 * k, 2.0, 4 - 0.01 * k, 4 - 0.015 * k, 4 - 0.005 * k, "") for k in range(20)]
    log = read_log(write(tmp_path, table(rows, "time_s,voltage_V,current_A,V1,V2,V3,V4")))
    assert log.mapping.groups == (3, 4, 5)
    assert "1 group columns hold nothing and are left out" in log.assumptions
    assert log.group_lowest[1] == pytest.approx((4 - 0.015 * 19, 19.0))
    assert log.last.groups_v == pytest.approx((3.81, 3.715, 3.905))


@pytest.mark.parametrize("header,groups", [
    ("time_s,U [V],I [A],Z3 [mV],Z1 [mV],Z2 [mV]", (4, 5, 3)),
    ("time_s,U [V],I [A],ch0 [mV],ch1 [mV],ch2 [mV]", (3, 4, 5)),
    ("time_s,U [V],I [A],Z1 [mV],Z2 [mV],Z4 [mV]", ()),
    ("time_s,U [V],I [A],Z1 [mV],Y2 [mV],X3 [mV]", ()),
])
def test_voltages_called_alike_and_numbered_on_are_the_groups(tmp_path: Path, header: str, groups: tuple[int, ...]) -> None:
    rows = [(k, 12 - 0.03 * k, 2.0, 4000 - 10 * k, 3990 - 10 * k, 4010 - 10 * k) for k in range(20)]
    log = read_log(write(tmp_path, table(rows, header)))
    assert log.mapping.groups == groups
    assert bool(groups) == any("taken as the groups: check them" in note for note in log.assumptions)


def test_without_a_pack_voltage_the_groups_are_added(tmp_path: Path) -> None:
    rows = [(k, 2.0, 4 - 0.01 * k, 4 - 0.02 * k) for k in range(20)]
    log = read_log(write(tmp_path, table(rows, "time_s,current_A,cell1(V),cell2(V)")))
    assert log.first.voltage_v == pytest.approx(8.0)


def test_a_gap_is_reported_with_its_share_of_the_charge(tmp_path: Path) -> None:
    rows = [(k if k < 10 else k + 100, 12 - 0.1 * k, 2.0) for k in range(20)]
    log = read_log(write(tmp_path, table(rows)))
    assert [(gap.line, gap.length_s) for gap in log.gaps] == [(12, 101.0)]
    assert log.gap_charge_ah == pytest.approx(2.0 * 101 / 3600)
    assert log.interval_median_s == 1.0
    assert log.interval_longest_s == 101.0


def test_a_counter_that_falls_back_or_disagrees_is_named(tmp_path: Path) -> None:
    rows = [(k, 12 - 0.1 * k, 2.0, 100 * (k % 10)) for k in range(20)]
    log = read_log(write(tmp_path, table(rows, "time_s,voltage_V,current_A,Cap(mAh)")))
    assert names(log) == {"counter reset": 1, "counter differs": 1}
    assert log.warnings[0].line == 12


def test_load_steps_carry_the_values_on_both_sides(tmp_path: Path) -> None:
    rows = [(0, 12.5, 0.0), (1, 12.1, 2.0), (2, 12.09, 2.0), (3, 11.7, 4.0), (4, 11.69, 4.0)]
    log = read_log(write(tmp_path, table(rows)))
    assert [(s.line, s.current_before_a, s.current_after_a) for s in log.steps] == [(3, 0.0, 2.0), (5, 2.0, 4.0)]
    assert log.steps[1].voltage_before_v - log.steps[1].voltage_after_v == pytest.approx(0.39)


def long_log(rows: int) -> list[tuple[float, float, float]]:
    return [
        (k, round(12.6 - 3 * k / rows + 0.01 * math.sin(k), 4), round(2 + 0.5 * math.sin(k / 50), 4))
        for k in range(rows)
    ]


def test_the_outline_stays_within_two_thousand_stretches_and_keeps_the_extremes(tmp_path: Path) -> None:
    rows = long_log(30_000)
    log = read_log(write(tmp_path, table(rows)))
    assert len(log.outline) <= 2000
    assert min(p.lowest_v for p in log.outline) == min(v for _, v, _ in rows)
    assert max(p.highest_a for p in log.outline) == max(i for _, _, i in rows)
    assert log.charge_ah == pytest.approx(float(trapezoid([i for _, _, i in rows])) / 3600, rel=1e-12)
    assert log.energy_wh == pytest.approx(float(trapezoid([v * i for _, v, i in rows])) / 3600, rel=1e-12)


def test_reading_whole_blocks_and_row_by_row_give_the_same(tmp_path: Path) -> None:
    rows = long_log(12_000)
    plain = read_log(write(tmp_path, table(rows)))
    quoted = read_log(write(tmp_path, table([(f'"{t}"', v, i) for t, v, i in rows])))
    assert quoted.charge_ah == pytest.approx(plain.charge_ah, rel=1e-12)
    assert quoted.energy_wh == pytest.approx(plain.energy_wh, rel=1e-12)
    assert (quoted.used, quoted.outline, quoted.steps) == (plain.used, plain.outline, plain.steps)


def test_progress_is_told_every_fifty_thousand_rows_and_a_stop_stops(tmp_path: Path) -> None:
    path = write(tmp_path, table(long_log(120_000)))
    told: list[int] = []
    log = read_log(path, progress=told.append)
    assert told[-1] == log.rows == 120_000
    assert [t // 50_000 for t in told] == [1, 2, 2]
    asked = iter([False, False, True])
    with pytest.raises(LogCancelled, match="reading stopped after"):
        read_log(path, cancel=lambda: next(asked))


@pytest.mark.parametrize("seconds", [5.0, 5.5])
def test_wanted_moments_are_marked_with_row_and_charge(tmp_path: Path, seconds: float) -> None:
    rows = [(k, 8 - 0.3 * k, 2.0, 4 - 0.1 * k, 4 - 0.2 * k) for k in range(10)]
    log = read_log(
        write(tmp_path, table(rows, "time_s,voltage_V,current_A,V1,V2")), watch_v=[3.3, 1.0], watch_s=[seconds]
    )
    first, second = sorted(log.marks, key=lambda mark: mark.asked)
    assert (first.asked, first.row.time_s) == ("time", math.ceil(seconds))
    assert (second.value, second.row.time_s, second.group) == (3.3, 4.0, 1)
    assert second.charge_ah == pytest.approx(2.0 * 4 / 3600)


def test_the_mapping_can_be_shown_in_words(tmp_path: Path) -> None:
    found = sniff(write(tmp_path, UGLY))
    mapping, _ = guess_mapping(found)
    assert describe(mapping, found.header)[0] == "time: column 1 (Zeit), clock"
    assert describe(mapping, found.header)[4] == "temperatures: column 5 (T[°C])"


def test_rows_entered_by_hand_give_the_same_summary(tmp_path: Path) -> None:
    by_file = read_log(write(tmp_path, table(STEADY)))
    by_hand = rows_summary([t for t, _, _ in STEADY], [i for _, _, i in STEADY], [v for _, v, _ in STEADY])
    assert (by_hand.charge_ah, by_hand.energy_wh) == (by_file.charge_ah, by_file.energy_wh)
    with pytest.raises(ValueError, match="row 3: the time 1 s does not come after 1 s"):
        rows_summary([0, 1, 1], [2, 2, 2], [12, 12, 12])
    with pytest.raises(ValueError, match="as many values"):
        rows_summary([0, 1], [2, 2], [12])


spans = st.lists(st.floats(0.1, 30), min_size=3, max_size=30)


@SETTINGS
@given(spans, st.data())
def test_charge_counting_adds_reverses_and_ignores_points_on_the_line(gaps: list[float], data: st.DataObject) -> None:
    times = [0.0]
    for gap in gaps:
        times.append(times[-1] + gap)
    current = data.draw(st.lists(st.floats(0, 20), min_size=len(times), max_size=len(times)))
    volts = [12.0 - 0.001 * k for k in range(len(times))]
    whole = rows_summary(times, current, volts)
    assert whole.charge_ah == pytest.approx(float(trapezoid(current, times)) / 3600, rel=1e-9, abs=1e-12)
    cut = data.draw(st.integers(1, len(times) - 2))
    one = rows_summary(times[: cut + 1], current[: cut + 1], volts[: cut + 1])
    two = rows_summary(times[cut:], current[cut:], volts[cut:])
    assert one.charge_ah + two.charge_ah == pytest.approx(whole.charge_ah, rel=1e-9, abs=1e-12)
    assert rows_summary(times, [-i for i in current], volts).charge_ah == pytest.approx(-whole.charge_ah, rel=1e-9)
    middle = [
        (a + b) / 2
        for a, b in ((times[cut], times[cut + 1]), (current[cut], current[cut + 1]), (volts[cut], volts[cut + 1]))
    ]
    inserted = [
        values[: cut + 1] + [m] + values[cut + 1 :] for values, m in zip((times, current, volts), middle, strict=True)
    ]
    assert rows_summary(inserted[0], inserted[1], inserted[2]).charge_ah == pytest.approx(whole.charge_ah, rel=1e-9, abs=1e-12)


@SETTINGS
@given(st.text(max_size=40), st.sampled_from(".,"))
def test_any_text_is_a_number_a_time_or_nothing_but_never_a_crash(text: str, decimal: str) -> None:
    number = log_numbers.read_number(text, decimal)
    assert number is None or math.isfinite(number)
    for value in (log_numbers.read_clock(text), log_numbers.read_moment(text, "dmy")):
        assert value is None or math.isfinite(value)
    split_name(text)


@SETTINGS
@given(st.binary(max_size=400))
def test_any_bytes_are_a_log_or_a_log_error(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    outcome: Callable[[], object] = lambda: read_log(path)  # noqa: E731
    try:
        assert isinstance(outcome(), LogSummary)
    except LogError as error:
        assert error.file == "log.csv" and error.right


@SETTINGS
@given(st.lists(st.text('0123456789.,;:- VAmhEND\t"', max_size=30), max_size=30))
def test_any_lines_of_numbers_and_marks_are_a_log_or_a_log_error(tmp_path: Path, lines: list[str]) -> None:
    path = write(tmp_path, "time_s,voltage_V,current_A\n0,12,2\n1,12,2\n2,12,2\n3,12,2\n4,12,2\n" + "\n".join(lines))
    try:
        log = read_log(path)
    except LogError as error:
        assert error.right
    else:
        assert log.used + log.ignored == log.rows
