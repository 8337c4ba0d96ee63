"""A process that is killed while it enters and saves has lost nothing that was committed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.bench.kill_bench import kill_many


def test_forty_killed_processes_lose_nothing_that_was_committed(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    tally = kill_many(40, tmp_path)
    assert tally.good, tally
    assert tally.kills == 40
    assert tally.committed > 20
    assert tally.replayed > 0, "no kill fell between journal and save: the test shows less than it should"
