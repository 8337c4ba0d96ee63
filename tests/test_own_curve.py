"""The maker's own curve: from a slow log to the forecast, against a published cell with two time constants."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from scipy.integrate import solve_ivp

from buildtrack import cli
from buildtrack.physics import logs
from buildtrack.physics.forecast import forecast
from buildtrack.physics.forecast_loads import constant_current
from buildtrack.physics.forecast_string import Group
from buildtrack.physics.ocv import CurveError
from buildtrack.physics.ocv_own import loaded_rows, own_curve
from buildtrack.storage.places import shipped_samples
from buildtrack.workings.cells_own import OwnCurves
from buildtrack.workings.discharge_log import LogData, OwnLogs
from buildtrack.workings.graph import Sheet
from buildtrack.workings.inputs import OWN_DATA
from buildtrack.workings.registry import sheet_of
from buildtrack.workings.values import Failed, Known
from tests import back
from tests.cell_logs import falling
from tests.make import NOW, Given

# --- a cell from outside: Chen and Rincon-Mora 2006, IEEE Trans. Energy Conversion 21(2), equations (2) to (7) ---

CAPACITY_AH = 0.85
END_V = 3.0


def emf_v(s: float) -> float:
    return -1.031 * math.exp(-35 * s) + 3.685 + 0.2156 * s - 0.1178 * s**2 + 0.3201 * s**3


def elements(s: float) -> tuple[float, float, float, float, float]:
    """Series resistance, short and long resistance and capacitance [ohm, ohm, F, ohm, F]."""
    return (0.1562 * math.exp(-24.37 * s) + 0.07446,
            0.3208 * math.exp(-29.14 * s) + 0.04669, -752.9 * math.exp(-13.51 * s) + 703.6,
            6.603 * math.exp(-155.2 * s) + 0.04984, -6056 * math.exp(-27.12 * s) + 4475)


def terminal_v(state: Any, current_a: float) -> float:
    return float(emf_v(state[0]) - state[1] - state[2] - current_a * elements(state[0])[0])


@cache
def run(rate_c: float, end_v: float = END_V) -> tuple[tuple[float, ...], tuple[float, ...], float]:
    """A constant-current discharge from full by solve_ivp: times every 10 s [s], voltages [V], charge to the end [Ah]."""
    current = rate_c * CAPACITY_AH

    def slope(_t: float, state: Any) -> list[float]:
        _, r1, c1, r2, c2 = elements(state[0])
        return [-current / 3600 / CAPACITY_AH, current / c1 - state[1] / r1 / c1, current / c2 - state[2] / r2 / c2]

    def ended(_t: float, state: Any) -> float:
        return terminal_v(state, current) - end_v

    ended.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(slope, (0, 3600 / rate_c * 0.985), [1.0, 0.0, 0.0], events=ended, max_step=20, rtol=1e-8,
                      atol=1e-9, dense_output=True)
    assert found.status == 1, "the end voltage was not reached"
    last = float(found.t[-1])
    times = (*(10.0 * k for k in range(int(last / 10) + 1)), last)
    return times, tuple(terminal_v(found.sol(t), current) for t in times), current * last / 3600


def step_ohm(s: float = 0.6, seconds: float = 10.0) -> float:
    """Resistance as a maker's load step of some seconds shows it: the two time constants part of the way."""
    r0, r1, c1, r2, c2 = elements(s)
    return r0 + r1 * (1 - math.exp(-seconds / r1 / c1)) + r2 * (1 - math.exp(-seconds / r2 / c2))


def written(folder: Path, rate_c: float, name: str = "slow.csv", rest: bool = True) -> Path:
    """The log of such a run as a logger writes it, with a minute of rest before and the recovery after."""
    times, volts, _ = run(rate_c)
    rows = [f"{t:.1f},{v:.4f},{rate_c * CAPACITY_AH:.4f}" for t, v in zip(times, volts, strict=True)]
    if rest:
        shown = [(60.0 + float(r.split(",")[0]), r.split(",", 1)[1]) for r in rows]
        rows = [*(f"{t},{emf_v(1.0):.4f},0.0000" for t in range(0, 60, 10)), *(f"{t:.1f},{r}" for t, r in shown)]
        rows += [f"{shown[-1][0] + 10 * k:.1f},{END_V + 0.1 + 0.05 * math.sqrt(k):.4f},0.0000" for k in (1, 2, 3, 4)]
    path = folder / name
    path.write_text("\n".join(["time_s,voltage_V,current_A", *rows, ""]), encoding="utf-8")
    return path


@pytest.mark.parametrize(("rate_c", "most"), [(0.2, 0.02), (0.5, 0.02), (1.0, 0.02), (2.0, 0.05)])
def test_the_forecast_from_a_slow_log_is_hopeful_by_no_more_than_it_says(tmp_path: Path, rate_c: float, most: float) -> None:
    """Logged at C/5; the true charge comes from integrating the cell's own equations at the other rate."""
    curve = own_curve(*loaded_rows(logs.read_log(written(tmp_path, 0.2))), step_ohm())
    found = forecast([Group(run(0.2)[2], curve, step_ohm())], constant_current(rate_c * CAPACITY_AH), cutoff_v=END_V)
    share = found.delivered_ah / run(rate_c)[2] - 1
    assert -0.002 <= share <= most, f"{share:+.4f}"
    low, high = found.band_ah
    assert low - 0.002 * high <= run(rate_c)[2] <= high * 1.002
    assert found.extrapolated is (rate_c > 0.4)  # beyond twice the logged rate, or beyond 2C


def test_the_resistance_put_back_brings_the_curve_nearer_to_the_resting_voltage(tmp_path: Path) -> None:
    rows, share = loaded_rows(logs.read_log(written(tmp_path, 0.2))), run(0.2)[2] / CAPACITY_AH
    for left in (0.9, 0.7, 0.5, 0.3):
        true = emf_v(1 - (1 - left) * share)
        put_back, bare = (own_curve(*rows, ohm).voltage(left) for ohm in (step_ohm(), 0.0))
        assert bare < put_back < true  # what is not ohmic stays in: it lies a little low
        assert true - put_back < 0.6 * (true - bare)


def test_rest_before_and_recovery_after_the_log_do_not_bend_the_curve(tmp_path: Path) -> None:
    with_rest = own_curve(*loaded_rows(logs.read_log(written(tmp_path, 0.2))), step_ohm())
    bare = own_curve(*loaded_rows(logs.read_log(written(tmp_path, 0.2, "bare.csv", rest=False))), step_ohm())
    assert with_rest.lowest_v == pytest.approx(END_V + 0.2 * CAPACITY_AH * step_ohm(), abs=1e-3)
    assert with_rest.highest_v == pytest.approx(emf_v(1.0), abs=0.005)
    assert with_rest.voltage_points_v == pytest.approx(bare.voltage_points_v, abs=2e-3)


def test_a_long_log_gives_the_curve_of_a_short_one(tmp_path: Path) -> None:
    """18,000 rows are summed up in stretches; read at its middle each gives the voltages of the rows themselves."""
    volts = [4.15 - 0.9 * t / 18000 - 0.35 * (t / 18000) ** 12 for t in range(18001)]

    def read(every: int) -> Any:
        path = tmp_path / f"{every}.csv"
        rows = [f"{t},{volts[t]:.5f},0.5" for t in range(0, 18001, every)]
        path.write_text("\n".join(["time_s,voltage_V,current_A", *rows, ""]), encoding="utf-8")
        return own_curve(*loaded_rows(logs.read_log(path)), 0.05)

    long, short = read(1), read(30)
    assert long.voltage_points_v == pytest.approx(short.voltage_points_v, abs=2e-3)
    # half the charge is half the time: 4.15 - 0.45 - 0.35 / 4096, and 0.5 A x 50 mΩ put back
    assert long.voltage(0.5) == pytest.approx(4.15 - 0.45 - 0.35 / 4096 + 0.025, abs=1e-3)


def test_a_log_of_a_whole_pack_is_no_log_of_one_cell(tmp_path: Path) -> None:
    path = tmp_path / "pack.csv"
    rows = [f"{t},8.0,0.5,4.0,4.0" for t in range(0, 600, 10)]
    path.write_text("\n".join(["time_s,voltage_V,current_A,g1_V,g2_V", *rows, ""]), encoding="utf-8")
    with pytest.raises(CurveError, match="the log holds 2 groups; a log of one cell is needed"):
        loaded_rows(logs.read_log(path))


def test_a_log_with_its_charge_in_gaps_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "gaps.csv"
    rows = [f"{t},{4.1 - t / 20000:.4f},0.5" for t in (*range(0, 3000, 10), *range(9000, 12000, 10))]
    path.write_text("\n".join(["time_s,voltage_V,current_A", *rows, ""]), encoding="utf-8")
    with pytest.raises(CurveError, match=r"50 % of the charge lies in gaps"):
        loaded_rows(logs.read_log(path))


# --- in a build: the invented lot of tests/front.py, one of its cells logged ---


def sheet(*data: LogData, cell: str = "c04", **changed: Given | None) -> Sheet:
    given: Mapping[str, Given | None] = {
        "record_detail": "full", "own_curve_log": "slow.csv", "own_curve_cell": cell, **changed}
    return sheet_of(back.build(given), back.checklist(), NOW.date(), {OWN_DATA: Known(OwnLogs(data))})


def told(found: Sheet, name: str) -> Any:
    value = found.value(name)
    assert isinstance(value, Known), value
    return value.value


def why(found: Sheet) -> str:
    value = found.value("own_curve")
    assert isinstance(value, Failed), value
    return value.why


def test_everything_that_reads_a_curve_takes_the_own_one_and_says_so(tmp_path: Path) -> None:
    own, plain = sheet(falling(tmp_path, 4.0, 0.47)), sheet_of(back.build(), back.checklist(), NOW.date())
    curve = told(own, "own_curve")
    assert isinstance(curve, OwnCurves) and curve.stands_for == ("c01", "c02", "c03", "c04", "c05", "c06", "c07")
    assert "own curve of c04 (1.88 Ah in 4 h, 74 mΩ put back)" in curve.summary
    for name, ends in (("cell_report", "leaks by the own curve of c04"), ("joining_current_report", "times by the own curve of c04")):
        assert told(own, name).summary.endswith(ends)
        assert "own curve" not in told(plain, name).summary
    assert "by the rested voltages and the own curve of c04" in told(own, "balance_report").summary
    assert "3 groups on the own curve of c04" in told(own, "forecast_groups").summary
    assert "by the own curve of c04" in told(own, "forecast").summary and told(own, "forecast").own_curve
    assert "by the published curve of NMC 18650" in told(plain, "forecast").summary
    assert told(own, "forecast").delivered_ah != pytest.approx(told(plain, "forecast").delivered_ah, rel=1e-4)


def test_a_leak_follows_the_slope_of_the_own_curve(tmp_path: Path) -> None:
    """c01 fell from 4.102 to 4.098 V in 12 days; this curve falls 0.75 V over its charge, so 4 mV are 0.533 % of 1948 mAh."""
    cell = told(sheet(falling(tmp_path, 4.0, 0.47)), "cell_report").cell("c01")
    assert cell.rest.leak_ah_per_day == pytest.approx(0.004 / 0.75 * 1.948 / 12, rel=0.01)


def test_the_log_nearest_to_the_rate_of_the_test_is_taken(tmp_path: Path) -> None:
    """2 A for two cells of 1.9 Ah is 0.53 C: nearer to the log of 0.8 C than to that of 0.1 C, in ratio."""
    slow, fast = falling(tmp_path, 10.0, 0.188), falling(tmp_path, 1.25, 1.5, "fast.csv", top=4.10)
    both = sheet(slow, fast, own_curve_log_fast="fast.csv")
    assert told(both, "own_curve").at_rest("c01").logged_rate_c == pytest.approx(0.1)
    assert told(both, "forecast_groups").groups[0].curve.title.startswith("own curve of c04 (1.87 Ah in 1.2 h")
    assert not told(both, "forecast").extrapolated
    alone = told(sheet(slow), "forecast")
    assert alone.extrapolated and "extrapolated: the current lies beyond twice the logged one" in alone.summary


def test_an_own_curve_stands_for_cells_of_its_kind_only(tmp_path: Path) -> None:
    other = [{**row, **({"marking": "another 2500"} if row["id"] in ("c01", "c06") else {})} for row in back.front.cells()]
    found = sheet(falling(tmp_path, 4.0, 0.47), candidates=other)
    assert told(found, "own_curve").stands_for == ("c02", "c03", "c04", "c05", "c07")
    groups = told(found, "forecast_groups")
    assert [g.curve.origin for g in groups.groups] == ["measured", "own log", "own log"] and not groups.own


def test_a_curve_of_the_own_cell_leaves_less_doubt_than_one_of_another(tmp_path: Path) -> None:
    """The 2 % for another cell's curve fall away; the rest of both ranges is the same share."""
    own, plain = sheet(falling(tmp_path, 4.0, 0.47)), sheet_of(back.build(), back.checklist(), NOW.date())
    spans = [(d.high_ah / d.forecast_ah, d.low_ah / d.forecast_ah) for d in (
        told(own, "forecast_difference"), told(plain, "forecast_difference"))]
    assert spans[1][0] - spans[0][0] == pytest.approx(0.02)
    assert spans[0][1] - spans[1][1] == pytest.approx(0.02)


def test_what_makes_no_curve_is_refused_with_what_would_be_right_and_the_published_one_counts(tmp_path: Path) -> None:
    good = falling(tmp_path, 4.0, 0.47)
    for found, sentence in (
            (sheet(good, cell="c44"), "'c44' is no candidate cell: write the number of the logged cell, like c01"),
            (sheet(falling(tmp_path, 1.0, 1.9)), "logged at 1 C; a curve needs a log of at most 0.6 C"),
            (sheet(falling(tmp_path, 4.0, 0.47, top=3.9)), "is not full: charge the cell to its end first"),
            (sheet(falling(tmp_path, 4.0, 0.47, end=3.4)), "is not empty: discharge further"),
            (sheet(good, candidates=[{**r, "resistance": ""} for r in back.front.cells()]), "c04: its direct-current resistance"),
    ):
        assert sentence in why(found)
        if "resistance" not in sentence:
            assert "published curve of NMC 18650" in told(found, "forecast").summary


def test_a_rising_stretch_is_levelled_with_a_note_or_refused(tmp_path: Path) -> None:
    bumpy = falling(tmp_path, 4.0, 0.47)

    def bent(by_v: float) -> LogData:
        rows = (tmp_path / "slow.csv").read_text().splitlines()
        for k in range(300, 340):
            t, v, i = rows[k].split(",")
            rows[k] = f"{t},{float(v) - by_v:.4f},{i}"
        path = tmp_path / f"bent-{by_v}.csv"
        path.write_text("\n".join(rows))
        return LogData(path.name, path.stat().st_size, logs.read_log(path))

    assert told(sheet(bumpy), "own_curve").notes == ()
    assert "levelled, no point moved by more than" in told(sheet(bent(0.040)), "own_curve").summary
    assert "falls by too much to repair" in why(sheet(bent(0.200)))


# --- forecast beside the test, and what the record and the commands say ---


def test_a_difference_points_to_a_log_that_speaks_against_itself(tmp_path: Path) -> None:
    """The log says 3.1 Ah; without more it is short capacity, with 3.7 Ah on the load's display the log is in doubt."""
    short = back.log(tmp_path, amperes=1.7, seconds=6600)
    given: dict[str, Given | None] = {"log_kind": "file", "discharge_log": "log.csv"}

    def verdict(**more: str) -> str:
        built = back.build({**given, **more})
        return str(told(sheet_of(built, back.checklist(), NOW.date(), short), "forecast_difference").verdict)

    assert verdict() == "capacity short"
    assert verdict(delivered_capacity="3.7 Ah") == "log suspicious"
    assert verdict(delivered_capacity="3.12 Ah") == "capacity short"


def test_the_sample_says_so_in_the_forecast_and_in_the_record(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = shipped_samples() / "garden-screwdriver-cleared.toml"
    assert cli.main(["forecast", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["curve"].startswith("own curve of c04") and found["own_curve"] is True
    assert found["doubt_share"] == pytest.approx(0.02) and "5 % at 2C" in found["doubt_source"]
    assert found["extrapolated"] is False and found["duty_extrapolated"] is True
    assert cli.main(["show", str(path), "--step", "cells"]) == 0
    assert "0.60 A down to 2.80 V; columns set by hand: voltage=3" in " ".join(capsys.readouterr().out.split())
    assert cli.main(["record", str(path), "--html", "-o", str(tmp_path / "record.html")]) == 0
    words = " ".join((tmp_path / "record.html").read_text(encoding="utf-8").split())
    assert "columns set by hand: voltage=3" in words and "own curve of c04" in words
    assert "extrapolated: the current lies beyond twice the logged one" in words
