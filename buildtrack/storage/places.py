"""Where files live: the checklists and samples that come with the program, and the folders of the person."""

from __future__ import annotations

import os
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent


def _shipped(checkout: str, wheel: str) -> Path:
    beside = _PACKAGE.parent / checkout
    return beside if (_PACKAGE.parent / "pyproject.toml").exists() and beside.is_dir() else _PACKAGE / wheel


def shipped_checklists() -> Path:
    """Folder of the checklists that come with the program (a checkout's, or the wheel's)."""
    return _shipped("checklists", "shipped_checklists")


def shipped_samples() -> Path:
    """Folder of the sample builds that come with the program."""
    return _shipped("sample_builds", "shipped_samples")


def config_folder() -> Path:
    """The person's own checklists and keymap."""
    if given := os.environ.get("BUILDTRACK_CONFIG"):
        return Path(given)
    from platformdirs import user_config_path

    return user_config_path("buildtrack")


def state_folder() -> Path:
    """Journals, locks and backups: what must not lie in the person's folders."""
    if given := os.environ.get("BUILDTRACK_STATE"):
        return Path(given)
    from platformdirs import user_state_path

    return user_state_path("buildtrack")


def checklist_folders() -> tuple[Path, ...]:
    """Folders searched for checklists, the person's own first."""
    return (config_folder() / "checklists", shipped_checklists())


def record_path(build_file: Path, ending: str = ".pdf") -> Path:
    """Where the record of a build goes if nothing else is said: beside its file, from the bench and the command."""
    return build_file.with_name(f"{build_file.stem}_record{ending}")
