"""How long the grouping of real lots takes, and whether it is proven."""

from __future__ import annotations

import json
import time
from pathlib import Path
from random import Random

from buildtrack.physics.grouping import best_grouping

INSTANCES = Path(__file__).resolve().parent.parent / "data" / "grouping_instances.json"


def seconds_and_proof(cells: list[int], series: int, parallel: int) -> tuple[float, bool, int]:
    """Processor seconds of one grouping, whether it is proven, and its smallest group."""
    start = time.process_time()
    answer = best_grouping(cells, series, parallel)
    return time.process_time() - start, answer.proven, answer.smallest_mah


def measure() -> list[tuple[str, float, str, str]]:
    """Slowest benchmark instance, instances at their proven optimum, and hard and large lots."""
    instances = json.loads(INSTANCES.read_text(encoding="utf-8"))["instances"]
    results = [(seconds_and_proof(e["cells_mAh"], e["S"], e["P"]), e["optimum_max_min_mAh"]) for e in instances]
    forty = next(result for result, e in zip(results, instances, strict=True) if (e["S"], e["P"]) == (10, 4))
    best = sum(proven and smallest == optimum for (_, proven, smallest), optimum in results)
    rows = [
        ("grouping: benchmark lots at their proven optimum", 100.0 * best / len(results), "%", "100 %"),
        ("grouping: slowest benchmark lot", max(seconds for (seconds, _, _), _ in results), "s", "under 2 s"),
        ("grouping: 40 cells as 10 groups of 4, proven", forty[0][0], "s", "under 1 s"),
    ]
    random = Random("large")
    large = [round(random.gauss(2400, 250)) for _ in range(200)]
    rows.append(("grouping: 200 cells as 20 groups of 10", seconds_and_proof(large, 20, 10)[0], "s", "under 2 s"))
    slowest, gap = 0.0, 0.0
    for number in range(8):
        random = Random(f"two populations {number}")
        cells = [round(random.gauss(random.choice((1900, 2700)), 60)) for _ in range(40)]
        start = time.process_time()
        answer = best_grouping(cells, 10, 4)
        slowest = max(slowest, time.process_time() - start)
        gap = max(gap, 100 * (answer.bound_mah / answer.optimum_mah - 1))
    rows.append(("grouping: slowest of 8 lots from two populations", slowest, "s", "under 2 s"))
    rows.append(("grouping: largest gap to the bound in these", gap, "%", "stated, not held"))
    return rows
