"""Attaching a photo or log: the file is hashed and named by its path from the build file's folder.

Behind the name of a log its columns may be set: `test.csv current=3 groups=4+5+6`.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from buildtrack.bench.plain import plain
from buildtrack.model.build import Build, Reading
from buildtrack.model.checklist import Item
from buildtrack.physics.log_setting import set_mapping, split_typed
from buildtrack.physics.logs import LogError, sniff
from buildtrack.plain_file import open_plain

PICTURES = (b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"GIF87a", b"GIF89a")
"""How a picture begins: PNG, JPEG, GIF (and WebP, which names itself four bytes later)."""


def _other_kind(source: Path, kind: str) -> str:
    """Why a file is not of the kind asked for: a photo is a picture, a log is text; empty where it is."""
    try:
        with open_plain(source) as file:
            start = file.read(4096)
    except OSError:
        return ""  # attaching it says what is wrong
    picture = start.startswith(PICTURES) or (start[:4] == b"RIFF" and start[8:12] == b"WEBP")
    if kind == "photo" and not picture:
        return "this is no picture: a photo is a PNG, JPEG, GIF or WebP file"
    if kind == "file" and (picture or start[:4] in (b"%PDF", b"PK\x03\x04")):
        return "this is no log: export it as CSV text"
    return ""


def _no_log(source: Path, columns: str) -> str:
    """Why a file is no log, or its columns cannot be set so; empty where nothing speaks against it."""
    if not source.is_file():
        return ""  # attaching it says what is wrong
    try:
        if columns:
            set_mapping(source, columns)
        else:
            sniff(source)
    except LogError as error:
        return str(error)
    except OSError as error:
        return f"{source.name}: cannot be read ({error.strerror})"
    except ValueError as error:
        return str(error)
    return ""


def attached_reading(build_path: Path, typed: str, at: datetime, kind: str = "") -> Reading | str:
    """A reading that names the file typed, or the sentence that says why it cannot be attached.

    kind: `photo` or `file` (a log), where the content is to be of that kind; columns may be set behind a log's name.
    """
    from buildtrack.storage.attachments import AttachmentError, attach  # storage is loaded when a file is attached

    text, columns = split_typed(typed) if kind == "file" else (typed.strip(), "")
    if not text:
        return "nothing typed: type the name of the file, like photos/label.jpg"
    if len(text) > 1000:
        return f"{len(text)} characters are too many for the name of a file"
    if not all(c.isprintable() for c in text):
        return "the name holds characters that cannot be in the name of a file"
    source = Path(text) if Path(text).is_absolute() else build_path.parent / text
    if sentence := _other_kind(source, kind) or (_no_log(source, columns) if kind == "file" else ""):
        return sentence
    try:
        found = attach(build_path, source)
    except AttachmentError as error:
        return str(error)
    return Reading(found.name, at, sha256=found.sha256, size=found.size, columns=columns)


def same_log(made: Reading, standing: Reading) -> bool:
    """Whether two readings name the same rows read in the same way."""
    return (made.text, made.sha256, made.columns) == (standing.text, standing.sha256, standing.columns)


def replaced(build: Build, item: Item, made: Reading) -> Reading | None:
    """The log that would no longer count once `made` is attached; None where there is none, or its rows are the same.

    Photos are added to each other; of logs the last one counts.
    """
    standing = build.entry(item.id).standing
    if item.kind != "file" or not standing or standing[-1].sha256 == made.sha256:
        return None
    return standing[-1]


def replacing_text(before: Reading, made: Reading) -> str:
    """What stands, what comes in its place, and what becomes of the one before; a line each."""
    when = f", attached {before.taken:%-d %b %Y, %H:%M}" if before.taken is not None else ""
    stays = f"{plain(before.text)} no longer counts; it stays in the build file and its history. u takes this back."
    if before.text == made.text:
        stays = "The name stays, but its rows of before are no longer in the folder. The history keeps their SHA-256."
    return "\n".join([
        f"Now: {plain(before.text)}, {_kilobytes(before.size)}{when}.",
        f"New: {plain(made.text)}, {_kilobytes(made.size)}. What was found with the log before is judged anew.",
        stays,
    ])


def _kilobytes(size: int | None) -> str:
    return f"{(size or 0) / 1000:,.1f} kB"
