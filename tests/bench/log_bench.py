"""How long a log of a million rows takes against a bare pass of the csv reader, and how much memory."""

from __future__ import annotations

import csv
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from statistics import median

from buildtrack.physics.logs import read_log

ROWS = 1_000_000


def write_log(path: Path, rows: int) -> None:
    """An invented discharge: time, pack voltage and current, one row a second."""
    with path.open("w", encoding="utf-8") as file:
        file.write("time_s,voltage_V,current_A\n")
        for k in range(rows):
            file.write(f"{k},{12.6 - 4 * k / rows + 0.001 * (k % 7):.4f},{2 + 0.001 * (k % 5):.4f}\n")


def bare_pass(path: Path) -> int:
    """Read all rows with the csv reader and do nothing with them."""
    with path.open(encoding="utf-8", newline="") as file:
        return sum(1 for _ in csv.reader(file))


def seconds(task: Callable[[], object]) -> float:
    """Processor seconds of one run."""
    start = time.process_time()
    task()
    return time.process_time() - start


def measure() -> list[tuple[str, float, str, str]]:
    """Ratio to the bare pass, and peak memory of the reading."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        write_log(path, ROWS)
        # In turn, so that a busy machine slows both alike.
        pairs = [(seconds(lambda: read_log(path)), seconds(lambda: bare_pass(path))) for _ in range(5)]
        ratio = median(read / bare for read, bare in pairs)
        tracemalloc.start()
        log = read_log(path)
        peak = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
    return [
        ("log: 1,000,000 rows against a bare csv.reader pass", ratio, "x", "under 3"),
        ("log: peak memory while reading them", peak, "MB", "under 50, whatever the length"),
        ("log: rows used", float(log.used), "rows", "1,000,000"),
    ]
