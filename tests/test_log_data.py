"""The attached log: read from beside the build only, refused in one sentence where it cannot be used."""

from __future__ import annotations

import hashlib
import os
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.model.build import Build, Entry, Reading
from buildtrack.physics import logs
from buildtrack.physics.log_summary import LogSummary
from buildtrack.storage import log_data
from buildtrack.storage.log_data import read_log
from buildtrack.workings.discharge_log import LogData
from buildtrack.workings.values import Failed, Known, Missing
from tests import front
from tests.make import NOW

ROWS = "time_s,current_A,voltage_V,g1_V,g2_V\n" + "".join(
    f"{t},{0 if t < 20 else 2:.3f},{8.2 - t / 1000:.3f},{4.1 - t / 2000:.3f},{4.1 - t / 2000:.3f}\n"
    for t in range(0, 1200, 10))


def with_log(name: str, sha256: str = "", **other: str) -> Build:
    made = front.build({"log_kind": "file", **other})
    return replace(made, entries={**made.entries, "discharge_log": Entry((Reading(name, NOW, sha256=sha256),))})


def read(build: Build, folder: Path) -> Known | Missing | Failed:
    return read_log(build, front.checklist(), folder)


def why(build: Build, folder: Path) -> str:
    found = read(build, folder)
    assert isinstance(found, Failed), found
    assert found.working == "discharge_log_data" and "\n" not in found.why
    return found.why


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    inside = tmp_path / "build"
    (inside / "logs").mkdir(parents=True)
    (inside / "logs" / "test.csv").write_text(ROWS)
    (tmp_path / "outside.csv").write_text(ROWS)
    return inside


def test_an_attached_log_is_read_with_its_groups(folder: Path) -> None:
    found = read(with_log("logs/test.csv"), folder)
    assert isinstance(found, Known) and isinstance(found.value, LogData)
    assert found.value.path == "logs/test.csv" and found.value.size == len(ROWS)
    # 20 s to 1190 s at 2 A, and half of the step before: (1170 + 5) x 2 / 3600 = 0.6528 Ah
    assert found.value.log.discharged_ah == pytest.approx(0.6528, abs=1e-4)
    assert len(found.value.log.mapping.groups) == 2
    assert found.value.log.sha256 == hashlib.sha256(ROWS.encode()).hexdigest()
    assert len(found.value.groups_at(600.0)) == 2
    assert "rows used" in [line[0] for line in found.value.lines] and "under load" in found.value.summary


def test_nothing_is_read_where_no_log_is_attached_or_asked_for(folder: Path) -> None:
    assert read(front.build(), folder) == Missing(frozenset({"discharge_log"}))
    assert read(with_log("logs/test.csv", log_kind="by hand"), folder) == Missing(frozenset({"discharge_log"}))


@pytest.mark.parametrize(("name", "said"), [
    ("../outside.csv", "leads out of the folder"), ("logs/../../outside.csv", "leads out of the folder"),
    ("/etc/hostname", "not a path from the folder"), ("logs", "not a file"), ("gone.csv", "no such file"),
    ("", "not a file name"), ("logs\\test.csv", "characters"),
])
def test_a_name_that_is_no_log_beside_the_build_is_refused(folder: Path, name: str, said: str) -> None:
    assert said in why(with_log(name), folder)


def test_a_link_that_leads_out_is_refused(folder: Path) -> None:
    (folder / "link.csv").symlink_to(folder.parent / "outside.csv")
    assert "leads out of the folder" in why(with_log("link.csv"), folder)


def test_a_file_that_was_changed_after_it_was_attached_is_refused(folder: Path) -> None:
    good = hashlib.sha256(ROWS.encode()).hexdigest()
    assert isinstance(read(with_log("logs/test.csv", good), folder), Known)
    (folder / "logs" / "test.csv").write_text(ROWS + "1200,2.000,7.000,3.500,3.500\n")
    assert "was changed after it was attached" in why(with_log("logs/test.csv", good), folder)


def test_a_file_that_is_no_log_or_too_large_is_refused_in_one_line(folder: Path,
                                                                   monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "text.csv").write_text("this is no log\nat all\n")
    assert why(with_log("text.csv"), folder)
    (folder / "bytes.csv").write_bytes(bytes(range(256)) * 40)
    assert why(with_log("bytes.csv"), folder)
    (folder / "empty.csv").write_bytes(b"")
    assert why(with_log("empty.csv"), folder)
    monkeypatch.setattr(log_data, "LARGEST", 100)
    assert "more than the 100" in why(with_log("logs/test.csv"), folder)


def test_a_file_is_read_again_only_when_it_has_changed(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[object] = []
    real = logs.read_log

    def noted(path: Path) -> LogSummary:
        opened.append(path)
        return real(path)
    monkeypatch.setattr(logs, "read_log", noted)
    first, second = read(with_log("logs/test.csv"), folder), read(with_log("logs/test.csv"), folder)
    assert isinstance(first, Known) and isinstance(second, Known)
    assert first.value.log is second.value.log and len(opened) == 1
    (folder / "logs" / "test.csv").write_text(ROWS.replace("8.2", "8.3"))
    os.utime(folder / "logs" / "test.csv", ns=(1, 1))
    assert isinstance(read(with_log("logs/test.csv"), folder), Known) and len(opened) == 2


def test_only_some_logs_are_kept_in_memory(folder: Path) -> None:
    for n in range(log_data.KEPT + 3):
        (folder / f"log{n}.csv").write_text(ROWS)
        assert isinstance(read(with_log(f"log{n}.csv"), folder), Known)
    assert len(log_data._kept) <= log_data.KEPT


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.one_of(st.binary(max_size=400), st.text(alphabet="0123456789.,;:\t\n -+eVAmhkNa\"'", max_size=400)))
def test_whatever_a_file_holds_it_is_read_or_refused_in_one_line(content: bytes | str) -> None:
    with TemporaryDirectory() as name:
        (Path(name) / "any.csv").write_bytes(content if isinstance(content, bytes) else content.encode())
        found = read(with_log("any.csv"), Path(name))
    assert isinstance(found, Known) or (isinstance(found, Failed) and found.why and "\n" not in found.why)
