"""The drawings of a build: plain data gathered from its readings and workings, per step."""

from __future__ import annotations

from collections.abc import Mapping

from buildtrack.judging import Judged
from buildtrack.record.pages import Figure


def figures(judged: Judged) -> Mapping[str, tuple[Figure, ...]]:
    """The drawings of each step by step id."""
    return {}
