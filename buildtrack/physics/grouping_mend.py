"""A good grouping of allowed groups in a few tenths of a second: mend what is not allowed, then lift the lowest group.

The start only has to be good; the proof is the business of `grouping_within`. The random kicks use a fixed seed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import combinations
from random import Random

from buildtrack.physics.grouping_search import OutOfSteps, Place, Steps
from buildtrack.physics.grouping_start import exchange, fold

Allowed = Callable[[Sequence[int]], bool]
"""Whether these cells, by their positions, may make a group."""
Breach = Callable[[Sequence[int]], float]
"""How far these cells are from being allowed; 0 where they are."""
Groups = list[list[int]]

START_STEPS = 250_000
"""Work spent on exchanges at most, in exchanges looked at."""
KICKS = 60
MOST_FOR_PAIRS = 8
"""Largest group in which two cells are exchanged at a time."""


def good_start(
    cells: Sequence[int], order: Sequence[int], series: int, parallel: int, allowed: Allowed, breach: Breach,
    ceiling: int,
) -> Groups | None:  # fmt: skip
    """The better of two starts: the best grouping without limits, mended, and neighbours in `order` put together.

    `cells` descending, S * P or more of them; `order` holds their positions, by resistance. Stops at the ceiling.
    """
    places = [Place(0, parallel)] * series
    chosen = cells[: series * parallel]
    balanced = exchange(chosen, places, fold(chosen, series, parallel), sum(chosen) // series, 20)
    starts = [mended(cells, balanced, breach), alike_start(order, series, parallel, allowed)]
    lifted = [lifted_start(cells, start, allowed, ceiling) for start in starts if start is not None]
    return max(lifted, key=lambda groups: lowest(cells, groups), default=None)


def lowest(cells: Sequence[int], groups: Groups) -> int:
    """Sum of the smallest group."""
    return min(sum(cells[i] for i in group) for group in groups)


def alike_start(order: Sequence[int], series: int, parallel: int, allowed: Allowed) -> Groups | None:
    """Neighbours in `order` together, each cell left out that cannot be the first of an allowed group.

    With cells ordered by resistance this finds S groups within a ratio wherever there are any: proof by exchange.
    """
    groups: Groups = []
    at = 0
    while len(groups) < series and at + parallel <= len(order):
        group = list(order[at : at + parallel])
        if allowed(group):
            groups.append(group)
            at += parallel
        else:
            at += 1
    return groups if len(groups) == series else None


def mended(cells: Sequence[int], groups: Groups, breach: Breach) -> Groups | None:
    """Exchange single cells until every group is allowed, each time what brings two groups nearest to that."""
    groups = [list(group) for group in groups]
    for _ in range(4 * len(groups)):
        bad = {g: far for g, group in enumerate(groups) if (far := breach(group)) > 0}
        if not bad:
            return groups
        moves = [move for g in bad for move in _mending(cells, groups, g, bad, breach)]
        if not moves:
            return None
        _, _, one, other = max(moves)
        _swap(groups, one, other)
    return None


def _mending(
    cells: Sequence[int], groups: Groups, place: int, bad: Mapping[int, float], breach: Breach
) -> Iterator[tuple[float, int, int, int]]:
    """Exchanges of a cell of this group that bring it and its partner nearer to being allowed: by how much, the lower
    of both sums, and both cells.
    """
    used = {i for group in groups for i in group}
    spare = [i for i in range(len(cells)) if i not in used]
    for other, pool in [(-1, spare), *((g, group) for g, group in enumerate(groups) if g != place)]:
        before = bad[place] + bad.get(other, 0.0)
        for give in groups[place]:
            mine = [i for i in groups[place] if i != give]
            for take in pool:
                yours = [i for i in pool if i != take] + [give] if other >= 0 else []
                after = breach([*mine, take]) + (breach(yours) if yours else 0.0)
                if after < before * (1 - 1e-9):
                    sums = [sum(cells[i] for i in part) for part in ([*mine, take], yours) if part]
                    yield round(before - after, 6), min(sums), give, take


def _swap(groups: Groups, one: int, other: int) -> None:
    """Both cells change places; a cell in no group takes the place of the other."""
    change = {one: other, other: one}
    for group in groups:
        group[:] = [change.get(i, i) for i in group]


def lifted_start(cells: Sequence[int], groups: Groups, allowed: Allowed, ceiling: int) -> Groups:
    """Lift the lowest group while it helps, kick when stuck; the best grouping met, every group of it allowed."""
    random, steps = Random(1), Steps(START_STEPS)
    best = [list(group) for group in groups]
    try:
        for _ in range(KICKS):
            while _lift(cells, groups, allowed, steps):
                pass
            if lowest(cells, groups) > lowest(cells, best):
                best = [list(group) for group in groups]
            if lowest(cells, best) >= ceiling:
                break
            for _ in range(2):
                _kick(groups, allowed, random)
    except OutOfSteps:
        if lowest(cells, groups) > lowest(cells, best):
            best = groups
    return best


def _lift(cells: Sequence[int], groups: Groups, allowed: Allowed, steps: Steps) -> bool:
    """One exchange that lifts the lowest group, and leaves its partner above what the lowest was."""
    sums = [sum(cells[i] for i in group) for group in groups]
    low = min(range(len(groups)), key=lambda g: sums[g])
    used = {i for group in groups for i in group}
    spare = [i for i in range(len(cells)) if i not in used]
    partners = [(-1, spare), *((g, groups[g]) for g in sorted(range(len(groups)), key=lambda g: -sums[g]) if g != low)]
    for size in (1, 2) if len(groups[low]) <= MOST_FOR_PAIRS else (1,):
        for other, pool in partners:
            most = sums[other] - sums[low] if other >= 0 else sum(cells)
            if most > 1 and _best_of(cells, groups, (low, other), pool, size, most, allowed, steps):
                return True
    return False


def _best_of(
    cells: Sequence[int], groups: Groups, pair: tuple[int, int], pool: Sequence[int], size: int, most: int,
    allowed: Allowed, steps: Steps,
) -> bool:  # fmt: skip
    """Make the allowed exchange between two groups whose gain is nearest to half of what parts them."""
    low, other = pair
    moves = []
    for give in combinations(groups[low], size):
        given = sum(cells[i] for i in give)
        for take in combinations(pool, size):
            gain = sum(cells[i] for i in take) - given
            steps.spend(1)
            if 0 < gain < most:
                moves.append((abs(2 * gain - most) if other >= 0 else -gain, give, take))
    for _, give, take in sorted(moves):
        mine = [*(i for i in groups[low] if i not in give), *take]
        yours = [*(i for i in pool if i not in take), *give]
        steps.spend(1)
        if allowed(mine) and (other < 0 or allowed(yours)):
            groups[low] = mine
            if other >= 0:
                groups[other] = yours
            return True
    return False


def _kick(groups: Groups, allowed: Allowed, random: Random) -> None:
    """Exchange two cells of two random groups, where both stay allowed."""
    if len(groups) < 2:
        return
    for _ in range(10):
        a, b = random.sample(range(len(groups)), 2)
        i, j = random.randrange(len(groups[a])), random.randrange(len(groups[b]))
        one, other = list(groups[a]), list(groups[b])
        one[i], other[j] = other[j], one[i]
        if allowed(one) and allowed(other):
            groups[a], groups[b] = one, other
            return
