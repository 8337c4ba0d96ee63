"""Attached logs, read once and kept while the file and the columns set for it stay as they are."""

from __future__ import annotations

import os
import stat
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path

from buildtrack import units
from buildtrack.model.build import Build, Reading
from buildtrack.model.checklist import Checklist
from buildtrack.model.instruments import instruments
from buildtrack.physics import logs
from buildtrack.physics.log_setting import set_mapping
from buildtrack.storage import durable
from buildtrack.storage.attachments import AttachmentError, resolve
from buildtrack.workings.discharge_log import LogData, OwnLogs, logger_errors
from buildtrack.workings.inputs import LOG_DATA, OWN_DATA, applies_by_items
from buildtrack.workings.values import Failed, Known, Missing

ITEM = "discharge_log"
OWN_ITEMS = ("own_curve_log", "own_curve_log_fast")
"""Items that hold logs of one cell; the first is the slow one."""
LOG_ITEMS = (ITEM, *OWN_ITEMS)
LARGEST = 500_000_000
"""Largest log that is read [bytes]; a million rows have about 25 million."""
KEPT = 8
"""Logs kept in memory."""


@dataclass(frozen=True, slots=True)
class ReadLog:
    """A log as read, and its columns in words."""

    log: logs.LogSummary
    columns: tuple[str, ...]


Key = tuple[str, int, int, int, str]
_kept: OrderedDict[Key, ReadLog | str] = OrderedDict()


def read_log(build: Build, checklist: Checklist, folder: Path) -> Known | Missing | Failed:
    """What the attached log of the discharge test says, as an input of the graph.

    folder: the folder of the build file; the log's name never leads out of it. Missing where none is attached or asked
    for; Failed with one sentence where the file is gone, changed since it was attached, too large, or no log.
    A file is read again only when its size, its time or the columns set by hand have changed.
    """
    reading = _standing(build, checklist, ITEM)
    if reading is None:
        return Missing(frozenset({ITEM}))
    found = _attached(build, reading, folder)
    return Failed(LOG_DATA, found) if isinstance(found, str) else Known(found, {}, reading.value_class)


def read_own_logs(build: Build, checklist: Checklist, folder: Path) -> Known | Missing | Failed:
    """What the attached logs of one cell say, the slow one first; else as `read_log`."""
    readings = [r for name in OWN_ITEMS if (r := _standing(build, checklist, name)) is not None]
    if not readings or _standing(build, checklist, OWN_ITEMS[0]) is None:
        return Missing(frozenset({OWN_ITEMS[0]}))
    found: list[LogData] = []
    for reading in readings:
        data = _attached(build, reading, folder)
        if isinstance(data, str):
            return Failed(OWN_DATA, data)
        found.append(data)
    return Known(OwnLogs(tuple(found)), {}, readings[0].value_class)


def _standing(build: Build, checklist: Checklist, name: str) -> Reading | None:
    """The reading that names the log of an item, where one is attached and asked for."""
    item, standing = checklist.items.get(name), build.entry(name).standing
    if item is None or not standing:
        return None
    if item.only_if and not applies_by_items(item.only_if, build, checklist, instruments(build)):
        return None
    return standing[-1]


def _attached(build: Build, reading: Reading, folder: Path) -> LogData | str:
    """One attached log, or the sentence that says why it cannot be used."""
    name = reading.text
    shown = units.clip(name, 80)
    try:
        path = resolve(folder, name)
        found = _summary(path, reading.columns)
        if isinstance(found, str):
            return found
        size = path.stat().st_size
    except AttachmentError as error:
        return str(error)
    except FileNotFoundError:
        return f"{shown}: there is no such file"
    except OSError as error:
        return f"{shown}: cannot be read ({durable.reason(error, reading=True)})"
    if reading.sha256 and found.log.sha256 != reading.sha256:
        return f"{shown}: was changed after it was attached; attach it again"
    charge, voltage = logger_errors(found.log, instruments(build), reading.instrument)
    return LogData(name, size, found.log, charge, voltage, found.columns, reading.columns)


def _summary(path: Path, columns: str) -> ReadLog | str:
    """The log, or the sentence that says why it cannot be read."""
    status = os.stat(path)
    shown = units.clip(path.name, 80)
    if not stat.S_ISREG(status.st_mode):
        return f"{shown}: this is not a file"
    if status.st_size > LARGEST:
        return f"{shown}: {status.st_size} bytes are more than the {LARGEST} that are read as a log"
    key = (str(path), status.st_size, status.st_mtime_ns, status.st_ino, columns)
    if key in _kept:
        _kept.move_to_end(key)
        return _kept[key]
    try:
        found: ReadLog | str = read_columns(path, columns)
    except (ValueError, ArithmeticError, LookupError) as error:
        found = units.clip(str(error), 300)
    _kept[key] = found
    while len(_kept) > KEPT:
        _kept.popitem(last=False)
    return found


def read_columns(path: Path, columns: str) -> ReadLog:
    """A log with the columns set in a text, like `current=3 groups=4+5`; all are told from the file where it is empty.

    Raises LogError or ColumnError with one sentence.
    """
    if columns:
        mapping, notes = set_mapping(path, columns)
        log = logs.read_log(path, mapping, notes=notes)
    else:
        log = logs.read_log(path)
    return ReadLog(log, logs.describe(log.mapping, logs.sniff(path).header))
