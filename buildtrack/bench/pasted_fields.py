"""The fields of a pasted line. Loads nothing: every field on a screen asks for it."""

from __future__ import annotations

import re

_PART = re.compile(r"[-+−]?[.,]?\d[^;]*")


def fields_of(line: str) -> list[str]:
    """The fields of a pasted line: parted by tabs, or by semicolons where every one of them begins a number."""
    parts = [part.strip() for part in line.split("\t" if "\t" in line else ";")]
    numbers = all(_PART.fullmatch(part) for part in parts if part) and sum(map(bool, parts)) > 1
    return parts if "\t" in line or numbers else [line.strip()]
