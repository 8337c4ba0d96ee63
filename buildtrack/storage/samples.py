"""The sample builds that come with the program, and the person's own copies of them."""

from __future__ import annotations

import hashlib
import os
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

from buildtrack.storage import lock as locks
from buildtrack.storage.places import shipped_samples

LEDGER = ".copied"
"""In the folder of copies: the SHA-256 of each when it was made."""


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


def own_copy(name: str) -> Path:
    """The person's own copy of a sample, made where there is none.

    A copy that nobody wrote in is renewed with the program: it would tell of a checklist that is not that of today.
    OSError where it cannot be written.
    """
    source, folder = shipped_samples() / f"{name}.toml", own_samples()
    target = folder / source.name
    copied = _copied(folder)
    if target.exists():
        if copied.get(name) != _sha256(target) or copied[name] == _sha256(source):
            return target
        if locks.read_holder(locks.sidecar_of(target)) is not None:
            return target  # open in another window, or left by one that ended: never replaced under anybody
        _copy_files(source, folder)
        fresh = target.with_suffix(".fresh")
        fresh.unlink(missing_ok=True)
        shutil.copyfile(source, fresh)
        os.replace(fresh, target)
    else:
        copy_sample(source, folder)
    lines = {**copied, name: _sha256(target)}
    (folder / LEDGER).write_text("".join(f"{digest} {each}\n" for each, digest in lines.items()), encoding="utf-8")
    return target


def left_at(name: str) -> datetime | None:
    """When the person last wrote in their copy of a sample; None where there is none, or nobody wrote in it."""
    copy = own_samples() / f"{name}.toml"
    if not copy.exists() or _copied(own_samples()).get(name) == _sha256(copy):
        return None
    return datetime.fromtimestamp(copy.stat().st_mtime, UTC)


def another_copy(name: str) -> Path:
    """A further copy of a sample, as it is shipped, beside the one the person has written in.

    OSError where it cannot be written.
    """
    source, folder = shipped_samples() / f"{name}.toml", own_samples()
    target = next(p for n in count(2) if not (p := folder / f"{name}-{n}.toml").exists())
    _copy_files(source, folder)
    shutil.copyfile(source, target)
    return target


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _copied(folder: Path) -> dict[str, str]:
    """What every copy was when it was made, by its name; what cannot be read says of no copy that it is untouched."""
    try:
        lines = (folder / LEDGER).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return {}
    return {name: digest for digest, _, name in (line.partition(" ") for line in lines)}


def copy_sample(path: Path, folder: Path) -> Path:
    """Copy a sample with its photos and logs into `folder`; an existing file is never overwritten."""
    target = folder / path.name
    if target.exists():
        raise ValueError(f"{target}: there is already a file of this name; choose another folder with -d")
    folder.mkdir(parents=True, exist_ok=True)
    _copy_files(path, folder)
    shutil.copyfile(path, target)
    return target


def _copy_files(path: Path, folder: Path) -> None:
    beside = path.with_name(f"{path.stem}_files")
    if beside.is_dir():
        shutil.copytree(beside, folder / beside.name, dirs_exist_ok=True)
