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
start(ROOT, "test", ["-m", "pytest", "-n", "auto", *sys.argv[1:]])
