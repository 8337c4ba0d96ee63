"""Kind and size of a picture from its header alone: a small file may hold more pixels than there is memory for."""

from __future__ import annotations

import re
from dataclasses import dataclass

_PNG, _JPEG = b"\x89PNG\r\n\x1a\n", b"\xff\xd8"
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
"""Markers of JPEG that begin a frame and hold its size (ISO/IEC 10918-1, table B.1; from memory)."""
_BARE = frozenset({0x01, *range(0xD0, 0xDA)})
"""Markers without a length."""
_START_OF_SCAN = 0xDA
_NEXT_MARKER = re.compile(rb"\xff[^\x00\xff]")
"""The next marker: fill bytes, and what a reader skips to find it, are passed over."""
MOST_PARTS = 10_000
"""Parts of a header that are looked at: a camera writes some dozens (64 kB each in a JPEG); more are there to delay."""


@dataclass(frozen=True, slots=True)
class Picture:
    """What the header of a picture says."""

    kind: str
    """Media type."""
    width: int
    height: int

    @property
    def pixels(self) -> int:
        """How many pixels it unfolds to."""
        return self.width * self.height


def picture(content: bytes) -> Picture | None:
    """A PNG or JPEG by its header; None where it is neither, or its size cannot be read.

    Where a header gives several sizes the largest counts: a reader may go by any of them. For the same reason
    a header of more than `MOST_PARTS` parts gives none: the size a reader goes by may stand behind them.
    """
    if content.startswith(_PNG):
        kind, sizes = "image/png", _png_sizes(content)
    elif content.startswith(_JPEG):
        kind, sizes = "image/jpeg", _jpeg_sizes(content)
    else:
        return None
    found = [s for s in sizes if s[0] > 0 and s[1] > 0]
    if not found:
        return None
    width, height = max(found, key=lambda s: s[0] * s[1])
    return Picture(kind, width, height)


def _png_sizes(content: bytes) -> list[tuple[int, int]]:
    """Sizes in the header chunks before the first data (PNG specification, sections 5 and 11.2.2; from memory)."""
    found: list[tuple[int, int]] = []
    at = len(_PNG)
    for _ in range(MOST_PARTS):
        if at + 8 > len(content):
            return found
        length, name = int.from_bytes(content[at : at + 4], "big"), content[at + 4 : at + 8]
        if name == b"IDAT":
            return found
        if name == b"IHDR" and at + 16 <= len(content):
            found.append((int.from_bytes(content[at + 8 : at + 12], "big"),
                          int.from_bytes(content[at + 12 : at + 16], "big")))
        at += 12 + length
    return []


def _jpeg_sizes(content: bytes) -> list[tuple[int, int]]:
    """Sizes in the frame headers before the first scan."""
    found: list[tuple[int, int]] = []
    at = len(_JPEG)
    for _ in range(MOST_PARTS):
        following = _NEXT_MARKER.search(content, at)
        if following is None or following.start() + 4 > len(content):
            return found
        at = following.start()
        marker = content[at + 1]
        if marker == _START_OF_SCAN:
            return found
        if marker in _BARE:
            at += 2
            continue
        if marker in _FRAMES and at + 9 <= len(content):
            found.append((int.from_bytes(content[at + 7 : at + 9], "big"),
                          int.from_bytes(content[at + 5 : at + 7], "big")))
        at += 2 + max(2, int.from_bytes(content[at + 2 : at + 4], "big"))
    return []
