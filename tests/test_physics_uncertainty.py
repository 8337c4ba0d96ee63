"""Uncertainty: agreement with sampling, correlation, and the three outcomes of a comparison."""

from __future__ import annotations

import math
import random
import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.physics import uncertainty

POSITIVE = st.floats(0.1, 100)


def two_load_resistance(first_v: float, first_a: float, second_v: float, second_a: float) -> float:
    return (first_v - second_v) / (second_a - first_a)


def test_propagation_agrees_with_ten_thousand_draws() -> None:
    values, spreads = (4.110, 0.52, 4.012, 2.51), (0.002, 0.005, 0.003, 0.012)
    value, spread = uncertainty.propagate_independent(two_load_resistance, values, spreads)
    draw = random.Random(20260131)
    sample = [
        two_load_resistance(*(draw.gauss(middle, width) for middle, width in zip(values, spreads, strict=True)))
        for _ in range(10_000)
    ]
    assert value == pytest.approx(statistics.fmean(sample), rel=0.01)
    assert spread == pytest.approx(statistics.stdev(sample), rel=0.03)


def test_a_shared_source_cancels_in_a_difference_and_adds_in_a_sum() -> None:
    meter = [{"meter": 0.02, "first": 0.003}, {"meter": 0.02, "second": 0.004}]
    difference, parts = uncertainty.propagate(lambda a, b: a - b, (4.1, 3.9), meter)
    assert difference == pytest.approx(0.2)
    assert parts["meter"] == pytest.approx(0.0, abs=1e-12)
    assert uncertainty.combined(parts) == pytest.approx(0.005)
    _, parts = uncertainty.propagate(lambda a, b: a + b, (4.1, 3.9), meter)
    assert parts == pytest.approx({"meter": 0.04, "first": 0.003, "second": 0.004})


def test_ten_times_one_cell_is_less_certain_than_ten_cells() -> None:
    def total(*cells: float) -> float:
        return math.fsum(cells)

    same = uncertainty.propagate(total, [2.5] * 10, [{"cell 1": 0.025}] * 10)[1]
    different = uncertainty.propagate(total, [2.5] * 10, [{f"cell {index}": 0.025} for index in range(10)])[1]
    assert uncertainty.combined(same) == pytest.approx(0.25)
    assert uncertainty.combined(different) == pytest.approx(0.025 * math.sqrt(10))


def test_contributions_keep_their_sign_so_that_opposite_errors_cancel() -> None:
    _, parts = uncertainty.propagate(lambda a, b: a / b, (10.0, 2.0), [{"gain": 0.1}, {"gain": 0.02}])
    assert parts["gain"] == pytest.approx(0.0, abs=1e-12)
    _, parts = uncertainty.propagate(lambda a: -3 * a, (10.0,), [{"gain": 0.1}])
    assert parts["gain"] == pytest.approx(-0.3)


def test_no_uncertainty_in_means_none_out() -> None:
    assert uncertainty.propagate(lambda a, b: a * b, (2.0, 3.0), [{}, {}]) == (6.0, {})
    assert uncertainty.combined({}) == 0.0
    assert uncertainty.propagate_independent(lambda a: a, (2.0,), (0.0,)) == (2.0, 0.0)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(POSITIVE, POSITIVE, st.floats(0.001, 0.01), st.floats(0.001, 0.01))
def test_a_product_adds_relative_uncertainties_in_quadrature(a: float, b: float, u_a: float, u_b: float) -> None:
    value, spread = uncertainty.propagate_independent(lambda x, y: x * y, (a, b), (a * u_a, b * u_b))
    assert spread / value == pytest.approx(math.hypot(u_a, u_b))


def test_full_correlation_is_the_same_as_a_shared_source() -> None:
    values, spreads = (5.0, 2.0), (0.05, 0.03)
    for sign in (1.0, -1.0):
        _, spread = uncertainty.propagate_correlated(
            lambda a, b: a - b, values, spreads, [[1.0, sign], [sign, 1.0]])
        assert spread == pytest.approx(abs(0.05 - sign * 0.03))
    _, spread = uncertainty.propagate_correlated(lambda a, b: a - b, values, spreads, [[1.0, 0.0], [0.0, 1.0]])
    assert spread == pytest.approx(uncertainty.propagate_independent(lambda a, b: a - b, values, spreads)[1])


def test_correlations_must_fit_and_must_be_possible() -> None:
    with pytest.raises(ValueError, match="The correlations must be 2 rows of 2"):
        uncertainty.propagate_correlated(lambda a, b: a - b, (1.0, 2.0), (0.1, 0.1), [[1.0, 0.0]])
    impossible = [[1.0, 0.9, 0.9], [0.9, 1.0, -0.9], [0.9, -0.9, 1.0]]
    with pytest.raises(ValueError, match="The correlations contradict one another"):
        uncertainty.propagate_correlated(lambda a, b, c: a - b - c, (1.0, 2.0, 3.0), (0.1, 0.1, 0.1), impossible)


def test_each_value_needs_its_own_contributions() -> None:
    with pytest.raises(ValueError, match="2 values came with 1 sets of contributions"):
        uncertainty.propagate(lambda a, b: a + b, (1.0, 2.0), [{}])


def test_a_negative_reading_errs_as_much_as_a_positive_one() -> None:
    assert uncertainty.limit_of_error(-2.0, 0.5, 3, 0.001) == uncertainty.limit_of_error(2.0, 0.5, 3, 0.001)


@pytest.mark.parametrize(
    ("name", "sentence"),
    [("percent_of_reading", "percentage of reading is -1"), ("digits", "number of digits is -1"),
     ("resolution", "resolution is -1"), ("percent_of_range", "percentage of range is -1"),
     ("full_scale", "The range is -1")],
)
def test_negative_accuracy_is_refused(name: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        uncertainty.limit_of_error(2.0, **{name: -1.0})


@pytest.mark.parametrize("shape", [uncertainty.rectangular, uncertainty.triangular, uncertainty.arcsine])
def test_a_negative_half_width_is_refused(shape: object) -> None:
    assert callable(shape)
    with pytest.raises(ValueError, match="The half-width is -0.1; it must not be negative"):
        shape(-0.1)
    assert shape(0.0) == 0.0


def test_the_wider_the_tails_the_larger_the_uncertainty() -> None:
    assert uncertainty.triangular(1.0) < uncertainty.rectangular(1.0) < uncertainty.arcsine(1.0)


def test_scatter_needs_two_readings_and_correlation_needs_pairs() -> None:
    with pytest.raises(ValueError, match="1 reading was given; at least two"):
        uncertainty.standard_uncertainty_of_mean([4.1])
    with pytest.raises(ValueError, match="No reading was given"):
        uncertainty.mean([])
    with pytest.raises(ValueError, match="equally many readings"):
        uncertainty.correlation_of_means([1.0, 2.0], [1.0])
    with pytest.raises(ValueError, match="without scatter"):
        uncertainty.correlation_of_means([1.0, 1.0], [1.0, 2.0])


def test_the_scatter_of_the_mean_is_the_sample_deviation_over_root_n() -> None:
    readings = [4.101, 4.107, 4.099, 4.110, 4.104]
    expected = statistics.stdev(readings) / math.sqrt(5)
    assert uncertainty.standard_uncertainty_of_mean(readings) == pytest.approx(expected)


def test_expanding_a_negative_uncertainty_is_refused() -> None:
    with pytest.raises(ValueError, match="may be negative"):
        uncertainty.expanded(-0.1)
    with pytest.raises(ValueError, match="may be negative"):
        uncertainty.expanded(0.1, -2.0)


@pytest.mark.parametrize(
    ("value", "plus_minus", "expected"),
    [(4.2499, 0.0, "pass"), (4.25, 0.0, "pass"), (4.2501, 0.0, "fail"), (4.23, 0.02, "pass"), (4.2301, 0.02, "unsure"),
     (4.27, 0.02, "unsure"), (4.2701, 0.02, "fail")],
)
def test_at_most_has_three_outcomes_with_exact_borders(value: float, plus_minus: float, expected: str) -> None:
    assert uncertainty.compare_at_most(value, plus_minus, 4.25) == expected


@pytest.mark.parametrize(
    ("value", "plus_minus", "expected"),
    [(2.5, 0.0, "pass"), (2.4999, 0.0, "fail"), (2.55, 0.05, "pass"), (2.5499, 0.05, "unsure"),
     (2.45, 0.05, "unsure"), (2.4499, 0.05, "fail")],
)
def test_at_least_has_three_outcomes_with_exact_borders(value: float, plus_minus: float, expected: str) -> None:
    assert uncertainty.compare_at_least(value, plus_minus, 2.5) == expected


def test_a_limit_met_but_for_floating_point_is_met() -> None:
    assert 4.2 * 3 > 12.6
    assert uncertainty.compare_at_most(4.2 * 3, 0.0, 12.6) == "pass"
    assert uncertainty.compare_at_least(0.1 * 3 - 0.3 + 2.5, 0.0, 2.5) == "pass"


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.floats(-10, 10), st.floats(0, 5), st.floats(-10, 10))
def test_more_uncertainty_never_turns_fail_into_pass(value: float, plus_minus: float, limit: float) -> None:
    exact = uncertainty.compare_at_most(value, 0.0, limit)
    assert exact in ("pass", "fail")
    assert uncertainty.compare_at_most(value, plus_minus, limit) in (exact, "unsure")


@pytest.mark.parametrize(
    ("value", "plus_minus", "limit"),
    [(math.nan, 0.1, 1.0), (1.0, -0.1, 1.0), (1.0, 0.1, math.nan), (1.0, math.nan, 1.0)],
)
def test_what_is_no_number_is_not_compared(value: float, plus_minus: float, limit: float) -> None:
    with pytest.raises(ValueError, match="cannot be compared with"):
        uncertainty.compare_at_most(value, plus_minus, limit)
