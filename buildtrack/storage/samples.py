"""The sample builds that come with the program, and the person's own copies of them."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

from buildtrack.storage.places import shipped_samples


def samples() -> Iterator[Path]:
    """The sample builds, in order."""
    yield from sorted(shipped_samples().glob("*.toml"))


def own_samples() -> Path:
    """The folder of the person's own copies."""
    from platformdirs import user_data_path

    return user_data_path("buildtrack") / "samples"


def is_sample(path: Path) -> bool:
    """Whether a build file lies among the samples, the shipped ones or the person's copies."""
    return path.resolve().parent in (own_samples().resolve(), shipped_samples().resolve())


def copy_sample(path: Path, folder: Path) -> Path:
    """Copy a sample with its photos and logs into `folder`; an existing file is never overwritten."""
    target = folder / path.name
    if target.exists():
        raise ValueError(f"{target}: there is already a file of this name; choose another folder with -d")
    folder.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f"{path.stem}_files")
    if beside.is_dir():
        shutil.copytree(beside, folder / beside.name, dirs_exist_ok=True)
    shutil.copyfile(path, target)
    return target
