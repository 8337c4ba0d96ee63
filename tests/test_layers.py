"""Arrows point one way, and what starts quickly stays quick: proven, not promised."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "NO_COLOR": "1"}
    return subprocess.run([sys.executable, *arguments], cwd=ROOT, env=environment, capture_output=True, text=True,
                          check=False)


def test_the_layering_contract_holds() -> None:
    done = run("-c", "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True))")
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-2000:]
    assert "3 kept, 0 broken" in done.stdout


HEAVY = ("weasyprint", "tomlkit", "pint", "numpy", "scipy", "jinja2")


@pytest.mark.parametrize("module", ["buildtrack.bench", "buildtrack.bench.app", "buildtrack.judging", "buildtrack.cli"])
def test_starting_loads_no_heavy_library(module: str) -> None:
    code = f"import sys, {module}; print([m for m in {HEAVY!r} if m in sys.modules])"
    assert run("-c", code).stdout.strip() == "[]"


def test_opening_a_build_loads_no_heavy_library() -> None:
    code = (
        "import sys; from pathlib import Path; from buildtrack.console.common import load;"
        "load(sorted(Path('sample_builds').glob('*.toml'))[0]);"
        f"print([m for m in {HEAVY!r} if m in sys.modules])")
    assert run("-c", code).stdout.strip() == "[]"


def test_the_command_line_itself_loads_no_screen() -> None:
    assert run("-c", "import sys, buildtrack.cli; print('textual' in sys.modules)").stdout.strip() == "False"


def test_ruff_finds_nothing() -> None:
    done = run("-m", "ruff", "check", "--no-cache", "buildtrack", "tests")
    assert done.returncode == 0, done.stdout[-3000:]


def test_mypy_strict_finds_nothing_in_the_package_or_its_tests() -> None:
    done = run("-m", "mypy", "--strict", "--no-incremental", "--cache-dir", os.devnull, "buildtrack", "tests")
    assert done.returncode == 0, done.stdout[-3000:]


def test_the_top_level_holds_what_was_agreed() -> None:
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.split()
    if not tracked:
        tracked = [p.name for p in ROOT.iterdir()]
    top = {name.split("/")[0] for name in tracked}
    agreed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "buildtrack", "checklists", "tests", "sample_builds"}
    assert {t for t in top if not t.startswith(".")} <= agreed
