"""A process that enters readings is killed at random moments; every reading whose commit had returned must be there.

`python -m tests.bench.kill_bench 1000` does it a thousand times and prints what was found.
"""

from __future__ import annotations

import errno
import os
import random
import signal
import sys
import tempfile
import threading
from dataclasses import dataclass, replace
from pathlib import Path

from buildtrack.model import edit
from buildtrack.model.build import Build, ChecklistRef, Reading
from buildtrack.storage.build_file import read_build
from buildtrack.storage.durable import REAL, Disk, temporary_prefix
from buildtrack.storage.session import create, open_session
from tests.small import small

SMALL = small()
READING = SMALL.items["part_temperature"]
A_FILE = 50
"""After so many kills a new file is begun, so that it stays as small as a build usually is."""
LONGEST_WAIT_S = 0.03


@dataclass(slots=True)
class Tally:
    """What was found over all kills."""

    kills: int = 0
    committed: int = 0
    lost: int = 0
    doubled: int = 0
    unreadable: int = 0
    left_over: int = 0
    replayed: int = 0
    """How often the journal had an edit that the file had not."""

    @property
    def good(self) -> bool:
        """Whether nothing was lost, doubled, damaged or left lying about."""
        return not (self.lost or self.doubled or self.unreadable or self.left_over)


def _full_now_and_then(chance: random.Random) -> Disk:
    """A disk that is full for every other save of the build file."""
    def opening(path: str, flags: int, mode: int) -> int:
        if ".part-" in path and chance.random() < 0.5:
            raise OSError(errno.ENOSPC, "full")
        return os.open(path, flags, mode)
    return replace(REAL, open=opening)


def _enter_readings(path: Path, pipe: int, seed: int) -> None:
    """What the process does that is going to be killed: enter readings, and say of each that it was committed."""
    chance = random.Random(seed)
    disk = _full_now_and_then(chance) if chance.random() < 0.5 else REAL
    session = open_session(path, find=lambda _name: SMALL, disk=disk)
    hand = edit.Hand(session.state.saved_at or session._clock())
    while True:
        number = len(session.build.entry(READING.id).readings)
        session.commit(edit.add_reading(session.build, READING, Reading(f"{number}", hand.at), hand))
        os.write(pipe, f"{number}\n".encode())


def _killed(path: Path, chance: random.Random) -> int:
    """Start the process, let it commit a few readings, kill it; returns how many readings it said were committed."""
    reading, writing = os.pipe()
    seed = chance.randrange(1 << 30)
    child = os.fork()
    if not child:
        try:
            os.close(reading)
            _enter_readings(path, writing, seed)
        finally:
            os._exit(1)
    os.close(writing)
    with os.fdopen(reading) as told:
        lines = [told.readline() for _ in range(chance.choice((0, 0, 1, 2, 5)))]
        threading.Event().wait(chance.uniform(0, LONGEST_WAIT_S))
        os.kill(child, signal.SIGKILL)
        _pid, status = os.waitpid(child, 0)
        assert os.WIFSIGNALED(status), "the process ended by itself: it should have gone on until it was killed"
        lines += told.readlines()
    numbers = [int(line) for line in lines if line.endswith("\n")]
    return numbers[-1] + 1 if numbers else 0


def _look(path: Path, committed: int, tally: Tally) -> int:
    """Open what the killed process left, and count what is wrong; returns how many readings there are now."""
    try:
        read_build(path)
    except ValueError:
        tally.unreadable += 1
    with open_session(path, find=lambda _name: SMALL) as session:
        found = [r.text for r in session.build.entry(READING.id).readings]
        tally.replayed += any("put in again" in note for note in session.notes)
    wanted = [str(n) for n in range(len(found))]
    tally.lost += max(0, committed - len(found))
    tally.doubled += found != wanted
    tally.left_over += sum(name.startswith(temporary_prefix(path.name)) for name in os.listdir(path.parent))
    return len(found)


def kill_many(kills: int, folder: Path, seed: int = 1) -> Tally:
    """Kill a process that enters readings so many times; the state folder is the one of the environment."""
    chance, tally, there = random.Random(seed), Tally(), 0
    path = folder / "none.toml"
    for number in range(kills):
        if number % A_FILE == 0:
            path, there = folder / f"build-{number}.toml", 0
            create(path, Build(f"b{number}", "Killed", ChecklistRef("small", "1")), SMALL)
        committed = max(_killed(path, chance), there)
        tally.committed += committed - there
        tally.kills += 1
        there = _look(path, committed, tally)
    return tally


def main(kills: int) -> int:
    """Run it in a folder of its own and print the tally."""
    with tempfile.TemporaryDirectory() as name:
        os.environ["BUILDTRACK_STATE"] = f"{name}/state"
        tally = kill_many(kills, Path(name))
    print(tally)
    return 0 if tally.good else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
