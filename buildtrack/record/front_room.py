"""How much of each list stands on page 1, so that the verdict and what bears on it stay on one page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.record.pages import Pages

LINES = {"A4": 36.0, "Letter": 31.5}
"""Lines of text that page 1 holds below the key figures."""
PER_LINE = 112
"""Characters of a line there."""
HEADING = 1.6
"""A heading takes the room of so many lines."""
FEWEST = 3
"""So many of each list are always there."""


@dataclass(frozen=True, slots=True)
class Front:
    """How many entries of each list stand on page 1."""

    reasons: int
    limits: int
    accepted: int
    cautions: int = 0


def _lines(texts: Sequence[str], shown: int, longest: int) -> float:
    """Lines of a list with its heading, and the line that says how many more there are."""
    if not texts:
        return 0.0
    more = 1.0 if len(texts) > shown else 0.0
    return HEADING + more + sum(-(-min(len(t), longest) // PER_LINE) for t in texts[:shown])


def front(pages: Pages, paper: str, most: Front, longest: int) -> Front:
    """The most of each list that fits: cautions are given up first, then reasons, then what was accepted."""
    v = pages.verdict
    fixed = HEADING + 1.5 + len(pages.identity.notice) / PER_LINE
    fixed += sum(1 + len(r.remarks) // 34 for r in v.reviews) + len(pages.identity.title) // 60
    lists = (v.cautions, v.reasons, v.accepted, v.limits)
    counts = [min(n, len(texts)) for n, texts in zip((most.cautions, most.reasons, most.accepted, most.limits), lists,
                                                     strict=True)]

    def needed() -> float:
        return fixed + sum(_lines(texts, n, longest) for texts, n in zip(lists, counts, strict=True))

    for k in range(len(counts)):
        while needed() > LINES[paper] and counts[k] > FEWEST:
            counts[k] -= 1
    cautions, reasons, accepted, limits = counts
    return Front(reasons, limits, accepted, cautions)
