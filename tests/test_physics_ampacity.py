"""Ampacity tables: what is looked up, what is derated, what is refused."""

from __future__ import annotations

import pytest

from buildtrack.data import load
from buildtrack.physics import ampacity
from buildtrack.physics.conductors import awg_area_mm2

CIRCULAR_MIL_MM2 = 5.067074790974977e-4


def test_the_answer_names_table_row_conditions_and_source() -> None:
    found = ampacity.chassis_ampacity(area_mm2=1.5)
    assert (found.current_a, found.row, found.table) == (22.0, "AWG 16", "chassis")
    assert found.source == "electronic-tables-handbook"
    assert "not in a bundle" in found.conditions
    assert ampacity.ampacity("vde_0298_4", area_mm2=1.5).row == "1.5 mm2"


@pytest.mark.parametrize(("awg", "expected_a"), [(11, 41), (13, 32), (17, 16), (29, 0.86)])
def test_an_odd_gauge_takes_the_next_thinner_row(awg: int, expected_a: float) -> None:
    assert ampacity.chassis_ampacity(awg=awg).current_a == expected_a


def test_a_size_just_below_a_row_takes_the_row_below_it() -> None:
    assert ampacity.ampacity("vde_0298_4", area_mm2=2.49).current_a == 24
    assert ampacity.ampacity("vde_0298_4", area_mm2=2.5).current_a == 32


@pytest.mark.parametrize(
    ("table", "area_mm2"), [("chassis", 0.05), ("chassis", 6.0), ("vde_0298_4", 0.5), ("vde_0298_4", 25.0)]
)
def test_no_table_is_extrapolated(table: str, area_mm2: float) -> None:
    with pytest.raises(ValueError, match=f"{area_mm2:.3g} mm2 is outside .*, which covers"):
        ampacity.ampacity(table, area_mm2=area_mm2)


@pytest.mark.parametrize("awg", [9, 31])
def test_a_gauge_outside_the_chassis_column_is_refused(awg: int) -> None:
    with pytest.raises(ValueError, match="is outside 'Chassis wiring column'"):
        ampacity.chassis_ampacity(awg=awg)


def test_the_size_is_given_once_and_the_table_must_exist() -> None:
    with pytest.raises(ValueError, match="Give the size of a conductor once"):
        ampacity.ampacity("chassis")
    with pytest.raises(ValueError, match="Give the size of a conductor once"):
        ampacity.ampacity("chassis", area_mm2=1.5, awg=16)
    with pytest.raises(ValueError, match="'household' is no ampacity table; there are chassis, transmission"):
        ampacity.ampacity("household", awg=16)


@pytest.mark.parametrize("table", ampacity.table_names())
def test_a_thicker_conductor_never_carries_less(table: str) -> None:
    entry = load("ampacity")["tables"][table]
    key = "awg" if entry["size"] == "awg" else "area_mm2"
    sizes = sorted((row[0] for row in entry["rows"]), reverse=entry["size"] == "awg")
    currents = [ampacity.ampacity(table, **{key: size}).current_a for size in sizes]
    assert currents == sorted(currents) and len(set(currents)) == len(currents)


@pytest.mark.parametrize(("area_mm2", "awg"), [(1.5, 16), (2.5, 14), (4.0, 12)])
def test_open_air_tables_are_ordered_from_generous_to_careful(area_mm2: float, awg: int) -> None:
    free = ampacity.ampacity("vde_0298_4", area_mm2=area_mm2).current_a
    machine = ampacity.ampacity("iec_60204_b1", area_mm2=area_mm2).current_a
    transmission = ampacity.ampacity("transmission", awg=awg).current_a
    assert free > machine > transmission


@pytest.mark.parametrize(("awg", "printed_a"), load("ampacity")["tables"]["transmission"]["rows"])
def test_the_transmission_column_is_seven_hundred_circular_mils_an_ampere(awg: int, printed_a: float) -> None:
    assert awg_area_mm2(awg) / CIRCULAR_MIL_MM2 / 700 == pytest.approx(printed_a, rel=0.03)


def test_more_wires_and_more_load_never_raise_the_bundle_factor() -> None:
    by_wires = [ampacity.bundle_factor(wires, 0.6) for wires in range(1, 16)]
    assert by_wires == sorted(by_wires, reverse=True)
    by_load = [ampacity.bundle_factor(4, share) for share in (0.1, 0.2, 0.3, 0.5, 0.7, 0.9, 1.0)]
    assert by_load == sorted(by_load, reverse=True)


def test_between_two_columns_the_lower_factor_is_taken() -> None:
    assert ampacity.bundle_factor(6, 1.0) == 0.54
    assert ampacity.bundle_factor(4, 0.5) == 0.75


@pytest.mark.parametrize(
    ("wires", "share", "sentence"),
    [
        (0, 1.0, "0 wires is outside the curve"),
        (16, 1.0, "16 wires is outside the curve"),
        (2.5, 1.0, "2.5 wires is outside the curve"),
        (3, 0.0, "A load share of 0 is outside"),
        (3, 1.01, "A load share of 1.01 is outside"),
    ],
)
def test_the_bundle_curve_is_not_extrapolated(wires: int, share: float, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        ampacity.bundle_factor(wires, share)


def test_the_bundle_note_ends_at_five_wires() -> None:
    assert ampacity.simple_bundle_factor(1) == 1.0
    with pytest.raises(ValueError, match="6 wires is outside the note"):
        ampacity.simple_bundle_factor(6)


def test_the_ambient_rule_is_one_at_its_reference_and_falls_with_heat() -> None:
    assert ampacity.ambient_factor(30.0) == 1.0
    assert ampacity.ambient_factor(20.0) > 1.0 > ampacity.ambient_factor(31.0) > ampacity.ambient_factor(69.0)


@pytest.mark.parametrize("ambient", [70.0, 90.0, -40.1])
def test_an_ambient_at_the_conductors_limit_is_refused(ambient: float) -> None:
    with pytest.raises(ValueError, match=f"An ambient of {ambient:g} °C is outside"):
        ampacity.ambient_factor(ambient)


def test_a_reference_above_the_conductors_limit_is_refused() -> None:
    with pytest.raises(ValueError, match="The reference 80 °C must be below the conductor's 70 °C"):
        ampacity.ambient_factor(30.0, 70.0, 80.0)
