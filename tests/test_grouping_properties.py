"""Grouping: what must hold for any lot."""

from __future__ import annotations

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from buildtrack.physics.grouping import best_grouping
from buildtrack.physics.grouping_search import Place, Steps, ceiling_of, cover

SETTINGS = settings(derandomize=True, deadline=None, max_examples=60)

counts = st.sampled_from([(2, 1), (3, 2), (2, 3), (3, 3), (2, 4), (4, 2)])
lots = st.tuples(counts, st.lists(st.integers(100, 4000), min_size=9, max_size=12))


@SETTINGS
@given(lots)
def test_groups_and_left_over_are_all_the_cells_once(lot: tuple[tuple[int, int], list[int]]) -> None:
    (series, parallel), cells = lot
    answer = best_grouping(cells, series, parallel)
    assert sorted([i for group in answer.groups for i in group] + list(answer.left_over)) == list(range(len(cells)))
    assert answer.smallest_mah <= answer.bound_mah


@SETTINGS
@given(lots, st.randoms(use_true_random=False))
def test_the_order_of_the_cells_changes_no_figure(lot: tuple[tuple[int, int], list[int]], random: object) -> None:
    (series, parallel), cells = lot
    mixed = list(cells)
    random.shuffle(mixed)  # type: ignore[attr-defined]
    one, other = best_grouping(cells, series, parallel), best_grouping(mixed, series, parallel)
    assert sorted(one.group_capacity_mah) == sorted(other.group_capacity_mah)
    assert (one.smallest_mah, one.bound_mah, one.spread_mah) == (other.smallest_mah, other.bound_mah, other.spread_mah)


@SETTINGS
@given(lots, st.integers(100, 4000))
def test_one_more_cell_never_lowers_the_smallest_group(lot: tuple[tuple[int, int], list[int]], more: int) -> None:
    (series, parallel), cells = lot
    before, after = best_grouping(cells, series, parallel), best_grouping([*cells, more], series, parallel)
    assume(before.proven and after.proven)
    assert after.smallest_mah >= before.smallest_mah


@SETTINGS
@given(lots, st.integers(2, 7))
def test_capacities_in_another_unit_scale_the_answer(lot: tuple[tuple[int, int], list[int]], factor: int) -> None:
    (series, parallel), cells = lot
    one = best_grouping(cells, series, parallel)
    other = best_grouping([factor * cell for cell in cells], series, parallel)
    assume(one.proven and other.proven)
    assert other.smallest_mah == factor * one.smallest_mah


@SETTINGS
@given(st.lists(st.integers(1, 60), min_size=9, max_size=9))
def test_no_cover_is_found_above_the_ceiling(cells: list[int]) -> None:
    ordered, places = sorted(cells, reverse=True), [Place(0, 3)] * 3
    limit = ceiling_of(ordered, places)
    assert cover(ordered, places, limit + 1, Steps(1_000_000)) is None


@SETTINGS
@given(st.lists(st.integers(1, 60), min_size=9, max_size=9), st.integers(3, 180))
def test_a_cover_reaches_its_target_with_every_cell_once(cells: list[int], target: int) -> None:
    ordered, places = sorted(cells, reverse=True), [Place(0, 3)] * 3
    groups = cover(ordered, places, target, Steps(1_000_000))
    if groups is not None:
        assert sorted(i for group in groups for i in group) == list(range(9))
        assert min(sum(ordered[i] for i in group) for group in groups) >= target


@SETTINGS
@given(lots)
def test_locking_the_answer_gives_the_answer(lot: tuple[tuple[int, int], list[int]]) -> None:
    (series, parallel), cells = lot
    answer = best_grouping(cells, series, parallel)
    again = best_grouping(cells, series, parallel, locked=answer.groups)
    assert (again.groups, again.smallest_mah) == (answer.groups, answer.smallest_mah)
