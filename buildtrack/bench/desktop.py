"""Shows a file with the program the desktop has for it: only where there is a desktop, and without waiting for it."""

from __future__ import annotations

import asyncio
import os
import shutil
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

PATIENCE_S = 3.0
"""A viewer that has not failed after so long has opened; it may run on for as long as the person reads."""
_STARTFILE = "import os, sys; os.startfile(sys.argv[1])"

Which = Callable[[str], str | None]


def viewer(path: Path, platform: str, environment: Mapping[str, str], which: Which = shutil.which) -> Sequence[str]:
    """The command that shows a file on this desktop; empty where there is none, as on a bare terminal or over ssh."""
    if environment.get("SSH_CONNECTION") or environment.get("SSH_TTY"):
        return ()
    if platform == "win32":
        return (sys.executable, "-c", _STARTFILE, str(path))
    if platform == "darwin":
        return (found, str(path)) if (found := which("open")) else ()
    if not (environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY")):
        return ()
    return (found, str(path)) if (found := which("xdg-open")) else ()


def viewer_here(path: Path) -> Sequence[str]:
    """The command that shows a file on the desktop this program runs on."""
    return viewer(path, sys.platform, os.environ)


async def show(command: Sequence[str], patience_s: float = PATIENCE_S) -> str:
    """Start a viewer on its own and say in a few words what came of it; empty where there is none to start."""
    if not command:
        return ""
    quiet = asyncio.subprocess.DEVNULL
    try:
        process = await asyncio.create_subprocess_exec(*command, stdin=quiet, stdout=quiet, stderr=quiet,
                                                       start_new_session=True)
        code = await asyncio.wait_for(process.wait(), patience_s)
    except TimeoutError:
        return "opened"
    except OSError as error:
        return f"not opened: {error.strerror or error}"
    return "opened" if code == 0 else "not opened: the desktop has no program for it"
