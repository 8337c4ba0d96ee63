"""`python3 tests` sets up on first use and runs the whole test suite; `python3 tests bench` prints the benchmarks."""

from __future__ import annotations

import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[0] = str(ROOT)

from buildtrack.first_start import start  # noqa: E402  (the path had to be set first)

os.chdir(ROOT)
if sys.argv[1:2] == ["bench"]:
    start(ROOT, "test", ["-m", "tests.bench", *sys.argv[2:]])
# a test of the screen waits for half of its time until the program rests: with one more for two cores they are busy
cores = len(os.sched_getaffinity(0))
start(ROOT, "test", ["-m", "pytest", "-n", str(cores + (cores + 1) // 2), *sys.argv[1:]])
