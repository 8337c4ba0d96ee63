"""Text files of ours, read with one clear line where they cannot be had."""

from __future__ import annotations

from pathlib import Path

LARGEST = 2_000_000
"""Largest checklist that is read [bytes]."""


def read_text(path: Path, largest: int = LARGEST) -> str:
    """Text of a file of ours; ValueError with one clear line where it cannot be had."""
    try:
        if not path.is_file():
            raise ValueError(f"{path}: there is no such file" if not path.exists() else f"{path}: this is not a file")
        if path.stat().st_size > largest:
            raise ValueError(f"{path}: {path.stat().st_size} bytes are more than the {largest} this program reads")
        return path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        raise ValueError(f"{path}: is not UTF-8 text (byte {error.start})") from error
    except OSError as error:
        raise ValueError(f"{path}: cannot be read ({error.strerror})") from error
