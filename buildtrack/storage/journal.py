"""Every committed edit as one line of JSON, on the disk before the build file is; what a crash left is put in again.

A line holds the parts of the build that changed, whole, with a hash of what each one was before. So an edit that the
file has already is known again, and one that does not fit the file any more is set aside instead of forced in.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from buildtrack import units
from buildtrack.model.build import FORMAT, Build, Entry
from buildtrack.storage import durable, make_tree, read_tree, shapes
from buildtrack.storage.backups import folder_name, of_build

LARGEST = 50_000_000
"""Largest journal that is read [bytes]."""
_TIME = "$time"


def _encode(value: object) -> object:
    if isinstance(value, datetime):
        return {_TIME: value.isoformat()}
    raise TypeError(f"a journal cannot hold a {type(value).__name__}")


def _decode(found: dict[str, Any]) -> Any:
    if found.keys() == {_TIME} and isinstance(found[_TIME], str):
        try:
            return datetime.fromisoformat(found[_TIME])
        except ValueError:
            return found
    return found


def to_json(value: object) -> str:
    """Plain tables as one line of JSON, keys sorted."""
    return json.dumps(value, default=_encode, sort_keys=True, separators=(",", ":"))


def from_json(line: str) -> Any:
    """What `to_json` wrote; ValueError for anything else."""
    try:
        return json.loads(line, object_hook=_decode)
    except RecursionError as error:
        raise ValueError("nested too deeply") from error


def _mark(value: object) -> str:
    return hashlib.sha256(to_json(value).encode()).hexdigest()[:16]


# --- one edit as a line ---


def _parts(build: Build) -> dict[str, Any]:
    """Everything but items, history and snapshot."""
    tree = make_tree.header(build)
    tree.update(make_tree.lists(replace(build, history=())))
    return tree


def _items(old: Build, new: Build) -> dict[str, list[Any]]:
    changed = [i for i in {**old.entries, **new.entries} if old.entries.get(i) != new.entries.get(i)]
    found: dict[str, list[Any]] = {}
    for item in changed:
        found[item] = [_mark(_entry_tree(old, item)), _entry_tree(new, item)]
    return found


def edit(old: Build, new: Build, path: str) -> dict[str, Any]:
    """What turns `old` into `new`, as plain values."""
    before, after = _parts(old), _parts(new)
    parts = [k for k in {**before, **after} if before.get(k) != after.get(k)]
    kept = len(old.history) if new.history[:len(old.history)] == old.history else 0
    return {
        "format": FORMAT,
        "path": path,
        "items": _items(old, new),
        "parts": {k: [_mark(before.get(k)), after.get(k)] for k in parts},
        "kept": kept if kept or not old.history else None,
        "events": [make_tree.record(e, shapes.EVENT) for e in new.history[kept:]],
    }


def why_not_text(line: Mapping[str, Any]) -> str:
    """Why an edit could be stored in no file at all; empty where nothing speaks against it."""
    try:
        text = json.dumps(line, default=_encode, ensure_ascii=False)
        text.encode()
    except TypeError as error:
        return f"this cannot be stored: {error}"
    except UnicodeEncodeError as error:
        before = units.clip(text[max(0, error.start - 20):error.start])
        return f"this cannot be stored: it holds a character that is no text, right behind {before}"
    return ""


class DoesNotFit(ValueError):
    """An edit of the journal that cannot be put in; the sentence says why."""


def _is_in(build: Build, line: Mapping[str, Any]) -> bool:
    """Whether the build has this edit already: its history lines stand where they were put."""
    events, kept = line["events"], line["kept"]
    if events and kept is not None:
        found: list[Any] = [make_tree.record(e, shapes.EVENT) for e in build.history[kept:kept + len(events)]]
        return found == list(events)
    now = _parts(build)
    same_items = all(_entry_tree(build, item) == after for item, (_was, after) in line["items"].items())
    same_parts = all(now.get(key) == after for key, (_was, after) in line["parts"].items())
    return same_items and same_parts and not events


def _entry_tree(build: Build, item: str) -> Any:
    return make_tree.entry(build.entries[item]) if item in build.entries else None


def _check_fit(build: Build, line: Mapping[str, Any]) -> None:
    for item, (was, after) in line["items"].items():
        now = _entry_tree(build, item)
        if _mark(now) != was and now != after:
            raise DoesNotFit(f"item {units.clip(item)} is another one in the file by now")
    now = _parts(build)
    for key, (was, after) in line["parts"].items():
        if _mark(now.get(key)) != was and now.get(key) != after:
            raise DoesNotFit(f"'{units.clip(key)}' is another one in the file by now")


def apply(build: Build, line: Mapping[str, Any]) -> Build:
    """The build with one edit of the journal put in; DoesNotFit where the file has moved on."""
    try:
        if line.get("format", 1) != FORMAT:
            raise DoesNotFit("it was written by another version of the program")
        if _is_in(build, line):
            return build
        _check_fit(build, line)
        entries = dict(build.entries)
        for item, (_was, after) in line["items"].items():
            _put(entries, item, after)
        tree = {**_parts(build), **{key: after for key, (_was, after) in line["parts"].items()}}
        events = read_tree.Spot((), {"history": line["events"]}).tables("history")
        added = tuple(read_tree.record(spot, shapes.EVENT) for spot in events)
        made, _steps = read_tree.build({k: v for k, v in tree.items() if v is not None})
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        if isinstance(error, DoesNotFit):
            raise
        raise DoesNotFit(f"it cannot be read ({units.clip(str(error), 200)})") from error
    history = build.history if line["kept"] is not None else ()
    return replace(made, entries=entries, history=(*history, *added), snapshot=build.snapshot)


def _put(entries: dict[str, Entry], item: str, after: Any) -> None:
    if after is None:
        entries.pop(item, None)
    else:
        entries[item] = read_tree.entry(read_tree.Spot(("journal", item), after))


# --- the file ---


def journal_path(state: Path, build_id: str, real: str) -> Path:
    """Where the journal of a build file lies: by the build's id and by where the file is."""
    place = hashlib.sha256(os.fsencode(real)).hexdigest()[:12]
    return state / "journal" / f"{folder_name(build_id)}-{place}.jsonl"


@dataclass(frozen=True, slots=True)
class Journal:
    """The journal of one build file."""

    path: Path
    disk: durable.Disk = durable.REAL

    def append(self, line: Mapping[str, Any]) -> None:
        """Put one edit on the disk; OSError where that fails."""
        data = to_json(line).encode() + b"\n"
        new = not self.path.exists()
        durable.private_folder(self.path.parent)
        handle = self.disk.open(str(self.path), os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, 0o600)
        try:
            end = os.lseek(handle, 0, os.SEEK_END)
            if end and os.pread(handle, 1, end - 1) != b"\n":  # a line that a crash cut off stays a line of its own
                data = b"\n" + data
            while data:
                data = data[self.disk.write(handle, data):]
            self.disk.fsync(handle)
        except OSError:
            os.ftruncate(handle, end)  # no half line: the next one holds this edit too
            raise
        finally:
            self.disk.close(handle)
        if new:
            durable.sync_folder(str(self.path.parent), self.disk)

    def lines(self) -> list[str]:
        """Every line as it stands; none where there is no journal. OSError where it cannot be read."""
        if not self.path.exists():
            return []
        if self.path.stat().st_size > LARGEST:
            raise OSError(f"{self.path}: the journal is too large to be read")
        text = self.path.read_bytes().decode("utf-8", "replace")
        return [line for line in text.split("\n") if line.strip()]

    def clear(self) -> None:
        """Forget the edits: the build file has them. An edit that comes back after a crash is known to be there."""
        with suppress(FileNotFoundError, NotADirectoryError):
            self.path.unlink()

    def set_aside(self, lines: list[str], at: datetime) -> Path:
        """Keep lines that could not be put in, in a file of their own that is never read again by itself."""
        kept = self.path.with_name(f"{self.path.stem}-{at:%Y%m%dT%H%M%SZ}-{_mark(lines)}.aside")
        kept.write_text("".join(line + "\n" for line in lines), encoding="utf-8")
        return kept


def orphans(build_id: str, own: Path) -> list[Journal]:
    """Journals of the same build whose file is no longer where it was: it was moved after a crash."""
    found: list[Journal] = []
    for path in of_build(own.parent, build_id, ".jsonl"):
        other = Journal(path)
        lines = other.lines() if path != own else []
        if lines and not os.path.exists(_place(lines[0])):
            found.append(other)
    return found


def _place(line: str) -> str:
    """Where the file of a journal line was; here, where it does not say (so that it is let alone)."""
    try:
        place = from_json(line)["path"]
        return place if isinstance(place, str) and "\0" not in place else os.curdir
    except (ValueError, TypeError, KeyError):
        return os.curdir


@dataclass(frozen=True, slots=True)
class Replayed:
    """What a journal did to a build."""

    build: Build
    put_in: int = 0
    """How many edits were not in the file."""
    left: tuple[str, ...] = ()
    """Lines that could not be put in."""
    notes: tuple[str, ...] = field(default_factory=tuple)


def replay(build: Build, lines: list[str]) -> Replayed:
    """The build with every edit of a journal that it does not have yet."""
    put_in, left, notes = 0, [], []
    for number, line in enumerate(lines, 1):
        try:
            found = from_json(line)
        except ValueError:
            cut_off = number == len(lines)
            notes.append("the last line of the journal was cut off by the crash: that one edit is lost" if cut_off
                         else f"line {number} of the journal cannot be read")
            left.append(line)
            continue
        try:
            after = apply(build, found)
        except DoesNotFit as error:
            left.append(line)
            notes.append(f"an edit in the journal was set aside: {error}")
            continue
        put_in += after is not build
        build = after
    return Replayed(build, put_in, tuple(left), tuple(notes))
