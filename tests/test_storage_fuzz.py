"""A build file spoiled in any way gives a build or one clear line; and what is read is written back without change."""

from __future__ import annotations

from pathlib import Path

from tests.bench.build_file_fuzz import fuzz


def test_two_thousand_spoiled_files_give_a_build_or_a_clear_line(tmp_path: Path) -> None:
    found = fuzz(2000, tmp_path / "spoiled.toml")
    assert found["read"] + found["refused"] == 2000
    assert found["read"] > 500
    assert found["refused"] > 500
    assert found["afresh"] == 0
