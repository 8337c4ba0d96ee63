"""A long run without a pause is what strips, wires and fuse must carry, however often the duty pauses."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.physics import chain, duty
from buildtrack.workings import hand_over_label, load, wire
from tests import front
from tests.back import made, rule
from tests.make import Given

SANDER = [duty.Segment(22.0, 12.0, 1.0), duty.steady(12.98, 39.0), duty.steady(0.3, 20.0)]


def test_eight_minutes_without_a_pause_count_nearly_with_their_own_current() -> None:
    # exp(-480 / 60) = 3.355e-4; sqrt(11.56^2 + (12.98^2 - 11.56^2) x (1 - 3.355e-4)) = sqrt(168.469) = 12.980 A
    assert duty.heating_current_a(11.56, 12.98, 480.0, 60.0) == pytest.approx(12.980, abs=0.0005)
    assert load.lasting_current(11.56, 12.98, 480.0) == pytest.approx(12.980, abs=0.0005)


def test_a_run_of_one_time_constant_counts_for_63_percent_of_the_heat() -> None:
    # 10^2 + (20^2 - 10^2) x (1 - 1 / e) = 100 + 300 x 0.63212 = 289.64; its root is 17.019 A
    assert duty.heating_current_a(10.0, 20.0, 60.0, 60.0) == pytest.approx(17.019, abs=0.0005)


@given(st.floats(0.01, 100), st.floats(0, 100), st.floats(0, 1e5))
@settings(max_examples=60, deadline=None)
def test_the_lasting_current_lies_between_rms_and_run(rms: float, run: float, seconds: float) -> None:
    found = duty.heating_current_a(rms, run, seconds, 60.0)
    assert rms * (1 - 1e-9) <= found <= max(rms, run) * (1 + 1e-9)


def test_a_run_or_current_that_was_not_read_leaves_the_rms() -> None:
    assert load.lasting_current(11.56, 12.98) == load.lasting_current(11.56, None, 480.0) == 11.56
    assert load.lasting_current(11.56, 9.0, 480.0) == pytest.approx(11.56)  # a lighter run warms no part more


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="none may be negative"):
        duty.heating_current_a(10.0, 20.0, -1.0, 60.0)
    with pytest.raises(ValueError, match="time constant"):
        duty.heating_current_a(10.0, 20.0, 1.0, 0.0)


def test_the_longest_stretch_runs_over_the_end_of_the_cycle() -> None:
    assert duty.longest_loaded_s(SANDER, 1.1) == 40.0  # 5 % of 22 A is 1.1 A; the 20 s at 0.3 A are a pause
    turned = [duty.steady(8.0, 5.0), duty.steady(0.0, 3.0), duty.steady(9.0, 4.0)]
    assert duty.longest_loaded_s(turned, 0.45) == 9.0  # 4 s at the end and 5 s at the begin of the next
    assert duty.longest_loaded_s([duty.steady(8.0, 5.0)], 0.4) is None
    two = [duty.steady(0.0, 1.0), duty.steady(5.0, 2.0), duty.steady(0.0, 1.0), duty.steady(5.0, 7.0)]
    assert duty.longest_loaded_s(two, 0.25) == 7.0


def test_headroom_and_fuse_are_held_against_the_lasting_current() -> None:
    # strips rated 12 A beside 12.98 A: 12 / 12.98 = 0.9245, not the 1.038 of the rms
    path = chain.chain([chain.Element("strips", 0.0035, 12.0)], chain.Currents(9.26, 11.56, 22.0, 108.0, 12.98))
    assert path.headroom == pytest.approx(0.9245, abs=5e-5)
    assert path.heat_w == pytest.approx(11.56**2 * 0.0035)  # the heat stays that of the duty
    assert wire.fuse_lowest(12.98, 0.75) == pytest.approx(17.307, abs=0.0005)
    with pytest.raises(ValueError, match="-1 A is not allowed"):
        chain.chain([chain.Element("strips", 0.0035, 12.0)], chain.Currents(9.0, 11.0, 22.0, None, -1.0))


LONG: dict[str, Given] = {"working_current": "12.98 A", "longest_run": "8 min",
                          "duty": [{"id": "s1", "current": "12 A", "seconds": "40 s"},
                                   {"id": "s2", "current": "0 A", "seconds": "20 s"}],
                          "strips": [{"id": "t1", "run": "between", "material": "nickel", "width": "8 mm",
                                      "thickness": "0.15 mm", "length": "20 mm", "parallel": "2"}],
                          "connector_rating": "12 A", "board_continuous": "12 A", "fuse_rating": "15 A"}
"""Rms 12 x sqrt(40 / 60) = 9.80 A; strips 8 x 0.15 x 2 mm2 x 5 A/mm2 = 12 A; fuse 12.98 / 0.75 = 17.3 A at least."""


def test_the_chain_names_the_parts_too_weak_for_the_long_run() -> None:
    said = rule("chain-overloaded", made(LONG)).facts
    assert said["value"] == "12.98 A" and "strips carries 0.92 × of it (12.0 A)" in said["rows"]  # 12 / 12.98
    assert "strips" not in rule("chain-overloaded", made({**LONG, "longest_run": "1 s"})).facts["rows"]


@pytest.mark.parametrize("check", ["strip-overloaded", "connector-overloaded", "board-continuous", "fuse-too-small"])
def test_parts_that_carry_the_duty_but_not_the_long_run_are_cautioned(check: str) -> None:
    assert rule(check, made(LONG)).outcome == "fail"
    assert rule(check, made({**LONG, "longest_run": "1 s"})).outcome == "pass"


def test_the_chassis_wires_are_held_against_it_too() -> None:
    # 0.75 mm² is AWG 20 to 18: the chassis column gives AWG 20 11 A
    thin: dict[str, Given] = {**LONG, "conductors": [{"id": "w1", "run": "plus", "size": "0.75 mm²", "length": "90 mm"}]}
    assert rule("conductor-overloaded", made(thin)).outcome == "fail"
    assert rule("conductor-overloaded", made({**thin, "longest_run": "1 s"})).outcome == "pass"


def test_a_duty_that_pauses_sooner_than_the_longest_run_is_told() -> None:
    told = front.rule("duty-against-run", front.build(LONG))
    assert told.outcome == "fail"
    assert (told.facts["value"], told.facts["limit"]) == ("40 s", "480 s")
    assert told.facts["rows"] == "12.98 A instead of 9.798 A"
    for calm in ({"longest_run": "40 s"}, {"working_current": "9.7 A"}, {"longest_run": "59 s"},
                 {"duty": [{"id": "s1", "current": "12 A", "seconds": "40 s"}]}):
        assert front.rule("duty-against-run", front.build({**LONG, **calm})).outcome == "pass"


@pytest.mark.parametrize(("carries", "printed"), [(12.6, 12), (12.0, 12), (9.96, 9.9), (0.4567, 0.45), (129.0, 120)])
def test_the_label_rounds_down(carries: float, printed: float) -> None:
    assert math.isclose(hand_over_label._floored(carries), printed)  # noqa: SLF001
