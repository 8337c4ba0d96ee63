"""Which log is followed for which build file: remembered outside it, so that reopening goes on with it.

Not by the id of the build, which every copy of a sample or of a file shares.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from buildtrack.storage.places import state_folder

MOST = 200
"""Build files remembered; the oldest go first."""


@dataclass(frozen=True, slots=True)
class Followed:
    """A log that is being followed."""

    path: str
    columns: str = ""
    """Columns set by hand, like `current=3`."""


def _file() -> Path:
    return state_folder() / "followed.json"


def _all() -> dict[str, dict[str, str]]:
    try:
        raw = json.loads(_file().read_text(encoding="utf-8"))
        return {str(k): {n: str(v[n]) for n in ("path", "columns")} for k, v in raw.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}  # what cannot be read is asked for again


def _key(path: Path, item: str) -> str:
    return f"{path.resolve()} {item}"


def recall(path: Path, item: str) -> Followed | None:
    """What was followed for an item of a build file."""
    found = _all().get(_key(path, item))
    return Followed(found["path"], found["columns"]) if found is not None else None


def remember(path: Path, item: str, followed: Followed | None) -> None:
    """Remember what is followed, or None that nothing is any more."""
    known = _all()
    known.pop(_key(path, item), None)
    if followed is not None:
        known[_key(path, item)] = {"path": followed.path, "columns": followed.columns}
    kept = dict(list(known.items())[-MOST:])
    try:
        _file().parent.mkdir(parents=True, exist_ok=True)
        _file().write_text(json.dumps(kept), encoding="utf-8")
    except OSError:
        return  # then the name is asked for again the next time; nothing else depends on it
