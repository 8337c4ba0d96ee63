"""A build begun from a past one: nothing in it speaks against the maker before the maker has done anything wrong."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from buildtrack import cli
from buildtrack.storage.places import shipped_samples

CLEARED = shipped_samples() / "garden-screwdriver-cleared.toml"
FINISHED = sorted(p.stem for p in shipped_samples().glob("*cleared.toml"))

DESIGN_FAULTS = {"shed-light-cleared": ["alarm-each-group"]}
"""A choice in the invented designs that is carried over and speaks against itself: an alarm that sees only the whole pack.
A waiver of the past build is not carried over with it; whether an alarm is switched off in storage is no design."""


def told(capsys: pytest.CaptureFixture[str], path: Path) -> dict[str, object]:
    capsys.readouterr()
    cli.main(["check", str(path), "--json"])
    found: dict[str, object] = json.loads(capsys.readouterr().out)
    return found


def failed(report: dict[str, object]) -> list[str]:
    findings = report["findings"]
    assert isinstance(findings, list)
    return [f["check"] for f in findings if f["outcome"] == "fail" and f["severity"] != "note"]


def begun(folder: Path, past: Path = CLEARED) -> Path:
    path = folder / "next.toml"
    assert cli.main(["new", str(path), "--from", str(past), "--title", "The next one"]) == 0
    return path


@pytest.mark.parametrize("past", FINISHED)
def test_a_fresh_start_is_open_and_names_what_is_at_fault_in_the_carried_design(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, past: str
) -> None:
    report = told(capsys, begun(tmp_path, shipped_samples() / f"{past}.toml"))
    expected = DESIGN_FAULTS.get(past, [])
    assert failed(report) == expected
    assert report["verdict"] == "incomplete"


def test_the_first_answer_is_not_out_of_order_with_what_was_taken_over(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The design is carried over when the file is made, before any hold point could be settled."""
    path = begun(tmp_path)
    assert cli.main(["enter", str(path), "rated_voltage", "12 V"]) == 0
    report = told(capsys, path)
    assert report["verdict"] == "incomplete"
    findings = json.dumps(report["findings"])
    assert "readings-out-of-order" not in findings and "readings-typed-in-one-go" not in findings


def test_a_slip_that_was_read_again_is_no_longer_far_from_the_past_build(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = begun(tmp_path)
    assert cli.main(["enter", str(path), "rated_voltage", "18 V"]) == 0
    assert "far-from-past-build" in json.dumps(told(capsys, path)["findings"])
    assert cli.main(["enter", str(path), "rated_voltage", "12 V", "--replace"]) == 0
    assert "far-from-past-build" not in json.dumps(told(capsys, path)["findings"])
    cli.main(["show", str(path), "--step", "plan"])
    lines = [line.strip() for line in capsys.readouterr().out.splitlines()]
    assert any(line.startswith("18 V (") and "replaced" in line for line in lines)
    assert any(line.startswith("12 V (") and "replaced" not in line for line in lines)


def test_the_command_enters_nothing_in_a_step_that_is_held(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = begun(tmp_path)
    before = path.read_bytes()
    capsys.readouterr()
    assert cli.main(["enter", str(path), "working_current", "3.1 A"]) == 2
    assert "step load, item working_current: this step is held until" in capsys.readouterr().err
    assert path.read_bytes() == before
    assert cli.main(["enter", str(path), "rated_voltage", "12 V"]) == 0
    assert capsys.readouterr().err == ""


def test_an_unusual_value_that_was_replaced_is_no_condition(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = begun(tmp_path)
    assert cli.main(["enter", str(path), "rated_voltage", "1.5 V", "--accept", "asked, and confirmed as read"]) == 0
    assert "1.5 V" in json.dumps(told(capsys, path)["conditions"])
    assert cli.main(["enter", str(path), "rated_voltage", "12 V", "--replace"]) == 0
    assert "1.5 V" not in json.dumps(told(capsys, path)["conditions"])
