"""The page on writing a checklist holds: what it shows is a checklist without a mistake, once its list is pasted."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from buildtrack import cli
from buildtrack.console.lint import problems_of
from tests.entered import put

PAGE = Path(__file__).resolve().parent.parent / "DEVELOPERS.md"


def worked_example() -> str:
    """Head, changes, steps and checks of the page, in the order in which they belong into the file."""
    section = PAGE.read_text(encoding="utf-8").partition("## Write a checklist in half an hour")[2].partition("\n## ")[0]
    head, steps, change, checks = re.findall(r"```toml\n(.*?)```", section, re.DOTALL)
    return "\n".join((head, change, steps, checks))


def test_the_worked_example_is_a_checklist_and_is_used(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("BUILDTRACK_CONFIG", str(tmp_path))
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    path = tmp_path / "checklists" / "camping-lantern.toml"
    path.parent.mkdir()
    path.write_text(worked_example(), encoding="utf-8")
    told = problems_of(path)
    assert {p.where.partition(" check ")[0] for p in told} <= {"library", "use_checks"}, told
    pasted = told[-1].message.partition("leave_out_checks: ")[2]
    path.write_text(worked_example().replace("leave_out_checks = []", f"leave_out_checks = [{pasted}]"), encoding="utf-8")
    assert problems_of(path) == []
    assert cli.main(["new", str(tmp_path / "lantern.toml"), "--checklist", "camping-lantern"]) == 0
    put(tmp_path / "lantern.toml", "converter_idle", "450 µA")
    assert cli.main(["check", str(tmp_path / "lantern.toml")]) == 1
    assert "The lamp draws too much when it is off" in capsys.readouterr().out
