"""`buildtrack log FILE --follow`: a log while its logger writes it, one line of numbers at each look."""

from __future__ import annotations

import argparse
import re
import shlex
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from buildtrack import units
from buildtrack.console.common import plain, wrapped
from buildtrack.physics.log_follow import Follower, Seen, seconds_to

_COUNTED = re.compile(r"\d+ (doubtful )?rows? not counted")
"""What grows of a remark, which is said once."""
EVERY_S = 5.0
"""Seconds between two looks where none are given."""


def follow(options: argparse.Namespace) -> int:
    """Follow a log until Ctrl-C."""
    path: Path = options.file
    every = units.parse(options.every, "time", "s").value if options.every else EVERY_S
    if not 0.1 <= every <= 86400:
        raise ValueError(f"--every {units.clip(options.every)}: from 0.1 s to a day")
    alarm = units.parse(options.alarm, "voltage", "V").value if options.alarm else None
    try:
        for text in lines(Follower(path, shlex.join(options.map)), alarm, lambda: time.sleep(every)):
            print(text, flush=True)
    except KeyboardInterrupt:
        print("stopped; the log itself is complete in its file", flush=True)
    return 0


def lines(follower: Follower, alarm_v: float | None, wait: Callable[[], object]) -> Iterator[str]:
    """What is said, look by look: the columns once, then numbers where there are new rows, else why there are none.

    wait: called between two looks; StopIteration ends it.
    """
    columns: tuple[str, ...] = ()
    said, anew = "", 0
    remarked: set[str] = set()
    while True:
        seen = follower.look()
        if seen.columns and seen.columns != columns:
            columns = seen.columns
            yield "columns as understood (set with --map):"
            yield from (wrapped(plain(text), "    ", "  - ") for text in columns if "not in the file" not in text)
        if seen.begun_anew > anew:
            anew = seen.begun_anew
            yield "the file was begun anew: read from its beginning again"
        if seen.problem != said and seen.problem:
            yield plain(f"{seen.problem}; looking again" if follower.path.name in seen.problem else
                        f"{seen.file}: {seen.problem}; looking again")  # fmt: skip
        said = seen.problem
        for text in seen.remarks:
            if (kind := _COUNTED.sub("", text)) not in remarked:
                remarked.add(kind)
                yield wrapped(plain(text), "    ", "  ! ")
        if seen.grew:
            yield numbers(seen, alarm_v)
        if seen.behind:
            continue
        try:
            wait()
        except StopIteration:
            return


def numbers(seen: Seen, alarm_v: float | None) -> str:
    """One line: time since the load came on, current, charge, each group, time to the alarm."""
    now = seen.now
    assert now is not None, "a log that grew has a row"
    volts = "  ".join(f"g{n} {v:.3f} V" for n, v in enumerate(now.groups_v, 1)) or f"pack {now.voltage_v:.3f} V"
    parts = [f"{now.time_s / 60:7.2f} min", f"{now.current_a:.3f} A", units.show(seen.charge_ah, "Ah"), volts]
    if not seen.under_load:
        parts.append("no load")
    elif alarm_v is not None:
        left = seconds_to(alarm_v, seen.lowest)
        parts.append("alarm: no slope yet" if left is None else "at the alarm level" if left <= 0
                     else f"alarm in at most {left / 60:.1f} min at this slope")  # fmt: skip
    return "  ".join(parts)
