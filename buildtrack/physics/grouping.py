"""Best grouping of cells: S groups of P whose smallest group is as large as it can be, with the proof or the bound.

A series string delivers what its smallest group holds, so the smallest group is maximised first, the spread narrowed
second, and within half a per cent of the best capacity the group resistances are evened out third. Limits that every
group must keep go before all of these.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from math import gcd, isfinite

from buildtrack.physics.grouping_even import even_resistance, narrow_spread
from buildtrack.physics.grouping_limits import Limits
from buildtrack.physics.grouping_mend import Allowed
from buildtrack.physics.grouping_search import Found, Place, Steps, ceiling_of, prove_best
from buildtrack.physics.grouping_start import exchange, fill_lowest, fold
from buildtrack.physics.grouping_within import NONE, best_within

DEFAULT_STEPS = 400_000
RESISTANCE_SLACK = 0.005  # share of the best capacity given up for even resistances; our own choice


class GroupingError(ValueError):
    """The cells, the counts or the rules cannot make the pack; the message says which and what would."""


@dataclass(frozen=True, slots=True)
class Grouping:
    """A grouping and what is known about it.

    `optimum_mah` is the largest smallest group found for capacity alone, `bound_mah` what no grouping can exceed,
    `smallest_mah` the smallest group of the grouping chosen after evening out resistances. With limits all three speak
    of the groupings that keep them. `kept` is False where none is known that does: the grouping is then the best
    without them, and `impossible` says whether it is proven that there is none.
    """

    groups: tuple[tuple[int, ...], ...]
    group_capacity_mah: tuple[int, ...]
    smallest_mah: int
    optimum_mah: int
    bound_mah: int
    proven: bool
    reason: str
    left_over: tuple[int, ...]
    spread_mah: int
    group_resistance_ohm: tuple[float, ...] | None
    steps_used: int
    kept: bool = True
    impossible: bool = False
    without_limits_mah: int | None = None
    """Largest smallest group found without the limits, where keeping them costs capacity."""

    @property
    def sentence(self) -> str:
        """One sentence on what is proven."""
        if not self.kept:
            if self.impossible:
                return "no grouping of these cells keeps the limits (every one refuted)"
            return "no grouping within the limits was found; the search ended before it could rule one out"
        costly = self.without_limits_mah is not None
        if self.proven:
            which = "proven best within the limits: none of these" if costly else "proven best: no grouping"
            text = f"{which} has a smallest group above {self.optimum_mah} mAh ({self.reason})"
        else:
            which = "best found within the limits" if costly else "best found"
            text = f"{which} {self.optimum_mah} mAh, not more than {self.bound_mah} mAh is possible"
        if costly:
            text += f"; {self.without_limits_mah} mAh without the limits"
        if self.smallest_mah < self.optimum_mah:
            text += f"; {self.smallest_mah} mAh chosen for even resistances"
        return text


def best_grouping(
    capacities_mah: Sequence[float],
    series: int,
    parallel: int,
    *,
    resistances_ohm: Sequence[float | None] | None = None,
    keep_apart: Sequence[Hashable] | None = None,
    apart_in: str = "pack",
    locked: Sequence[Sequence[int]] = (),
    steps: int = DEFAULT_STEPS,
    stop: Callable[[], bool] | None = None,
    resistance_slack: float = RESISTANCE_SLACK,
    limits: Limits | None = None,
) -> Grouping:
    """Choose S * P of the cells and group them so that min over groups of sum(capacity) is largest [mAh].

    `keep_apart` holds a label per cell: different labels share no pack (`apart_in="pack"`) or no group ("group").
    `locked[g]` lists cells that are already in group g. Capacities are taken to the whole milliampere-hour.
    `limits` are kept by every group wherever any grouping keeps them; not together with `locked`.
    Range: lots up to a few hundred cells; where the step budget ends first the answer carries the remaining bound.
    Source: balanced multiway number partitioning; own search over the subsets a target leaves possible.
    """
    if apart_in not in ("pack", "group"):
        raise GroupingError(f'keep apart in "pack" or in "group", not in "{apart_in}"')
    cells = _whole_capacities(capacities_mah)
    held = _checked_locks(locked, len(cells), series, parallel)
    labels: list[Hashable] = list(keep_apart) if keep_apart is not None else [None] * len(cells)
    if len(labels) != len(cells):
        raise GroupingError(f"{len(labels)} labels for {len(cells)} cells; give one label per cell")
    if resistances_ohm is not None and len(resistances_ohm) != len(cells):
        raise GroupingError(f"{len(resistances_ohm)} resistances for {len(cells)} cells; give one per cell or none")
    resistance = list(resistances_ohm) if resistances_ohm is not None else [None] * len(cells)
    budget = Steps(steps, stop)
    if apart_in == "pack":
        groups, found = _one_label_pack(cells, labels, resistance, held, parallel, budget)
    else:
        groups, found = _one_label_groups(cells, labels, resistance, held, parallel, budget)
    if limits is None:
        return _finish(cells, labels, resistance, held, groups, found, resistance_slack)
    if any(held):
        raise GroupingError(
            "limits and locked cells are not searched together; unlock the cells or leave the limits out"
        )
    return _finish_within(
        cells, labels, apart_in, resistance, limits, groups, found, resistance_slack, Steps(steps, stop)
    )


def _finish_within(
    cells: list[int],
    labels: list[Hashable],
    apart_in: str,
    resistance: Sequence[float | None],
    limits: Limits,
    groups: list[list[int]],
    found: Found,
    resistance_slack: float,
    budget: Steps,
) -> Grouping:
    """The grouping within the limits; what was found without them bounds it, and stands in where none keeps them."""
    held: list[tuple[int, ...]] = [()] * len(groups)
    if all(limits.keeps(group) for group in groups):
        return _finish(cells, labels, resistance, held, groups, found, resistance_slack, limits.keeps)

    def allowed(group: Sequence[int]) -> bool:
        return len({labels[i] for i in group}) == 1 and limits.keeps(group)

    everything = list(range(len(cells)))
    kinds = dict.fromkeys(labels) if apart_in == "pack" else {}
    pools = [[i for i in everything if labels[i] == label] for label in kinds] or [everything]
    inside = best_within(cells, pools, len(groups), len(groups[0]), allowed, limits, found.ceiling, budget)
    if inside.smallest == NONE:
        bare = _finish(cells, labels, resistance, held, groups, found, resistance_slack)
        return replace(bare, kept=False, impossible=inside.ceiling == NONE)
    told = _finish(cells, labels, resistance, held, inside.groups, inside, resistance_slack, limits.keeps)
    costs = found.smallest > inside.smallest
    return replace(told, without_limits_mah=found.smallest if costs else None)


def _whole_capacities(capacities_mah: Sequence[float]) -> list[int]:
    for index, value in enumerate(capacities_mah):
        if not isfinite(value) or value <= 0:
            raise GroupingError(f"cell {index + 1}: capacity {value} mAh; a measured capacity above zero is needed")
    return [round(value) for value in capacities_mah]


def _checked_locks(locked: Sequence[Sequence[int]], count: int, series: int, parallel: int) -> list[tuple[int, ...]]:
    if series < 1 or parallel < 1:
        raise GroupingError(f"{series} groups of {parallel} cells; both counts must be at least 1")
    if series * parallel > count:
        raise GroupingError(f"{series} groups of {parallel} need {series * parallel} cells; there are {count}")
    if len(locked) > series:
        raise GroupingError(f"{len(locked)} locked groups for a pack of {series}; lock at most {series}")
    held = [tuple(group) for group in locked] + [()] * (series - len(locked))
    flat = [index for group in held for index in group]
    if len(set(flat)) != len(flat):
        raise GroupingError("a cell is locked twice; lock each cell into one group only")
    for place, group in enumerate(held):
        if len(group) > parallel:
            raise GroupingError(f"group {place + 1} has {len(group)} locked cells; it takes {parallel}")
        if any(index not in range(count) for index in group):
            raise GroupingError(f"group {place + 1} is locked to a cell that is not in the list of {count}")
    return held


def _fill(
    cells: Sequence[int],
    resistance: Sequence[float | None],
    candidates: Sequence[int],
    held: Sequence[tuple[int, ...]],
    parallel: int,
    budget: Steps,
) -> tuple[list[list[int]], Found]:
    """Best filling of the places from the candidates: the largest cells, searched in steps of their common divisor."""
    free = [parallel - len(group) for group in held]
    # Equal cells ordered by resistance: the answer then does not depend on the order of the list.
    ranked = sorted(candidates, key=lambda i: (-cells[i], resistance[i] or 0.0, i))[: sum(free)]
    values = [cells[i] for i in ranked]
    bases = [sum(cells[i] for i in group) for group in held]
    uniform = not any(held)
    offset = values[-1] if uniform and values else 0
    unit = max(1, gcd(*(value - offset for value in values), *bases))
    small = [(value - offset) // unit for value in values]
    places = [Place(base // unit, slots) for base, slots in zip(bases, free, strict=True)]
    limit = ceiling_of(small, places)
    start = fold(small, len(held), parallel) if uniform else fill_lowest(small, places)
    if uniform and parallel <= 2:
        found = _closed_form(small, start)
    else:
        start = exchange(small, places, start, limit, min(150, budget.left // 100))
        found = prove_best(small, places, start, limit, budget)
    shift = parallel * offset if uniform else 0
    groups = [[*group, *(ranked[i] for i in part)] for group, part in zip(held, found.groups, strict=True)]
    smallest, ceiling = found.smallest * unit + shift, found.ceiling * unit + shift
    return groups, Found(found.groups, smallest, ceiling, found.reason, found.steps_used)


def _closed_form(values: Sequence[int], groups: list[list[int]]) -> Found:
    """One or two cells per group: sorting, or largest with smallest, has no better; proof by exchange."""
    smallest = min(sum(values[i] for i in group) for group in groups)
    return Found(groups, smallest, smallest, "closed form for one or two cells per group")


def _one_label_pack(
    cells: Sequence[int],
    labels: Sequence[Hashable],
    resistance: Sequence[float | None],
    held: Sequence[tuple[int, ...]],
    parallel: int,
    budget: Steps,
) -> tuple[list[list[int]], Found]:
    fixed = [i for group in held for i in group]
    if len({labels[i] for i in fixed}) > 1:
        raise GroupingError("the locked cells carry different labels that may not share a pack; unlock some")
    wanted = len(held) * parallel
    allowed = dict.fromkeys(labels[i] for i in fixed) or dict.fromkeys(labels)
    answers = []
    for label in allowed:
        own = [i for i in range(len(cells)) if labels[i] == label]
        if len(own) >= wanted:
            share = Steps(budget.left // len(allowed), budget.stop)
            answers.append(_fill(cells, resistance, [i for i in own if i not in fixed], held, parallel, share))
    if not answers:
        raise GroupingError(f"no kind of cell has the {wanted} cells needed without mixing; add cells or allow mixing")
    groups, found = max(answers, key=lambda answer: answer[1].smallest)
    found.ceiling = max(answer[1].ceiling for answer in answers)
    return groups, found


def _one_label_groups(
    cells: Sequence[int],
    labels: Sequence[Hashable],
    resistance: Sequence[float | None],
    held: Sequence[tuple[int, ...]],
    parallel: int,
    budget: Steps,
) -> tuple[list[list[int]], Found]:
    """Every count of groups per label is solved by itself; the best split of S over the labels is then picked."""
    fixed = {i for group in held for i in group}
    if any(len({labels[i] for i in group}) > 1 for group in held):
        raise GroupingError("a locked group holds cells of different labels that may not share a group; unlock some")
    kinds = list(dict.fromkeys(labels))
    solved: list[dict[int, tuple[list[list[int]], Found]]] = []
    for label in kinds:
        own_held = [group for group in held if group and labels[group[0]] == label]
        own = [i for i in range(len(cells)) if labels[i] == label]
        most = min(len(own) // parallel, len(held) - sum(1 for g in held if g and labels[g[0]] != label))
        free = [i for i in own if i not in fixed]
        options: dict[int, tuple[list[list[int]], Found]] = {}
        for count in range(max(1, len(own_held)), most + 1):
            share = Steps(budget.left // (2 * len(kinds) * len(held)), budget.stop)
            places = [*own_held, *[()] * (count - len(own_held))]
            options[count] = _fill(cells, resistance, free, places, parallel, share)
        solved.append(options)
        if own_held and not options:
            raise GroupingError(f"the locked groups of {label} cannot be filled with cells of that kind; unlock some")
    must = [any(group and labels[group[0]] == label for group in held) for label in kinds]
    best = _best_split(solved, must, len(held), lambda found: found.smallest)
    if best is None:
        raise GroupingError(f"the cells do not make {len(held)} groups of {parallel} without mixing kinds in a group")
    bound = _best_split(solved, must, len(held), lambda found: found.ceiling)
    parts = [solved[kind][count] for kind, count in enumerate(best[1]) if count]
    groups = _in_place(held, [group for part, _ in parts for group in part])
    used = sum(found.steps_used for options in solved for _, found in options.values())
    ceiling = bound[0] if bound else best[0]
    return groups, Found([], best[0], ceiling, "best split over the kinds of cell", used)


def _best_split(
    solved: Sequence[dict[int, tuple[list[list[int]], Found]]],
    must: Sequence[bool],
    series: int,
    figure: Callable[[Found], int],
) -> tuple[int, tuple[int, ...]] | None:
    """Counts of groups per label that add up to S with the largest minimum of the figure."""
    states: dict[int, tuple[int, tuple[int, ...]]] = {0: (10**12, ())}
    for options, needed in zip(solved, must, strict=True):
        following: dict[int, tuple[int, tuple[int, ...]]] = {}
        for filled, (value, counts) in states.items():
            choices = [(count, figure(found)) for count, (_, found) in options.items()]
            if not needed:
                choices.append((0, 10**12))
            for count, smallest in choices:
                total, worth = filled + count, min(value, smallest)
                if total <= series and (total not in following or worth > following[total][0]):
                    following[total] = (worth, (*counts, count))
        states = following
    return states.get(series)


def _in_place(held: Sequence[tuple[int, ...]], groups: list[list[int]]) -> list[list[int]]:
    """Groups in the order of the places, each locked group where it was asked for."""
    rest = list(groups)
    placed: list[list[int] | None] = []
    for fixed in held:
        match = next((group for group in rest if fixed and set(fixed) <= set(group)), None)
        placed.append(match)
        if match is not None:
            rest.remove(match)
    return [group if group is not None else rest.pop(0) for group in placed]


def _finish(
    cells: list[int],
    labels: list[Hashable],
    resistance: Sequence[float | None],
    held: Sequence[tuple[int, ...]],
    groups: list[list[int]],
    found: Found,
    resistance_slack: float,
    allowed: Allowed = lambda _: True,
) -> Grouping:
    fixed = [set(group) for group in held]
    used = {i for group in groups for i in group}
    spare = sorted((i for i in range(len(cells)) if i not in used), key=lambda i: (cells[i], resistance[i] or 0.0, i))
    narrow_spread(cells, groups, spare, fixed, labels, allowed)
    known = {i: value for i in (i for g in groups for i in g) if (value := resistance[i]) is not None and value > 0}
    all_known = all(i in known for group in groups for i in group)
    if all_known and resistance_slack > 0:
        conductance = [1 / known[i] if i in known else 0.0 for i in range(len(cells))]
        floor = -(-found.smallest * (1000 - round(1000 * resistance_slack)) // 1000)
        roof = max(sum(cells[i] for i in group) for group in groups)
        roof = max(roof, round(found.smallest * (1 + resistance_slack)))
        even_resistance(cells, conductance, groups, floor, roof, fixed, labels, allowed)
    if not any(held):
        groups.sort(key=lambda group: (-sum(cells[i] for i in group), sorted(group)))
    sums = tuple(sum(cells[i] for i in group) for group in groups)
    group_resistance = tuple(1 / sum(1 / known[i] for i in group) for group in groups) if all_known else None
    final = {i for group in groups for i in group}
    return Grouping(
        groups=tuple(tuple(sorted(group, key=lambda i: (-cells[i], i))) for group in groups),
        group_capacity_mah=sums,
        smallest_mah=min(sums),
        optimum_mah=found.smallest,
        bound_mah=found.ceiling,
        proven=found.proven,
        reason=found.reason,
        left_over=tuple(i for i in range(len(cells)) if i not in final),
        spread_mah=max(sums) - min(sums),
        group_resistance_ohm=group_resistance,
        steps_used=found.steps_used,
    )
