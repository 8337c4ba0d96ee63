"""Trying mistakes in a tree of their own: one process collects the tests, and each mistake is tried in a fork of it.

A mistake in the body of a function is put in by exchanging the function's code, which costs nothing; one that works when the
module is imported (a constant, a default) needs a fresh pytest in the fork. Either way the file on disk has it too.
"""

from __future__ import annotations

import importlib
import math
import os
import resource
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from types import CodeType, FunctionType
from typing import NoReturn

import pytest
from _pytest.runner import runtestprotocol

from tests.bench.mutants import Mutant

WAIT_S = 600.0
"""For one that waits for ever without using the processor."""


def passes(work: Callable[[], int], seconds: float, wait_s: float = WAIT_S) -> bool:
    """Whether the work, done in a fork, answers 0; one that uses too much of the processor or waits for ever does not."""
    child = os.fork()
    if child == 0:
        _in_child(work, math.ceil(seconds))
    until = time.monotonic() + wait_s
    while True:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return status == 0
        if time.monotonic() > until:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return False
        time.sleep(0.01)


def _in_child(work: Callable[[], int], seconds: int) -> NoReturn:
    answer = 70
    try:
        os.setsid()
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
        nothing = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nothing, stream)
        answer = work()
    finally:
        os._exit(answer)


def run_collected(items: list[pytest.Item]) -> int:
    """0 if all of these pass, 1 at the first that does not; in a fork of the process that collected them."""
    for item, after in zip(items, [*items[1:], None], strict=True):
        if any(report.failed for report in runtestprotocol(item, log=False, nextitem=after)):
            return 1
    return 0


def run_afresh(tests: list[str]) -> int:
    """The same by a pytest that imports everything anew."""
    for name in [n for n in sys.modules if n.partition(".")[0] in ("tests", "buildtrack")]:
        del sys.modules[name]
    sys.dont_write_bytecode = True
    return int(pytest.main(["-x", "-q", "--no-header", "--tb=no", "-p", "no:cacheprovider", *tests]))


@contextmanager
def on_disk(file: Path, mutant: Mutant) -> Iterator[None]:
    """The file with the mistake, for tests that start a process."""
    sound, times = file.read_text(encoding="utf-8"), file.stat()
    try:
        file.write_text(mutant.put_into(sound), encoding="utf-8")
        # another time than the compiled module's, however quickly they follow each other
        os.utime(file, (times.st_atime, times.st_mtime + 10))
        yield
    finally:
        file.write_text(sound, encoding="utf-8")
        os.utime(file, ns=(times.st_atime_ns, times.st_mtime_ns))


def exchange(file: Path, module_name: str, mutant: Mutant, sound: str) -> bool:
    """Put the mistake into the imported module; whether that could be done (else nothing was changed)."""
    if not mutant.runs:
        return False
    old: CodeType | None = compile(sound, str(file), "exec")
    new: CodeType | None = compile(mutant.put_into(sound), str(file), "exec")
    holder: object = importlib.import_module(module_name)
    for name in mutant.room.split("."):
        assert old is not None and new is not None
        old, new = _inner(old, name), _inner(new, name)
        holder = vars(holder).get(name)
        if old is None or new is None or holder is None:
            return False
        if not isinstance(holder, type):
            break
    function = _bare(holder)
    if function is None or old is None or new is None or function.__code__ != old or new == old:
        return False
    if len(new.co_freevars) != len(function.__code__.co_freevars):
        return False
    function.__code__ = new
    return True


def _inner(code: CodeType, name: str) -> CodeType | None:
    found = [c for c in code.co_consts if isinstance(c, CodeType) and c.co_name == name]
    return found[0] if len(found) == 1 else None


def _bare(held: object) -> FunctionType | None:
    """The plain function behind properties, class methods, caches and context managers."""
    if isinstance(held, property):
        held = held.fget
    elif isinstance(held, cached_property):
        held = held.func
    elif isinstance(held, classmethod | staticmethod):
        held = held.__func__
    while hasattr(held, "__wrapped__"):
        held = held.__wrapped__
    return held if isinstance(held, FunctionType) else None
