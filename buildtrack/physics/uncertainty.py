"""Uncertainty of readings and of values computed from them, and comparison with a limit in three states."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Literal

Outcome = Literal["pass", "fail", "unsure"]
Function = Callable[..., float]

# A limit met to the last bit must count as met, although 3 x 4.2 is not exactly 12.6 in floating point.
ROUNDING = 1e-9


def limit_of_error(
    reading: float,
    percent_of_reading: float = 0.0,
    digits: float = 0.0,
    resolution: float = 0.0,
    percent_of_range: float = 0.0,
    full_scale: float = 0.0,
) -> float:
    """Largest error of a reading by a meter's accuracy statement.

    a = |x| * p / 100 + n * resolution + range * q / 100
    Units: those of the reading; the resolution is one step of the last digit. Range: no negative terms.
    Source: meter-specification-note (2.000 V, 0.08 % + 2 digits). Source: bench-meter-manual (% reading + % range).
    """
    terms = {"percentage of reading": percent_of_reading, "number of digits": digits, "resolution": resolution,
             "percentage of range": percent_of_range, "range": full_scale}
    for what, value in terms.items():
        if value < 0:
            raise ValueError(f"The {what} is {value:g}; it must not be negative.")
    return abs(reading) * percent_of_reading / 100 + digits * resolution + full_scale * percent_of_range / 100


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a quantity that lies anywhere within bounds with equal chance.

    u = a / sqrt(3)
    Units: those of the half-width. Range: not negative.
    Source: gum (4.3.7).
    """
    return _half_width(half_width) / math.sqrt(3)


def triangular(half_width: float) -> float:
    """Standard uncertainty of a quantity that lies near the middle of its bounds.

    u = a / sqrt(6)
    Units: those of the half-width. Range: not negative.
    Source: gum (4.3.9).
    """
    return _half_width(half_width) / math.sqrt(6)


def arcsine(half_width: float) -> float:
    """Standard uncertainty of a quantity that swings like a sine between its bounds.

    u = a / sqrt(2)
    Units: those of the half-width. Range: not negative.
    Source: gum (H.1, U-shaped distribution of a cyclic temperature).
    """
    return _half_width(half_width) / math.sqrt(2)


def _half_width(half_width: float) -> float:
    if half_width < 0:
        raise ValueError(f"The half-width is {half_width:g}; it must not be negative.")
    return half_width


def mean(readings: Sequence[float]) -> float:
    """Arithmetic mean of readings.

    m = sum(x) / n
    Range: at least one reading.
    Source: gum (4.2.1).
    """
    if not readings:
        raise ValueError("No reading was given; at least one is needed.")
    return math.fsum(readings) / len(readings)


def standard_uncertainty_of_mean(readings: Sequence[float]) -> float:
    """Standard uncertainty of the mean of repeated readings (type A).

    u = sqrt(sum((x - m) ** 2) / (n * (n - 1)))
    Range: at least two readings.
    Source: gum (4.2.3).
    """
    count = len(readings)
    if count < 2:
        raise ValueError(f"{count} reading was given; at least two are needed for a scatter.")
    middle = mean(readings)
    return math.sqrt(math.fsum((reading - middle) ** 2 for reading in readings) / (count * (count - 1)))


def correlation_of_means(first: Sequence[float], second: Sequence[float]) -> float:
    """Correlation of the means of two quantities read together.

    r = sum(dx * dy) / sqrt(sum(dx ** 2) * sum(dy ** 2))
    Range: equally many readings, at least two, both scattering.
    Source: gum (5.2.3).
    """
    if len(first) != len(second) or len(first) < 2:
        raise ValueError("Both quantities need equally many readings, at least two.")
    mean_first, mean_second = mean(first), mean(second)
    together = math.fsum((x - mean_first) * (y - mean_second) for x, y in zip(first, second, strict=True))
    alone = math.fsum((x - mean_first) ** 2 for x in first) * math.fsum((y - mean_second) ** 2 for y in second)
    if alone == 0:
        raise ValueError("A quantity without scatter has no correlation.")
    return together / math.sqrt(alone)


def root_sum_square(contributions: Sequence[float]) -> float:
    """Combined standard uncertainty of independent contributions.

    u = sqrt(sum(c ** 2))
    Units: those of the contributions.
    Source: gum (5.1.2).
    """
    return math.hypot(*contributions)


def expanded(standard_uncertainty: float, coverage: float = 2.0) -> float:
    """Expanded uncertainty.

    U = k * u
    Range: neither negative; k = 2 covers about 95 % of a normal distribution.
    Source: gum (6.2.1).
    """
    if standard_uncertainty < 0 or coverage < 0:
        raise ValueError("Neither an uncertainty nor a coverage factor may be negative.")
    return coverage * standard_uncertainty


def propagate(
    function: Function, values: Sequence[float], contributions: Sequence[Mapping[str, float]]
) -> tuple[float, dict[str, float]]:
    """Value of a function and what each source of uncertainty contributes to it.

    c_s = (f(x + d_s) - f(x - d_s)) / 2, where d_s moves every input by its own share from source s together
    Units: the contributions' units are those of the inputs and of the result. First order only; signs are kept, so
    that a source which shifts several inputs (one meter's gain) adds or cancels as it does in reality.
    Range: one mapping per value; the function must be defined one contribution to either side.
    Source: gum (5.1.3 and 5.2).
    """
    if len(values) != len(contributions):
        raise ValueError(f"{len(values)} values came with {len(contributions)} sets of contributions; one each.")
    sources = dict.fromkeys(source for one in contributions for source in one)
    shifted = {source: _one_source(function, values, contributions, source) for source in sources}
    return function(*values), shifted


def _one_source(
    function: Function, values: Sequence[float], contributions: Sequence[Mapping[str, float]], source: str
) -> float:
    steps = [one.get(source, 0.0) for one in contributions]
    upper = function(*(value + step for value, step in zip(values, steps, strict=True)))
    lower = function(*(value - step for value, step in zip(values, steps, strict=True)))
    return (upper - lower) / 2


def combined(contributions: Mapping[str, float]) -> float:
    """Combined standard uncertainty of the contributions of separate sources.

    u = sqrt(sum(c_s ** 2))
    Source: gum (5.1.2).
    """
    return root_sum_square(tuple(contributions.values()))


def propagate_independent(
    function: Function, values: Sequence[float], uncertainties: Sequence[float]
) -> tuple[float, float]:
    """Value of a function and its combined uncertainty from independent inputs.

    u = sqrt(sum(((f(x + u_i) - f(x - u_i)) / 2) ** 2))
    Range: one uncertainty per value. First order only.
    Source: gum (5.1.3, note 2).
    """
    value, contributions = propagate(function, values, [{str(index): u} for index, u in enumerate(uncertainties)])
    return value, combined(contributions)


def propagate_correlated(
    function: Function,
    values: Sequence[float],
    uncertainties: Sequence[float],
    correlations: Sequence[Sequence[float]],
) -> tuple[float, float]:
    """Value of a function and its combined uncertainty from correlated inputs.

    u ** 2 = sum over i, j of c_i * c_j * r_ij, with c_i the contribution of input i alone
    Range: a full square of correlations from -1 to 1. First order only.
    Source: gum (5.2.2, equation 16).
    """
    value, by_input = propagate(function, values, [{str(index): u} for index, u in enumerate(uncertainties)])
    parts = list(by_input.values())
    if len(correlations) != len(parts) or any(len(row) != len(parts) for row in correlations):
        raise ValueError(f"The correlations must be {len(parts)} rows of {len(parts)}.")
    variance = math.fsum(
        parts[i] * parts[j] * correlations[i][j] for i in range(len(parts)) for j in range(len(parts))
    )
    if variance < -ROUNDING * math.fsum(part**2 for part in parts):
        raise ValueError("The correlations contradict one another: the variance comes out negative.")
    return value, math.sqrt(max(variance, 0.0))


def compare_at_most(value: float, plus_minus: float, limit: float) -> Outcome:
    """Whether a value stays at or below a limit, as far as its uncertainty lets one say.

    pass if x + U <= limit, fail if x - U > limit, otherwise unsure
    Units: all the same. Range: uncertainty not negative, no value that is not a number.
    Source: jcgm-106 (guard band of the width of the uncertainty on either side).
    """
    _require_comparable(value, plus_minus, limit)
    slack = ROUNDING * max(abs(value), abs(limit))
    if value + plus_minus <= limit + slack:
        return "pass"
    return "fail" if value - plus_minus > limit + slack else "unsure"


def compare_at_least(value: float, plus_minus: float, limit: float) -> Outcome:
    """Whether a value reaches a limit, as far as its uncertainty lets one say.

    pass if x - U >= limit, fail if x + U < limit, otherwise unsure
    Units: all the same. Range: uncertainty not negative, no value that is not a number.
    Source: jcgm-106 (guard band of the width of the uncertainty on either side).
    """
    return compare_at_most(-value, plus_minus, -limit)


def _require_comparable(value: float, plus_minus: float, limit: float) -> None:
    if math.isnan(value) or math.isnan(limit) or not plus_minus >= 0:
        raise ValueError(f"{value:g} ± {plus_minus:g} cannot be compared with {limit:g}.")
