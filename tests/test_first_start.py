"""The set-up names every system library that the PDF needs, and asks for nothing twice."""

from __future__ import annotations

import re
from importlib.util import find_spec
from pathlib import Path

import pytest

from buildtrack import first_start

ROOT = Path(__file__).resolve().parent.parent


def loaded_by_weasyprint() -> dict[str, bool]:
    """Shared libraries that weasyprint opens, by their Linux name; True where it can do without."""
    spec = find_spec("weasyprint")
    assert spec is not None and spec.submodule_search_locations
    text = (Path(spec.submodule_search_locations[0]) / "text" / "ffi.py").read_text(encoding="utf-8")
    found: dict[str, bool] = {}
    for call in re.findall(r"_dlopen\(\s*ffi,(.*?)\)", text, re.DOTALL):
        for name in re.findall(r"'(lib[^']+\.so\.\d+)'", call):
            found[name] = "allow_fail=True" in call
    return found


def test_every_library_weasyprint_loads_is_in_the_list() -> None:
    loaded = loaded_by_weasyprint()
    assert len(loaded) >= 5, "weasyprint loads its libraries in another way now: look again"
    needed = {name for name, optional in loaded.items() if not optional}
    assert needed <= set(first_start.SHARED_LIBRARIES)


def test_nothing_is_asked_for_that_weasyprint_does_not_load() -> None:
    assert set(first_start.SHARED_LIBRARIES) <= set(loaded_by_weasyprint())


def test_what_only_helps_is_never_called_needed() -> None:
    loaded = loaded_by_weasyprint()
    for library, package in first_start.SHARED_LIBRARIES.items():
        assert (package in first_start.HELPFUL) == loaded[library], library


def test_the_libraries_come_from_pyproject() -> None:
    plain, test = first_start.requirements(ROOT, ""), first_start.requirements(ROOT, "test")
    assert "textual==8.2.8" in plain
    assert set(plain) < set(test) and any(r.startswith("hypothesis") for r in test)


def test_a_change_of_the_libraries_asks_for_a_new_set_up(tmp_path: Path) -> None:
    (tmp_path / "pyproject.toml").write_text('[project]\ndependencies = ["a"]\n', encoding="utf-8")
    python = first_start.venv_python(tmp_path)
    python.parent.mkdir(parents=True)
    python.touch()
    stamp = tmp_path / ".venv" / first_start.STAMP
    stamp.write_text(first_start._stamp_text(tmp_path, ""), encoding="utf-8")
    assert first_start.is_set_up(tmp_path, "")
    (tmp_path / "pyproject.toml").write_text('[project]\ndependencies = ["a", "b"]\n', encoding="utf-8")
    assert not first_start.is_set_up(tmp_path, "")


def test_packages_that_may_not_be_installed_are_named_in_one_command(
        monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    monkeypatch.setattr(first_start, "missing_packages", lambda: ["python3-venv", "libpango-1.0-0"])
    monkeypatch.setattr(first_start, "_apt", lambda: None)
    with pytest.raises(SystemExit):
        first_start.set_up(tmp_path, "")
    assert "apt-get install -y python3-venv libpango-1.0-0" in capsys.readouterr().err


def test_the_module_uses_nothing_but_the_standard_library() -> None:
    text = Path(first_start.__file__).read_text(encoding="utf-8")
    imports = set(re.findall(r"^(?:import|from) (\w+)", text, re.MULTILINE))
    import sys

    assert imports <= set(sys.stdlib_module_names)


def test_the_wheel_carries_every_package_with_its_files() -> None:
    """What is installed is what runs in a checkout: every package is named, every data file is of a carried kind."""
    import tomllib

    made = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    there = {p.parent.relative_to(ROOT).as_posix().replace("/", ".") for p in (ROOT / "buildtrack").rglob("__init__.py")}
    assert set(made["packages"]) == there | {"buildtrack.shipped_checklists", "buildtrack.shipped_samples"}
    carried = {pattern.rpartition("*")[2] for pattern in made["package-data"]["*"]}
    folders = [ROOT / "buildtrack", ROOT / "checklists", ROOT / "sample_builds"]
    kinds = {p.suffix for f in folders for p in f.rglob("*") if p.is_file() and "__pycache__" not in p.parts}
    assert kinds - {".py", ".pyc", ""} <= carried
