"""`python -m tests.samples.retrofits` writes the small sample builds afresh."""

from __future__ import annotations

import sys
from pathlib import Path

from tests.samples.retrofits.write import write_all

if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parents[3] / "sample_builds"
    for path, verdict in write_all(target):
        print(f"{path.name}: {verdict}")
