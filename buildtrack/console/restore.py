"""`buildtrack restore`: a kept copy of a damaged, emptied or lost build file, as a new file beside it."""

from __future__ import annotations

import argparse
import sys

from buildtrack.console.common import plain
from buildtrack.storage.kept_copies import Copy, copies_of, only_foreign, put_beside
from buildtrack.storage.places import state_folder


def restore(options: argparse.Namespace) -> int:
    """List the copies kept of a file, or write one beside it; 2 where there is none to give back."""
    found = copies_of(options.file, state_folder())
    own = sum(copy.own for copy in found)
    if options.list:
        for number, copy in enumerate(found, 1):
            if not copy.own and number == own + 1:
                print("of other files with its id, taken only when named with --copy:")
            print(plain(f"{number:>3}  {copy.told}"))
    wanted = options.copy if options.copy is not None else 1
    if refused := _refused(found, own, options):
        print(plain(f"buildtrack: {options.file}: {refused}"), file=sys.stderr)
        return UNUSABLE
    if not options.list:
        made = put_beside(options.file, found[wanted - 1])
        print(plain(f"Copy of {found[wanted - 1].told} written: {made}. {options.file} stays as it is."))
    return 0


UNUSABLE = 2
"""Exit code where there is nothing to give back."""


def _refused(found: list[Copy], own: int, options: argparse.Namespace) -> str:
    """Why no copy is listed or given back; empty where one is."""
    if not found:
        return "no copy is kept of it"
    if options.copy is None:
        return "" if own or options.list else only_foreign(len(found))
    if 0 < options.copy <= len(found):
        return ""
    there = "there is only copy 1" if len(found) == 1 else f"there are copies 1 to {len(found)}"
    return f"there is no copy {options.copy}; {there} (--list names them)"
