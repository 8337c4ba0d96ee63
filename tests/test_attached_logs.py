"""Attaching a log: what is no log is refused in one line, and columns set by hand stay with it in the build."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from buildtrack import cli
from buildtrack.bench.attach import attached_reading
from buildtrack.judging import judge
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.workings.explain import explain
from tests.entered import put
from tests.make import NOW

HEAD = "t[s],Uset[V],U[V],I[mA],U1[V],U2[V]"


def written(folder: Path, name: str = "test.csv") -> Path:
    """An hour at 2 A; the third column is the true voltage, the second what the load was set to."""
    path = folder / name
    rows = [f"{t},6.000,{8.2 - t / 3600:.3f},2000,{4.1 - t / 7200:.3f},{4.1 - t / 7200:.3f}" for t in range(0, 3601, 20)]
    path.write_text("\n".join([HEAD, *rows, ""]), encoding="utf-8")
    return path


@pytest.mark.parametrize(("name", "content", "sentence"), [
    ("empty.csv", b"", "the file is empty"),
    ("blank.csv", b" \n\n", "the file is empty"),
    ("noise.csv", bytes(range(256)) * 40, "this is no text file"),
    ("zeros.csv", bytes(4000), "this is no text file"),
    ("letter.txt", b"Dear all,\nthe test went well.\n", "no rows of readings were found"),
    ("sheet.xls", b"\xd0\xcf\x11\xe0" + b"x" * 100, "this is no text file"),
])
def test_what_is_no_log_is_refused_in_one_line(tmp_path: Path, name: str, content: bytes, sentence: str) -> None:
    (tmp_path / name).write_bytes(content)
    found = attached_reading(tmp_path / "build.toml", name, NOW, "file")
    assert isinstance(found, str) and sentence in found and name in found and "\n" not in found


def test_columns_are_set_behind_the_name(tmp_path: Path) -> None:
    written(tmp_path, "my test.csv")
    found = attached_reading(tmp_path / "build.toml", "my test.csv voltage=3 groups=5+6", NOW, "file")
    assert not isinstance(found, str)
    assert (found.text, found.columns) == ("my test.csv", "voltage=3 groups=5+6") and len(found.sha256) == 64


@pytest.mark.parametrize(("columns", "sentence"), [
    ("voltage=9", "there is no column '9'; there are t[s], Uset[V], U[V], I[mA], U1[V], U2[V], or numbers from 1 to 6"),
    ("voltage=3 voltage=2", "voltage is set twice"),
    ("voltage='U[V]", "a quotation mark is not closed"),
    ("voltage=3 colour=2", "'colour' cannot be set; there are time, date, current"),
    ("voltage=3 what", "write it as WHAT=COLUMN"),
])
def test_columns_that_cannot_be_are_refused(tmp_path: Path, columns: str, sentence: str) -> None:
    written(tmp_path)
    found = attached_reading(tmp_path / "build.toml", f"test.csv {columns}", NOW, "file")
    assert isinstance(found, str) and sentence in found


@pytest.fixture
def build(tmp_path: Path) -> Path:
    """A build file with the log attached as the program tells its columns."""
    written(tmp_path)
    path = tmp_path / "build.toml"
    assert cli.main(["new", str(path)]) == 0
    for item, text in (("log_kind", "file"), ("series_count", "2")):
        put(path, item, text)
    log = attached_reading(path, "test.csv", NOW, "file")
    assert not isinstance(log, str), log
    put(path, "discharge_log", log)
    return path


def told(path: Path) -> str:
    """What a fresh opening says of the log."""
    opened, checklist = read_build(path).build, find_checklist("nickel-tool-pack")
    return explain("log_summary", judge(opened, checklist, path.parent, NOW).assessment.sheet, checklist).shown


def test_the_map_is_kept_in_the_build_and_read_by_a_second_opening(build: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """At 2 A the column that is set gives 12 Wh an hour; the measured one, falling from 8.2 V to 7.2 V, 15.4 Wh."""
    assert "12.00 Wh" in told(build) and "set by hand" not in told(build)
    capsys.readouterr()
    assert cli.main(["log", str(build), "--map", "voltage=3", "--by", "anna"]) == 0
    said = capsys.readouterr().out
    assert "columns set by hand: voltage=3" in said.replace("\n", " ") and "voltage: column 3 (U[V])" in said
    assert "15.40 Wh" in told(build) and told(build).endswith("columns set by hand: voltage=3")
    event = read_build(build).build.history[-1]
    assert (event.what, event.item, event.by) == ("changed", "discharge_log", "anna")
    assert event.before.startswith("test.csv, SHA-256 ") and event.after == f"{event.before}, columns voltage=3"
    assert cli.main(["log", str(build), "--json"]) == 0
    log = json.loads(capsys.readouterr().out)["discharge_log"]
    assert log["set_by_hand"] == "voltage=3" and log["mean_V"] == pytest.approx(7.7)


def test_auto_goes_back_to_what_the_file_tells(build: Path) -> None:
    assert cli.main(["log", str(build), "--map", "voltage=3"]) == 0
    assert cli.main(["log", str(build), "--map", "auto"]) == 0
    assert "12.00 Wh" in told(build) and "set by hand" not in told(build)


def test_columns_that_cannot_be_read_are_not_kept(build: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = build.read_bytes()
    assert cli.main(["log", str(build), "--map", "voltage=nowhere"]) == 2
    assert "there is no column 'nowhere'" in capsys.readouterr().err
    assert build.read_bytes() == before


def test_a_build_without_a_log_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "build.toml"
    assert cli.main(["new", str(path), "--title", "a lamp"]) == 0
    assert cli.main(["log", str(path)]) == 2
    assert "a lamp: no log is attached" in capsys.readouterr().err


def test_a_unit_in_the_header_counts_for_a_column_set_by_hand(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The wanted column is in mA, the one that would be told in A: the unit goes with the column."""
    path = tmp_path / "log.csv"
    rows = [f"{t},8.0,5.0,1500" for t in range(0, 3601, 60)]
    path.write_text("\n".join(["time[s],voltage[V],limit[A],drawn[mA]", *rows, ""]), encoding="utf-8")
    assert cli.main(["log", str(path), "--json", "--map", "current=drawn[mA]"]) == 0
    assert json.loads(capsys.readouterr().out)["charge_Ah"] == pytest.approx(1.5)
