"""One writer at a time: a kernel lock on this machine, and a small file beside the build for other machines.

The kernel lock (flock) ends with the process that held it. The file `.<name>.lock` says who writes; it is advice, and
is taken over where its owner is a process of this machine that no longer runs.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import pwd
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from buildtrack import units
from buildtrack.storage import durable

_AS_IT_IS = os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC
"""No link is followed, and no pipe is waited for."""


@dataclass(frozen=True, slots=True)
class Holder:
    """Who writes a build file."""

    host: str
    pid: int
    user: str
    since: str
    started: str = ""
    """When the process began, in the kernel's ticks: a number that is used again is known by it."""

    def __str__(self) -> str:
        return (f"{units.clip(self.user)} on {units.clip(self.host)} since {units.clip(self.since)} "
                f"(process {self.pid})")


@dataclass(slots=True)
class Lock:
    """The right to write one build file; or who has it."""

    holder: Holder | None = None
    """Somebody else, where the right was not to be had."""
    notes: tuple[str, ...] = ()
    handle: int | None = None
    sidecar: Path | None = None
    mine: str = ""

    @property
    def is_held(self) -> bool:
        """Whether this process may write."""
        return self.holder is None

    def release(self) -> None:
        """Give the right back."""
        if self.sidecar is not None:
            with suppress(OSError):  # gone, or in a folder that went away: it is advice, and says a process that ends
                if self.sidecar.read_text(encoding="utf-8") == self.mine:
                    self.sidecar.unlink()
        if self.handle is not None:
            os.close(self.handle)
            self.handle = None
        self.sidecar = None


def _started(pid: int) -> str:
    """When a process began; empty where the kernel does not say."""
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()[19]
    except (OSError, IndexError):
        return ""


def this_process(at: datetime) -> Holder:
    """The process that runs this."""
    try:
        user = pwd.getpwuid(os.getuid()).pw_name
    except KeyError:
        user = f"user {os.getuid()}"
    return Holder(os.uname().nodename, os.getpid(), user, f"{at:%Y-%m-%d %H:%M:%S} UTC", _started(os.getpid()))


def is_dead(holder: Holder) -> bool:
    """Whether the holder is a process of this machine that no longer runs."""
    if holder.host != os.uname().nodename:
        return False
    try:
        os.kill(holder.pid, 0)
    except (ProcessLookupError, OverflowError):
        return True
    except PermissionError:
        return False
    started = _started(holder.pid)
    return bool(holder.started and started and started != holder.started)


def read_holder(path: Path) -> Holder | None:
    """Who is named in a lock file; None where there is none, or it cannot be read."""
    try:
        if not path.is_file():
            return None
        with path.open("rb") as file:
            found = json.loads(file.read(4000).decode("utf-8", "replace"))
        if not isinstance(found, Mapping) or type(found.get("pid")) is not int or found["pid"] <= 0:
            return None
        texts = {key: str(found.get(key, "")) for key in ("host", "user", "since", "started")}
        return Holder(pid=found["pid"], **texts)
    except (OSError, ValueError, RecursionError):
        return None


def sidecar_of(path: Path) -> Path:
    """The file beside a build file that says who writes it."""
    real = Path(os.path.realpath(path))
    return real.with_name(f".{real.name}.lock")


def _kernel_lock(path: Path, state: Path) -> tuple[int | None, Path, bool]:
    """Handle, lock file, and whether somebody else has it; OSError where this machine cannot lock."""
    folder = state / "locks"
    durable.private_folder(folder)
    key = hashlib.sha256(os.fsencode(os.path.realpath(path))).hexdigest()[:24]
    file = folder / f"{key}.lock"
    handle = os.open(file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        return None, file, True
    except OSError:
        os.close(handle)
        raise
    return handle, file, False


def _write_sidecar(path: Path, text: str) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | _AS_IT_IS, 0o644)
    try:
        os.write(handle, text.encode())
    finally:
        os.close(handle)


def acquire(path: Path, state: Path, at: datetime, take_over: bool = False) -> Lock:
    """Ask for the right to write a build file.

    take_over: also from the holder on another machine. Where the right is not to be had, the lock names who has it.
    """
    me = this_process(at)
    mine = json.dumps(asdict(me))
    lock = Lock(mine=mine)
    try:
        handle, file, taken = _kernel_lock(path, state)
    except OSError as error:
        lock.notes = (f"no lock on this machine: {durable.sentence(error, str(state / 'locks'))}",)
    else:
        if taken:
            lock.holder = read_holder(file) or Holder(me.host, 0, "somebody", "some time")
            return lock
        lock.handle = handle
        if handle is not None:
            os.ftruncate(handle, 0)
            os.pwrite(handle, mine.encode(), 0)
    _take_sidecar(lock, sidecar_of(path), take_over)
    return lock


def _take_sidecar(lock: Lock, sidecar: Path, take_over: bool) -> None:
    other = read_holder(sidecar)
    if other is not None and lock.handle is not None and (other.host, other.pid) == (os.uname().nodename, os.getpid()):
        other = None  # left by an earlier session of this very process: the kernel lock was free
    if other is not None and not is_dead(other) and not take_over:
        lock.holder = other
        lock.release()
        return
    if other is not None:
        told = "the program was ended from outside last time, what was entered is here; " if is_dead(other) else ""
        lock.notes = (*lock.notes, f"{told}the lock of {other} was taken over")
    try:
        _write_sidecar(sidecar, lock.mine)
    except OSError as error:
        lock.notes = (*lock.notes, f"other machines do not see that this file is open: "
                      f"{durable.sentence(error, str(sidecar.parent))}")
    else:
        lock.sidecar = sidecar
