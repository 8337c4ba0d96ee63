"""Tap readings: every single fault on packs of 1 to 20 groups is told, and what is ambiguous is not guessed."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.physics.taps import Diagnosis, diagnose_taps

SETTINGS = settings(derandomize=True, deadline=None, max_examples=80)
WINDOW = (2.5, 4.3)
packs = st.lists(st.floats(2.6, 4.2), min_size=1, max_size=20)


def nodes(groups_v: list[float]) -> list[float]:
    readings = [0.0]
    for volts in groups_v:
        readings.append(readings[-1] + volts)
    return readings


def against_first(readings: list[float]) -> list[float]:
    return [reading - readings[0] for reading in readings]


def told(readings: Sequence[float | None]) -> Diagnosis:
    return diagnose_taps(readings, *WINDOW)


@SETTINGS
@given(packs)
def test_a_right_row_is_right(groups: list[float]) -> None:
    answer = told(nodes(groups))
    assert (answer.kind, answer.positions) == ("right", ())
    assert answer.steps_v == pytest.approx(groups)


@SETTINGS
@given(packs, st.data())
def test_two_swapped_taps_are_named_for_any_series_count(groups: list[float], data: st.DataObject) -> None:
    count = len(groups) + 1
    i = data.draw(st.integers(0, count - 2))
    j = data.draw(st.integers(i + 1, count - 1))
    readings = nodes(groups)
    readings[i], readings[j] = readings[j], readings[i]
    answer = told(against_first(readings))
    if count == 3 and (i, j) == (0, 2):
        assert answer.kind == "connector reversed"
    else:
        assert (answer.kind, answer.positions) == ("swapped", (i, j))
        assert answer.sentence == f"B{i} and B{j} are swapped"


@SETTINGS
@given(packs.filter(lambda groups: len(groups) > 1), st.data())
def test_a_reversed_group_is_named(groups: list[float], data: st.DataObject) -> None:
    k = data.draw(st.integers(1, len(groups)))
    turned = [-v if number == k else v for number, v in enumerate(groups, 1)]
    answer = told(nodes(turned))
    said = " ".join((answer.sentence, *answer.alternatives))  # at the ends it may as well be a tap without contact
    assert answer.kind == "reversed group" or "wrong way round" in said or k in answer.positions
    if 1 < k < len(groups):
        assert (answer.kind, answer.positions) == ("reversed group", (k,))


@SETTINGS
@given(packs.filter(lambda groups: len(groups) > 2), st.data())
def test_a_tap_without_contact_is_named(groups: list[float], data: st.DataObject) -> None:
    k = data.draw(st.integers(2, len(groups) - 1))
    readings: list[float | None] = list(nodes(groups))
    readings[k] = 0.02
    assert (told(readings).kind, told(readings).positions) == ("missing", (k,))
    readings[k] = None
    assert (told(readings).kind, told(readings).positions) == ("missing", (k,))


@SETTINGS
@given(packs.filter(lambda groups: len(groups) > 2), st.data())
def test_a_group_outside_its_window_is_named(groups: list[float], data: st.DataObject) -> None:
    k = data.draw(st.integers(1, len(groups)))
    low = [1.2 if number == k else v for number, v in enumerate(groups, 1)]
    assert (told(nodes(low)).kind, told(nodes(low)).positions) == ("group off", (k,))


@pytest.mark.parametrize(
    ("readings", "kind", "positions"),
    [
        ([0, 3.7, 3.7, 7.4, 11.1], "no step", (2,)),
        ([0, 3.7, 3.7, 11.1, 14.8], "no step", (2, 3)),
        ([0, 3.7, 11.1, 14.8], "doubled step", (2,)),
        ([0, 3.7, 11.1, 11.1, 14.8], "doubled step", (2, 3)),
        ([0, -3.7, -7.4, -11.1], "connector reversed", (0, 1, 2, 3)),
        ([0, 0, 0, 0], "missing", (0,)),
        ([0, -3.7], "swapped", (0, 1)),
        ([0, 3.7, 0.0, 11.1], "missing", (2,)),
    ],
)
def test_single_faults_are_told(readings: list[float | None], kind: str, positions: tuple[int, ...]) -> None:
    answer = told(readings)
    assert (answer.kind, answer.positions) == (kind, positions)


def test_no_contact_and_both_on_one_point_cannot_be_told_apart_at_the_bottom() -> None:
    answer = told([0, 0, 7.4, 11.1])
    assert answer.kind == "cannot tell"
    assert len(answer.alternatives) == 2
    assert "B1 sits on the point of B0" in answer.sentence


def test_two_faults_are_not_guessed_but_the_odd_steps_are_named() -> None:
    answer = told([0, 5.0, 1.0, 2.0, 99.0])
    assert answer.kind == "cannot tell"
    assert answer.sentence == "cannot tell: more than one fault; look at the steps of group 1, 2, 3, 4"


def test_a_meter_too_coarse_for_one_group_says_so() -> None:
    answer = diagnose_taps([0, 3.7, 7.4], 2.5, 4.3, offset_v=1.0)
    assert answer.sentence == "cannot tell: the meter is too coarse for one group"


def test_the_meter_decides_at_the_edge_of_the_window() -> None:
    assert diagnose_taps([0, 4.31], 2.5, 4.3, gain=0.005, offset_v=0.0).kind == "right"
    assert diagnose_taps([0, 4.33], 2.5, 4.3, gain=0.005, offset_v=0.0).kind == "group off"


def test_more_than_twenty_groups_or_none_are_refused() -> None:
    with pytest.raises(ValueError, match="1 to 20 groups"):
        told([0.0])
    with pytest.raises(ValueError, match="1 to 20 groups"):
        told(nodes([3.7] * 21))
    with pytest.raises(ValueError, match="window"):
        diagnose_taps([0, 3.7], 4.0, 3.0)
