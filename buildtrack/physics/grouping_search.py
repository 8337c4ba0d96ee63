"""Search for S groups of cells whose smallest group is as large as it can be: whole numbers in, groups and a proof out.

A place is a group to be filled: what is already in it (`base`) and how many cells it still takes (`free`).
Work is counted in steps, never in seconds, so the same input gives the same answer on every machine.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import reduce
from itertools import accumulate
from operator import or_


class OutOfSteps(Exception):
    """The step budget is used up before the search has an answer."""


@dataclass(slots=True)
class Steps:
    """Counts work done against a budget; `stop` is asked now and then whether to give up early."""

    left: int
    stop: Callable[[], bool] | None = None
    _next_look: int = field(default=0)

    def spend(self, count: int) -> None:
        """Take `count` steps from the budget; raise OutOfSteps when none are left or a stop is wanted."""
        self.left -= count
        if self.left < 0:
            raise OutOfSteps
        if self.stop is not None:
            self._next_look -= count
            if self._next_look < 0:
                self._next_look = 5000
                if self.stop():
                    raise OutOfSteps


@dataclass(frozen=True, slots=True)
class Place:
    """A group to be filled: the sum already in it and the number of cells it still takes."""

    base: int
    free: int


@dataclass(slots=True)
class Found:
    """Result of a search: positions per place, smallest sum, ceiling, and why the search stopped."""

    groups: list[list[int]]
    smallest: int
    ceiling: int
    reason: str
    steps_used: int = field(default=0)

    @property
    def proven(self) -> bool:
        """True when no grouping can have a larger smallest group."""
        return self.smallest >= self.ceiling


def ceiling_of(cells: Sequence[int], places: Sequence[Place]) -> int:
    """Upper bound of the smallest group sum.

    min over: floor(total / S); each place with the largest cells it could get; and for equal empty places two counts:
    the k smallest cells sit in g groups, filled up with the largest cells: floor((low_k + top(g P - k)) / g), best g;
    of h large cells at least m = S - floor(h / (f + 1)) groups hold f or fewer:
    floor((m f largest + m (P - f) largest of the others) / m).
    `cells` descending, exactly as many as there are free slots. Source: derived, pigeonhole argument.
    """
    sums = [0, *accumulate(cells)]
    total = sums[-1] + sum(place.base for place in places)
    bound = total // len(places)
    for place in places:
        bound = min(bound, place.base + sums[place.free])
    if len(set(places)) == 1 and places[0].base == 0:
        bound = min(bound, _low_cells_bound(sums, len(places), places[0].free))
        bound = min(bound, _few_large_bound(sums, len(places), places[0].free))
    return bound


def _low_cells_bound(sums: Sequence[int], series: int, parallel: int) -> int:
    count = len(sums) - 1
    bound = sums[-1] // series
    for low in range(1, count + 1):
        low_sum = sums[-1] - sums[count - low]
        fewest = -(-low // parallel)
        best = max((low_sum + sums[g * parallel - low]) // g for g in range(fewest, min(series, low) + 1))
        bound = min(bound, best)
    return bound


def _few_large_bound(sums: Sequence[int], series: int, parallel: int) -> int:
    count = len(sums) - 1
    bound = sums[-1] // series
    for large in range(1, count + 1):
        for few in range(min(parallel, large)):
            groups = series - large // (few + 1)
            taken = min(large, groups * few)
            rest = groups * parallel - taken
            if groups >= 1 and large + rest <= count:
                bound = min(bound, (sums[taken] + sums[large + rest] - sums[large]) // groups)
    return bound


def subsets_in_window(
    cells: Sequence[int], negated: Sequence[int], size: int, low: int, high: int, steps: Steps
) -> list[tuple[int, int]]:
    """All subsets of `size` cells with low <= sum <= high as (sum, mask); `cells` descending, `negated` = -cells."""
    count = len(cells)
    sums = [0, *accumulate(cells)]
    found: list[tuple[int, int]] = []

    def descend(start: int, left: int, have: int, mask: int) -> None:
        if left == 1:
            first = bisect_left(negated, have - high, start)
            last = bisect_right(negated, have - low, first)
            steps.spend(1 + 2 * (last - first))
            for index in range(first, last):
                found.append((have + cells[index], mask | 1 << index))
            return
        smallest_rest = sums[count] - sums[count - left + 1]
        for index in range(start, count - left + 1):
            if have + sums[index + left] - sums[index] < low:
                break
            with_it = have + cells[index]
            if with_it + smallest_rest <= high:
                descend(index + 1, left - 1, with_it, mask | 1 << index)
        steps.spend(1)

    if size >= 1:
        descend(0, size, 0, 0)
    elif low <= 0 <= high:
        found.append((0, 0))
    return found


def cover(cells: Sequence[int], places: Sequence[Place], target: int, steps: Steps) -> list[list[int]] | None:
    """Groups that all reach `target`, or None when the exhausted search proves there are none.

    Every group lies in [target, target + slack] with slack = total - S * target, so only the few subsets in that window
    matter; an exact cover of all cells by them is searched, spending the slack. Raises OutOfSteps when the budget ends.
    """
    slack = sum(cells) + sum(place.base for place in places) - len(places) * target
    if slack < 0:
        return None
    negated = [-cell for cell in cells]
    wanted: dict[Place, int] = {}
    for place in places:
        wanted[place] = wanted.get(place, 0) + 1
    kinds = list(wanted)
    choices: list[tuple[int, int, int]] = []
    for kind, place in enumerate(kinds):
        low = target - place.base
        if place.free == 0:
            if low > 0:
                return None
            slack -= -low * wanted[place]
            continue
        window = subsets_in_window(cells, negated, place.free, low, low + slack, steps)
        choices.extend((total - low, mask, kind) for total, mask in window)
    if slack < 0:
        return None
    choices.sort()
    counts = [wanted[place] if place.free else 0 for place in kinds]
    if reduce(or_, [mask for _, mask, _ in choices], 0) != (1 << len(cells)) - 1:
        return None
    picked = _exact_cover(choices, _classes_of(cells), slack, counts, steps)
    if picked is None:
        return None
    return _hand_out(picked, kinds, places)


def _exact_cover(
    choices: list[tuple[int, int, int]], classes: Sequence[int], slack: int, counts: list[int], steps: Steps
) -> list[tuple[int, int, int]] | None:
    """Depth-first exact cover; `classes` are the masks of equal cells, which need not be told apart."""
    picked: list[tuple[int, int, int]] = []
    dead: set[tuple[int, ...]] = set()

    def sign(mask: int) -> tuple[int, ...]:
        return tuple([(mask & same).bit_count() for same in classes]) if classes else (mask,)

    def descend(alive: list[tuple[int, int, int]], open_cells: int, slack_left: int) -> bool:
        if not open_cells:
            return True
        steps.spend(2 + (len(alive) >> 3))
        key = (*sign(open_cells), *counts)
        if key in dead or reduce(or_, [mask for _, mask, _ in alive], 0) != open_cells:
            return False
        bit = _scarcest(alive, open_cells)
        tried: set[tuple[int, ...]] = set()
        for excess, mask, kind in [choice for choice in alive if choice[1] & bit]:
            if classes:
                look = (*sign(mask), kind)
                if look in tried:
                    continue
                tried.add(look)
            steps.spend(1 + (len(alive) >> 4))
            rest = slack_left - excess
            counts[kind] -= 1
            if counts[kind]:
                left = [c for c in alive if not c[1] & mask and c[0] <= rest]
            else:
                left = [c for c in alive if not c[1] & mask and c[0] <= rest and c[2] != kind]
            picked.append((excess, mask, kind))
            if descend(left, open_cells & ~mask, rest):
                return True
            picked.pop()
            counts[kind] += 1
        if len(dead) < 100_000:
            dead.add(key)
        return False

    return picked if descend(choices, reduce(or_, [mask for _, mask, _ in choices], 0), slack) else None


def _classes_of(cells: Sequence[int]) -> list[int]:
    """Masks of equal cells when many are equal, else nothing."""
    masks: dict[int, int] = {}
    for index, cell in enumerate(cells):
        masks[cell] = masks.get(cell, 0) | 1 << index
    return list(masks.values()) if len(masks) <= 0.75 * len(cells) else []


def _scarcest(alive: list[tuple[int, int, int]], open_cells: int) -> int:
    """The open cell with the fewest subsets left, as a bit; the largest open cell while there are many subsets."""
    if len(alive) > 400:
        return open_cells & -open_cells
    tally: dict[int, int] = {}
    for _, mask, _ in alive:
        while mask:
            bit = mask & -mask
            tally[bit] = tally.get(bit, 0) + 1
            mask ^= bit
    return min(tally, key=lambda bit: (tally[bit], bit))


def _hand_out(picked: list[tuple[int, int, int]], kinds: list[Place], places: Sequence[Place]) -> list[list[int]]:
    by_kind: dict[Place, list[int]] = {}
    for _, mask, kind in picked:
        by_kind.setdefault(kinds[kind], []).append(mask)
    groups = []
    for place in places:
        mask = by_kind[place].pop() if place.free else 0
        groups.append([index for index in range(mask.bit_length()) if mask >> index & 1])
    return groups


def prove_best(
    cells: Sequence[int], places: Sequence[Place], start: list[list[int]], limit: int, steps: Steps
) -> Found:
    """Raise the smallest sum from a start solution and lower the ceiling until they meet or the budget ends."""

    def smallest_of(groups: list[list[int]]) -> int:
        return min(p.base + sum(cells[i] for i in g) for p, g in zip(places, groups, strict=True))

    budget = steps.left
    best, best_value = start, smallest_of(start)
    reason = "steps"
    target, step = limit, 1
    refuted = False
    while best_value < limit:
        try:
            attempt = cover(cells, places, target, steps)
        except OutOfSteps:
            break
        if attempt is None:
            refuted = True
            limit = target - 1
            target, step = max(best_value + 1, limit - step + 1), step * 2
        else:
            best, best_value = attempt, smallest_of(attempt)
            target, step = (best_value + limit + 1) // 2, 1
    if best_value >= limit:
        reason = "every higher target refuted" if refuted else "meets the ceiling"
    return Found(best, best_value, limit, reason, budget - max(0, steps.left))
