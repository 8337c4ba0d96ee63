"""Which mistakes would the tests notice? `python -m tests.bench.mutation_run physics checks storage` (by hand; long).

Works in a copy of the tree (`--tree`), never in the tree it is started from. One run of the tests with coverage tells which test
passes which line; then a seeded sample of mistakes is put in, one at a time, and the tests that pass the line are run, quickest
first, until one fails. What survives is run against every test that passes the module. `--again` tries only the survivors of the last
time, with the tests as they are now.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from functools import partial
from pathlib import Path

import pytest

from tests.bench.mutants import Mutant, mutants_of
from tests.bench.mutation_map import Passed, map_tests
from tests.bench.mutation_try import exchange, on_disk, passes, run_afresh, run_collected

ROOT = Path(__file__).resolve().parent.parent.parent
EQUIVALENT = Path("tests/bench/mutants_equivalent.toml")
COVERED_BY = {
    "physics": ("test_physics_", "test_grouping_", "test_log_", "test_published", "test_workings_", "test_mutants_physics",
                "test_own_curve", "test_branches_", "test_mutants_frozen"),
    "checks": ("test_checks_", "test_unmarked_", "test_engine", "test_mistakes", "test_judge_again", "test_mutants_checks",
               "test_bench_review", "test_mutants_frozen"),
    "storage": ("test_storage_", "test_checklist", "test_cell_list", "test_log_data", "test_mutants_storage",
                "test_mutants_frozen")}
"""Beginnings of the names of the test files that are about a package."""
LEFT_OUT = ("test_storage_kill", "test_storage_fuzz", "test_storage_worst", "test_checklists_page", "test_checklists_retrofits")
"""They start processes or read thousands of files: too slow to be run for each mutant."""
OF_WHOLE_PACKAGES = "tests/test_mutants_frozen"
PATIENCE = 5.0
"""A mutant's tests may take so many times their usual processor time, and 20 s; beyond that it hangs, which is noticed too."""


def copy_tree(tree: Path) -> None:
    """A copy of what the tests need."""
    tree.mkdir(parents=True, exist_ok=True)
    for name in ("buildtrack", "checklists", "sample_builds", "tests"):
        shutil.rmtree(tree / name, ignore_errors=True)
        shutil.copytree(ROOT / name, tree / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy2(ROOT / name, tree / name)


Chosen = list[tuple[str, Mutant]]


def every_mutant(tree: Path, package: str) -> Chosen:
    """All mutants of a package, in the order of the files."""
    return [(path.relative_to(tree).as_posix(), mutant) for path in sorted((tree / "buildtrack" / package).glob("*.py"))
            for mutant in mutants_of(path.read_text(encoding="utf-8"))]


def sample(every: Chosen, package: str, count: int, seed: int) -> Chosen:
    """A seeded choice of them."""
    chosen = random.Random(f"{package} {seed}").sample(range(len(every)), min(count, len(every)))
    return [every[n] for n in sorted(chosen)]


def same_again(every: Chosen, before: Counter[tuple[str, str]]) -> Chosen:
    """Those that were chosen last time, as far as the sources still have them, by their names."""
    left, found = Counter(before), []
    for path, mutant in every:
        if left[path, mutant.called] > 0:
            left[path, mutant.called] -= 1
            found.append((path, mutant))
    return found


class Equivalents:
    """Mutants that change nothing anybody could see, each with the reason a person gave."""

    def __init__(self, text: str) -> None:
        told = tomllib.loads(text)
        self.single = {(row["file"], row["mutant"]): row["reason"] for row in told["mutants"]}
        self.kinds = [(re.compile(row["pattern"]), row["reason"]) for row in told["kinds"]]

    def reason(self, path: str, called: str) -> str:
        """Why this one is equivalent; empty where it is not known to be."""
        found = (reason for pattern, reason in self.kinds if pattern.fullmatch(called))
        return self.single.get((path, called)) or next(found, "")


class Trier:
    """A pytest plugin that, instead of running the tests, tries the mutants of a package on them."""

    def __init__(self, asked: argparse.Namespace) -> None:
        self.asked, self.tree, self.package = asked, Path.cwd(), str(asked.packages[0])
        self.passed = Passed({}, {})
        self.items: dict[str, pytest.Item] = {}

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Everything is collected: map, then try."""
        self.items = {item.nodeid: item for item in session.items}
        self.passed = map_tests(self.tree, self.package, session.items)
        self.try_all()
        return True

    def try_all(self) -> None:
        """Try the sample; print what survives at once, then the figures."""
        known = Equivalents(EQUIVALENT.read_text(encoding="utf-8"))
        book = self.tree.parent / f"{self.package}-{self.asked.seed}.json"
        last = [tuple(row) for row in json.loads(book.read_text())] if self.asked.again else []
        before = {(path, called): outcome for path, called, outcome in last}
        every = every_mutant(self.tree, self.package)
        chosen = (same_again(every, Counter((path, called) for path, called, _ in last)) if last
                  else sample(every, self.package, self.asked.count, self.asked.seed))
        rows: list[tuple[str, str, str]] = []
        begun = time.monotonic()
        for path, mutant in chosen:
            key = (path, mutant.called)
            outcome = before.get(key, "")
            if outcome != "killed":
                outcome = self.judge(path, mutant)
            if outcome != "killed" and known.reason(*key):
                outcome = "equivalent"
            rows.append((*key, outcome))
            if outcome not in ("equivalent", "killed"):
                print(f"{outcome:<10} {path}:{mutant.line}  {mutant.called}", flush=True)
            book.write_text(json.dumps(rows, indent=0))
        count = {o: sum(row[2] == o for row in rows) for o in ("killed", "survived", "not passed", "equivalent")}
        share = count["killed"] / max(len(rows) - count["equivalent"], 1)
        told = ", ".join(f"{n} {o}" for o, n in count.items())
        print(f"== {self.package}, seed {self.asked.seed}: {len(rows)} mutants: {told}; {share:.1%} of those that matter are "
              f"killed ({time.monotonic() - begun:.0f} s)", flush=True)

    def judge(self, path: str, mutant: Mutant) -> str:
        """`killed`, or how it survived: `not passed` where no test passes its line, else `survived`."""
        near, far = self.passed.near(path, mutant), self.passed.far(path)
        if not mutant.runs:  # what works on import is passed before any test; tests of whole packages look at it
            near = [t for t in self.passed.seconds if t.startswith(OF_WHOLE_PACKAGES)] + (near or far)
        sound = (self.tree / path).read_text(encoding="utf-8")
        with on_disk(self.tree / path, mutant):
            for tests in (near, [t for t in far if t not in set(near)]):
                tests, usual = self.passed.within(tests, self.asked.budget)
                if tests and not passes(partial(self.work, path, mutant, sound, tests), usual * PATIENCE + 20.0):
                    return "killed"
        return "survived" if near else "not passed"

    def work(self, path: str, mutant: Mutant, sound: str, tests: list[str]) -> int:
        """In the fork: the mistake is put in, and the tests are run."""
        module = path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
        if exchange(self.tree / path, module, mutant, sound):
            return run_collected([self.items[t] for t in tests])
        return run_afresh(tests)


def main() -> None:
    """Read the command, copy, and go on in the copy, one package after the other."""
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.bench.mutation_run")
    parser.add_argument("packages", nargs="*", default=["physics", "checks", "storage"])
    parser.add_argument("--count", type=int, default=250, help="mutants a package")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--budget", type=float, default=30.0, help="s of the processor for the tests of one mutant")
    parser.add_argument("--tree", type=Path, default=Path(tempfile.gettempdir(), "mutants", "tree"), help="where the copy goes")
    parser.add_argument("--again", action="store_true", help="only those that were not killed last time")
    asked = parser.parse_args()
    if asked.tree.resolve() != ROOT:
        copy_tree(asked.tree)
        away = asked.tree.parent / "away"
        environment = {**os.environ, "PYTHONPATH": str(asked.tree), "BUILDTRACK_STATE": str(away / "state"),
                       "BUILDTRACK_CONFIG": str(away / "config")}
        more = [a for a in sys.argv[1:] if a not in asked.packages]
        for package in asked.packages:
            subprocess.run([sys.executable, "-m", "tests.bench.mutation_run", package, *more],
                           cwd=asked.tree, env=environment, check=False)
        return
    files = sorted(f"tests/{p.name}" for p in (ROOT / "tests").glob("test_*.py")
                   if p.name.startswith(COVERED_BY[asked.packages[0]]) and not p.name.startswith(LEFT_OUT))
    os.chdir(ROOT)
    pytest.main(["-q", "-s", "--no-header", *files], plugins=[Trier(asked)])


if __name__ == "__main__":
    main()
