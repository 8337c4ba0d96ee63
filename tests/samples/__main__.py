"""`python -m tests.samples` writes the sample builds afresh."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from tests.samples.write import write_all

if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parents[2] / "sample_builds"
    for old in target.glob("*_files"):
        shutil.rmtree(old)
    for path, verdict in write_all(target):
        print(f"{path.name}: {verdict}")
