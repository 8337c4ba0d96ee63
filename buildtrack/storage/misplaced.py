"""Items that stand in the table of another step than the checklist has them in: read all the same, and told."""

from __future__ import annotations

from collections.abc import Mapping

from buildtrack import units
from buildtrack.model.checklist import Checklist
from buildtrack.storage import shapes

MOST = 5
"""So many are named one by one."""


def misplaced(steps: Mapping[str, str], checklist: Checklist) -> tuple[str, ...]:
    """One sentence for each item in a wrong step, with the table it belongs in.

    steps: where each item stands in the file (build_file.Opened). Nothing is moved: a person may want it there.
    """
    found = [(name, there, item.step) for name, there in steps.items()
             if (item := checklist.items.get(name)) is not None and name != shapes.INSTRUMENTS and item.step != there]
    told = [f"step {units.clip(there)}, item {name}: stands in the wrong step and is read all the same; it belongs in "
            f"[steps.{here}.{name}]" for name, there, here in found[:MOST]]
    return (*told, *((f"{len(found) - MOST} more items stand in a wrong step",) if len(found) > MOST else ()))
