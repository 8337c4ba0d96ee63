"""What is written goes over an earlier file of its own kind, and never over anything else: that is named and left alone."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from buildtrack.cli import main
from buildtrack.storage.places import record_path, shipped_samples

FAULTY, OTHER = "drill-not-cleared", "garden-screwdriver-cleared"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the drill with its log, and of another build."""
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("BUILDTRACK_CONFIG", str(tmp_path / "config"))
    place = tmp_path / "builds"
    place.mkdir()
    for name in (FAULTY, OTHER):
        shutil.copy(shipped_samples() / f"{name}.toml", place)
    shutil.copytree(shipped_samples() / f"{FAULTY}_files", place / f"{FAULTY}_files")
    return place


def left_alone(folder: Path, there: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """Write to what is there: refused in one line, and every file of the folder is as it was."""
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    assert main([arguments[0], str(folder / f"{FAULTY}.toml"), *arguments[1:], "-o", str(there)]) == 2
    told = capsys.readouterr()
    assert {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()} == before
    assert told.out == "" and told.err.count("\n") == 1 and str(there) in told.err
    return told.err


WRITING = [["record"], ["record", "--html"], ["label"], ["parts"]]


@pytest.mark.parametrize("arguments", WRITING)
@pytest.mark.parametrize("name", [FAULTY, OTHER])
def test_no_build_file_is_written_over_its_own_or_anothers(
        folder: Path, arguments: list[str], name: str, capsys: pytest.CaptureFixture[str]) -> None:
    told = left_alone(folder, folder / f"{name}.toml", arguments, capsys)
    assert "is a build file: name another target with -o" in told


@pytest.mark.parametrize("arguments", WRITING)
def test_nor_through_a_link_to_it(folder: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "out.pdf").symlink_to(f"{FAULTY}.toml")
    assert "is a build file" in left_alone(folder, folder / "out.pdf", arguments, capsys)


@pytest.mark.parametrize("arguments", WRITING)
def test_no_log_that_is_attached_is_written_over(
        folder: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    log = next((folder / f"{FAULTY}_files").iterdir())
    assert "is attached to this build as 'Log of the discharge test'" in left_alone(folder, log, arguments, capsys)


@pytest.mark.parametrize("arguments", WRITING)
@pytest.mark.parametrize(("name", "content", "says"), [
    ("other.csv", b"time,volts\n0,3.7\n", "is a table or log that is no"), ("raw.log", b"0 3.7\n", "is a log that is no"),
    ("wishes.toml", b"a = 1\n", "is a TOML file that is no"), ("photo.jpg", b"\xff\xd8\xff", "is a file that is no"),
    ("sheet.pdf", b"%PDF-1.4\n1 0 obj\n<</Creator (a maker) /Producer (x)>>\nendobj\n", "is a PDF that is no"),
    ("page.html", b"<!DOCTYPE html><p>Mine</p>", "is a file that is no"),
])
def test_nothing_of_somebody_else_is_written_over(folder: Path, arguments: list[str], name: str, content: bytes, says: str,
                                                  capsys: pytest.CaptureFixture[str]) -> None:
    (folder / name).write_bytes(content)
    assert says in left_alone(folder, folder / name, arguments, capsys)


@pytest.mark.parametrize(("arguments", "name"), [
    (["record", "--html"], "r.html"), (["parts"], "p.csv"), (["record"], "r.pdf"), (["label"], "l.pdf")])
def test_an_earlier_one_of_its_own_kind_is_replaced(folder: Path, arguments: list[str], name: str) -> None:
    whole = [arguments[0], str(folder / f"{OTHER}.toml"), *arguments[1:], "-o", str(folder / name)]
    (folder / name).write_bytes(b"")  # an empty file is nothing that could be lost
    assert main(whole) == 0
    first = (folder / name).stat().st_ino
    assert main(whole) == 0 and (folder / name).stat().st_ino != first, "written anew"


def test_a_pdf_never_becomes_a_toml_file(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = left_alone(folder, folder / "new.toml", ["record"], capsys)
    assert ".toml is for build files, and this is a PDF: name another target with -o" in told


@pytest.mark.parametrize("arguments", WRITING)
def test_a_folder_that_is_not_there_is_named(folder: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    told = left_alone(folder, folder / "none" / "x", arguments, capsys)
    assert f"there is no folder {folder / 'none'}: make it first, or name another target with -o" in told


@pytest.mark.parametrize("arguments", WRITING)
def test_a_folder_is_no_file(folder: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert "this is a folder: name a file in it with -o" in left_alone(folder, folder, arguments, capsys)


def test_a_device_is_written_to_and_stays_one(folder: Path) -> None:
    assert main(["parts", str(folder / f"{FAULTY}.toml"), "-o", os.devnull]) == 0
    assert not Path(os.devnull).is_file()


def test_the_record_beside_a_build_has_the_name_that_the_bench_gives_it_too(
        folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    build = folder / f"{OTHER}.toml"
    assert main(["record", "--html", str(build)]) == 0
    assert capsys.readouterr().out.strip() == str(record_path(build, ".html"))
    assert record_path(build) == folder / f"{OTHER}_record.pdf"  # tests/test_bench_export.py: F9 names this one
