"""Branch coverage of physics, checks and storage by their own tests: `python -m tests.bench.coverage_run [PACKAGE...]`.

By hand: it takes some minutes a package. It prints the share of branches and lines of each
package and every file below the aim, and ends with 1 where a package is below it. The tests run with fewer hypothesis
examples than usual; long runs (killed processes, retrofits to their end) are left out.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
AIM = 0.90
"""Least share of branches in each package."""
TESTS = {
    "physics": ("physics*", "grouping_*", "log_*", "published", "data_tables", "workings_discharge", "bench_live",
                "mutants_physics*", "branches_*", "own_curve", "checklists_chemistry"),
    "checks": ("checks*", "rules*", "engine", "mistakes", "record_trust", "bench_review", "mutants_checks*",
               "branches_*"),
    "storage": ("storage*", "checklist*", "cell_list", "log_data", "mutants_storage*", "branches_*"),
}
LEFT_OUT = ("kill", "fuzz", "worst", "retrofits", "page")


def test_files(package: str) -> list[str]:
    """The test files that belong to a package."""
    found = {p for pattern in TESTS[package] for p in (ROOT / "tests").glob(f"test_{pattern}.py")}
    return sorted(str(p.relative_to(ROOT)) for p in found if not any(word in p.stem for word in LEFT_OUT))


def measured(package: str, folder: Path) -> dict[str, dict[str, int]]:
    """Counts of every file of a package, after its tests have run under coverage."""
    data = folder / package
    env = {**os.environ, "COVERAGE_FILE": str(data), "PYTHONPATH": f"{ROOT}{os.pathsep}{folder}"}
    (folder / "few_examples.py").write_text(
        "from hypothesis import settings\n"
        "settings.register_profile('few', max_examples=20, deadline=None)\nsettings.load_profile('few')\n", encoding="utf-8")
    coverage = [sys.executable, "-m", "coverage"]
    subprocess.run([*coverage, "run", "--branch", f"--source=buildtrack/{package}", "-m", "pytest", "-q", "-p", "few_examples",
                    *test_files(package)], cwd=ROOT, env=env, check=False)
    subprocess.run([*coverage, "json", "-q", "-o", f"{data}.json"], cwd=ROOT, env=env, check=True)
    found = json.loads(Path(f"{data}.json").read_text(encoding="utf-8"))
    return {name: body["summary"] for name, body in found["files"].items()}


def _share(rows: list[dict[str, int]], done: str, of: str) -> float:
    return sum(r[done] for r in rows) / max(1, sum(r[of] for r in rows))


def main(packages: list[str]) -> int:
    """Measure and print; 1 where a package is below the aim."""
    below = 0
    with tempfile.TemporaryDirectory() as name:
        for package in packages or TESTS:
            files = measured(package, Path(name))
            branches = _share([*files.values()], "covered_branches", "num_branches")
            lines = _share([*files.values()], "covered_lines", "num_statements")
            below += branches < AIM
            print(f"{package}: {branches:.1%} of the branches, {lines:.1%} of the lines", flush=True)
            for file, body in sorted(files.items()):
                if _share([body], "covered_branches", "num_branches") < AIM and body["num_branches"]:
                    print(f"  {file}: {body['covered_branches']} of {body['num_branches']}", flush=True)
    return 1 if below else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
