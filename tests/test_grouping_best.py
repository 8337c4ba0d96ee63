"""Grouping: every benchmark instance at its proven optimum, small lots against brute force and an integer program."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from itertools import combinations
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from buildtrack.physics.grouping import Grouping, GroupingError, best_grouping

INSTANCES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "data" / "grouping_instances.json").read_text(encoding="utf-8")
)["instances"]


def smallest_by_brute_force(cells: list[int], series: int, parallel: int) -> int:
    """Largest smallest group sum over all partitions of the largest cells, every one tried."""
    chosen = sorted(cells, reverse=True)[: series * parallel]

    @cache
    def best(open_cells: int) -> int:
        if not open_cells:
            return 10**9
        first = (open_cells & -open_cells).bit_length() - 1
        others = [k for k in range(len(chosen)) if open_cells >> k & 1 and k != first]
        found = -1
        for part in combinations(others, parallel - 1):
            rest = open_cells & ~(1 << first)
            for k in part:
                rest &= ~(1 << k)
            found = max(found, min(chosen[first] + sum(chosen[k] for k in part), best(rest)))
        return found

    return best((1 << len(chosen)) - 1)


def smallest_by_integer_program(cells: list[int], series: int, parallel: int) -> int:
    """The same by mixed-integer linear programming: x[g, c] in {0, 1}, maximise t <= every group sum."""
    count = len(cells)
    size = series * count + 1
    cost = np.zeros(size)
    cost[-1] = -1
    rows = []
    low: list[float] = []
    high: list[float] = []
    for c in range(count):
        row = np.zeros(size)
        row[c : series * count : count] = 1
        rows.append(row)
        low.append(0)
        high.append(1)
    for g in range(series):
        row = np.zeros(size)
        row[g * count : (g + 1) * count] = 1
        rows.append(row)
        low.append(parallel)
        high.append(parallel)
        row = np.zeros(size)
        row[g * count : (g + 1) * count] = cells
        row[-1] = -1
        rows.append(row)
        low.append(0)
        high.append(np.inf)
    upper = np.ones(size)
    upper[-1] = np.inf
    whole = np.ones(size)
    whole[-1] = 0
    answer = milp(
        cost,
        constraints=LinearConstraint(np.array(rows), low, high),
        bounds=Bounds(np.zeros(size), upper),
        integrality=whole,
        options={"mip_rel_gap": 0},
    )
    assert answer.status == 0
    return round(float(-answer.fun))


def random_lot(seed: int) -> tuple[list[int], int, int]:
    random = Random(seed)
    series, parallel = random.choice([(2, 3), (3, 3), (4, 3), (2, 4), (3, 4), (2, 5), (2, 6), (5, 2), (6, 2), (6, 1)])
    draws: list[Callable[[], int]] = [
        lambda: random.randint(1, 9),
        lambda: round(random.gauss(2400, 250)),
        lambda: round(random.gauss(random.choice((1900, 2700)), 60)),
        lambda: 10 * random.randint(200, 260),
        lambda: random.randint(0, 1) * 500 + 1000,
    ]
    draw = draws[seed % 5]
    return [draw() for _ in range(series * parallel + random.randint(0, 3))], series, parallel


def two_populations() -> list[int]:
    """Cells around 1900 and 2700 mAh, whose mean no grouping can reach: a hard lot."""
    random = Random("two540")
    return [max(1, round(random.gauss(random.choice((1900, 2700)), 60))) for _ in range(20)]


def check_parts(answer: Grouping, cells: list[int], series: int, parallel: int) -> None:
    used = [index for group in answer.groups for index in group]
    assert [len(group) for group in answer.groups] == [parallel] * series
    assert sorted([*used, *answer.left_over]) == list(range(len(cells)))
    assert answer.group_capacity_mah == tuple(sum(cells[i] for i in group) for group in answer.groups)
    assert answer.smallest_mah == min(answer.group_capacity_mah) <= answer.optimum_mah <= answer.bound_mah
    assert answer.spread_mah == max(answer.group_capacity_mah) - min(answer.group_capacity_mah)


@pytest.mark.parametrize("instance", INSTANCES, ids=lambda instance: f"{instance['S']}x{instance['P']}")
def test_every_benchmark_instance_is_at_its_optimum_and_proven(instance: dict[str, Any]) -> None:
    answer = best_grouping(instance["cells_mAh"], instance["S"], instance["P"])
    assert (answer.smallest_mah, answer.proven) == (instance["optimum_max_min_mAh"], True)
    assert "proven best" in answer.sentence
    check_parts(answer, instance["cells_mAh"], instance["S"], instance["P"])


def test_the_benchmark_file_says_how_its_cells_were_drawn() -> None:
    for instance in INSTANCES:
        if "gauss" in instance.get("generator", "random.gauss") and instance["P"] > 1:
            random = Random(instance["seed"])
            drawn = [max(1, round(random.gauss(2400, 250))) for _ in range(instance["N"])]
            assert drawn == instance["cells_mAh"]


@pytest.mark.parametrize("seed", range(120))
def test_small_lots_agree_with_brute_force(seed: int) -> None:
    cells, series, parallel = random_lot(seed)
    answer = best_grouping(cells, series, parallel)
    assert (answer.smallest_mah, answer.proven) == (smallest_by_brute_force(cells, series, parallel), True)
    check_parts(answer, cells, series, parallel)


@pytest.mark.parametrize("seed", range(12))
def test_lots_with_spare_cells_agree_with_an_integer_program(seed: int) -> None:
    cells, series, parallel = random_lot(1000 + seed)
    assert best_grouping(cells, series, parallel).smallest_mah == smallest_by_integer_program(cells, series, parallel)


def test_two_cells_per_group_are_largest_with_smallest() -> None:
    answer = best_grouping([1948, 1935, 1902, 1887, 1864, 1851], 3, 2)
    assert sorted(map(sorted, answer.groups)) == [[0, 5], [1, 4], [2, 3]]
    assert (answer.smallest_mah, answer.spread_mah, answer.proven) == (3789, 10, True)


def test_where_steps_end_first_the_answer_gives_the_bound() -> None:
    cells = two_populations()
    answer = best_grouping(cells, 5, 4, steps=20_000)
    assert not answer.proven
    assert answer.sentence == (f"best found {answer.optimum_mah} mAh, not more than {answer.bound_mah} mAh is possible")
    assert answer.optimum_mah < answer.bound_mah <= sum(cells) // 5


def test_a_stop_ends_the_search_and_still_gives_a_grouping() -> None:
    cells = two_populations()
    answer = best_grouping(cells, 5, 4, stop=lambda: True)
    assert not answer.proven
    check_parts(answer, cells, 5, 4)


def test_readings_rounded_to_ten_are_proven_to_the_ten() -> None:
    random = Random(3)
    cells = [10 * round(random.gauss(240, 25)) for _ in range(35)]
    answer = best_grouping(cells, 7, 5)
    assert answer.proven
    assert answer.bound_mah % 10 == 0


def test_spread_is_narrowed_with_a_spare_cell_and_without_loss() -> None:
    answer = best_grouping([3000, 1000, 1000, 1000, 900, 1400], 2, 2)
    assert answer.smallest_mah == 2400
    assert answer.spread_mah == 1500
    wide = best_grouping([2000, 2000, 2000, 1500, 1500], 2, 2)
    assert (wide.smallest_mah, wide.spread_mah) == (3500, 0)


def test_resistances_are_evened_within_half_a_per_cent_of_the_best_capacity() -> None:
    instance = next(entry for entry in INSTANCES if (entry["S"], entry["P"]) == (10, 4))
    random = Random(5)
    ohms = [random.gauss(0.050, 0.005) for _ in instance["cells_mAh"]]
    plain = best_grouping(instance["cells_mAh"], 10, 4)
    even = best_grouping(instance["cells_mAh"], 10, 4, resistances_ohm=ohms)
    assert even.optimum_mah == plain.smallest_mah
    assert even.smallest_mah >= 0.995 * even.optimum_mah - 1
    assert even.group_resistance_ohm is not None
    before = [1 / sum(1 / ohms[i] for i in group) for group in plain.groups]
    after = even.group_resistance_ohm
    assert max(after) - min(after) < 0.25 * (max(before) - min(before))
    assert f"{even.smallest_mah} mAh chosen for even resistances" in even.sentence


def test_one_missing_resistance_leaves_the_capacity_order() -> None:
    answer = best_grouping([2000, 1900, 1800, 1700], 2, 2, resistances_ohm=[0.05, None, 0.06, 0.07])
    assert answer.group_resistance_ohm is None


def test_cells_kept_apart_never_share_a_pack() -> None:
    cells = [2500, 2500, 2500, 2500, 2000, 2000, 2000, 2000, 2000, 2000]
    labels = ["new"] * 4 + ["old"] * 6
    answer = best_grouping(cells, 3, 2, keep_apart=labels)
    assert {labels[i] for group in answer.groups for i in group} == {"old"}
    assert answer.smallest_mah == 4000
    with pytest.raises(GroupingError, match="no kind of cell has the 8 cells needed"):
        best_grouping(cells, 4, 2, keep_apart=labels)


def test_cells_kept_apart_in_the_group_may_share_the_pack() -> None:
    cells = [2500, 2500, 2500, 2500, 2000, 2000, 2000, 2000, 2000, 2000]
    labels = ["new"] * 4 + ["old"] * 6
    answer = best_grouping(cells, 4, 2, keep_apart=labels, apart_in="group")
    assert all(len({labels[i] for i in group}) == 1 for group in answer.groups)
    assert (answer.smallest_mah, answer.proven) == (4000, True)


def test_locked_cells_stay_in_their_group() -> None:
    cells = [2000, 2010, 2020, 2030, 2040, 2050, 2060, 2070, 2080]
    answer = best_grouping(cells, 3, 3, locked=[(), (0, 1)])
    assert {0, 1} <= set(answer.groups[1])
    assert answer.proven
    free = [k for k in range(9) if k not in (0, 1)]
    best = 0
    for last in free:
        rest = [k for k in free if k != last]
        for part in combinations(rest[1:], 2):
            one = cells[rest[0]] + sum(cells[k] for k in part)
            other = sum(cells[k] for k in rest) - one
            best = max(best, min(cells[0] + cells[1] + cells[last], one, other))
    assert answer.smallest_mah == best


@pytest.mark.parametrize(
    ("cells", "series", "parallel", "options", "words"),
    [
        ([2000, 1900], 2, 2, {}, "2 groups of 2 need 4 cells; there are 2"),
        ([2000, 0], 1, 2, {}, "cell 2: capacity 0 mAh"),
        ([2000, float("nan")], 1, 2, {}, "cell 2: capacity nan"),
        ([2000, 1900], 0, 2, {}, "both counts must be at least 1"),
        ([2000, 1900], 1, 2, {"locked": [(0, 0)]}, "locked twice"),
        ([2000, 1900], 1, 2, {"locked": [(5,)]}, "not in the list of 2"),
        ([2000, 1900], 1, 2, {"locked": [(0,), (1,)]}, "lock at most 1"),
        ([2000, 1900], 1, 2, {"keep_apart": ["a"]}, "1 labels for 2 cells"),
        ([2000, 1900], 1, 2, {"resistances_ohm": [0.1]}, "1 resistances for 2 cells"),
        ([2000, 1900], 1, 2, {"apart_in": "room"}, "keep apart in"),
        ([2000, 1900, 1800, 1700], 2, 2, {"keep_apart": ["a", "b", "a", "b"], "locked": [(0, 1)]}, "different labels"),
    ],
)
def test_what_cannot_be_grouped_is_refused_in_words(
    cells: list[float], series: int, parallel: int, options: dict[str, Any], words: str
) -> None:
    with pytest.raises(GroupingError, match=words):
        best_grouping(cells, series, parallel, **options)
