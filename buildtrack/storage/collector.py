"""The cycle collector kept from running while many small tables are made."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def no_collection() -> Iterator[None]:
    """Keep the cycle collector from running meanwhile.

    A file read or written makes some ten thousand short-lived tables. They go by their counts, but the collector, set
    off by their number, would walk all objects of the program and hold up every thread, the screen's too, for tens of
    milliseconds; a file of many tables takes twice as long with it.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
