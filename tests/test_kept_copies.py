"""A build file that is emptied, cut off or binary: the copies kept of it are named wherever it is opened, and given back."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.surroundings import Surroundings
from buildtrack.cli import main
from buildtrack.storage import backups
from buildtrack.storage.build_file import BuildFileError, read_build
from buildtrack.storage.kept_copies import copies_of
from buildtrack.storage.places import state_folder
from buildtrack.storage.session import create, open_session
from tests.bench_walk import Clock, MemorySession, Walk, main_checklist, new_build

DAMAGED = {"emptied": b"", "cut off": b'format = 1\nid = "2026', "binary": bytes(range(256)) * 4}


def on_the_screen(path: Path, size: tuple[int, int], steps: Callable[[Walk], Awaitable[None]]) -> None:
    """Open a file as a person does, and walk on from what is shown."""

    async def go() -> None:
        app = BuildtrackApp(Surroundings(clock=Clock()), path, folder=path.parent)
        async with app.run_test(size=size) as pilot:
            await pilot.pause()
            w = Walk(app, pilot, MemorySession.__new__(MemorySession))
            await w.settle()
            await steps(w)

    asyncio.run(go())


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

    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, AskOne) and "shears.toml cannot be read" in w.text()
        await w.press("1")
        assert isinstance(w.screen, AskOne) and len(list(path.parent.iterdir())) == 1
        await w.press("enter")
        assert isinstance(w.screen, BenchScreen) and w.build.title == "Shears"
        assert w.app.path is not None and w.app.path.name.startswith("shears-kept-")
        assert path.read_bytes() == DAMAGED[damage]

    on_the_screen(path, (80, 24), steps)


@pytest.fixture
def copied(path: Path, tmp_path: Path) -> Path:
    """A copy of that file in another folder, with its id, edited under another title and damaged then."""
    other = tmp_path / "elsewhere" / "copy.toml"
    other.parent.mkdir()
    other.write_bytes(path.read_bytes())
    for minute, title in ((31, "Copied"), (45, "Copied, changed")):
        session = open_session(other, clock=Clock(datetime.fromisoformat(f"2026-11-20T10:{minute}:00+00:00")))
        session.commit(replace(session.build, title=title))
        session.close()
    return other


def kept_titles(path: Path) -> list[tuple[str, bool]]:
    """Titles of the copies found of a file, and whether each is its own."""
    return [(read_build(copy.path).build.title, copy.own) for copy in copies_of(path, state_folder())]


def test_the_copies_of_a_files_own_place_come_first_and_those_of_another_with_its_id_are_named(
        path: Path, copied: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for file in (path, copied):
        file.write_bytes(file.read_bytes()[:300])
    assert kept_titles(path) == [("Shears", True), ("Copied", False), ("Shears, blue", False)]
    assert kept_titles(copied) == [("Copied", True), ("Shears, blue", True), ("Shears", False)]
    assert main(["restore", str(path), "--list"]) == 0
    own, said, *foreign = capsys.readouterr().out.splitlines()
    assert own.startswith("  1  2026-11-20 10:30 UTC") and "another file" not in own
    assert said == "of other files with its id, taken only when named with --copy:"
    assert len(foreign) == 2 and all(str(copied) in line for line in foreign)
    assert "id: 'Copied', " in foreign[0] and "id: 'Shears, blue', " in foreign[1]


def test_a_copy_of_another_file_is_given_back_only_when_it_is_named(
        path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cut = tmp_path / "elsewhere.toml"
    cut.write_bytes(path.read_bytes()[:300])
    with pytest.raises(BuildFileError, match="no copy of this file is kept; 1 copy is kept of other files with its id"):
        read_build(cut)
    assert main(["restore", str(cut)]) == 2
    told = capsys.readouterr()
    assert "no copy of this file is kept" in told.err and "--copy N takes one" in told.err and told.out == ""
    assert list(tmp_path.glob("*-kept-*")) == [], "nothing was written"
    assert main(["restore", str(cut), "--copy", "1"]) == 0
    assert f"of another file with its id: 'Shears', {path}" in capsys.readouterr().out
    assert len(list(tmp_path.glob("elsewhere-kept-*.toml"))) == 1


def test_a_copy_that_there_is_not_is_said_with_those_there_are(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path.write_bytes(b"")
    assert main(["restore", str(path), "--copy", "99"]) == 2
    assert "there is no copy 99; there is only copy 1 (--list names them)" in capsys.readouterr().err


def test_the_copies_of_a_file_that_is_gone_are_given_back(path: Path) -> None:
    path.unlink()
    assert main(["restore", str(path)]) == 0
    assert read_build(next(path.parent.glob("shears-kept-*.toml"))).build.title == "Shears"


def test_many_saves_of_a_copy_thin_out_nothing_of_the_first_file(path: Path, copied: Path) -> None:
    at = datetime.fromisoformat("2026-12-01T08:00:00+00:00")
    for number in range(backups.LAST + 5):
        text = copied.read_bytes() + b"# %d\n" % number
        backups.keep(state_folder(), read_build(copied).build.id, text, at, real=str(copied))
    assert sum(copy.own for copy in copies_of(copied, state_folder())) == backups.LAST + 1  # and the last of its day
    assert [own for _, own in kept_titles(path)].count(True) == 1


def test_a_generation_without_a_place_is_that_of_the_only_file_noted_and_of_none_where_there_are_two(path: Path) -> None:
    """Earlier states of the program noted only which files a folder is of."""
    kept = copies_of(path, state_folder())[0].path
    kept.rename(kept.with_name(kept.name[:-len("-0123456789ab.toml")] + ".toml"))
    assert kept_titles(path) == [("Shears", True)]
    backups.note_place(state_folder(), read_build(path).build.id, "/somewhere/else.toml")
    path.write_bytes(path.read_bytes()[:300])
    (copy,) = copies_of(path, state_folder())
    assert not copy.own and copy.told.endswith("id: 'Shears', place not known")


def test_on_the_screen_a_copy_of_another_file_says_whose_it_is(path: Path, tmp_path: Path) -> None:
    cut = tmp_path / "elsewhere.toml"
    cut.write_bytes(path.read_bytes()[:300])

    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, AskOne)
        text = "".join(w.text().replace("▌", "").split())
        assert f"of another file with its id: 'Shears', {path}".replace(" ", "") in text, "whole, broken over lines"
        await w.press("1", "enter")
        assert isinstance(w.screen, BenchScreen) and w.build.title == "Shears"

    on_the_screen(cut, (80, 24), steps)


def test_a_file_of_a_newer_format_is_not_called_damaged_and_no_copy_is_offered(
        path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path.write_text(path.read_text(encoding="utf-8").replace("format = 1", "format = 9", 1), encoding="utf-8")
    assert main(["check", str(path)]) == 2
    told = capsys.readouterr().err
    assert "written by a newer version: format 9, this program reads 1. The file is sound; a newer buildtrack opens it" in told
    assert "restore" not in told and "kept" not in told

    async def steps(w: Walk) -> None:
        assert not isinstance(w.screen, AskOne) and "format 9" in w.text()

    on_the_screen(path, (120, 40), steps)


def test_on_the_screen_it_is_said_why_the_file_cannot_be_read(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:300])

    async def steps(w: Walk) -> None:
        assert isinstance(w.screen, AskOne)
        assert "isnotTOML:itendsinthemiddleof" in "".join(w.text().replace("▌", "").split())

    on_the_screen(path, (80, 24), steps)
