"""Attached photos and logs of a build, read from its folder for the record: never from outside it, never endless."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from buildtrack.judging import Judged
from buildtrack.model.build import Reading
from buildtrack.model.checklist import Item
from buildtrack.record.pages import AttachedFile, Photo
from buildtrack.record.picture_size import picture
from buildtrack.record.text import line, moment, plain

LARGEST_FILE = 20_000_000
LARGEST_SUM = 40_000_000
"""How much is attached inside the PDF [bytes]; what is larger is named with its hash only."""
LARGEST_PHOTO = 8_000_000
MOST_PIXELS, MOST_PIXELS_IN_ALL = 50_000_000, 200_000_000
"""Pixels of one photo shown, and of all of them: each million takes 8 MB and 0.1 s to lay out (measured, 2 cores)."""


@dataclass(frozen=True, slots=True)
class Found:
    """An attached file as it is on disk now."""

    item: Item
    reading: Reading
    name: str
    content: bytes | None
    remark: str


def _inside(folder: Path, name: str) -> Path | None:
    """The file called `name` inside `folder`; None where the name leads out of it."""
    pure = PurePosixPath(name)
    if not name or "\\" in name or "\x00" in name or pure.is_absolute() or ".." in pure.parts:
        return None
    target = (folder / pure).resolve()
    return target if target.is_relative_to(folder.resolve()) else None


def _read(judged: Judged, reading: Reading) -> tuple[bytes | None, str]:
    path = _inside(judged.folder, reading.text)
    if path is None:
        return None, "the name leads out of the folder of the build: not read"
    try:
        if not path.is_file():
            return None, "missing: there is no such file beside the build"
        if path.stat().st_size > LARGEST_FILE:
            return None, f"{path.stat().st_size} bytes: too large to attach"
        content = path.read_bytes()
    except OSError as error:
        return None, f"cannot be read ({error.strerror})"
    if reading.sha256 and hashlib.sha256(content).hexdigest() != reading.sha256:
        return content, "changed since it was attached: the SHA-256 differs"
    return content, "" if reading.sha256 else "no SHA-256 was recorded"


def attached(judged: Judged) -> tuple[Found, ...]:
    """Every photo and log that counts, in the order of the work, each name once."""
    found: dict[str, Found] = {}
    for item in judged.checklist.all_items():
        if item.kind not in ("photo", "file"):
            continue
        last = {reading.text: reading for reading in judged.build.entry(item.id).standing}  # attached again: the last
        for reading in last.values():
            if reading.text not in found:
                content, remark = _read(judged, reading)
                found[reading.text] = Found(item, reading, reading.text, content, remark)
    return tuple(found.values())


def fitting(files: tuple[Found, ...]) -> tuple[Found, ...]:
    """Those that go into the PDF: logs first, then photos, as far as they fit."""
    chosen: list[Found] = []
    total = 0
    for file in sorted(files, key=lambda f: f.item.kind != "file"):
        size = len(file.content) if file.content is not None else 0
        if file.content is not None and total + size <= LARGEST_SUM:
            chosen.append(file)
            total += size
    return tuple(chosen)


def file_lines(files: tuple[Found, ...], source_name: str, source_text: bytes,
               kept_out: Mapping[str, str]) -> tuple[AttachedFile, ...]:
    """The list of files with their SHA-256; `kept_out` is what `not_shown` found."""
    inside = fitting(files)
    lines = [AttachedFile(source_name, "build file", f"{len(source_text)} bytes",
                          hashlib.sha256(source_text).hexdigest(), "", True)]
    for file in files:
        size = f"{len(file.content)} bytes" if file.content is not None else ""
        digest = hashlib.sha256(file.content).hexdigest() if file.content is not None else file.reading.sha256
        remark = "; ".join(x for x in (file.remark, kept_out.get(file.name, "")) if x)
        lines.append(AttachedFile(line(file.name, 200), line(file.item.label), size, digest, remark, file in inside))
    return tuple(lines)


def not_shown(files: tuple[Found, ...]) -> dict[str, str]:
    """Photos that are there but not shown among the pictures, by name, each with the reason in a few words."""
    kept_out, pixels = {}, 0
    inside = fitting(files)
    for file in files:
        if file.item.kind != "photo" or file.content is None:
            continue
        if len(file.content) > LARGEST_PHOTO:
            kept_out[file.name] = (f"not shown: {len(file.content)} bytes; at most "
                                   f"{LARGEST_PHOTO // 1_000_000} million are")
            continue
        found = picture(file.content)
        if found is None:
            kept_out[file.name] = "not shown: its header is not that of a PNG or JPEG picture"
        elif found.pixels > MOST_PIXELS:
            kept_out[file.name] = (f"not shown: {found.width} × {found.height} pixels; at most "
                                   f"{MOST_PIXELS // 1_000_000} million are")
        elif pixels + found.pixels > MOST_PIXELS_IN_ALL or file not in inside:
            kept_out[file.name] = "not shown: the photos before it fill the room for pictures"
        else:
            pixels += found.pixels
    return kept_out


def photos(files: tuple[Found, ...], kept_out: Mapping[str, str]) -> tuple[Photo, ...]:
    """Pictures shown in the record: PNG and JPEG of sensible size in bytes and in pixels, but for `not_shown`."""
    shown = []
    for file in files:
        if file.item.kind != "photo" or file.content is None or file.name in kept_out:
            continue
        found = picture(file.content)
        assert found is not None
        url = f"data:{found.kind};base64,{base64.b64encode(file.content).decode('ascii')}"
        shown.append(Photo(line(file.item.label), line(file.name, 120), url, moment(file.reading.taken),
                           plain(file.reading.note)))
    return tuple(shown)
