"""Attaching a photo or log: the file is hashed and named by its path from the build file's folder."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from buildtrack.model.build import Reading


def attached_reading(build_path: Path, typed: str, at: datetime) -> Reading | str:
    """A reading that names the file typed, or the sentence that says why it cannot be attached."""
    from buildtrack.storage.attachments import AttachmentError, attach  # storage is loaded when a file is attached

    text = typed.strip()
    if not text:
        return "nothing typed: type the name of the file, like photos/label.jpg"
    if len(text) > 1000:
        return f"{len(text)} characters are too many for the name of a file"
    if not all(c.isprintable() for c in text):
        return "the name holds characters that cannot be in the name of a file"
    source = Path(text) if Path(text).is_absolute() else build_path.parent / text
    try:
        found = attach(build_path, source)
    except AttachmentError as error:
        return str(error)
    return Reading(found.name, at, sha256=found.sha256, size=found.size)
