"""Circuit relations, the chain of parts, duty cycles and motors: properties, limits and refusals."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.physics import chain, circuit, duty, motor

AMPERES = st.floats(0.1, 60)
OHMS = st.floats(0.001, 5)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.floats(1, 50), OHMS, OHMS)
def test_load_and_terminal_voltage_agree_and_power_balances(emf_v: float, source_ohm: float, load_ohm: float) -> None:
    current_a = circuit.load_current_a(emf_v, source_ohm, load_ohm)
    across_load_v = circuit.load_voltage_v(emf_v, source_ohm, load_ohm)
    assert circuit.terminal_voltage_v(emf_v, current_a, source_ohm) == pytest.approx(across_load_v)
    spent_w = circuit.load_power_w(emf_v, source_ohm, load_ohm) + circuit.joule_heat_w(current_a, source_ohm)
    assert circuit.power_w(emf_v, current_a) == pytest.approx(spent_w)
    assert circuit.power_in_resistance_w(across_load_v, load_ohm) == pytest.approx(across_load_v * current_a)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.lists(OHMS, min_size=2, max_size=6))
def test_parallel_parts_resist_less_than_the_least_and_series_parts_more_than_the_most(parts: list[float]) -> None:
    assert circuit.parallel_resistance_ohm(parts) < min(parts)
    assert circuit.series_resistance_ohm(parts) > max(parts)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.floats(3, 4.2), OHMS, st.floats(0.1, 2), st.floats(0.1, 5))
def test_two_loads_give_back_the_resistance_that_made_them(
    emf_v: float, resistance_ohm: float, first_a: float, more_a: float
) -> None:
    second_a = first_a + more_a
    found = circuit.dc_resistance_ohm(emf_v - first_a * resistance_ohm, first_a,
                                      emf_v - second_a * resistance_ohm, second_a)
    assert found == pytest.approx(resistance_ohm, rel=1e-6)


@pytest.mark.parametrize("second_a", [0.5, 0.2])
def test_two_loads_must_differ_and_rise(second_a: float) -> None:
    with pytest.raises(ValueError, match=f"The second load is {second_a:g} A; it must be above the first of 0.5 A"):
        circuit.dc_resistance_ohm(4.1, 0.5, 4.0, second_a)


@pytest.mark.parametrize("parts", [[0.1, 0.0], [-0.1], [math.nan]])
def test_a_part_without_resistance_is_refused(parts: list[float]) -> None:
    with pytest.raises(ValueError, match="it must be above 0 ohm"):
        circuit.parallel_resistance_ohm(parts)


def test_no_parts_make_no_parallel_resistance() -> None:
    with pytest.raises(ValueError, match="No resistance was given"):
        circuit.parallel_resistance_ohm([])


@pytest.mark.parametrize("current_a", [0.0, -1.0])
def test_currents_that_divide_must_flow_forward(current_a: float) -> None:
    with pytest.raises(ValueError, match="it must be above 0 A"):
        circuit.joint_resistance_ohm(0.002, current_a)
    with pytest.raises(ValueError, match="it must be above 0 A"):
        circuit.charging_resistance_ohm(12.0, 13.0, current_a)
    with pytest.raises(ValueError, match="it must be above 0 A"):
        circuit.shunt_continuous_a(current_a)


def test_the_order_of_joined_cells_does_not_matter() -> None:
    one = circuit.joining_current_a(4.0, 3.7, 0.02, 0.05, 0.01)
    assert one == circuit.joining_current_a(3.7, 4.0, 0.05, 0.02, 0.01) == pytest.approx(3.75)


def test_a_capacitor_charges_from_nothing_to_all() -> None:
    assert circuit.precharge_voltage_v(20.0, 100.0, 1e-3, 0.0) == 0.0
    assert circuit.precharge_voltage_v(20.0, 100.0, 1e-3, 10.0) == pytest.approx(20.0)
    half = circuit.precharge_voltage_v(20.0, 100.0, 1e-3, 0.05)
    assert circuit.precharge_current_a(20.0, 100.0, 1e-3, 0.05) == pytest.approx((20.0 - half) / 100.0)
    with pytest.raises(ValueError, match="The capacitance is 0 F"):
        circuit.precharge_voltage_v(20.0, 100.0, 0.0, 1.0)


def test_zero_times_and_ranges_are_refused() -> None:
    with pytest.raises(ValueError, match="The time is 0 s"):
        circuit.average_current_a(1.0, 0.0)
    with pytest.raises(ValueError, match="The range is 0"):
        circuit.share_of_range(1.0, 0.0)


ELEMENTS = [
    chain.Element("pack", 0.110, 12.0),
    chain.Element("run", 0.0067, 22.0),
    chain.Element("switch", 0.013, None),
    chain.Element("fuse", 0.005, 15.0),
]
CURRENTS = chain.Currents(4.27, 6.27, 19.0, 28.7)


def test_the_chain_adds_up_and_names_what_governs_and_what_loses_most() -> None:
    path = chain.chain(ELEMENTS, CURRENTS)
    assert path.total_ohm == pytest.approx(0.1347)
    assert path.drop_peak_v == pytest.approx(19.0 * 0.1347)
    assert path.drop_rms_v == pytest.approx(6.27 * 0.1347)
    assert path.heat_w == pytest.approx(6.27**2 * 0.1347)
    assert (path.governing, path.biggest_loss, path.unrated) == ("pack", "pack", ("switch",))
    assert path.headroom == pytest.approx(12.0 / 6.27)
    fuse = path.links[3]
    assert fuse.drop_mean_v == pytest.approx(4.27 * 0.005)
    assert fuse.heat_peak_w == pytest.approx(19.0**2 * 0.005)
    assert fuse.heat_stall_w == pytest.approx(28.7**2 * 0.005)


def test_the_part_with_the_least_rating_governs_even_when_it_loses_least() -> None:
    path = chain.chain([*ELEMENTS, chain.Element("connector", 0.0004, 5.0)], CURRENTS)
    assert (path.governing, path.biggest_loss) == ("connector", "pack")
    assert path.headroom is not None and path.headroom < 1


def test_an_unmeasured_stall_stays_unknown() -> None:
    path = chain.chain(ELEMENTS, chain.Currents(4.27, 6.27, 19.0))
    assert path.drop_stall_v is None and path.links[0].heat_stall_w is None


def test_a_chain_without_ratings_has_no_governing_part() -> None:
    path = chain.chain([chain.Element("run", 0.01, None)], CURRENTS)
    assert path.governing is None and path.headroom is None


@pytest.mark.parametrize(
    ("elements", "currents", "sentence"),
    [
        ([], CURRENTS, "The chain has no parts"),
        ([chain.Element("run", -0.1, None)], CURRENTS, "run has -0.1 ohm"),
        ([chain.Element("run", 0.1, 0.0)], CURRENTS, "run is rated 0 A"),
        (ELEMENTS, chain.Currents(0.0, 0.0, 0.0), "The root-mean-square current is 0 A"),
        (ELEMENTS, chain.Currents(1.0, 2.0, 3.0, -4.0), "A current of -4 A is not allowed"),
    ],
)
def test_an_impossible_chain_is_refused(
    elements: list[chain.Element], currents: chain.Currents, sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        chain.chain(elements, currents)


SEGMENTS = st.lists(
    st.builds(duty.Segment, st.floats(0, 50), st.floats(0, 50), st.floats(0.01, 30)), min_size=1, max_size=6
)


@settings(derandomize=True, deadline=None, max_examples=50)
@given(SEGMENTS)
def test_mean_is_never_above_rms_nor_rms_above_peak(segments: list[duty.Segment]) -> None:
    cycle = duty.duty(segments)
    assert cycle.mean_a <= cycle.rms_a * (1 + 1e-9) + 1e-12
    assert cycle.rms_a <= cycle.peak_a * (1 + 1e-9) + 1e-12


@settings(derandomize=True, deadline=None, max_examples=50)
@given(st.floats(0, 50), st.floats(0, 50), st.floats(0.1, 30), st.floats(0.05, 0.95))
def test_cutting_a_ramp_in_two_changes_nothing(start_a: float, end_a: float, time_s: float, cut: float) -> None:
    middle_a = start_a + (end_a - start_a) * cut
    whole = [duty.Segment(start_a, end_a, time_s)]
    halves = [duty.Segment(start_a, middle_a, time_s * cut), duty.Segment(middle_a, end_a, time_s * (1 - cut))]
    assert duty.cycle_i2t_a2s(halves) == pytest.approx(duty.cycle_i2t_a2s(whole), abs=1e-9)
    assert duty.mean_current_a(halves) == pytest.approx(duty.mean_current_a(whole), abs=1e-9)


def test_a_rest_lowers_the_mean_but_not_the_charge() -> None:
    work = [duty.steady(7.0, 4.0), duty.steady(12.0, 1.0)]
    with_rest = [*work, duty.steady(0.0, 5.0)]
    assert duty.cycle_charge_ah(with_rest) == pytest.approx(duty.cycle_charge_ah(work)) == pytest.approx(40 / 3600)
    assert duty.mean_current_a(with_rest) == pytest.approx(duty.mean_current_a(work) / 2)
    assert duty.rms_current_a(with_rest) == pytest.approx(duty.rms_current_a(work) / math.sqrt(2))


def test_energy_at_the_terminals_is_power_times_time() -> None:
    work = [duty.steady(7.0, 4.0), duty.Segment(12.0, 3.0, 1.0)]
    assert duty.cycle_energy_wh(work, 11.0, 0.1) == pytest.approx(duty.mean_power_w(work, 11.0, 0.1) * 5.0 / 3600)
    assert duty.peak_current_a(work) == 12.0


@pytest.mark.parametrize(
    ("segments", "sentence"),
    [
        ([], "The duty has no segments"),
        ([duty.Segment(1.0, 1.0, -2.0)], "A segment lasts -2 s"),
        ([duty.Segment(1.0, 1.0, 0.0)], "The duty lasts 0 s"),
    ],
)
def test_an_impossible_duty_is_refused(segments: list[duty.Segment], sentence: str) -> None:
    for figure in (duty.mean_current_a, duty.cycle_i2t_a2s, duty.peak_current_a):
        with pytest.raises(ValueError, match=sentence):
            figure(segments)


@pytest.mark.parametrize("share", [-0.1, 1.1])
def test_a_pulse_train_is_on_for_a_share_of_its_time(share: float) -> None:
    with pytest.raises(ValueError, match="is outside the allowed range 0 to 1"):
        duty.rms_of_pulse_train_a(10.0, share)
    assert duty.rms_of_pulse_train_a(10.0, 1.0) == 10.0


def test_low_resistance_cells_raise_the_stall_current() -> None:
    assert motor.stall_current_a(12.6, 0.31, 0.03, 0.02) > motor.stall_current_a(12.6, 0.31, 0.11, 0.02)
    stall_a = motor.stall_current_a(12.6, 0.31, 0.11, 0.02)
    assert motor.stall_terminal_voltage_v(12.6, stall_a, 0.11) == pytest.approx(stall_a * 0.33)


def test_a_series_resistor_holds_the_stall_to_its_limit() -> None:
    resistor_ohm = motor.series_resistor_for_limit_ohm(18.0, 45.0, 0.08, 0.12)
    assert motor.stall_current_a(18.0, 0.08, 0.12, resistor_ohm) == pytest.approx(45.0)
    assert motor.series_resistor_for_limit_ohm(18.0, 400.0, 0.08, 0.12) == 0.0


def test_the_motor_that_turns_draws_less_than_the_motor_that_stands() -> None:
    emf_v = motor.back_emf_v(12.0, 5.0, 0.3)
    assert motor.running_current_a(12.0, emf_v, 0.3) == pytest.approx(5.0)
    assert motor.running_current_a(12.0, 0.0, 0.3) == pytest.approx(motor.stall_current_a(12.0, 0.3))


def test_leads_are_taken_off_the_winding_and_the_lowest_position_counts() -> None:
    assert motor.winding_resistance_ohm(0.93, 3.0, 0.05) == pytest.approx(0.26)
    with pytest.raises(ValueError, match="the leads cannot have 0.4 ohm"):
        motor.winding_resistance_ohm(0.93, 3.0, 0.4)
    with pytest.raises(ValueError, match="No winding resistance was given"):
        motor.lowest_winding_resistance_ohm([])
    with pytest.raises(ValueError, match="A winding of 0 ohm is not possible"):
        motor.lowest_winding_resistance_ohm([0.3, 0.0])


def test_torque_runs_from_free_to_stall() -> None:
    assert motor.current_at_torque_a(0.0, 2.0, 1.5, 31.5) == 1.5
    assert motor.current_at_torque_a(2.0, 2.0, 1.5, 31.5) == 31.5
    assert motor.speed_at_torque(2.0, 2.0, 400.0) == 0.0
    with pytest.raises(ValueError, match="A torque of 2.1 is outside the allowed range 0 to 2"):
        motor.speed_at_torque(2.1, 2.0, 400.0)
    with pytest.raises(ValueError, match="The stall torque is 0"):
        motor.current_at_torque_a(0.0, 0.0, 1.0, 2.0)


def test_values_without_a_divisor_are_refused() -> None:
    refusals: list[tuple[Callable[[], object], str]] = [
        (lambda: motor.winding_resistance_ohm(1.0, 0.0), "The test current is 0 A"),
        (lambda: motor.stall_current_a(12.0, 0.0), "The path has 0 ohm in all"),
        (lambda: motor.running_current_a(12.0, 1.0, 0.0), "The winding is 0 ohm"),
        (lambda: motor.motor_resistance_from_running_ohm(6.0, 4.5, 0.0), "The running current is 0 A"),
        (lambda: motor.resistance_from_loss_ohm(10.0, 5.0, 0.0), "The current is 0 A"),
        (lambda: motor.lifting_power_w(10.0, 1.0, 0.0), "The time is 0 s"),
        (lambda: motor.series_resistor_for_limit_ohm(18.0, 0.0, 0.1), "The limit is 0 A"),
        (lambda: motor.scaled_to_voltage(1.0, 0.0, 18.0), "The specified voltage is 0 V"),
    ]
    for call, sentence in refusals:
        with pytest.raises(ValueError, match=sentence):
            call()
