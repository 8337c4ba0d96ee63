"""The person's own keys and look: config_folder()/keymap.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from buildtrack.bench.commands import BY_ID
from buildtrack.units import clip

FORBIDDEN = frozenset(
    {
        "ctrl+m",
        "ctrl+i",
        "ctrl+h",
        "ctrl+j",
        "ctrl+z",
        "ctrl+b",
        "ctrl+a",
        "ctrl+left_square_bracket",
        "shift+enter",
        "ctrl+enter",
    }
)
"""Keys that a terminal or a multiplexer delivers as something else, or keeps for itself."""


RENAMED: Mapping[str, str] = {"edit-last": "correct"}
"""Commands that were called otherwise before: the key of a person's own stays theirs."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a person wants otherwise."""

    keys: Mapping[str, str] = field(default_factory=dict)
    theme: str = ""
    open_record: bool = True
    """Whether a written record is opened with the desktop's viewer."""
    remarks: tuple[str, ...] = ()
    """What could not be followed, one sentence each."""


def read_wishes(path: Path) -> Wishes:
    """Read keymap.toml: a table [keys] of command = "key", theme = "light", open_record = false.

    What does not fit is told.
    """
    if not path.is_file():
        return Wishes()
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        return Wishes(remarks=(f"{path}: not read: {clip(str(error), 120)}",))
    keys = raw.get("keys", {})
    found: dict[str, str] = {}
    remarks: list[str] = []
    for given, key in keys.items() if isinstance(keys, dict) else ():
        name = RENAMED.get(given, given)
        if name != given and name in keys:
            remarks.append(f"{path.name}: '{given}' is called '{name}' now, which has a key of its own")
        elif sentence := _objection(name, key):
            remarks.append(f"{path.name}: {sentence}")
        else:
            found[name] = key
    theme = raw.get("theme", "")
    opened = raw.get("open_record", True)
    if not isinstance(opened, bool):
        remarks.append(f"{path.name}: open_record is true or false")
        opened = True
    return Wishes(found, theme if isinstance(theme, str) else "", opened, tuple(remarks))


def _objection(name: str, key: object) -> str:
    if name not in BY_ID:
        return f"there is no command '{clip(name)}'; the help page lists them"
    if not isinstance(key, str) or not key.strip():
        return f"the key of '{clip(name)}' must be text, like \"f8\""
    bad = [k for k in key.split(",") if k.strip() in FORBIDDEN or k.strip().startswith("alt+")]
    return f"'{clip(bad[0])}' for '{name}' does not arrive in every terminal; choose another" if bad else ""
