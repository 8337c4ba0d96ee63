"""Which stretch of the wiring diagram each wire and strip belongs to, from the words of its run."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

PLUS_STOPS = ("pack", "fuse", "switch", "tool")
MINUS_STOPS = ("pack", "board", "tool")
"""The parts on either line, from the cells to the tool."""
_WORDS = {
    "pack": ("pack", "cells", "group", "b+", "b-", "b−"), "fuse": ("fuse",), "switch": ("switch",),
    "board": ("board", "bms"),
    "tool": ("tool", "contact", "connector", "plug", "motor", "lamp", "load", "p+", "p-", "p−")}
_CHARGE = ("charge", "socket", "c-", "c−")
_SENSE = ("tap", "sense", "balanc")
_PLUS = ("plus", "positive", "b+", "p+", "fuse", "switch")
_MINUS = ("minus", "negative", "board", "b-", "b−", "p-", "p−", "c-", "c−")
_NAMED_PLUS = ("plus", "positive", "b+", "p+")
_NAMED_MINUS = ("minus", "negative", "b-", "b−", "p-", "p−", "c-", "c−")
_LINK = re.compile(r"\bg(\d+)\b.*?\bg(\d+)\b")


@dataclass(frozen=True, slots=True)
class Run:
    """One wire or strip: its id, where it runs, and its size, all as entered."""

    id: str
    run: str
    size: str
    words: str = ""
    """Everything else of it, for the list under the drawing."""

    @property
    def tag(self) -> str:
        """What stands beside it in the drawing."""
        return f"{self.id} {self.size}".strip()


def _names(words: str, wanted: Iterable[str]) -> bool:
    return any(re.search(rf"(?<![a-z]){re.escape(w)}", words) for w in wanted)


def _reach(words: str, stops: tuple[str, ...]) -> list[int]:
    return [n for n, stop in enumerate(stops) if _names(words, _WORDS[stop])]


def stretch_of(run: str) -> tuple[str, int, int] | None:
    """Line (plus, minus, charge plus, charge minus, taps), first and last stop on it; None where the words do not say.

    Stops are numbered as in PLUS_STOPS and MINUS_STOPS; other lines have none.
    """
    words = run.lower()
    plus, minus = _names(words, _PLUS), _names(words, _MINUS)
    if _names(words, _NAMED_PLUS) and not _names(words, _NAMED_MINUS):
        minus = False  # "pack plus to board": the pole is named; the board has a plus as well
    if _names(words, _SENSE):
        return "taps", 0, 0
    if _names(words, _CHARGE):
        return ("charge minus" if minus and not plus else "charge plus"), 0, 0
    if plus == minus and not (minus and "board" in words):
        return None
    plus = plus and not (minus and "board" in words)
    line, stops = ("plus", PLUS_STOPS) if plus and not minus else ("minus", MINUS_STOPS)
    left, to, right = words.partition(" to ")
    begin = min(_reach(left, stops), default=0)
    end = max(_reach(right, stops), default=len(stops) - 1) if to else len(stops) - 1
    return (line, begin, end) if begin < end else None


def link_of(run: str, series: int) -> int | None:
    """At which tap a strip lies: 0 at the pack's minus, `series` at its plus, k between groups k and k + 1."""
    words = run.lower()
    if found := _LINK.search(words):
        low, high = sorted((int(found.group(1)), int(found.group(2))))
        return low if high == low + 1 and high <= series else None
    if _names(words, ("plus", "positive", "b+")):
        return series
    return 0 if _names(words, ("minus", "negative", "b-", "b−")) else None


def by_stretch(runs: Iterable[Run], present: Mapping[str, bool]) -> dict[tuple[str, int, int], list[Run]]:
    """Runs by the stretch they lie on; stops that the drawing does not show are passed to the next one it does."""
    found: dict[tuple[str, int, int], list[Run]] = {}
    for run in runs:
        place = stretch_of(run.run)
        if place is None:
            continue
        line, begin, end = place
        if line in ("plus", "minus"):
            stops = PLUS_STOPS if line == "plus" else MINUS_STOPS
            shown = [n for n, stop in enumerate(stops) if present.get(stop, True)]
            begin = max(n for n in shown if n <= begin)
            end = min(n for n in shown if n >= end)
            if begin == end:
                continue
        found.setdefault((line, begin, end), []).append(run)
    return found
