"""How long a durable save of a full build takes, and how long it keeps an event loop waiting meanwhile.

`python -m tests.bench.save_bench` prints both, with what tomllib alone takes for the same file beside it.
"""

from __future__ import annotations

import asyncio
import os
import statistics
import tempfile
import time
import tomllib
from dataclasses import dataclass
from pathlib import Path

from buildtrack.model import edit
from buildtrack.model.build import Reading
from buildtrack.storage.session import BuildSession, create, open_session
from tests.small import small
from tests.storage_cases import AT, large_build

SMALL = small()
READING = SMALL.items["part_temperature"]


@dataclass(frozen=True, slots=True)
class Timings:
    """Medians and extremes of one run [s]."""

    size: int
    """Of the file [bytes]."""
    parse_s: float
    """tomllib alone, for comparison."""
    open_s: float
    commit_s: float
    lag_s: float
    """Longest time for which the loop did not run while commits went on in a worker."""
    idle_lag_s: float
    """The same with nothing going on: what the machine itself adds."""


async def _lag(stop: asyncio.Event) -> float:
    longest, before = 0.0, time.perf_counter()
    while not stop.is_set():
        await asyncio.sleep(0.001)
        now = time.perf_counter()
        longest, before = max(longest, now - before - 0.001), now
    return longest


async def _while_working(session: BuildSession, commits: int) -> tuple[list[float], float]:
    stop = asyncio.Event()
    watch = asyncio.create_task(_lag(stop))
    taken: list[float] = []
    for number in range(commits):
        build = edit.add_reading(session.build, READING, Reading(f"{number} °C", AT), edit.Hand(AT))
        began = time.perf_counter()
        state = await asyncio.to_thread(session.commit, build)
        taken.append(time.perf_counter() - began)
        assert state.saved, state.reason
    stop.set()
    return taken, await watch


async def _idle(seconds: float) -> float:
    stop = asyncio.Event()
    watch = asyncio.create_task(_lag(stop))
    await asyncio.sleep(seconds)
    stop.set()
    return await watch


def measure(folder: Path, commits: int = 10) -> Timings:
    """Save a full build so often; the state folder is the one of the environment."""
    path = folder / "full.toml"
    create(path, large_build(250, 60, 1100), SMALL)
    text = path.read_text(encoding="utf-8")
    began = time.perf_counter()
    tomllib.loads(text)
    parsed = time.perf_counter()
    session = open_session(path, find=lambda _name: SMALL)
    opened = time.perf_counter()
    taken, lag = asyncio.run(_while_working(session, commits))
    session.close()
    return Timings(len(text), parsed - began, opened - parsed, statistics.median(taken), lag,
                   asyncio.run(_idle(sum(taken))))


def main() -> None:
    """Run it in a folder of its own and print the times."""
    with tempfile.TemporaryDirectory() as name:
        os.environ["BUILDTRACK_STATE"] = f"{name}/state"
        t = measure(Path(name))
    print(f"file {t.size} bytes; tomllib alone {t.parse_s * 1e3:.0f} ms; open {t.open_s * 1e3:.0f} ms "
          f"({t.open_s / t.parse_s:.1f} ×); commit, median {t.commit_s * 1e3:.0f} ms ({t.commit_s / t.parse_s:.1f} ×); "
          f"loop kept waiting at most {t.lag_s * 1e3:.1f} ms (idle: {t.idle_lag_s * 1e3:.1f} ms)")


if __name__ == "__main__":
    main()
