"""`buildtrack restore`: a kept copy of a damaged, emptied or lost build file, as a new file beside it."""

from __future__ import annotations

import argparse
import sys

from buildtrack.console.common import plain
from buildtrack.storage.kept_copies import copies_of, put_beside
from buildtrack.storage.places import state_folder


def restore(options: argparse.Namespace) -> int:
    """List the copies kept of a file, or write one beside it; 2 where there is none to give back."""
    found = copies_of(options.file, state_folder())
    if options.list:
        for number, copy in enumerate(found, 1):
            print(f"{number:>3}  {copy.told}")
    if not 0 < options.copy <= len(found):
        kept = f"{len(found)} copies are kept of it" if found else "no copy is kept of it"
        print(plain(f"{options.file}: {kept}"), file=sys.stderr)
        return 2
    if not options.list:
        made = put_beside(options.file, found[options.copy - 1])
        print(plain(f"Copy of {found[options.copy - 1].told} written: {made}. {options.file} stays as it is."))
    return 0
