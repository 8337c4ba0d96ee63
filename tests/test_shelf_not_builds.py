"""Files and folders of a shelf that are no builds, or may not be read, are said; a folder named alone is its shelf."""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from buildtrack import cli
from buildtrack.bench.screens.shelf import ShelfScreen
from buildtrack.bench.shelf_files import told_others
from buildtrack.console.screen import open_bench
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import Walk, new_build, small_checklist, walk
from tests.test_bench_places import _real
from tests.test_storage_rights import as_somebody, folder

__all__ = ["folder"]


@pytest.fixture
def spoiled(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with one build, two files that may have been builds, and one that never was."""
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    place = tmp_path / "builds"
    place.mkdir()
    shutil.copy(shipped_samples() / "drill-not-cleared.toml", place / "mine.toml")
    (place / "empty.toml").write_bytes(b"")
    (place / "binary.toml").write_bytes(bytes(range(128, 256)) * 20)
    (place / "torn.toml").write_text("a = [", encoding="utf-8")
    (place / "settings.toml").write_text("a = 1\n", encoding="utf-8")
    return place


def test_the_shelf_as_text_names_every_file_that_is_no_build_in_one_line(
    spoiled: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["shelf", str(spoiled)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "9.6 V drill" in told
    assert told.endswith("4 files are no builds: binary.toml (no text), empty.toml (empty), "
                         "torn.toml (not readable as TOML), settings.toml (another TOML file)")  # fmt: skip
    assert cli.main(["shelf", str(spoiled), "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert {Path(r["path"]).name: r["other"] for r in rows}["empty.toml"] == "empty"


def test_of_many_files_that_are_no_builds_the_spoiled_ones_are_named_and_the_rest_counted() -> None:
    others = [(f"/f/a{n}.toml", "another TOML file") for n in range(9)] + [("/f/z.toml", "empty")]
    told = told_others(others)
    assert told.startswith("10 files are no builds: z.toml (empty), a0.toml") and told.endswith(" and 4 more")


def test_the_shelf_on_the_screen_names_those_that_may_have_been_builds(spoiled: Path) -> None:
    async def steps(w: Walk) -> None:
        await w.press("f6")
        assert isinstance(w.screen, ShelfScreen)
        assert "3 files are no builds: binary.toml (no text), empty.toml (empty)" in w.screen.said
        assert "settings.toml" not in w.text()

    walk(steps, new_build(small_checklist()), small_checklist(), size=(120, 40), path=spoiled / "mine.toml",
         around=_real)  # fmt: skip


def _command(folder: Path, *arguments: str) -> str:
    """Exit code and what is said of a command run by a user whom rights bind."""
    import contextlib
    import io

    def work() -> str:
        out = io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
            code = cli.main(arguments)
        return f"{code} {out.getvalue()}"

    return as_somebody(work)


@pytest.fixture
def closed(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder that nobody but its owner may read."""
    monkeypatch.setenv("BUILDTRACK_STATE", str(folder / "state"))
    place = folder / "closed"
    place.mkdir(mode=0o700)
    shutil.copy(shipped_samples() / "drill-not-cleared.toml", place / "mine.toml")
    place.chmod(0o000)
    yield place
    place.chmod(0o700)


def test_a_shelf_of_a_folder_that_may_not_be_read_says_so_and_fails(closed: Path) -> None:
    assert _command(closed, "shelf", str(closed)) == f"2 buildtrack: {closed}: reading it is not allowed\n"


def test_a_closed_folder_below_the_shelf_is_a_row_with_its_reason(closed: Path) -> None:
    told = _command(closed, "shelf", str(closed.parent))
    assert told.startswith("0 ") and "✗ closed: " in told and "closed: reading it is not allowed" in told


def test_a_sample_that_may_not_be_put_there_says_that_writing_is_not_allowed(closed: Path) -> None:
    told = _command(closed, "sample", "drill-not-cleared", "-d", str(closed.parent / "new"))
    assert told.startswith("2 buildtrack: ") and told.endswith("writing there is not allowed\n")


def test_a_log_that_may_not_be_read_says_so(closed: Path) -> None:
    log = closed.parent / "log.csv"
    log.write_text("t,v,i\n", encoding="utf-8")
    log.chmod(0o000)
    assert "reading it is not allowed" in _command(closed, "log", str(log))


def test_a_folder_named_alone_opens_the_shelf_of_that_folder(spoiled: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[dict[str, object]] = []

    def run(path: Path | None, **more: object) -> int:
        started.append({"path": path, **more})
        return 0

    monkeypatch.setattr(sys, "argv", ["buildtrack"])
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("buildtrack.bench.app.run", run)
    open_bench(argparse.Namespace(file=spoiled, read_only=False))
    assert started == [{"path": None, "folder": spoiled, "place": "shelf", "read_only": False}]
