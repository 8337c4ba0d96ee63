"""Which test passes which line, and how long each takes: coverage with each test a context of its own."""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import coverage
import pytest
from _pytest.runner import runtestprotocol

from tests.bench.mutants import Mutant
from tests.bench.mutation_try import passes

AN_HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class Passed:
    """Which tests pass a line, and how long each took, in s of the processor."""

    lines: dict[str, dict[int, list[str]]]
    seconds: dict[str, float]

    def near(self, path: str, mutant: Mutant) -> list[str]:
        """Tests that pass a line of the mutant, quickest first."""
        lines = self.lines.get(path, {})
        return self._quickest(t for n in range(mutant.line, mutant.last_line + 1) for t in lines.get(n, ()))

    def far(self, path: str) -> list[str]:
        """Every test that passes any line of the module, quickest first."""
        return self._quickest(t for tests in self.lines.get(path, {}).values() for t in tests)

    def _quickest(self, tests: Iterable[str]) -> list[str]:
        return sorted(set(tests), key=lambda t: (self.seconds.get(t, 0.0), t))

    def within(self, tests: list[str], budget_s: float) -> tuple[list[str], float]:
        """The quickest tests that together take no more than the budget, and what they usually take."""
        kept: list[str] = []
        total = 0.0
        for test in tests:
            if kept and total + self.seconds.get(test, 0.0) > budget_s:
                break
            total += self.seconds.get(test, 0.0)
            kept.append(test)
        return kept, total


def map_tests(tree: Path, package: str, items: list[pytest.Item]) -> Passed:
    """The map of these tests; test files that have not changed since the last map in this tree are not run again."""
    out = tree.parent / f"map-{package}.json"
    told = json.loads(out.read_text()) if out.exists() else {"files": {}, "seconds": {}, "lines": {}}
    hashes = {f: hashlib.sha256((tree / f).read_bytes()).hexdigest() for f in {_file(i.nodeid) for i in items}}
    stale = {f for f, found in hashes.items() if told["files"].get(f) != found}
    told["seconds"] = {t: s for t, s in told["seconds"].items() if _file(t) in hashes.keys() - stale}
    for found in told["lines"].values():
        for n, tests in found.items():
            found[n] = [t for t in tests if t in told["seconds"]]
    new = [i for i in items if _file(i.nodeid) in stale]
    print(f"-- {package}: {len(items)} tests, {len(new)} of them to be mapped", flush=True)
    if new:
        part = out.with_suffix(".new")
        if not passes(lambda: _map(tree, package, new, part), AN_HOUR_S, AN_HOUR_S):
            raise SystemExit("the tests could not be mapped")
        more = json.loads(part.read_text())
        for test in more["failed"]:
            print(f"fails without a mistake and is left out: {test}", flush=True)
        told["seconds"] |= more["seconds"]
        for path, found in more["lines"].items():
            known = told["lines"].setdefault(path, {})
            for n, tests in found.items():
                known[n] = known.get(n, []) + tests
        told["files"] = hashes
        out.write_text(json.dumps(told))
    return Passed({p: {int(n): t for n, t in found.items()} for p, found in told["lines"].items()}, told["seconds"])


def _file(test: str) -> str:
    return test.partition("::")[0]


def _map(tree: Path, package: str, items: list[pytest.Item], out: Path) -> int:
    watching = coverage.Coverage(data_file=None, include=[str(tree / "buildtrack" / package / "*")])
    watching.start()
    seconds: dict[str, float] = {}
    failed: list[str] = []
    for item, after in zip(items, [*items[1:], None], strict=True):
        begun = time.process_time()
        watching.switch_context(item.nodeid)
        reports = runtestprotocol(item, log=False, nextitem=after)
        if any(report.failed for report in reports):
            failed.append(item.nodeid)
        else:
            seconds[item.nodeid] = round(time.process_time() - begun, 3)
    watching.stop()
    data = watching.get_data()
    lines = {Path(file).relative_to(tree).as_posix():
             {n: [c for c in contexts if c in seconds] for n, contexts in data.contexts_by_lineno(file).items()}
             for file in data.measured_files()}
    out.write_text(json.dumps({"seconds": seconds, "lines": lines, "failed": failed}))
    return 0
