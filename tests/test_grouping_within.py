"""Grouping within limits that every group must keep: all partitions of small lots, tried one by one, say what is best."""

from __future__ import annotations

import json
from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from itertools import combinations
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from buildtrack.physics.grouping import Grouping, GroupingError, best_grouping
from buildtrack.physics.grouping_limits import Limits
from buildtrack.physics.grouping_search import Steps
from buildtrack.physics.grouping_within import cover_allowed, prove_within
from buildtrack.physics.sharing import group_allowance

SETTINGS = settings(derandomize=True, deadline=None, max_examples=120)
INSTANCES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "data" / "grouping_instances.json").read_text(encoding="utf-8")
)["instances"]


def carries(group: tuple[int, ...], ohms: list[int], amps: list[int]) -> Fraction:
    """Current of the group when its first cell reaches its allowance, by node voltage: I_i R_i is the same for all."""
    drop = min(Fraction(amps[i]) * ohms[i] for i in group)
    return sum((drop / ohms[i] for i in group), Fraction(0))


def sound(group: tuple[int, ...], ohms: list[int], amps: list[int], ratio: int | None, current: int | None) -> bool:
    alike = ratio is None or max(ohms[i] for i in group) <= ratio * min(ohms[i] for i in group)
    return alike and (current is None or carries(group, ohms, amps) >= current)


def best_by_brute_force(
    cells: list[int],
    ohms: list[int],
    amps: list[int],
    series: int,
    parallel: int,
    ratio: int | None,
    current: int | None,
) -> int:
    """Largest smallest group over every choice of cells and every partition of it; -1 where none is sound."""

    @cache
    def best(first: int, taken: int, left: int) -> int:
        if left == 0:
            return 10**9
        if first == len(cells):
            return -1
        found = best(first + 1, taken, left)
        if taken >> first & 1:
            return found
        others = [k for k in range(first + 1, len(cells)) if not taken >> k & 1]
        for part in combinations(others, parallel - 1):
            group = (first, *part)
            if sound(group, ohms, amps, ratio, current):
                rest = best(first + 1, taken | sum(1 << k for k in group), left - 1)
                found = max(found, min(sum(cells[k] for k in group), rest))
        return found

    return best(0, 0, series)


counts = st.sampled_from([(2, 1), (3, 1), (2, 2), (3, 2), (4, 2), (2, 3), (3, 3), (2, 4), (1, 3)])


@st.composite
def lots(draw: st.DrawFn) -> tuple[list[int], list[int], list[int], int, int, int | None, int | None]:
    series, parallel = draw(counts)
    size = series * parallel + draw(st.integers(0, 2))
    numbers = draw(
        st.sampled_from([st.integers(1, 12), st.integers(1500, 2600), st.integers(15, 26).map(lambda n: 100 * n)])
    )
    cells = draw(st.lists(numbers, min_size=size, max_size=size))
    ohms = draw(st.lists(st.sampled_from([30, 36, 45, 55, 62, 70, 88]), min_size=size, max_size=size))
    amps = draw(st.lists(st.integers(2, 9), min_size=size, max_size=size))
    ratio = draw(st.sampled_from([None, 2, 2]))
    current = draw(st.one_of(st.none(), st.integers(parallel, 7 * parallel)))
    return cells, ohms, amps, series, parallel, ratio, current


def limits_of(ohms: list[int], amps: list[int], ratio: int | None, current: int | None) -> Limits:
    return Limits(tuple(r / 1000 for r in ohms), tuple(map(float, amps)), ratio, current)


def grouped(
    lot: tuple[list[int], list[int], list[int], int, int, int | None, int | None], slack: float = 0.0, **more: Any
) -> Grouping:
    cells, ohms, amps, series, parallel, ratio, current = lot
    return best_grouping(
        cells, series, parallel, resistances_ohm=[r / 1000 for r in ohms], resistance_slack=slack,
        limits=limits_of(ohms, amps, ratio, current), **more,
    )  # fmt: skip


@SETTINGS
@given(lots())
def test_no_sound_partition_of_a_small_lot_is_better_and_where_there_is_none_that_is_said(
    lot: tuple[list[int], list[int], list[int], int, int, int | None, int | None],
) -> None:
    cells, ohms, amps, series, parallel, ratio, current = lot
    answer, best = grouped(lot), best_by_brute_force(*lot)
    if best < 0:
        assert (
            not answer.kept and answer.impossible and "no grouping of these cells keeps the limits" in answer.sentence
        )
    else:
        assert (answer.smallest_mah, answer.bound_mah, answer.proven, answer.kept) == (best, best, True, True)
        assert all(sound(group, ohms, amps, ratio, current) for group in answer.groups)
        free = best_by_brute_force(cells, ohms, amps, series, parallel, None, None)
        assert answer.without_limits_mah == (free if free > best else None)
    used = [i for group in answer.groups for i in group]
    assert sorted([*used, *answer.left_over]) == list(range(len(cells)))
    assert [len(group) for group in answer.groups] == [parallel] * series


@SETTINGS
@given(lots())
def test_narrowing_and_evening_never_leave_the_limits(
    lot: tuple[list[int], list[int], list[int], int, int, int | None, int | None],
) -> None:
    _, ohms, amps, _, _, ratio, current = lot
    answer = grouped(lot, slack=0.05)
    assume(answer.kept)
    assert all(sound(group, ohms, amps, ratio, current) for group in answer.groups)
    assert answer.smallest_mah >= 0.95 * answer.optimum_mah - 1


@SETTINGS
@given(lots(), st.randoms(use_true_random=False))
def test_the_order_of_the_cells_changes_no_figure_within_limits(
    lot: tuple[list[int], list[int], list[int], int, int, int | None, int | None], random: Random
) -> None:
    cells, ohms, amps, *rest = lot
    order = list(range(len(cells)))
    random.shuffle(order)
    one = grouped(lot)
    other = grouped(([cells[i] for i in order], [ohms[i] for i in order], [amps[i] for i in order], *rest))  # type: ignore[arg-type]
    assert (one.optimum_mah, one.bound_mah, one.kept) == (other.optimum_mah, other.bound_mah, other.kept)


@SETTINGS
@given(lots(), st.integers(1, 3))
def test_kinds_of_cell_stay_apart_within_limits(
    lot: tuple[list[int], list[int], list[int], int, int, int | None, int | None], every: int
) -> None:
    cells, ohms, amps, series, parallel, ratio, current = lot
    labels = ["other" if i % (every + 1) == 0 else "usual" for i in range(len(cells))]
    pools = [[i for i, label in enumerate(labels) if label == kind] for kind in ("other", "usual")]
    bests = [
        best_by_brute_force([cells[i] for i in p], [ohms[i] for i in p], [amps[i] for i in p], series, parallel, ratio, current)
        for p in pools
    ]  # fmt: skip
    assume(max(map(len, pools)) >= series * parallel)
    answer = grouped(lot, keep_apart=labels)
    assert (answer.optimum_mah if answer.kept else -1) == max(bests)


def test_a_cell_of_high_resistance_goes_with_the_only_one_it_may_share_with() -> None:
    cells, ohms = [2050, 1900, 1960, 1890], [36, 55, 88, 40]
    assert not Limits(tuple(map(float, ohms)), (None,) * 4, 2.0).keeps((0, 1, 2))
    assert Limits(tuple(map(float, ohms)), (None,) * 4, 2.0).keeps((0, 1, 3))
    answer = grouped((cells, ohms, [9] * 4, 2, 2, 2, None))
    # By hand: 36 and 88 may not share (2.44 : 1), 40 and 88 neither (2.2 : 1): 88 goes with 55, 1900 + 1960 = 3860,
    # and 36 with 40 gives 2050 + 1890 = 3940; without the limit 2050 + 1890 and 1900 + 1960 is the fold as well.
    assert {tuple(sorted(group)) for group in answer.groups} == {(1, 2), (0, 3)}
    assert (answer.smallest_mah, answer.without_limits_mah) == (3860, None)


def test_what_is_proven_is_said_with_what_the_limits_cost() -> None:
    # By hand: largest with smallest would be 2100 + 1800 and 2000 + 1900 (3900), but 30 and 70 mΩ may not share;
    # left are 2100 + 2000 and 1800 + 1900, or 2100 + 1900 and 1800 + 2000: 4000 and 3800.
    answer = grouped(([2100, 2000, 1900, 1800], [30, 50, 50, 70], [9] * 4, 2, 2, 2, None))
    assert (answer.smallest_mah, answer.without_limits_mah, answer.proven) == (3800, 3900, True)
    assert answer.sentence == (
        "proven best within the limits: none of these has a smallest group above 3800 mAh (meets the ceiling); "
        "3900 mAh without the limits"
    )


def test_twelve_cells_give_forty_milliampere_hours_for_a_ratio_of_two() -> None:
    # Invented lot, sorted as it comes from a screening. Brute force over all its 15,400 partitions, written apart from this one,
    # gave 5820 mAh for at most 2.0 : 1, and 5860 mAh without; the grouping without the limit has 36 beside 88 mΩ.
    cells = [1620, 1710, 1790, 1880, 1850, 1930, 1990, 2040, 2080, 2120, 2190, 2280]
    ohms = [88, 79, 71, 66, 63, 58, 55, 52, 49, 45, 40, 36]
    answer = grouped((cells, ohms, [6] * 12, 4, 3, 2, None), slack=0.005)
    assert (answer.optimum_mah, answer.bound_mah, answer.without_limits_mah) == (5820, 5820, 5860)
    assert best_by_brute_force(cells, ohms, [6] * 12, 4, 3, 2, None) == 5820
    assert all(max(ohms[i] for i in g) <= 2 * min(ohms[i] for i in g) for g in answer.groups)


def test_a_cell_that_fits_no_group_is_left_over_though_it_is_the_largest() -> None:
    answer = grouped(([3000, 2000, 1900, 1800, 1700], [99, 30, 31, 32, 33], [9] * 5, 2, 2, 2, None))
    assert answer.left_over == (0,)
    assert (answer.smallest_mah, answer.proven) == (3700, True)


def test_a_current_that_only_one_grouping_carries_is_carried() -> None:
    # By hand: shares of 30 and 60 mΩ are 2/3 and 1/3. 4 A and 2 A cells together carry 6 A at shares 2/3 and 1/3.
    answer = grouped(([2000, 1990, 1980, 1970], [30, 60, 30, 60], [4, 2, 4, 2], 2, 2, None, 6))
    assert answer.kept and {frozenset(group) for group in answer.groups} == {frozenset({0, 3}), frozenset({1, 2})}
    assert not grouped(([2000, 1990, 1980, 1970], [30, 60, 30, 60], [4, 2, 4, 2], 2, 2, None, 7)).kept


@SETTINGS
@given(st.lists(st.tuples(st.integers(20, 90), st.integers(1, 9)), min_size=1, max_size=5), st.integers(1, 40))
def test_the_current_a_group_carries_is_the_one_the_groups_are_judged_by(
    cells: list[tuple[int, int]], wanted: int
) -> None:
    ohms, amps = [r / 1000 for r, _ in cells], [float(a) for _, a in cells]
    carried = carries(tuple(range(len(cells))), [r for r, _ in cells], [a for _, a in cells])
    limits = Limits(tuple(ohms), tuple(amps), least_current_a=float(wanted))
    assert limits.keeps(range(len(cells))) == (carried >= wanted)
    assert group_allowance(amps, ohms).current_a == pytest.approx(float(carried))


def test_what_was_not_measured_is_no_breach() -> None:
    limits = Limits((0.03, None, 0.09), (5.0, 5.0, None), 2.0, 9.0)
    assert limits.keeps((0, 1)), "equal shares are assumed: 2 × 5 A"
    assert limits.keeps((1, 2)) and not limits.keeps((0, 2))
    assert not Limits((0.03, None), (5.0, 4.0), 2.0, 9.0).keeps((0, 1)), "2 × 4 A"


def test_a_search_that_ends_early_claims_no_proof() -> None:
    random = Random("within")
    cells = [round(random.gauss(random.choice((1900, 2700)), 60)) for _ in range(20)]
    ohms = [random.choice((30, 45, 61, 88)) for _ in cells]
    answer = grouped((cells, ohms, [9] * 20, 5, 4, 2, None), steps=3_000)
    assert not answer.proven and not answer.impossible
    if not answer.kept:
        assert "the search ended before" in answer.sentence


@pytest.mark.parametrize("instance", INSTANCES, ids=lambda instance: f"{instance['S']}x{instance['P']}")
def test_benchmark_lots_with_odd_resistances_are_within_limits_and_at_or_near_their_bound(
    instance: dict[str, Any],
) -> None:
    random = Random(instance["seed"])
    ohms = [max(20.0, random.gauss(50, 9)) for _ in instance["cells_mAh"]]
    ohms[0] = ohms[-1] = 99.0
    limits = Limits(tuple(ohms), (None,) * len(ohms), 2.0)
    answer = best_grouping(instance["cells_mAh"], instance["S"], instance["P"], limits=limits)
    assert answer.kept and all(limits.keeps(group) for group in answer.groups)
    assert answer.smallest_mah <= answer.bound_mah <= instance["optimum_max_min_mAh"]
    assert answer.bound_mah - answer.smallest_mah <= 0.002 * answer.bound_mah, "the bound is an upper one by proof"


def test_limits_and_locked_cells_are_refused_together() -> None:
    with pytest.raises(GroupingError, match="limits and locked cells"):
        grouped(([2000, 1900, 1800, 1700], [30] * 4, [9] * 4, 2, 2, 2, None), locked=[(0,)])


@SETTINGS
@given(lots())
def test_the_search_alone_finds_the_best_without_a_start_and_refutes_what_lies_above(
    lot: tuple[list[int], list[int], list[int], int, int, int | None, int | None],
) -> None:
    cells, ohms, amps, series, parallel, ratio, current = lot
    order = sorted(range(len(cells)), key=lambda i: -cells[i])
    values = [cells[i] for i in order]

    def allowed(group: Sequence[int]) -> bool:
        return sound(tuple(order[i] for i in group), ohms, amps, ratio, current)

    limit = sum(values[: series * parallel]) // series
    best = best_by_brute_force(*lot)
    found = prove_within(values, series, parallel, allowed, None, limit, Steps(10_000_000))
    assert (found.smallest, found.ceiling) == (best, best)
    assert all(allowed(group) for group in found.groups)
    assert cover_allowed(values, series, parallel, allowed, best + 1, Steps(10_000_000)) is None or best < 0


@SETTINGS
@given(lots())
def test_what_a_cell_and_alike_ones_hold_at_most_is_never_exceeded(
    lot: tuple[list[int], list[int], list[int], int, int, int | None, int | None],
) -> None:
    cells, ohms, amps, _, parallel, ratio, _ = lot
    pool = list(range(len(cells)))
    most = limits_of(ohms, amps, ratio, None).most_with(cells, pool, parallel)
    groups = [g for g in combinations(pool, parallel) if sound(g, ohms, amps, ratio, None)]
    assert most == [max((sum(cells[k] for k in g) for g in groups if i in g), default=0) for i in pool]
