"""Plain values written as TOML: escaped texts, no dotted keys, no inline tables where a table will do."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+", re.ASCII)
_SHORT = {"\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r", '"': '\\"', "\\": "\\\\"}
_PLAIN = re.compile(r"[ !#-\[\]-~]*", re.ASCII)


def _letter(letter: str) -> str:
    """One character; what cannot be seen, or would turn the line around, is written as its number."""
    if letter in _SHORT:
        return _SHORT[letter]
    if letter.isprintable():
        return letter
    number = ord(letter)
    return f"\\u{number:04x}" if number < 0x10000 else f"\\U{number:08x}"


def string(text: str) -> str:
    """A text in quotes, on one line."""
    return f'"{text}"' if _PLAIN.fullmatch(text) else '"' + "".join(_letter(c) for c in text) + '"'


def key(name: str) -> str:
    """A key: bare where TOML allows it."""
    return name if _BARE.fullmatch(name) else string(name)


def _moment(value: datetime) -> str:
    try:
        value = value.astimezone(UTC) if value.tzinfo is not None else value
    except OverflowError:
        return value.isoformat()
    return value.isoformat().replace("+00:00", "Z")


def value(found: Any) -> str:
    """Any value on one line."""
    if isinstance(found, str):
        return string(found)
    if isinstance(found, bool):
        return "true" if found else "false"
    if isinstance(found, int):
        return str(found) if abs(found) < 1 << 63 or found < 0 else hex(found)
    if isinstance(found, float):
        return repr(found)
    if isinstance(found, datetime):
        return _moment(found)
    if isinstance(found, (date, time)):
        return found.isoformat()
    if isinstance(found, Mapping):
        return "{" + ", ".join(f"{key(k)} = {value(v)}" for k, v in found.items()) + "}"
    if isinstance(found, list):
        return "[" + ", ".join(value(v) for v in found) + "]"
    raise TypeError(f"a build file cannot hold a {type(found).__name__}")


def is_tables(found: Any) -> bool:
    """Whether this is written as an array of tables."""
    return isinstance(found, list) and bool(found) and all(isinstance(x, dict) for x in found)


def is_leaf(found: Any) -> bool:
    """Whether this is written as `key = value`."""
    return not isinstance(found, dict) and not is_tables(found)


def line(name: str, found: Any) -> str:
    """One `key = value` line."""
    return f"{key(name)} = {value(found)}\n"
