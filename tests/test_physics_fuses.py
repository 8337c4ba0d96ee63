"""Fuses: gates between the printed points, families against one another, windows and pulses."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.physics import fuse_pulses, fuses


def test_a_cartridge_may_carry_for_an_hour_what_a_supplemental_fuse_must_break() -> None:
    cartridge = fuses.fuse_state(6.75, 5.0, "iec60127_2_5")
    supplemental = fuses.fuse_state(6.75, 5.0, "ul248_14")
    assert (cartridge.state, cartridge.earliest_s, cartridge.within_s) == ("may open", 3600.0, None)
    assert (supplemental.state, supplemental.within_s) == ("must open", 3600.0)


def test_between_two_gates_the_safe_side_of_both_holds() -> None:
    state = fuses.fuse_state(3.0 * 5.0, 5.0, "iec60127_2_5")
    assert (state.earliest_s, state.within_s) == (0.150, 80.0)


def test_above_every_gate_nothing_is_promised_about_the_earliest_opening() -> None:
    state = fuses.fuse_state(60.0, 5.0, "iec60127_2_5")
    assert (state.state, state.earliest_s, state.within_s) == ("must open", 0.0, 0.100)


@pytest.mark.parametrize(
    ("current_a", "expected"), [(0.0, "carries"), (22.0, "carries"), (22.1, "may open"), (26.9, "may open"),
                                (27.0, "must open")]
)
def test_a_blade_changes_state_exactly_at_its_gates(current_a: float, expected: str) -> None:
    assert fuses.fuse_state(current_a, 20.0, "blade").state == expected


def test_a_carried_current_has_no_opening_time() -> None:
    state = fuses.fuse_state(5.0, 5.0, "ul248_14")
    assert (state.earliest_s, state.within_s, state.multiple) == (None, None, 1.0)


@pytest.mark.parametrize(
    ("rating_a", "family"), [(0.5, "blade"), (41.0, "blade"), (0.5, "iec60127_2_5"), (12.0, "iec60127_2_5"),
                             (0.0, "ul248_14"), (61.0, "ul248_14")]
)
def test_a_rating_the_standard_does_not_cover_is_refused(rating_a: float, family: str) -> None:
    with pytest.raises(ValueError, match=f"A rating of {rating_a:g} A is outside {family}"):
        fuses.fuse_state(1.0, rating_a, family)


def test_an_unknown_family_and_a_negative_current_are_refused() -> None:
    with pytest.raises(ValueError, match="'glass' is no fuse family of the table; there are blade"):
        fuses.fuse_state(1.0, 1.0, "glass")
    with pytest.raises(ValueError, match="The current is -1 A; it must not be negative"):
        fuses.fuse_state(-1.0, 10.0)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.sampled_from(fuses.families()), st.floats(0.1, 15), st.floats(0.0, 5))
def test_a_larger_current_is_never_promised_a_later_opening(family: str, multiple: float, more: float) -> None:
    small, large = fuses.fuse_state(multiple * 5, 5.0, family), fuses.fuse_state((multiple + more) * 5, 5.0, family)
    order = ("carries", "may open", "must open")
    assert order.index(small.state) <= order.index(large.state)
    for before, after in ((small.earliest_s, large.earliest_s), (small.within_s, large.within_s)):
        assert before is None or (after is not None and after <= before)
    if large.within_s is not None and large.earliest_s is not None:
        assert large.earliest_s <= large.within_s


def test_the_window_lists_every_rating_between_its_edges_and_picks_the_smallest() -> None:
    window = fuses.fuse_window(6.27, 22.0)
    assert window.candidates_a == (10.0, 15.0, 20.0)
    assert window.pick_a == 10.0
    assert window.lowest_a == pytest.approx(8.36)
    assert window.reasons[0] == "At least 8.36 A, so that it carries the job."


def test_a_rating_on_the_edge_of_the_window_is_allowed() -> None:
    assert fuses.fuse_window(15.0, 20.0).candidates_a == (20.0,)


def test_a_conductor_weaker_than_the_job_leaves_no_window() -> None:
    window = fuses.fuse_window(20.0, 22.0)
    assert (window.pick_a, window.candidates_a) == (None, ())
    assert "the weakest conductor is too weak" in window.reasons[-1]


def test_a_window_between_two_standard_ratings_says_so() -> None:
    window = fuses.fuse_window(12.0, 18.0)
    assert window.pick_a is None
    assert window.reasons[-1].startswith("No standard rating lies between: 1, 2, 3,")


def test_a_fuse_of_too_low_a_voltage_is_refused_whatever_its_current() -> None:
    window = fuses.fuse_window(12.0, 22.0, pack_full_v=33.6)
    assert window.pick_a is None
    assert window.reasons[-1] == "The fuse is rated 32 V, the full pack has 33.6 V: too much to break."
    assert fuses.fuse_window(12.0, 22.0, pack_full_v=33.6, fuse_voltage_v=58.0).pick_a == 20.0


def test_a_family_without_a_usual_voltage_is_not_judged_by_voltage() -> None:
    assert fuses.family_voltage_v("ul248_14") is None
    assert fuses.fuse_window(3.0, 6.0, "ul248_14", pack_full_v=21.0).pick_a == 4.0


@pytest.mark.parametrize("share", [0.0, -0.1, 1.1])
def test_a_share_outside_its_range_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="is outside the allowed range above 0 up to 1"):
        fuses.minimum_rating_a(10.0, share)
    with pytest.raises(ValueError, match="is outside the allowed range above 0"):
        fuses.minimum_rating_in_heat_a(10.0, share * 2)


def test_the_full_share_needs_no_margin_and_negative_current_is_refused() -> None:
    assert fuses.minimum_rating_a(10.0, 1.0) == 10.0
    with pytest.raises(ValueError, match="The current is -1 A"):
        fuses.minimum_rating_a(-1.0)


def test_voltages_of_zero_cover_no_groups() -> None:
    with pytest.raises(ValueError, match="Both voltages must be above 0 V"):
        fuses.largest_series_for_voltage(0.0)
    assert fuses.largest_series_for_voltage(12.6) == 3


@pytest.mark.parametrize("rating_a", [0.0, 3.0, 100.0])
def test_only_printed_ratings_have_printed_data(rating_a: float) -> None:
    with pytest.raises(ValueError, match=f"Nothing is printed for {rating_a:g} A; there are 1, 2, 4 A"):
        fuses.cold_resistance_ohm(rating_a)


def test_a_family_without_maker_data_says_what_is_not_printed() -> None:
    with pytest.raises(ValueError, match="No cold_resistance_ohm is printed for the fuse family 'ul248_14'"):
        fuses.cold_resistance_ohm(5.0, "ul248_14")
    with pytest.raises(ValueError, match="No melting_i2t_a2s is printed for the fuse family 'blade'"):
        fuses.melting_i2t_a2s(5.0, "blade")
    with pytest.raises(ValueError, match="3 A is not in the small-fuse table"):
        fuses.military_share(3.0)


@pytest.mark.parametrize("rating_a", [1.0, 2.0, 4.0])
def test_a_hot_blade_resists_more_than_a_cold_one(rating_a: float) -> None:
    assert 1.3 < fuses.hot_resistance_ohm(rating_a) / fuses.cold_resistance_ohm(rating_a) < 1.55


def test_every_family_names_its_standard() -> None:
    assert [fuses.family_source(family) for family in fuses.families()] == [
        "iso-8820-3", "iec-60127-2-sheet-5", "ul-248-14"]


def test_a_trapezoid_becomes_a_rectangle_or_a_triangle_at_its_ends() -> None:
    assert fuse_pulses.pulse_i2t_a2s(30.0, 0.2, "trapezoid", 30.0) == pytest.approx(
        fuse_pulses.pulse_i2t_a2s(30.0, 0.2))
    assert fuse_pulses.pulse_i2t_a2s(30.0, 0.2, "trapezoid", 0.0) == pytest.approx(
        fuse_pulses.pulse_i2t_a2s(30.0, 0.2, "triangle"))


@pytest.mark.parametrize("waveform", fuse_pulses.WAVEFORMS)
def test_twice_the_current_heats_four_times(waveform: str) -> None:
    one = fuse_pulses.pulse_i2t_a2s(17.0, 0.13, waveform, 5.0)
    assert fuse_pulses.pulse_i2t_a2s(34.0, 0.13, waveform, 10.0) == pytest.approx(4 * one)


def test_an_unknown_pulse_is_refused() -> None:
    with pytest.raises(ValueError, match="'saw' is no known pulse shape; there are constant, trapezoid"):
        fuse_pulses.pulse_i2t_a2s(10.0, 0.1, "saw")
    with pytest.raises(ValueError, match="The pulse lasts -0.1 s"):
        fuse_pulses.pulse_i2t_a2s(10.0, -0.1)


@pytest.mark.parametrize(("pulses", "share"), [(1, 0.48), (101, 0.38), (2000, 0.29), (10001, 0.22)])
def test_between_two_printed_counts_the_longer_life_is_asked_for(pulses: int, share: float) -> None:
    assert fuse_pulses.pulse_share_allowed(pulses) == share


@pytest.mark.parametrize("pulses", [0, 100001])
def test_a_pulse_count_outside_the_guide_is_refused(pulses: int) -> None:
    with pytest.raises(ValueError, match="pulses is"):
        fuse_pulses.pulse_share_allowed(pulses)
