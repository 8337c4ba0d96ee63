"""What every group of a grouping must keep: likeness of its resistances, and no cell above its allowance at work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.physics.sharing import alike

ROUNDING = 1e-12
"""Relative room for the rounding of floats, as the comparison of checks leaves it."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits that hold for each group by itself; one resistance [ohm] and one allowance [A] per cell, None if unknown.

    `most_ratio` is the largest resistance of a group over its smallest, `least_current_a` what every group must carry
    without taking a cell above its own allowance. What cannot be judged, because a number is missing, is no breach.
    """

    resistance_ohm: tuple[float | None, ...]
    allowance_a: tuple[float | None, ...]
    most_ratio: float | None = None
    least_current_a: float | None = None

    def keeps(self, group: Sequence[int]) -> bool:
        """Whether a group of these cells keeps both limits."""
        return self.ratio_kept(group) and self.current_kept(group)

    def breach(self, group: Sequence[int]) -> float:
        """How far the group is outside: the shares by which every pair and the current miss their limits, added [1].

        0 within the limits. By pairs, so that each exchange of one of several odd cells counts.
        """
        ohms = self._known(self.resistance_ohm, group)
        total = 0.0
        if not self.ratio_kept(group) and ohms is not None and self.most_ratio is not None:
            total += sum(max(0.0, a / b / self.most_ratio - 1) for a in ohms for b in ohms)
        if not self.current_kept(group) and self.least_current_a is not None:
            total += self.least_current_a / self.carried_a(group) - 1
        return total

    def carried_a(self, group: Sequence[int]) -> float:
        """Current at which the first cell of the group reaches its allowance [A]; every allowance must be known.

        I = min(I_i R_i) * sum(1 / R_i); equal shares where a resistance is missing.
        Source: Kirchhoff's laws; as `sharing.group_allowance`, written out for the search, which asks very often.
        """
        rated = [self.allowance_a[i] or 0.0 for i in group]
        ohms = self._known(self.resistance_ohm, group)
        if ohms is None:
            return min(rated) * len(rated)
        return min(a * r for a, r in zip(rated, ohms, strict=True)) * sum(1 / r for r in ohms)

    def ratio_kept(self, group: Sequence[int]) -> bool:
        """Whether the resistances of the group are alike enough."""
        ohms = self._known(self.resistance_ohm, group)
        return self.most_ratio is None or ohms is None or alike(ohms, self.most_ratio)

    def current_kept(self, group: Sequence[int]) -> bool:
        """Whether the group carries its current without taking a cell above its own allowance."""
        if self.least_current_a is None or self._known(self.allowance_a, group) is None:
            return True
        return self.carried_a(group) >= self.least_current_a * (1 - ROUNDING)

    def most_with(self, cells: Sequence[int], pool: Sequence[int], parallel: int) -> list[int]:
        """For every cell of the pool what a group with it can hold at most: itself and the largest alike ones; 0: none.

        An upper bound by the ratio alone, whatever the current asks: some group has the least resistance R, and all of
        it lies in [R, most_ratio * R]. Source: derived.
        """
        ohms = self._known(self.resistance_ohm, pool)
        ranked = sorted(pool, key=lambda i: -cells[i])
        most = dict.fromkeys(pool, 0)
        windows = [ranked] if ohms is None or self.most_ratio is None else [
            [i for i in ranked if least <= (self.resistance_ohm[i] or 0.0) and self.ratio_kept((i, at))]
            for at, least in zip(pool, ohms, strict=True)
        ]  # fmt: skip
        for window in windows:
            if len(window) < parallel:
                continue
            top = sum(cells[i] for i in window[:parallel])
            for place, i in enumerate(window):
                last = window[parallel - 1]
                most[i] = max(most[i], top if place < parallel else top - cells[last] + cells[i])
        return [most[i] for i in pool]

    @staticmethod
    def _known(values: Sequence[float | None], group: Sequence[int]) -> list[float] | None:
        found = [value for i in group if (value := values[i]) is not None and value > 0]
        return found if len(found) == len(group) else None
