"""`python3 tests bench [NAME...]` prints every figure of the design's table, measured in one run."""

from __future__ import annotations

import sys
from importlib import import_module
from inspect import signature
from pathlib import Path

HERE = Path(__file__).resolve().parent


def rooms(wanted: list[str]) -> list[str]:
    """Benchmark modules of this folder, or those whose names begin as wanted."""
    names = sorted(p.stem for p in HERE.glob("*_bench.py"))
    return [n for n in names if not wanted or any(n.startswith(w) for w in wanted)]


def main(wanted: list[str]) -> int:
    """Run and print; a benchmark that fails is named and the rest goes on."""
    failed = 0
    print(f"{'what':<72} {'measured':>12}  {'':<8} hold")
    for name in rooms(wanted):
        module = import_module(f"tests.bench.{name}")
        measure = getattr(module, "measure", None)
        if measure is None or signature(measure).parameters:
            # one that prints for itself; the long run of killed processes is started by its own name
            if hasattr(module, "main") and not signature(module.main).parameters:
                print(f"-- {name}", flush=True)
                module.main()
            continue
        try:
            rows = measure()
        except (AssertionError, ValueError, OSError) as error:
            failed += 1
            print(f"{name:<72} failed: {error}", flush=True)
            continue
        for what, value, unit, hold in rows:
            print(f"{what[:72]:<72} {value:>12.3f}  {unit:<8} {hold}", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
