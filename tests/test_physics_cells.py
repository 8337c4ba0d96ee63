"""Designation, transport classes, old packs and the screening of cells: borders and refusals."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.physics import designation, old_pack, screening, transport
from buildtrack.physics.screening import CellFacts


def test_sizes_are_rounded_up_never_to_nearest() -> None:
    assert designation.cell_designation("C", 18.01, 65.0) == "ICR19/65"
    assert designation.cell_designation("C", 18.0, 65.0) == "ICR18/65"
    assert designation.cell_designation("C", 18.000000000000004, 65.2) == "ICR18/66"


def test_a_prismatic_cell_has_three_sizes_and_a_thin_one_is_given_in_tenths() -> None:
    assert designation.cell_designation("C", 7.1, 49.2, width_mm=33.6) == "ICP8/34/50"
    assert designation.cell_designation("M", 0.63, 40.0, width_mm=30.0, system="L") == "LMPt7/30/40"


@pytest.mark.parametrize(("electrode", "system"), [("P", "I"), ("N", "K"), ("", "I")])
def test_letters_outside_the_clause_are_refused(electrode: str, system: str) -> None:
    with pytest.raises(ValueError, match="is not in the designation: I or L, then one of C, N, M, V, T, F, Fp, Mp"):
        designation.cell_designation(electrode, 18.3, 65.2, system=system)


def test_a_cathode_without_a_letter_is_refused() -> None:
    with pytest.raises(ValueError, match="'LTO' has no letter in the designation; there are NMC, NCA, LCO, LMO, LFP"):
        designation.electrode_letter("LTO")


def test_counts_and_sizes_must_be_possible() -> None:
    with pytest.raises(ValueError, match="0 in series is not allowed"):
        designation.battery_designation(0, "INR19/66")
    with pytest.raises(ValueError, match="1.5 in parallel is not allowed"):
        designation.battery_designation(3, "INR19/66", 1.5)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="A size of 0 mm is not allowed"):
        designation.cell_designation("N", 0.0, 65.2)


def test_a_class_ends_exactly_at_its_limit() -> None:
    assert transport.battery_class(100.0).upper_wh == 100.0
    assert transport.battery_class(100.001).upper_wh == 300.0
    assert transport.battery_class(300.001).upper_wh is None
    assert [transport.cell_class(energy).upper_wh for energy in (20.0, 20.1, 60.1)] == [20.0, 60.0, None]
    assert transport.battery_class(0.1 * 3 / 0.3 * 100).upper_wh == 100.0


@pytest.mark.parametrize("energy_wh", [-0.1, float("nan")])
def test_a_negative_energy_has_no_class(energy_wh: float) -> None:
    for rule in (transport.battery_class, transport.cell_class, transport.passenger_rule):
        with pytest.raises(ValueError, match="an energy must not be negative"):
            rule(energy_wh)


def test_the_label_rounds_halves_up_and_refuses_negative_inputs() -> None:
    assert [transport.label_energy_wh(energy) for energy in (21.4, 21.5, 22.49)] == [21, 22, 22]
    with pytest.raises(ValueError, match="must not be negative"):
        transport.label_energy_wh(-1.0)
    with pytest.raises(ValueError, match="neither may be negative"):
        transport.nominal_energy_wh(18.0, -1.0)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.integers(3, 60))
def test_the_series_count_is_the_largest_that_does_not_exceed_the_old_full_voltage(cells: int) -> None:
    series = old_pack.largest_lithium_series(cells)
    assert old_pack.series_window(series, cells).over_old_full_share <= 1e-9
    assert old_pack.series_window(series + 1, cells).over_old_full_share > 0


def test_an_exact_multiple_is_not_lost_in_floating_point() -> None:
    # 84 cells x 1.45 V = 121.8 V is exactly 29 x 4.20 V.
    assert old_pack.largest_lithium_series(84) == 29


def test_a_lower_full_voltage_may_allow_one_group_more() -> None:
    assert old_pack.largest_lithium_series(11, 4.20) == 3
    assert old_pack.largest_lithium_series(11, 3.65) == 4


@pytest.mark.parametrize("cells", [0, -3, 2.5])
def test_cells_are_counted_in_whole_numbers(cells: float) -> None:
    for figure in (old_pack.nominal_voltage_v, old_pack.full_voltage_v, old_pack.empty_voltage_v):
        with pytest.raises(ValueError, match=f"{cells:g} cells is not allowed: a whole number from 1"):
            figure(cells)  # type: ignore[arg-type]


def test_two_nickel_cells_leave_no_room_for_lithium() -> None:
    with pytest.raises(ValueError, match="2 nickel cells are too few"):
        old_pack.largest_lithium_series(2)
    with pytest.raises(ValueError, match="A full voltage of 0 V is not allowed"):
        old_pack.largest_lithium_series(10, 0.0)


@pytest.mark.parametrize(("label_v", "cells"), [(9.6, 8), (14.4, 12), (18.0, 15), (24.0, 20)])
def test_labels_give_the_cell_count(label_v: float, cells: int) -> None:
    assert old_pack.cells_of_nominal_voltage(label_v) == cells


@pytest.mark.parametrize("label_v", [0.0, 0.5, 13.8, -12.0])
def test_a_label_between_two_counts_asks_to_count(label_v: float) -> None:
    with pytest.raises(ValueError, match="count the cells instead"):
        old_pack.cells_of_nominal_voltage(label_v)


def test_cell_states_at_their_borders() -> None:
    assert old_pack.classify_cells([1.25, 1.25, 1.26, 1.27, 1.151, 1.15, 0.5, 0.499, 0.0, -0.001]) == (
        "sound", "sound", "sound", "sound", "sound", "weak", "weak", "flat", "flat", "reversed")
    assert old_pack.classify_cells([0.0, 0.1]) == ("flat", "flat")


def test_a_pack_without_readings_is_refused() -> None:
    for figure in (old_pack.classify_cells, old_pack.spread_v):
        with pytest.raises(ValueError, match="No cell voltage was given"):
            figure([])


def test_missing_cells_are_whole_and_never_negative() -> None:
    assert [old_pack.missing_cells(volts, 15) for volts in (19.5, 18.9, 18.2, 20.9, 0.0)] == [0, 0, 1, 0, 15]
    with pytest.raises(ValueError, match="swap the probes"):
        old_pack.missing_cells(-18.0, 15)
    with pytest.raises(ValueError, match="A rested cell of 0 V"):
        old_pack.missing_cells(18.0, 15, 0.0)


def test_old_pack_refuses_impossible_capacities() -> None:
    with pytest.raises(ValueError, match="A capacity of 0 Ah is not allowed"):
        old_pack.charger_rate_per_h(1.0, 0.0)
    with pytest.raises(ValueError, match="A capacity of -1 Ah is not allowed"):
        old_pack.energy_when_new_wh(10, -1.0)
    with pytest.raises(ValueError, match="Neither a rate nor a time may be negative"):
        old_pack.charge_factor(-0.1)


@pytest.mark.parametrize(
    ("arrival_v", "expected"),
    [(3.3, "good"), (3.299, "slow start"), (3.0, "slow start"), (2.999, "suspicious"), (2.5, "suspicious"),
     (2.499, "stop"), (2.0, "stop"), (1.999, "never"), (0.0, "never"), (-0.2, "never")],
)
def test_arrival_classes_at_their_borders(arrival_v: float, expected: str) -> None:
    assert screening.arrival_class(arrival_v) == expected


@pytest.mark.parametrize(
    ("drop_mv", "days", "expected"),
    [(10.0, 14.0, "ok"), (10.1, 14.0, "watch"), (20.0, 14.0, "watch"), (20.1, 14.0, "single cell only"),
     (50.0, 14.0, "single cell only"), (50.1, 14.0, "reject"), (10.0, 12.0, "watch"), (-3.0, 12.0, "ok")],
)
def test_rest_classes_at_their_borders_scaled_to_fourteen_days(drop_mv: float, days: float, expected: str) -> None:
    assert screening.rest_class(drop_mv, days) == expected


@pytest.mark.parametrize(
    ("share", "expected"), [(0.8, "good"), (0.799, "fair"), (0.7, "fair"), (0.699, "gadgets"), (0.6, "gadgets"),
                            (0.599, "recycle"), (0.0, "recycle"), (0.1 * 8, "good")]
)
def test_capacity_classes_at_their_borders(share: float, expected: str) -> None:
    assert screening.capacity_class(share) == expected


def test_the_allowance_follows_what_was_measured_not_what_was_printed() -> None:
    assert screening.allowance_a(1.9, None, 2.0) == pytest.approx(3.8)
    assert screening.allowance_a(1.9, 4.4, 2.0) == pytest.approx(3.8)
    assert screening.allowance_a(2.5, 4.4, 2.0) == pytest.approx(4.4)
    assert screening.allowance_a(1.9, 4.4, None) == pytest.approx(4.4)
    assert screening.allowance_a(1.9, 4.4, None, kept_share=0.863) == pytest.approx(3.797, abs=0.001)
    assert screening.allowance_a(2.0, 4.4, None, kept_share=1.05) == pytest.approx(4.4)


def test_an_unknown_cell_gets_its_capacity_once_an_hour_and_three_amperes_at_most() -> None:
    assert screening.allowance_a(1.9, None, None) == pytest.approx(1.9)
    assert screening.allowance_a(3.4, None, None) == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("measured", "current", "rate", "sentence"),
    [(0.0, 4.0, 2.0, "The measured capacity is 0 Ah"), (2.0, 0.0, None, "The rated current is 0 A"),
     (2.0, None, 0.0, "The rated C-rate is 0 per hour")],
)
def test_an_allowance_needs_possible_ratings(
    measured: float, current: float | None, rate: float | None, sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        screening.allowance_a(measured, current, rate)


def test_self_discharge_figures_agree_with_one_another() -> None:
    per_month = screening.self_discharge_percent_per_month(41.0, 12.0, 9.0)
    leak = screening.leak_mah_per_day(41.0, 12.0, 9.0, 1.905)
    assert leak * 30 == pytest.approx(per_month / 100 * 1905)
    assert screening.days_to_see_leak(leak, 41.0, 9.0, 1.905, steps=1.0) == pytest.approx(12.0)
    assert screening.self_discharge_mv_per_day(4.1, 4.112, 12.0) == pytest.approx(-1.0)


def test_self_discharge_needs_time_slope_and_capacity() -> None:
    refusals: list[tuple[Callable[[], object], str]] = [
        (lambda: screening.self_discharge_mv_per_day(4.1, 4.0, 0.0), "The rest is 0 days"),
        (lambda: screening.rest_class(1.0, 0.0), "The rest is 0 days"),
        (lambda: screening.self_discharge_percent_per_month(1.0, 1.0, 0.0), "The slope is 0 mV per %"),
        (lambda: screening.leak_mah_per_day(1.0, 1.0, 9.0, 0.0), "The capacity is 0 Ah"),
        (lambda: screening.smallest_visible_leak_mah_per_day(0.0, 1.0, 9.0, 2.0), "The resolution is 0 mV"),
        (lambda: screening.days_to_see_leak(0.0, 1.0, 9.0, 2.0), "The leak is 0 mAh per day"),
        (lambda: screening.capacity_kept_share(2.0, 0.0), "The rated capacity is 0 Ah"),
        (lambda: screening.capacity_kept_share(-2.0, 2.0), "The measured capacity is -2 Ah"),
        (lambda: screening.capacity_class(-0.1), "A share of -0.1 is not allowed"),
        (lambda: screening.group_self_discharge_difference_mah([], 1.0), "No leak was given"),
        (lambda: screening.group_self_discharge_difference_mah([1.0], -1.0), "-1 days is not allowed"),
    ]
    for call, sentence in refusals:
        with pytest.raises(ValueError, match=sentence):
            call()


def test_one_wild_value_does_not_hide_itself_by_widening_the_scale() -> None:
    assert screening.outliers([70.0, 71.0, 69.0, 72.0, 500.0]) == (4,)
    assert screening.outliers([70.0, 71.0, 69.0, 72.0, 70.5]) == ()
    assert screening.outliers([70.0, 70.0, 70.0, 70.0, 71.0]) == (4,)
    with pytest.raises(ValueError, match="2 values were given; at least three"):
        screening.outliers([70.0, 500.0])
    with pytest.raises(ValueError, match=r"The number of deviations is 0 ?; it must be above 0"):
        screening.outliers([70.0, 71.0, 72.0], 0.0)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.lists(st.integers(20, 200), min_size=3, max_size=12))
def test_the_same_values_stand_apart_in_any_order(values: list[int]) -> None:
    apart = sorted(values[index] for index in screening.outliers(values))
    mixed = sorted(values)
    assert sorted(mixed[index] for index in screening.outliers(mixed)) == apart


def test_a_cell_of_which_nothing_is_known_has_no_reject_code() -> None:
    assert screening.reject_codes(CellFacts()) == ()


@pytest.mark.parametrize(
    ("facts", "codes"),
    [
        (CellFacts(looks_sound=False), ("look",)),
        (CellFacts(looks_sound=True, heated_up=False), ()),
        (CellFacts(heated_up=True), ("heater",)),
        (CellFacts(arrival_v=2.5), ()),
        (CellFacts(arrival_v=2.49), ("arrival",)),
        (CellFacts(rest_drop_mv=17.0, rest_days=12.0), ()),
        (CellFacts(rest_drop_mv=18.0, rest_days=12.0), ("leak",)),
        (CellFacts(rest_end_v=4.049), ("leak",)),
        (CellFacts(rest_end_v=4.05), ()),
        (CellFacts(capacity_kept=0.7), ()),
        (CellFacts(resistance_ohm=0.120), ()),
        (CellFacts(resistance_ohm=0.121), ("resistance",)),
        (CellFacts(resistance_ohm=0.109, median_resistance_ohm=0.072), ("resistance",)),
        (CellFacts(resistance_ohm=0.108, median_resistance_ohm=0.072), ()),
        (CellFacts(arrival_v=1.0, looks_sound=False, capacity_kept=0.5), ("look", "arrival", "capacity")),
    ],
)
def test_reject_codes_at_their_borders(facts: CellFacts, codes: tuple[str, ...]) -> None:
    assert screening.reject_codes(facts) == codes
