"""Resistance of wires and strips: properties, limits and what is refused."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.data import load
from buildtrack.physics import conductors

SIZES = [row[0] for row in load("conductors")["iec60228"]["rows"]]
FEET_PER_KILOMETRE = 1000 / 0.3048


@pytest.mark.parametrize("area_mm2", SIZES)
@pytest.mark.parametrize(("conductor_class", "tinned"), [(2, False), (2, True), (5, False), (5, True)])
def test_no_stranded_size_is_better_than_solid_copper_of_its_area(
    area_mm2: float, conductor_class: int, tinned: bool
) -> None:
    solid = conductors.wire_resistance_ohm(1.7241e-8, 1000.0, area_mm2)
    assert conductors.resistance_per_km_ohm(area_mm2, conductor_class, tinned) > solid


@pytest.mark.parametrize("area_mm2", SIZES)
def test_flexible_wire_and_tinned_wire_resist_more(area_mm2: float) -> None:
    plain = conductors.resistance_per_km_ohm(area_mm2, 2)
    assert plain < conductors.resistance_per_km_ohm(area_mm2, 5)
    assert plain < conductors.resistance_per_km_ohm(area_mm2, 2, tinned=True)


def test_a_size_between_two_rows_is_refused_with_the_sizes_there_are() -> None:
    with pytest.raises(ValueError, match=r"1\.3 mm2 is no size of the table; take the next smaller of 0\.5, 0\.75, 1,"):
        conductors.resistance_per_km_ohm(1.3)


def test_a_conductor_class_that_is_not_in_the_table_is_refused() -> None:
    with pytest.raises(ValueError, match="Conductor class 6 is not in the table"):
        conductors.resistance_per_km_ohm(1.5, conductor_class=6)


@pytest.mark.parametrize("awg", range(4, 31))
def test_the_gauge_ladder_doubles_and_tens_as_its_definition_says(awg: int) -> None:
    assert conductors.awg_area_mm2(awg - 3) / conductors.awg_area_mm2(awg) == pytest.approx(2.005, abs=0.0005)
    assert conductors.awg_diameter_mm(awg) / conductors.awg_diameter_mm(awg + 6) == pytest.approx(2.005, abs=0.0005)
    assert conductors.awg_area_mm2(awg) / conductors.awg_area_mm2(awg + 10) == pytest.approx(10.16, abs=0.005)


@pytest.mark.parametrize(("awg", "milliohm_per_foot"), load("conductors")["stranded_awg"]["rows"][:-1])
def test_real_stranded_wire_resists_up_to_five_percent_more_than_the_gauge_formula(
    awg: int, milliohm_per_foot: float
) -> None:
    stranded = milliohm_per_foot / 1000 * FEET_PER_KILOMETRE
    assert 1.02 < stranded / conductors.awg_resistance_per_km_ohm(awg) < 1.05


@pytest.mark.parametrize("awg", [-1, 41, 12.5])
def test_a_gauge_outside_the_formula_is_refused(awg: float) -> None:
    with pytest.raises(ValueError, match=f"AWG {awg:g} is outside the allowed whole gauges 0 to 40"):
        conductors.awg_diameter_mm(awg)  # type: ignore[arg-type]


def test_the_ends_of_the_gauge_range_are_allowed() -> None:
    assert conductors.awg_diameter_mm(0) > conductors.awg_diameter_mm(40) > 0


def test_the_material_law_and_the_cable_law_agree_to_half_a_percent() -> None:
    for degc in (5.0, 15.0, 20.0, 25.0, 40.0, 70.0, 100.0):
        product = conductors.temperature_factor(degc) * conductors.iec60228_factor_to_20_degc(degc)
        assert product == pytest.approx(1.0, abs=0.005)


@pytest.mark.parametrize("degc", [4.9, 100.1])
def test_the_cable_law_is_not_used_beyond_its_printed_temperatures(degc: float) -> None:
    with pytest.raises(ValueError, match=f"{degc:g} °C is outside the printed 5 to 100 °C"):
        conductors.iec60228_factor_to_20_degc(degc)


@pytest.mark.parametrize("degc", [-55.1, 250.1])
def test_the_material_law_is_not_used_at_extreme_temperatures(degc: float) -> None:
    with pytest.raises(ValueError, match="is outside the allowed -55 to 250 °C"):
        conductors.temperature_factor(degc)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.floats(0.01, 20), st.sampled_from(SIZES), st.integers(1, 5), st.floats(-20, 90))
def test_a_run_scales_with_length_and_against_parallel_wires(
    length_m: float, area_mm2: float, parallel: int, degc: float
) -> None:
    one = conductors.run_resistance_ohm(length_m, area_mm2, temperature_degc=degc)
    both_ways = conductors.run_resistance_ohm(2 * length_m, area_mm2, temperature_degc=degc, parallel=parallel)
    assert both_ways == pytest.approx(2 * one / parallel)


def test_a_run_takes_its_size_once() -> None:
    for sizes in ({}, {"area_mm2": 1.5, "awg": 16}):
        with pytest.raises(ValueError, match="Give the size of a run once"):
            conductors.run_resistance_ohm(0.5, **sizes)  # type: ignore[arg-type]


@pytest.mark.parametrize("parallel", [0, -1, 1.5])
def test_a_run_needs_whole_wires(parallel: float) -> None:
    with pytest.raises(ValueError, match="wires in parallel is not allowed: a whole number from 1"):
        conductors.run_resistance_ohm(0.5, 1.5, parallel=parallel)  # type: ignore[arg-type]


def test_a_negative_length_is_refused_and_no_length_has_no_resistance() -> None:
    with pytest.raises(ValueError, match="The length is -0.1 m; it must not be negative"):
        conductors.run_resistance_ohm(-0.1, 1.5)
    assert conductors.run_resistance_ohm(0.0, 1.5) == 0.0


def test_layers_and_width_of_a_strip_share_the_current() -> None:
    single = conductors.strip_resistance_ohm("nickel", 8, 0.15, 20)
    assert conductors.strip_resistance_ohm("nickel", 8, 0.15, 20, layers=2) == pytest.approx(single / 2)
    assert conductors.strip_resistance_ohm("nickel", 4, 0.15, 20) == pytest.approx(single * 2)
    assert conductors.strip_resistance_ohm("nickel_plated_steel", 8, 0.15, 20) > 2 * single


@pytest.mark.parametrize(
    ("width", "thickness", "layers", "sentence"),
    [
        (0, 0.15, 1, "The width is 0 mm; it must be above 0 mm"),
        (8, -0.15, 1, "The thickness is -0.15 mm; it must be above 0 mm"),
        (8, 0.15, 0, "0 layers is not allowed"),
        (math.nan, 0.15, 1, "The width is nan mm"),
    ],
)
def test_an_impossible_strip_is_refused(width: float, thickness: float, layers: int, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        conductors.strip_resistance_ohm("nickel", width, thickness, 20, layers)


def test_an_unknown_material_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match=r"'unobtainium' is no material of the table; it holds aluminium, constantan"):
        conductors.resistivity_ohm_m("unobtainium")


def test_the_source_of_a_resistivity_can_be_asked_for() -> None:
    assert conductors.material_source("nickel") == "crc-handbook-nickel"
    assert conductors.material_source("copper") == "iec-60028"
