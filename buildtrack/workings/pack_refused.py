"""Words for a grouping within the limits of a stop, and for cells of which no grouping keeps them."""

from __future__ import annotations

from collections.abc import Sequence

from buildtrack import units
from buildtrack.physics.grouping import Grouping
from buildtrack.physics.grouping_limits import Limits
from buildtrack.workings.cells_facts import CellFacts

MOST_NAMED = 4
"""So many groups outside the limits are named."""


def limits_told(limits: Limits) -> str:
    """The limits that each group has to keep, as the checks have them."""
    told = []
    if limits.most_ratio is not None:
        told.append(f"resistances of a group within {limits.most_ratio:g} : 1")
    if limits.least_current_a is not None:
        current = units.show(limits.least_current_a, "A", digits=3)
        told.append(f"every group carries {current} with no cell above its allowance")
    return ", ".join(told)


def refusal(cells: Sequence[CellFacts], found: Grouping, limits: Limits, others: Sequence[str]) -> str:
    """Why no grouping is called best, what of the one shown is outside, and what would help."""
    known = "No grouping of these cells avoids a stop" if found.impossible else "No grouping without a stop was found"
    outside = [f"g{n}: {words}" for n, group in enumerate(found.groups, 1) if (words := _outside(cells, group, limits))]
    shown = "; ".join(outside[:MOST_NAMED]) + (" ..." if len(outside) > MOST_NAMED else "")
    helps = ["cells that are more alike in resistance"] if not _ratios_kept(found, limits) else []
    if any(not limits.current_kept(group) for group in found.groups):
        helps.append("cells that may give more, or lighter work")
    if others:
        helps.append(f"other counts: these cells can make {' or '.join(others)}")
    return f"{known} ({limits_told(limits)}). Outside in the one shown: {shown}. What helps: {'; '.join(helps)}."


def _ratios_kept(found: Grouping, limits: Limits) -> bool:
    return all(limits.ratio_kept(group) for group in found.groups)


def _outside(cells: Sequence[CellFacts], group: Sequence[int], limits: Limits) -> str:
    words = []
    if not limits.ratio_kept(group):
        ohms = {cells[i].id: ohm for i in group if (ohm := cells[i].resistance_ohm)}
        high, low = max(ohms, key=lambda n: ohms[n]), min(ohms, key=lambda n: ohms[n])
        pair = " beside ".join(f"{name} {units.show(ohms[name], 'mΩ', digits=3)}" for name in (high, low))
        words.append(f"{pair}, {ohms[high] / ohms[low]:.2f} : 1")
    if not limits.current_kept(group):
        words.append(f"may give {units.show(limits.carried_a(group), 'A', digits=3)}")
    return " and ".join(words)
