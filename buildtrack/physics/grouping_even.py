"""Second and third wishes of a grouping: a narrow spread of capacity, then even group resistances."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from itertools import combinations

from buildtrack.physics.grouping_start import best_exchange

MOST_FOR_PAIRS = 10
"""Largest group in which two cells are exchanged at a time: the ways grow with the fourth power of its size."""


def narrow_spread(
    cells: Sequence[int],
    groups: list[list[int]],
    spare: list[int],
    fixed: Sequence[set[int]],
    kinds: Sequence[Hashable],
    allowed: Callable[[Sequence[int]], bool] = lambda _: True,
) -> None:
    """Lower the fullest group, step by step, without taking any group below the smallest one; in place.

    Exchanges between groups of one kind first; then a cell of the fullest group against a smaller spare cell.
    """
    floor = min(sum(cells[i] for i in group) for group in groups)
    for _ in range(40 * len(groups)):
        sums = [sum(cells[i] for i in group) for group in groups]
        high = max(range(len(groups)), key=lambda g: sums[g])
        lowered = _lower(cells, groups, sums, high, fixed, kinds, allowed)
        if not (lowered or _spare_in(cells, groups, spare, high, floor, fixed, kinds, allowed)):
            return


def _free(group: list[int], fixed: Sequence[set[int]], place: int) -> list[int]:
    return [i for i in group if i not in fixed[place]]


def _lower(
    cells: Sequence[int],
    groups: list[list[int]],
    sums: list[int],
    high: int,
    fixed: Sequence[set[int]],
    kinds: Sequence[Hashable],
    allowed: Callable[[Sequence[int]], bool],
) -> bool:
    for low in sorted(range(len(groups)), key=lambda g: sums[g]):
        gap = sums[high] - sums[low]
        if gap < 2 or not _same_kind(groups, kinds, low, high):
            continue
        move = best_exchange(cells, _free(groups[low], fixed, low), _free(groups[high], fixed, high), gap)
        if move is not None:
            give, take, _ = move
            lower = [i for i in groups[low] if i not in give] + list(take)
            higher = [i for i in groups[high] if i not in take] + list(give)
            if allowed(lower) and allowed(higher):
                groups[low][:], groups[high][:] = lower, higher
                return True
    return False


def _same_kind(groups: list[list[int]], kinds: Sequence[Hashable], a: int, b: int) -> bool:
    return {kinds[i] for i in groups[a]} == {kinds[i] for i in groups[b]}


def _spare_in(
    cells: Sequence[int],
    groups: list[list[int]],
    spare: list[int],
    high: int,
    floor: int,
    fixed: Sequence[set[int]],
    kinds: Sequence[Hashable],
    allowed: Callable[[Sequence[int]], bool],
) -> bool:
    total = sum(cells[i] for i in groups[high])
    own_kinds = {kinds[i] for i in groups[high]}
    swaps = [
        (total - cells[own] + cells[other], own, other)
        for own in _free(groups[high], fixed, high)
        for other in spare
        if kinds[other] in own_kinds
        and floor <= total - cells[own] + cells[other] < total
        and allowed([other if i == own else i for i in groups[high]])
    ]
    if not swaps:
        return False
    _, own, other = min(swaps)
    groups[high][groups[high].index(own)] = other
    spare[spare.index(other)] = own
    return True


def even_resistance(
    cells: Sequence[int],
    conductance_s: Sequence[float],
    groups: list[list[int]],
    floor: int,
    roof: int,
    fixed: Sequence[set[int]],
    kinds: Sequence[Hashable],
    allowed: Callable[[Sequence[int]], bool] = lambda _: True,
) -> None:
    """Exchange cells so that the group conductances draw together while every group stays in [floor, roof]; in place.

    One or two cells at a time, between the two extreme groups and all others; the sum of squared deviations falls with
    every exchange, so it ends.
    """
    for _ in range(30 * len(groups)):
        totals = [sum(conductance_s[i] for i in group) for group in groups]
        order = sorted(range(len(groups)), key=lambda g: totals[g])
        pairs = [(order[0], g) for g in reversed(order[1:])] + [(g, order[-1]) for g in order[1:-1]]
        pairs = [(a, b) for a, b in pairs if _same_kind(groups, kinds, a, b)]
        sizes = (1, 2) if max(map(len, groups)) <= MOST_FOR_PAIRS else (1,)
        if not any(
            _try_pairs(cells, conductance_s, groups, totals, pairs, n, floor, roof, fixed, allowed) for n in sizes
        ):
            return


def _try_pairs(
    cells: Sequence[int],
    conductance_s: Sequence[float],
    groups: list[list[int]],
    totals: list[float],
    pairs: list[tuple[int, int]],
    size: int,
    floor: int,
    roof: int,
    fixed: Sequence[set[int]],
    allowed: Callable[[Sequence[int]], bool],
) -> bool:
    """Make the first exchange of `size` cells that brings two groups clearly nearer to each other."""
    for poor, rich in pairs:
        gap = totals[rich] - totals[poor]
        sum_poor, sum_rich = sum(cells[i] for i in groups[poor]), sum(cells[i] for i in groups[rich])
        best: tuple[float, tuple[int, ...], tuple[int, ...]] | None = None
        for take in combinations(_free(groups[rich], fixed, rich), size):
            taken = sum(conductance_s[i] for i in take)
            taken_sum = sum(cells[i] for i in take)
            for give in combinations(_free(groups[poor], fixed, poor), size):
                gain = taken - sum(conductance_s[i] for i in give)
                shift = taken_sum - sum(cells[i] for i in give)
                inside = floor <= sum_poor + shift <= roof and floor <= sum_rich - shift <= roof
                if inside and gap * 1e-6 < gain < gap * (1 - 1e-6):
                    miss = abs(2 * gain - gap)
                    if (best is None or miss < best[0]) and _both_allowed(
                        groups[poor], groups[rich], give, take, allowed
                    ):
                        best = (miss, take, give)
        if best is not None:
            _, take, give = best
            groups[poor][:] = [i for i in groups[poor] if i not in give] + list(take)
            groups[rich][:] = [i for i in groups[rich] if i not in take] + list(give)
            return True
    return False


def _both_allowed(
    poor: list[int], rich: list[int], give: tuple[int, ...], take: tuple[int, ...],
    allowed: Callable[[Sequence[int]], bool],
) -> bool:  # fmt: skip
    """Whether both groups are allowed once `give` of the first and `take` of the second have changed places."""
    after_poor = [*(i for i in poor if i not in give), *take]
    return allowed(after_poor) and allowed([*(i for i in rich if i not in take), *give])
