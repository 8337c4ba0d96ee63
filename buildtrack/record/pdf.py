"""The PDF record: HTML is made here, laid out in a child process with bounded time and memory, and written durably."""

from __future__ import annotations

import json
import os
import select
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO

from buildtrack.judging import Judged
from buildtrack.record.errors import PANGO_HELP, RecordCancelled, RecordError
from buildtrack.record.render import FAILED, NO_PANGO, REFUSED, TOO_MUCH

PAPERS = ("A4", "Letter")
VARIANTS = ("pdf/a-3b", "pdf/a-3a", "pdf/ua-1", "")
MEMORY_BYTES = 1_500_000_000
"""Address space the renderer may take."""
WAIT = 5.0
"""A renderer that gets no processor, on a busy machine, is waited for so many times longer than it may compute."""
_PASSED_ON = ("PATH", "HOME", "LANG", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "LD_LIBRARY_PATH", "VIRTUAL_ENV",
              "FONTCONFIG_FILE", "FONTCONFIG_PATH")
_LOOK_EVERY_S = 0.1
_BROKE_DOWN = (-5, -6, -11)
"""SIGTRAP, SIGABRT, SIGSEGV: what libraries in C do when they get no memory."""
_NO_MEMORY = ("MemoryError", "lost sys.stderr")
"""What Python says when there is not even memory for an error message."""

OnLine = Callable[[str], None]
Cancelled = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class Enclosed:
    """A file that goes into the PDF."""

    name: str
    description: str
    content: bytes
    relationship: str = "Supplement"


def _request(html: str, enclosed: Iterable[Enclosed], variant: str, at: datetime, timeout_s: float,
             memory_bytes: int) -> bytes:
    body = html.encode("utf-8")
    files = tuple(enclosed)
    head = {
        "html_bytes": len(body), "variant": variant, "at": int(at.timestamp()), "memory_bytes": memory_bytes,
        "time_s": max(1, int(timeout_s) + 1), "language": "en",
        "attachments": [{"name": f.name, "description": f.description, "relationship": f.relationship,
                         "bytes": len(f.content)} for f in files]}
    return b"".join([json.dumps(head).encode(), b"\n", body, *(f.content for f in files)])


def _environment(folder: str, at: datetime) -> dict[str, str]:
    """What the child sees of the environment: nothing of the person's but where programs, libraries and fonts are."""
    kept = {name: os.environ[name] for name in _PASSED_ON if name in os.environ}
    package = str(Path(__file__).resolve().parents[2])
    paths = [package, *(p for p in os.environ.get("PYTHONPATH", "").split(os.pathsep) if p)]
    return {**kept, "PYTHONPATH": os.pathsep.join(paths), "TMPDIR": folder,
            "SOURCE_DATE_EPOCH": str(int(at.timestamp())),
            "PYTHONHASHSEED": "0", "PYTHONIOENCODING": "utf-8", "TZ": "UTC"}


def _explained(code: int, last_error: str, timeout_s: float, memory_bytes: int) -> RecordError:
    if code == NO_PANGO:
        return RecordError("the PDF needs the text layout library Pango, which is not on this machine; this brings it: "
                           + PANGO_HELP)
    if code == TOO_MUCH or code in _BROKE_DOWN or any(words in last_error for words in _NO_MEMORY):
        return RecordError(f"the record needs more than {memory_bytes // 1_000_000} MB of memory; "
                           "shorten what is written in the build, or write the HTML record")
    if code == REFUSED:
        return RecordError(last_error)
    if code in (-24, -9):  # SIGXCPU, SIGKILL
        return RecordError(f"the record took more than {timeout_s:g} s of computing, or the system stopped it; "
                           "nothing was written. Shorten what is written in the build, or write the HTML record")
    what = f": {last_error}" if last_error else f" (code {code})"
    return RecordError(f"the renderer stopped without a PDF{what}")


def _ignored(_words: str) -> None:
    """Where nobody asked to be told."""


def _follow(child: subprocess.Popen[bytes], errors: IO[bytes], tell: Mapping[str, OnLine],
            cancelled: Cancelled | None, timeout_s: float) -> str:
    """Pass progress on until the child ends; returns its last error line."""
    deadline = time.monotonic() + WAIT * timeout_s
    last_error, rest = "", b""
    os.set_blocking(errors.fileno(), False)
    while True:
        if cancelled is not None and cancelled():
            raise RecordCancelled("the record was stopped; nothing was written")
        if time.monotonic() > deadline:
            raise RecordError(f"the record took more than {timeout_s:g} s; nothing was written")
        ready, _, _ = select.select([errors], [], [], _LOOK_EVERY_S)
        if not ready:
            continue
        chunk = errors.read(65536)
        if not chunk:
            break
        *lines, rest = (rest + chunk).split(b"\n")
        for raw in lines:
            kind, _, words = raw.decode("utf-8", "replace").partition(" ")
            if kind in tell:
                tell[kind](words)
            elif raw.strip():
                last_error = words if kind == "error" else raw.decode("utf-8", "replace")
    child.wait(timeout=max(1.0, deadline - time.monotonic()))
    return last_error


def render_pdf(html: str, enclosed: Iterable[Enclosed], at: datetime, *, variant: str = "pdf/a-3b",
               on_progress: OnLine | None = None, on_warning: OnLine | None = None,
               cancelled: Cancelled | None = None, timeout_s: float = 120.0,
               memory_bytes: int = MEMORY_BYTES) -> bytes:
    """Lay HTML out as PDF in a child process; RecordError says in one line what went wrong.

    on_progress, on_warning: called with each line the renderer says. cancelled: asked now and then; True stops it.
    timeout_s: processor time that it may take.
    """
    tell = {"progress": on_progress or _ignored, "warning": on_warning or _ignored}
    with tempfile.TemporaryDirectory(prefix="buildtrack-record-") as folder, \
            tempfile.TemporaryFile(dir=folder) as given, tempfile.TemporaryFile(dir=folder) as made:
        given.write(_request(html, enclosed, variant, at, timeout_s, memory_bytes))
        given.seek(0)
        child = subprocess.Popen(
            [sys.executable, "-m", "buildtrack.record.render"], stdin=given, stdout=made, stderr=subprocess.PIPE,
            cwd=folder, env=_environment(folder, at))
        assert child.stderr is not None
        try:
            last_error = _follow(child, child.stderr, tell, cancelled, timeout_s)
        finally:
            if child.poll() is None:
                child.kill()
                child.wait()
            child.stderr.close()
        if child.returncode != 0:
            raise _explained(child.returncode, last_error, timeout_s, memory_bytes)
        made.seek(0)
        return made.read()


def write_durably(content: bytes, out: Path) -> Path:
    """Write a file so that it is there whole or not at all; RecordError where it cannot be written."""
    target = out.resolve() if out.is_symlink() else out
    try:
        if target.exists() and not target.is_file():  # a device or a pipe is written to, not replaced by a file
            target.write_bytes(content)
            return out
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            os.chmod(name, target.stat().st_mode & 0o777 if target.exists() else 0o644)
            os.replace(name, target)
        # whatever ends it, a stopped export too: no half file is left behind, and the error goes on
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    except OSError as error:
        raise RecordError(f"{out}: cannot be written ({error.strerror})") from error
    return out


def make_record(judged: Judged, source_text: bytes, out: Path, *, paper: str = "A4", variant: str = "pdf/a-3b",
                on_progress: OnLine | None = None, cancelled: Cancelled | None = None,
                timeout_s: float = 120.0, called: str = "") -> Path:
    """Write the PDF record of a build; returns where it is.

    source_text: the bytes of the build file, attached as they are, under the name it is `called` by.
    paper: A4 or Letter. variant: one of VARIANTS.
    on_progress: called with a line now and then. cancelled: asked now and then; True stops and writes nothing.
    Raises RecordError (RecordCancelled where stopped) with one clear line.
    """
    from buildtrack.record.content import enclosed_files, gather
    from buildtrack.record.gather_front import last_change
    from buildtrack.record.html import record_html

    if paper not in PAPERS:
        raise RecordError(f"paper '{paper}' is not known; there are: {', '.join(PAPERS)}")
    if variant not in VARIANTS:
        raise RecordError(f"'{variant}' is not a kind of PDF this program writes; there are: "
                          + ", ".join(v for v in VARIANTS if v))
    if on_progress is not None:
        on_progress("gathering the pages")
    html = record_html(gather(judged, source_text, called), paper=paper)
    content = render_pdf(html, enclosed_files(judged, source_text, called), last_change(judged), variant=variant,
                         on_progress=on_progress, cancelled=cancelled, timeout_s=timeout_s)
    return write_durably(content, out)


__all__ = ["Enclosed", "FAILED", "make_record", "render_pdf", "write_durably"]
