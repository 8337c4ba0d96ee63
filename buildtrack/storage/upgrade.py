"""Files of earlier formats brought to the form of today, one step a format; those of later ones refused.

There is one format of each kind so far, so the tables of steps are empty. A new format adds a line: from which number,
and the function that makes the tables of the next number out of those. The file itself is written in the new form at
the next save, and the one before is kept as a backup.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from typing import Any

Tree = dict[str, Any]
Step = Callable[[Tree], Tree]
"""Gets the tables of one format, its own to change, and returns those of the next."""

BUILD: Mapping[int, Step] = {}
"""Build files: from which format -> the step to the next one."""
CHECKLIST: Mapping[int, Step] = {}
"""Checklists: the same."""


class Unknown(ValueError):
    """A format that this program does not read; one sentence."""

    def __init__(self, message: str, is_missing: bool = False) -> None:
        self.is_missing = is_missing
        super().__init__(message)


class Newer(Unknown):
    """A format later than this program reads: nothing is wrong with the file."""


def raised(tree: Tree, wanted: int, steps: Mapping[int, Step], what: str) -> Tree:
    """The tables in format `wanted`; the same ones where they are in it already. Unknown for any other format.

    what: the kind of file, for the message. `tree` itself is left as it is.
    """
    number = tree.get("format")
    if number is None:
        raise Unknown(f"'format' is missing: the first line of a {what} is format = {wanted}", is_missing=True)
    if type(number) is not int:
        raise Unknown(f"'format' must be {wanted}")
    if number > wanted:
        shown = str(number) if number < 10**9 else "far above"
        raise Newer(f"written by a newer version: format {shown}, this program reads {wanted}. "
                    "The file is sound; a newer buildtrack opens it")
    oldest = wanted
    while oldest - 1 in steps:
        oldest -= 1
    if number < oldest:
        raise Unknown(f"'format' must be {wanted}" + (f", or from {oldest} on" if oldest < wanted else ""))
    while number < wanted:
        tree = steps[number](copy.deepcopy(tree))
        number += 1
        tree["format"] = number
    return tree
