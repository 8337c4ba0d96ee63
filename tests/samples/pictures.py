"""Two plain pictures drawn by ourselves, in place of photographs: PNG written with the standard library."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

Canvas = list[list[tuple[int, int, int]]]
PAPER, INK, COPPER, CAN, RED = (245, 243, 238), (60, 62, 66), (186, 120, 70), (150, 165, 175), (178, 60, 50)


def canvas(width: int, height: int) -> Canvas:
    return [[PAPER] * width for _ in range(height)]


def disc(picture: Canvas, x: int, y: int, radius: int, colour: tuple[int, int, int]) -> None:
    for row in range(y - radius, y + radius + 1):
        for column in range(x - radius, x + radius + 1):
            if (row - y) ** 2 + (column - x) ** 2 <= radius**2:
                picture[row][column] = colour


def bar(picture: Canvas, x0: int, y0: int, x1: int, y1: int, colour: tuple[int, int, int]) -> None:
    for row in range(y0, y1):
        for column in range(x0, x1):
            picture[row][column] = colour


def write(picture: Canvas, path: Path) -> None:
    """Write a canvas as an 8-bit PNG."""
    height, width = len(picture), len(picture[0])
    raw = b"".join(b"\0" + bytes(value for pixel in row for value in pixel) for row in picture)

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(raw, 9))
                     + chunk(b"IEND", b""))


def pack_from_above(path: Path, series: int, parallel: int) -> None:
    """The pack from above: cells with their links and tap leads."""
    picture = canvas(120 * series + 80, 120 * parallel + 120)
    for g in range(series):
        for p in range(parallel):
            x, y = 100 + 120 * g, 100 + 120 * p
            disc(picture, x, y, 52, INK)
            disc(picture, x, y, 50, CAN)
            disc(picture, x, y, 16 if g % 2 == 0 else 40, (205, 210, 215))
        bar(picture, 92 + 120 * g, 60, 108 + 120 * g, 60 + 120 * parallel, COPPER)
        if g + 1 < series:
            y = 100 + (0 if g % 2 == 0 else 120 * (parallel - 1))
            bar(picture, 100 + 120 * g, y - 8, 220 + 120 * g, y + 8, COPPER)
        bar(picture, 99 + 120 * g, 10, 102 + 120 * g, 60, RED)
    write(picture, path)


def label_on_pack(path: Path) -> None:
    """The label on the housing: an outline with lines of writing, not readable on purpose."""
    picture = canvas(420, 260)
    bar(picture, 20, 20, 400, 240, (90, 94, 98))
    bar(picture, 60, 60, 360, 200, (252, 252, 248))
    for line, length in enumerate((250, 190, 230, 160, 210)):
        bar(picture, 80, 80 + 24 * line, 80 + length, 88 + 24 * line, INK)
    bar(picture, 330, 66, 354, 90, RED)
    write(picture, path)
