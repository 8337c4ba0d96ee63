"""Open-circuit curves: read both ways, ranges over curves, flat parts, and curves from a logged discharge."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack import data
from buildtrack.physics import ocv_library
from buildtrack.physics.ocv import SIMULATION_SOC, CurveError, make_curve, resampled, simulation_curve
from buildtrack.physics.ocv_models import nickel_rich_cell_voltage_v, polymer_cell_voltage_v
from buildtrack.physics.ocv_own import own_curve

SETTINGS = settings(derandomize=True, deadline=None, max_examples=80)
KEYS = ocv_library.curve_names()


@pytest.mark.parametrize("key", KEYS)
def test_every_curve_rises_from_empty_to_full_and_names_its_origin(key: str) -> None:
    curve = ocv_library.load_curve(key)
    assert (curve.soc_points[0], curve.soc_points[-1]) == (0.0, 1.0)
    assert all(b > a for a, b in zip(curve.voltage_points_v, curve.voltage_points_v[1:], strict=False))
    assert curve.source in data.sources()
    assert curve.validity and curve.chemistry and curve.origin in ("measured", "computed")


@SETTINGS
@given(st.sampled_from(KEYS), st.floats(0, 1))
def test_a_curve_reads_back_its_own_voltage(key: str, soc: float) -> None:
    curve = ocv_library.load_curve(key)
    assert curve.soc(curve.voltage(soc)) == pytest.approx(soc, abs=1e-9)


@SETTINGS
@given(st.sampled_from(KEYS), st.floats(0, 1), st.floats(0, 1))
def test_more_charge_never_means_less_voltage(key: str, one: float, other: float) -> None:
    curve = ocv_library.load_curve(key)
    low, high = sorted((one, other))
    assert curve.voltage(low) <= curve.voltage(high)


@SETTINGS
@given(st.sampled_from(KEYS), st.floats(0.02, 0.98), st.floats(0, 0.05))
def test_the_range_of_charge_holds_the_true_one(key: str, soc: float, uncertainty: float) -> None:
    curve = ocv_library.load_curve(key)
    told = curve.soc_range(curve.voltage(soc) + 0.9 * uncertainty, uncertainty)
    assert told.low - 1e-9 <= soc <= told.high + 1e-9


def test_the_simulation_points_are_41_and_denser_below_ten_per_cent() -> None:
    assert len(SIMULATION_SOC) == 41
    assert SIMULATION_SOC[:11] == tuple(k / 100 for k in range(11))
    assert SIMULATION_SOC[-1] == 1.0
    assert len(simulation_curve(ocv_library.load_curve("nca_2730")).soc_points) == 41
    assert simulation_curve(ocv_library.load_curve("gauge_default")) is ocv_library.load_curve("gauge_default")


def test_the_voltage_of_an_unknown_cell_gives_a_range_and_never_one_number() -> None:
    told = ocv_library.soc_of_unknown_cell(3.70)
    assert told.low < 0.16 and told.high > 0.50
    assert dict(told.by_curve)["nmc_1900"].low == pytest.approx(0.40, abs=0.005)
    assert told.sentence == "between 13 % and 52 % full, by 6 published curves"


def test_a_flat_curve_says_it_cannot_tell() -> None:
    lfp = ocv_library.load_curve("lfp_3000")
    assert lfp.soc_range(3.30, 0.002).note == "cannot tell well: the curve is flat here"
    assert lfp.is_flat(0.5)
    assert not ocv_library.load_curve("nmc_2050").is_flat(0.5)


def test_a_voltage_beyond_the_curve_is_named_not_clamped() -> None:
    curve = ocv_library.load_curve("nmc_2050")
    assert curve.soc_range(4.30, 0.01).note.startswith("above the curve")
    assert curve.soc_range(3.00, 0.01).note.startswith("below the curve")
    with pytest.raises(ValueError, match="outside this curve"):
        curve.soc(4.30)
    with pytest.raises(ValueError, match="state of charge 1.2"):
        curve.voltage(1.2)


def test_an_lfp_cell_is_refused_by_an_nmc_curve() -> None:
    lfp, nmc = ocv_library.load_curve("lfp_3000"), ocv_library.load_curve("nmc_1900")
    assert not ocv_library.fits_chemistry(lfp.voltage(0.5), nmc, 0.02)
    assert ocv_library.fits_chemistry(nmc.voltage(0.5), nmc, 0.02)


def test_the_slope_near_three_point_eight_five_volts_is_eleven_millivolts_per_per_cent() -> None:
    curve = ocv_library.load_curve("nmc_2050")
    assert curve.slope_mv_per_percent((0.672 + 0.699) / 2, (0.699 - 0.672) / 2) == pytest.approx(30 / 2.7, rel=1e-9)


def test_the_curve_of_a_chemistry_is_named_and_an_unknown_one_refused() -> None:
    assert ocv_library.generic_curve("nca").key == "nca_2730"
    with pytest.raises(ValueError, match="no curve for chemistry 'LTO'"):
        ocv_library.generic_curve("LTO")
    with pytest.raises(ValueError, match="there is no curve 'x'"):
        ocv_library.load_curve("x")


def test_the_square_term_with_the_wrong_sign_would_show() -> None:
    assert polymer_cell_voltage_v(1.0) == pytest.approx(4.1029, abs=5e-5)
    assert polymer_cell_voltage_v(1.0) + 2 * 0.1178 > 4.33
    with pytest.raises(ValueError, match="between 0"):
        nickel_rich_cell_voltage_v(-0.1)


@pytest.mark.parametrize(
    ("soc", "volts", "words"),
    [
        ([0, 0.5, 1], [3.0, 3.7], "as many of both"),
        ([0, 1], [3.0, 4.2], "at least 3"),
        ([0, 50, 100], [3.0, 3.7, 4.2], "give shares, not per cent"),
        ([0, 0.5, 0.5, 1], [3.0, 3.6, 3.7, 4.2], "point 3"),
        ([0, 0.5, 1], [3000, 3700, 4200], "in volts"),
        ([0, 0.5, 1], [3.0, 3.7, 3.6], "does not rise with charge: 3.6 V at 1 after 3.7 V"),
        ([0.1, 0.5, 1], [3.0, 3.7, 4.2], "10.0 % short of empty"),
        ([0, 0.5, 0.9], [3.0, 3.7, 4.2], "10.0 % short of full"),
    ],
)
def test_points_that_make_no_curve_are_refused(soc: list[float], volts: list[float], words: str) -> None:
    with pytest.raises(CurveError, match=words):
        make_curve("x", soc, volts)


def test_a_small_dip_is_levelled_with_a_note_and_a_large_one_refused() -> None:
    soc = [0.0, 0.25, 0.5, 0.75, 1.0]
    curve = make_curve("x", soc, [3.0, 3.5, 3.496, 3.8, 4.2], repair=True)
    assert curve.voltage(0.25) == pytest.approx(3.498, abs=1e-5)
    assert curve.voltage(0.5) > curve.voltage(0.25)
    assert curve.notes[0].startswith("not rising at 3.496 V at 0.5 after 3.5 V; levelled")
    with pytest.raises(CurveError, match="by too much to repair"):
        make_curve("x", soc, [3.0, 3.5, 3.4, 3.8, 4.2], repair=True)


def test_a_gap_at_the_ends_is_closed_with_a_note() -> None:
    curve = make_curve("x", [0.02, 0.5, 0.99], [3.1, 3.6, 4.1])
    assert curve.voltage(0.0) == pytest.approx(3.1 - 0.5 / 0.48 * 0.02)
    assert curve.voltage(1.0) == pytest.approx(4.1 + 0.5 / 0.49 * 0.01)
    assert len(curve.notes) == 2


@pytest.mark.parametrize("noise_v", [0.0, 0.002])
def test_a_slow_log_with_its_resistance_put_back_gives_the_cell_s_own_curve(noise_v: float) -> None:
    true, noise = ocv_library.load_curve("nmc811_5000"), random.Random(4)
    capacity, current, resistance = 2.5, 0.5, 0.06
    seconds = [10.0 * k for k in range(int(capacity / current * 360) + 1)]
    volts = [
        true.voltage(max(0.0, 1 - t * current / 3600 / capacity))
        - current * resistance
        + noise.uniform(-noise_v, noise_v)
        for t in seconds
    ]
    curve = own_curve(seconds, [current] * len(seconds), volts, resistance)
    assert curve.origin == "own log"
    assert curve.logged_rate_c == pytest.approx(0.2)
    for soc in (0.05, 0.1, 0.3, 0.5, 0.7, 0.85, 1.0):
        assert curve.voltage(soc) == pytest.approx(true.voltage(soc), abs=0.003 + noise_v)


def test_a_fast_or_short_or_backward_log_gives_no_curve() -> None:
    seconds = [float(60 * k) for k in range(31)]
    with pytest.raises(CurveError, match="emptied in 0.5 h; at least 1.7 h are needed"):
        own_curve(seconds, [5.0] * 31, [4.2 - 0.03 * k for k in range(31)], 0.05)
    with pytest.raises(CurveError, match="5 rows; at least 20"):
        own_curve(seconds[:5], [1.0] * 5, [4.0] * 5, 0.05)
    backward = [*seconds[:10], seconds[8], *seconds[11:]]
    with pytest.raises(CurveError, match="row 11: the time does not rise"):
        own_curve(backward, [0.1] * 31, [4.0] * 31, 0.05)
    with pytest.raises(CurveError, match="no charge was drawn"):
        own_curve([1000 * s for s in seconds], [0.0] * 31, [4.0] * 31, 0.05)


def test_resampling_keeps_the_voltages_at_the_wanted_points() -> None:
    curve = ocv_library.load_curve("nca_2730")
    few = resampled(curve, (0.0, 0.5, 1.0))
    assert few.voltage_points_v == tuple(curve.voltage(s) for s in (0.0, 0.5, 1.0))
    assert math.isclose(few.voltage(0.25), (curve.voltage(0.0) + curve.voltage(0.5)) / 2)
