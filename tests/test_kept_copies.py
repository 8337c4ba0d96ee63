"""A build file that is emptied, cut off or binary: the copies kept of it are named wherever it is opened, and given back."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.surroundings import Surroundings
from buildtrack.cli import main
from buildtrack.storage.build_file import BuildFileError, read_build
from buildtrack.storage.session import create, open_session
from tests.bench_walk import Clock, MemorySession, Walk, main_checklist, new_build

DAMAGED = {"emptied": b"", "cut off": b'format = 1\nid = "2026', "binary": bytes(range(256)) * 4}


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A build file saved twice, so that the state before is kept."""
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    place = tmp_path / "builds" / "shears.toml"
    place.parent.mkdir()
    create(place, new_build(main_checklist(), "Shears"), main_checklist())
    session = open_session(place, clock=Clock(datetime.fromisoformat("2026-11-20T10:30:00+00:00")))
    session.commit(replace(session.build, title="Shears, blue"))
    session.close()
    return place


@pytest.mark.parametrize("damage", DAMAGED)
def test_whatever_reads_a_damaged_file_says_how_many_copies_there_are_and_how_to_get_one(
        path: Path, damage: str, capsys: pytest.CaptureFixture[str]) -> None:
    path.write_bytes(DAMAGED[damage])
    with pytest.raises(BuildFileError, match=r"kept, the latest of 2026-11-20 10:30 UTC: 'buildtrack restore FILE'"):
        read_build(path)
    for command in ("check", "review", "show"):
        assert main([command, str(path)]) == 2
        assert "kept, the latest of 2026-11-20 10:30 UTC" in capsys.readouterr().err


@pytest.mark.parametrize("damage", DAMAGED)
def test_restore_writes_the_latest_copy_beside_and_keeps_the_damaged_file(path: Path, damage: str) -> None:
    path.write_bytes(DAMAGED[damage])
    assert main(["restore", str(path)]) == 0
    made = next(path.parent.glob("shears-kept-*.toml"))
    assert read_build(made).build.title == "Shears" and path.read_bytes() == DAMAGED[damage]


def test_of_a_file_without_copies_nothing_is_promised(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = path.with_name("other.toml")
    other.write_bytes(b"")
    with pytest.raises(BuildFileError) as caught:
        read_build(other)
    assert "kept" not in str(caught.value)
    assert main(["restore", str(other)]) == 2 and "no copy is kept" in capsys.readouterr().err


@pytest.mark.parametrize("damage", DAMAGED)
def test_on_the_screen_a_copy_is_chosen_and_opened_as_a_file_of_its_own(path: Path, damage: str) -> None:
    path.write_bytes(DAMAGED[damage])

    async def go() -> None:
        app = BuildtrackApp(Surroundings(clock=Clock()), path, folder=path.parent)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            w = Walk(app, pilot, MemorySession.__new__(MemorySession))
            await w.settle()
            assert isinstance(w.screen, AskOne) and "shears.toml cannot be read" in w.text()
            await w.press("1")
            assert isinstance(w.screen, AskOne) and len(list(path.parent.iterdir())) == 1
            await w.press("enter")
            assert isinstance(w.screen, BenchScreen) and w.build.title == "Shears"
            assert app.path is not None and app.path.name.startswith("shears-kept-")
            assert path.read_bytes() == DAMAGED[damage]

    asyncio.run(go())
