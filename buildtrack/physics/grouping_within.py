"""Search for S groups of which each is allowed by itself, so that the smallest is as large as it can be.

What is allowed is asked group by group (`grouping_limits`). A cell that fits into no allowed group stays out, so the
largest S * P cells need not be the ones used, and folding is no closed form any more: both are searched.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from math import gcd
from operator import or_

from buildtrack.physics.grouping_limits import Limits
from buildtrack.physics.grouping_mend import Allowed, good_start
from buildtrack.physics.grouping_search import Found, OutOfSteps, Place, Steps, ceiling_of, subsets_in_window

NONE = -1
"""Smallest group where no grouping is known."""


def bits(mask: int) -> list[int]:
    """Positions of the bits that are set, lowest first."""
    return [index for index in range(mask.bit_length()) if mask >> index & 1]


def cover_allowed(
    cells: Sequence[int], series: int, parallel: int, allowed: Allowed, target: int, steps: Steps
) -> list[list[int]] | None:
    """S disjoint allowed groups of P that all reach `target`; None when the exhausted search proves there are none.

    `cells` descending, S * P or more of them. No S * P cells hold more than the largest, so every group lies in
    [target, target + slack] with slack = sum of the S * P largest - S * target. Raises OutOfSteps.
    """
    slack = sum(cells[: series * parallel]) - series * target
    if slack < 0:
        return None
    window = subsets_in_window(cells, [-cell for cell in cells], parallel, target, target + slack, steps)
    choices = []
    for total, mask in window:
        steps.spend(1)
        if allowed(bits(mask)):
            choices.append((total, mask))
    choices.sort()
    picked = _Packing(cells, parallel, target, steps).pick(choices, series)
    return None if picked is None else [bits(mask) for mask in picked]


class _Packing:
    """Depth-first search for disjoint groups; what was refuted is remembered by the cells that are open."""

    def __init__(self, cells: Sequence[int], parallel: int, target: int, steps: Steps) -> None:
        self.cells, self.parallel, self.target, self.steps = cells, parallel, target, steps
        self.dead: set[tuple[int, int]] = set()

    def pick(self, alive: list[tuple[int, int]], left: int) -> list[int] | None:
        """Masks of `left` disjoint choices, or None."""
        if left == 0:
            return []
        useful = reduce(or_, [mask for _, mask in alive], 0)
        self.steps.spend(2 + (len(alive) >> 2))
        slack = self._slack(useful, left)
        if slack < 0 or (useful, left) in self.dead:
            return None
        alive = [choice for choice in alive if choice[0] <= self.target + slack]
        if alive and (found := self._branch(alive, left)) is not None:
            return found
        if len(self.dead) < 100_000:
            self.dead.add((useful, left))
        return None

    def _slack(self, useful: int, left: int) -> int:
        """What the largest cells still of use hold above the target; below 0 there are too few, or too small ones."""
        positions = bits(useful)[: left * self.parallel]
        if len(positions) < left * self.parallel:
            return -1
        return sum(self.cells[i] for i in positions) - left * self.target

    def _branch(self, alive: list[tuple[int, int]], left: int) -> list[int] | None:
        """Every group of the cell that has the fewest, and then the rest without that cell."""
        bit = self._scarcest(alive)
        for _, mask in [choice for choice in alive if choice[1] & bit]:
            self.steps.spend(1 + (len(alive) >> 3))
            rest = self.pick([choice for choice in alive if not choice[1] & mask], left - 1)
            if rest is not None:
                return [mask, *rest]
        return self.pick([choice for choice in alive if not choice[1] & bit], left)

    @staticmethod
    def _scarcest(alive: list[tuple[int, int]]) -> int:
        if len(alive) > 400:
            useful = reduce(or_, [mask for _, mask in alive], 0)
            return useful & -useful
        tally: dict[int, int] = {}
        for _, mask in alive:
            for index in bits(mask):
                tally[1 << index] = tally.get(1 << index, 0) + 1
        return min(tally, key=lambda bit: (tally[bit], bit))


def prove_within(
    cells: Sequence[int], series: int, parallel: int, allowed: Allowed, start: list[list[int]] | None, limit: int,
    steps: Steps,
) -> Found:  # fmt: skip
    """Best grouping of allowed groups, from a start (None: none known) up and from the ceiling `limit` down.

    `smallest` is NONE while no grouping is known; with a `ceiling` of NONE it is proven that there is none.
    """
    budget = steps.left
    groups = start or []
    best = min((sum(cells[i] for i in group) for group in groups), default=NONE)
    target, step, refuted, too_hard = limit, 1, False, limit + 1
    while best < limit and steps.left > 0:
        part = Steps(-(-steps.left // 2), steps.stop)
        given = part.left
        try:
            attempt = cover_allowed(cells, series, parallel, allowed, max(0, target), part)
        except OutOfSteps:
            too_hard = target
            target = (best + target) // 2
            if target <= best:
                break
            continue
        finally:
            steps.left -= given - max(0, part.left)
        if attempt is None:
            refuted = True
            limit = target - 1 if target > 0 else NONE
            target, step = max(best + 1, limit - step + 1), step * 2
        else:
            groups, best = attempt, min(sum(cells[i] for i in group) for group in attempt)
            target, step = (best + min(limit + 1, too_hard)) // 2 + (too_hard > limit), 1
            if target <= best:
                break
    reason = "steps"
    if best >= limit:
        reason = "every higher target refuted" if refuted else "meets the ceiling"
    return Found(groups, best, limit, reason, budget - steps.left)


def best_within(
    cells: Sequence[int], pools: Sequence[Sequence[int]], series: int,
    parallel: int, allowed: Allowed, limits: Limits, ceiling: int, budget: Steps,
) -> Found:  # fmt: skip
    """The best grouping of allowed groups that takes all its cells from one pool; groups hold positions in `cells`."""
    answers = [Found([], NONE, NONE, "every higher target refuted")]
    share = Steps(budget.left // len(pools), budget.stop)
    for pool in pools:
        if len(pool) >= series * parallel:
            answers.append(
                _of_pool(cells, pool, series, parallel, allowed, limits, ceiling, Steps(share.left, share.stop))
            )
    best = max(answers, key=lambda answer: answer.smallest)
    best.ceiling = max(answer.ceiling for answer in answers)
    best.steps_used = sum(answer.steps_used for answer in answers)
    return best


def _of_pool(
    cells: Sequence[int], pool: Sequence[int], series: int, parallel: int,
    allowed: Allowed, limits: Limits, ceiling: int, steps: Steps,
) -> Found:  # fmt: skip
    ranked = sorted(pool, key=lambda i: (-cells[i], limits.resistance_ohm[i] or 0.0, i))
    unit = gcd(*(cells[i] for i in ranked))
    values = [cells[i] // unit for i in ranked]

    def own(group: Sequence[int]) -> bool:
        return allowed([ranked[i] for i in group])

    def far(group: Sequence[int]) -> float:
        inside = limits.breach([ranked[i] for i in group])
        return inside or float(not own(group))

    order = sorted(range(len(ranked)), key=lambda i: (limits.resistance_ohm[ranked[i]] or 0.0, i))
    limit = min(ceiling // unit, ceiling_of(values[: series * parallel], [Place(0, parallel)] * series))
    # At most so many cells stay out: of the others the one that is worst off bounds the smallest group.
    with_each = sorted(most // unit for most in limits.most_with(cells, ranked, parallel))
    limit = min(limit, with_each[len(ranked) - series * parallel] or NONE)
    start = good_start(values, order, series, parallel, own, far, limit)
    found = prove_within(values, series, parallel, own, start, limit, steps)
    groups = [[ranked[i] for i in group] for group in found.groups]
    smallest, highest = (value if value == NONE else value * unit for value in (found.smallest, found.ceiling))
    return Found(groups, smallest, highest, found.reason, found.steps_used)
