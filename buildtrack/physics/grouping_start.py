"""A good grouping in a few milliseconds: differencing with equal numbers, then exchanges between groups.

The start only has to be good; the proof is the business of the search. The random kicks use a fixed seed.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import combinations
from math import comb
from random import Random

from buildtrack.physics.grouping_search import OutOfSteps, Place, Steps

EXCHANGE_STEPS = 800_000
"""Work spent on exchanges at most, in parts looked at; about a second."""

MOST_PARTS = 3_000
"""Most ways of taking k cells from a group that are tried; large groups exchange fewer cells at a time."""


def fold(cells: Sequence[int], series: int, parallel: int) -> list[list[int]]:
    """Balanced differencing: rows of S cells are folded onto each other, the fullest group receiving the smallest cell.

    `cells` descending, S * P of them. For P <= 2 the result has the largest possible smallest group.
    Source: Michiels, Korst, Aarts, van Leeuwen 2003 (balanced largest-first differencing for k subsets).
    """
    rows = [[(cells[row * series + i], [row * series + i]) for i in range(series)] for row in range(parallel)]
    while len(rows) > 1:
        rows.sort(key=lambda row: max(s for s, _ in row) - min(s for s, _ in row), reverse=True)
        first = sorted(rows[0], key=lambda entry: -entry[0])
        second = sorted(rows[1], key=lambda entry: entry[0])
        merged = [(a[0] + b[0], a[1] + b[1]) for a, b in zip(first, second, strict=True)]
        rows = [merged, *rows[2:]]
    return [sorted(indices) for _, indices in rows[0]]


def fill_lowest(cells: Sequence[int], places: Sequence[Place]) -> list[list[int]]:
    """Largest cell first into the place that is lowest for its number of free slots; for places of unequal kind."""
    groups: list[list[int]] = [[] for _ in places]
    sums = [place.base for place in places]
    mean = sum(cells) / len(cells) if cells else 0.0
    for index, cell in enumerate(cells):
        open_places = [g for g, place in enumerate(places) if len(groups[g]) < place.free]
        lowest = min(open_places, key=lambda g: (sums[g] + mean * (places[g].free - len(groups[g])), g))
        groups[lowest].append(index)
        sums[lowest] += cell
    return groups


def exchange(
    cells: Sequence[int], places: Sequence[Place], start: list[list[int]], ceiling: int, rounds: int
) -> list[list[int]]:
    """Exchange k cells between the lowest group and another while the smallest of the two grows; kick when stuck.

    Stops at the ceiling or after `rounds` kicks; the best grouping met is returned.
    """
    random, steps = Random(1), Steps(EXCHANGE_STEPS)
    groups = [list(group) for group in start]
    sums = [place.base + sum(cells[i] for i in group) for place, group in zip(places, groups, strict=True)]
    best, best_value = [list(g) for g in groups], min(sums)
    for _ in range(rounds):
        spent = _lift_while_it_helps(cells, groups, sums, steps)
        if min(sums) > best_value:
            best, best_value = [list(g) for g in groups], min(sums)
        if best_value >= ceiling or spent:
            break
        _kick(cells, groups, sums, random)
    return best


def _lift_while_it_helps(cells: Sequence[int], groups: list[list[int]], sums: list[int], steps: Steps) -> bool:
    """Lift the lowest group until nothing helps; True when the work allowed is used up."""
    try:
        while _lift_lowest(cells, groups, sums, steps):
            pass
    except OutOfSteps:
        return True
    return False


def _lift_lowest(cells: Sequence[int], groups: list[list[int]], sums: list[int], steps: Steps) -> bool:
    """One exchange that lifts the lowest group without leaving its partner at or below the old minimum."""
    order = sorted(range(len(groups)), key=lambda g: sums[g])
    low = order[0]
    for high in reversed(order[1:]):
        gap = sums[high] - sums[low]
        if gap < 2:
            break
        move = best_exchange(cells, groups[low], groups[high], gap, steps)
        if move is not None:
            give, take, gain = move
            groups[low] = [i for i in groups[low] if i not in give] + list(take)
            groups[high] = [i for i in groups[high] if i not in take] + list(give)
            sums[low] += gain
            sums[high] -= gain
            return True
    return False


def best_exchange(
    cells: Sequence[int], low: list[int], high: list[int], gap: int, steps: Steps | None = None
) -> tuple[tuple[int, ...], tuple[int, ...], int] | None:
    """The k-for-k exchange whose gain for `low` is nearest to half the gap, strictly between 0 and the gap."""
    best: tuple[tuple[int, ...], tuple[int, ...], int] | None = None
    best_miss = gap
    for size in range(1, min(3, len(low), len(high)) + 1):
        if max(comb(len(low), size), comb(len(high), size)) > MOST_PARTS:
            break
        if steps is not None:
            steps.spend(comb(len(low), size) + comb(len(high), size))
        gives = [(sum(cells[i] for i in part), part) for part in combinations(low, size)]
        takes = sorted((sum(cells[i] for i in part), part) for part in combinations(high, size))
        keys = [value for value, _ in takes]
        for value, part in gives:
            at = bisect_left(keys, value + gap / 2)
            for index in (at - 1, at):
                if 0 <= index < len(takes):
                    gain = keys[index] - value
                    miss = abs(2 * gain - gap)
                    if 0 < gain < gap and miss < best_miss:
                        best, best_miss = (part, takes[index][1], gain), miss
        if best_miss <= 1:
            break
    return best


def _kick(cells: Sequence[int], groups: list[list[int]], sums: list[int], random: Random) -> None:
    """Swap single cells between a few random pairs of groups, the lowest always among them."""
    movable = [g for g, group in enumerate(groups) if group]
    if len(movable) < 2:
        return
    lowest = min(movable, key=lambda g: sums[g])
    for _ in range(2):
        other = random.choice([g for g in movable if g != lowest])
        i, j = random.randrange(len(groups[lowest])), random.randrange(len(groups[other]))
        a, b = groups[lowest][i], groups[other][j]
        groups[lowest][i], groups[other][j] = b, a
        sums[lowest] += cells[b] - cells[a]
        sums[other] += cells[a] - cells[b]
        lowest = other
