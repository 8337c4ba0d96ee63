"""Text of laid-out pages with its place and size, read back from the PDF."""

from __future__ import annotations

import io
from dataclasses import dataclass

import pypdf

HEADING_PT = 9.9
"""Captions are 10 pt, headings 11 pt and more; everything else is at most 9.5 pt."""


@dataclass(frozen=True)
class Line:
    """One piece of text: how far down the page it is (0 top, 1 bottom), its size [pt], its words."""

    down: float
    size_pt: float
    words: str


def body(page: pypdf.PageObject) -> list[Line]:
    """Text between running head and foot."""
    height = float(page.mediabox.height)
    found: list[Line] = []

    def see(text: str, cm: list[float], tm: list[float], _font: object, size: float) -> None:
        down = 1 - (cm[3] * tm[5] + cm[5]) / height
        if text.strip() and 0.06 < down < 0.945:
            found.append(Line(down, abs(size * tm[3] * cm[3]), text.strip()))

    page.extract_text(visitor_text=see)
    return found


def orphans(pdf: bytes) -> list[tuple[int, str]]:
    """Headings that stand last on a page: page number and words; the front page ends with a table and is left out."""
    found = []
    for number, page in enumerate(pypdf.PdfReader(io.BytesIO(pdf)).pages, 1):
        lines = body(page)
        last = max(lines, key=lambda t: t.down)
        if last.size_pt >= HEADING_PT:
            found.append((number, last.words))
    return found


def nearly_empty(pdf: bytes, least: float = 0.3) -> list[tuple[int, float]]:
    """Pages, the last one left out, whose text ends in their upper part."""
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    ends = [(n, max((t.down for t in body(p)), default=0.0)) for n, p in enumerate(pages, 1)]
    return [(n, round(end, 2)) for n, end in ends[:-1] if end < least]


def white_feet(pdf: bytes) -> list[float]:
    """What of the height for text is left white below the last line of each page, the last page left out (0 to 1)."""
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    ends = [max((t.down for t in body(p)), default=0.0) for p in pages][:-1]
    return [max(0.0, 1 - (end - 0.075) / (0.925 - 0.075)) for end in ends]
