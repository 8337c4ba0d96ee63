"""Regular files only: a pipe or a device is refused, never waited for."""

from __future__ import annotations

import errno
import os
import stat
from io import BufferedReader
from pathlib import Path

REFUSED = "this is not a file"


def open_plain(path: Path | str) -> BufferedReader:
    """Open a regular file to read bytes; OSError with a reason for anything else.

    Opening a pipe waits until somebody writes to it, which may be never.
    """
    handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    mode = os.fstat(handle).st_mode
    if not stat.S_ISREG(mode):
        os.close(handle)
        if stat.S_ISDIR(mode):
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
        raise OSError(errno.EINVAL, REFUSED, str(path))
    return os.fdopen(handle, "rb")


def read_plain(path: Path | str) -> bytes:
    """Bytes of a regular file; OSError with a reason for anything else."""
    with open_plain(path) as file:
        return file.read()
