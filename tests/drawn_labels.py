"""Where the labels of a drawing lie, measured with the font itself and not with the drawing's own estimate."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from fontTools.ttLib import TTFont

from buildtrack.record.html import _HERE as RECORD

NS = "{http://www.w3.org/2000/svg}"
FACES = {"": "RecordSans-Regular.ttf", "600": "RecordSans-Semibold.ttf"}


@dataclass(frozen=True)
class Label:
    """Words and the box they take [mm]."""

    words: str
    left: float
    right: float
    top: float
    bottom: float

    def meets(self, other: Label, slack: float = 0.05) -> bool:
        """Whether two boxes share more than a hair."""
        return (self.left < other.right - slack and other.left < self.right - slack
                and self.top < other.bottom - slack and other.top < self.bottom - slack)


@lru_cache(maxsize=2)
def _face(weight: str) -> tuple[dict[int, str], dict[str, tuple[int, int]], int]:
    font = TTFont(RECORD / "fonts" / FACES[weight])
    return font.getBestCmap(), font["hmtx"].metrics, font["head"].unitsPerEm


def width(words: str, size: float, weight: str = "") -> float:
    """Sum of the advance widths [mm]; kerning is left out."""
    glyphs, advances, per_em = _face(weight if weight in FACES else "")
    return sum(advances[glyphs.get(ord(c), ".notdef")][0] for c in words) * size / per_em


def labels(drawing: str) -> list[Label]:
    """All labels; capitals are about 0.7 em high and tails 0.2 em deep."""
    found = []
    for element in ET.fromstring(drawing).iter(f"{NS}text"):
        x, y, size = (float(element.attrib[k]) for k in ("x", "y", "font-size"))
        words = element.text or ""
        wide = width(words, size, element.attrib.get("font-weight", ""))
        left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[element.attrib.get("text-anchor", "start")]
        if words.strip():
            found.append(Label(words, left, left + wide, y - 0.7 * size, y + 0.2 * size))
    return found


def overlaps(drawing: str) -> list[tuple[str, str]]:
    """Pairs of labels that lie on one another."""
    return [(a.words, b.words) for a, b in combinations(labels(drawing), 2) if a.meets(b)]


def outside(drawing: str) -> list[str]:
    """Labels that leave the paper of the drawing."""
    wide, high = (float(v) for v in ET.fromstring(drawing).attrib["viewBox"].split()[2:])
    return [t.words for t in labels(drawing)
            if t.left < -0.05 or t.right > wide + 0.05 or t.top < -0.05 or t.bottom > high + 0.05]
