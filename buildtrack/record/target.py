"""Where something written goes: over what this program wrote of the same kind, never over anything else."""

from __future__ import annotations

import errno
import os
import re
from pathlib import Path

from buildtrack.judging import Judged
from buildtrack.plain_file import open_plain
from buildtrack.record.errors import RecordError
from buildtrack.record.unpack import LARGEST, creator
from buildtrack.storage.attachments import AttachmentError, attached, resolve

PDF, PAGE, PARTS = "PDF", "HTML page", "parts list"
"""Kinds of what is written."""
_HEAD = 16_000
"""So much of a file is looked at to tell what it is [bytes]; of a PDF all, its creator may stand anywhere."""
_OUR_PAGE = re.compile(rb'<meta name="generator" content="buildtrack ')
_BUILD = re.compile(rb"^\s*\[\s*(checklist\s*\]|(steps|instruments)\s*\.)", re.MULTILINE)
_OTHERS = {".toml": "a TOML file", ".csv": "a table or log", ".log": "a log", ".pdf": "a PDF", ".txt": "a text"}


def free_target(out: Path, kind: str, judged: Judged) -> Path:
    """`out` itself, where something of this kind may be written; else RecordError names what is there.

    Free is what does not exist, is empty, or was written by this program as the same kind and is attached to nothing.
    """
    if out.suffix.lower() == ".toml" and not out.exists():
        raise RecordError(f"{out}: .toml is for build files, and this is a {kind}: {_ELSE}")
    if not out.parent.is_dir():
        raise RecordError(f"{out}: there is no folder {out.parent}: make it first, or {_ELSE}")
    if out.is_dir():
        raise RecordError(f"{out}: this is a folder: name a file in it with -o")
    if (there := _what_is(out, kind, judged)) is not None:
        raise RecordError(f"{out}: is {there}: {_ELSE}")
    return out


_ELSE = "name another target with -o"


def _what_is(out: Path, kind: str, judged: Judged) -> str | None:
    """What a file is that must not be written over; None where it may be."""
    try:
        with open_plain(out) as file:
            data = file.read(LARGEST if kind == PDF else _HEAD)
    except FileNotFoundError:
        return None
    except OSError as error:
        if error.errno == errno.EINVAL:
            return None  # a device or a pipe, which holds nothing that could be lost
        raise
    if label := _attached_as(out, judged):
        return f"attached to this build as '{label}'"
    if not data or _is_ours(data, kind):
        return None
    if _BUILD.search(data[:_HEAD]):
        return "a build file"
    return f"{_OTHERS.get(out.suffix.lower(), 'a file')} that is no {kind} of this program"


def _attached_as(out: Path, judged: Judged) -> str:
    """What the file is called in the build where it is attached to it; empty where it is not."""
    real = Path(os.path.realpath(out))
    for item, reading in attached(judged.build, judged.checklist):
        try:
            if resolve(judged.folder, reading.text) == real:
                return judged.checklist.items[item].label if item in judged.checklist.items else item
        except AttachmentError:
            continue  # a name that leads out of the folder is no file that is attached
    return ""


def _is_ours(data: bytes, kind: str) -> bool:
    if kind == PDF:
        return creator(data).startswith("buildtrack ")
    if kind == PAGE:
        return _OUR_PAGE.search(data) is not None
    from buildtrack.record.parts import HEAD

    return data.startswith(",".join(HEAD[:4]).encode())
