"""Corners of including shared files: what is refused names its place, what a shared file changes elsewhere is no mistake."""

from __future__ import annotations

from pathlib import Path

from tests.test_checklists_include import SHARED, WHOLE, folder, problems


def test_a_shared_file_refused_for_what_it_holds_is_named_with_its_first_line(tmp_path: Path) -> None:
    told = problems(folder(tmp_path, WHOLE, SHARED + "\n[x]" * 6_001))
    assert any(t.startswith("shared/one.toml line 1: file: ") and "tables are more than the 6000" in t for t in told), told


def test_a_shared_file_may_change_items_that_this_checklist_does_not_take(tmp_path: Path) -> None:
    """It is written for several checklists; only what the checklist itself changes must be there."""
    shared = SHARED.replace("[step]\n", '[change.elsewhere]\nlabel = "Other"\n\n[step]\n', 1)
    assert shared != SHARED
    assert problems(folder(tmp_path, WHOLE, shared)) == problems(folder(tmp_path, WHOLE))
    told = problems(folder(tmp_path, '\n[change.elsewhere]\nlabel = "Other"\n' + WHOLE))
    assert any("'elsewhere' is not an item put in from a shared file" in t for t in told)
