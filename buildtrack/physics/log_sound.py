"""Rows of a log that cannot be right: a group no cell can be at, or groups that do not add up to the pack."""

from __future__ import annotations

from dataclasses import dataclass
from operator import sub
from typing import TYPE_CHECKING

from buildtrack.physics.log_errors import Warnings

if TYPE_CHECKING:
    from buildtrack.physics.log_rows import Block

HIGHEST_V, LOWEST_V = 5.0, -0.05
"""No group of lithium cells is above or below [V]: chosen, past any limit of charge; 0.05 V may be an offset."""
NO_READING_V = 0.05
"""At or below this a group is not connected, and says nothing about the sum [V]."""
APART_V, APART_SHARE = 0.3, 0.1
"""So far, and so much of the sum, may pack and groups be apart: leads and fuse lie between. Chosen, no source."""
OPEN_SHARE = 0.3
"""A pack below so much of the sum has its board open: the groups are right."""


@dataclass(slots=True)
class Sieve:
    """Takes doubtful rows out of a log, and counts them."""

    warnings: Warnings
    count: int = 0
    first: str = ""
    """The first doubtful row, in words with its line."""
    adds_up: bool | None = None
    """Whether groups and pack agreed at the first row that tells; None before."""
    never: str = ""
    """Where they do not agree from the first row on: that, in words."""

    def sift(self, block: Block, has_pack: bool) -> Block:
        """The rows of a block that can be right. has_pack: whether the pack was logged, not summed up."""
        doubtful = self._values(block)
        if has_pack and block.groups and block.t:
            self._sums(block, doubtful)
        if not doubtful:
            return block
        for k, why in sorted(doubtful.items()):
            self.count += 1
            self.first = self.first or f"line {block.lines[k]}: {why}"
            self.warnings.add("doubtful row", block.lines[k], f"{why}; not used")
        return block.only([k for k in range(len(block.t)) if k not in doubtful])

    def _values(self, block: Block) -> dict[int, str]:
        found: dict[int, str] = {}
        for number, group in enumerate(block.groups if block.t else (), 1):
            if max(group) <= HIGHEST_V and min(group) >= LOWEST_V:
                continue
            for k, volts in enumerate(group):
                if volts > HIGHEST_V:
                    found.setdefault(k, f"group {number} reads {volts:.3f} V, which no cell has")
                elif volts < LOWEST_V:
                    found.setdefault(k, f"group {number} reads {volts:.3f} V: a wire is off, or it is driven backwards")
        return found

    def _sums(self, block: Block, doubtful: dict[int, str]) -> None:
        """Add the rows whose groups do not add up to the pack, where they did before."""
        if self.adds_up is False:
            return
        sums = list(map(sum, zip(*block.groups, strict=True)))
        apart = list(map(sub, block.v, sums))
        if self.adds_up and max(apart) <= APART_V and min(apart) >= -APART_V:
            return
        for k, (pack, total) in enumerate(zip(block.v, sums, strict=True)):
            if k in doubtful or pack < OPEN_SHARE * total or min(g[k] for g in block.groups) <= NO_READING_V:
                continue
            agree = abs(pack - total) <= APART_V + APART_SHARE * total
            why = f"the groups add up to {total:.3f} V, the pack reads {pack:.3f} V"
            if self.adds_up is None:
                self.adds_up = agree
                if not agree:
                    self.never = f"{why}, from the first row on: check which columns are the groups"
                    self.warnings.add("groups and pack", block.lines[k], self.never)
                    return
            elif not agree:
                doubtful[k] = why
