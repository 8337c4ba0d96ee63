"""The attached discharge log, read once and kept while the file stays as it is."""

from __future__ import annotations

import os
import stat
from collections import OrderedDict
from pathlib import Path

from buildtrack import units
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist
from buildtrack.model.instruments import instruments
from buildtrack.physics import logs
from buildtrack.storage import durable
from buildtrack.storage.attachments import AttachmentError, resolve
from buildtrack.workings.discharge_log import LogData, logger_errors
from buildtrack.workings.inputs import LOG_DATA, applies_by_items
from buildtrack.workings.values import Failed, Known, Missing

ITEM = "discharge_log"
LARGEST = 500_000_000
"""Largest log that is read [bytes]; a million rows have about 25 million."""
KEPT = 8
"""Logs kept in memory."""

Key = tuple[str, int, int, int]
_kept: OrderedDict[Key, logs.LogSummary | str] = OrderedDict()


def read_log(build: Build, checklist: Checklist, folder: Path) -> Known | Missing | Failed:
    """What the attached log of a build says, as an input of the graph.

    folder: the folder of the build file; the log's name never leads out of it. Missing where none is attached or asked
    for; Failed with one sentence where the file is gone, changed since it was attached, too large, or no log.
    A file is read again only when its size or time has changed.
    """
    item, standing = checklist.items.get(ITEM), build.entry(ITEM).standing
    meters = instruments(build)
    if item is None or not standing or not applies_by_items(item.only_if, build, checklist, meters):
        return Missing(frozenset({ITEM}))
    name, recorded = standing[-1].text, standing[-1].sha256
    try:
        path = resolve(folder, name)
        found = _summary(path)
    except AttachmentError as error:
        return Failed(LOG_DATA, str(error))
    except FileNotFoundError:
        return Failed(LOG_DATA, f"{units.clip(name, 80)}: there is no such file")
    except OSError as error:
        return Failed(LOG_DATA, f"{units.clip(name, 80)}: cannot be read ({durable.reason(error)})")
    if isinstance(found, str):
        return Failed(LOG_DATA, found)
    if recorded and found.sha256 != recorded:
        return Failed(LOG_DATA, f"{units.clip(name, 80)}: was changed after it was attached; attach it again")
    charge, voltage = logger_errors(found, meters, standing[-1].instrument)
    return Known(LogData(name, path.stat().st_size, found, charge, voltage), {}, standing[-1].value_class)


def _summary(path: Path) -> logs.LogSummary | str:
    """The log, or the sentence that says why it cannot be read."""
    status = os.stat(path)
    shown = units.clip(path.name, 80)
    if not stat.S_ISREG(status.st_mode):
        return f"{shown}: this is not a file"
    if status.st_size > LARGEST:
        return f"{shown}: {status.st_size} bytes are more than the {LARGEST} that are read as a log"
    key = (str(path), status.st_size, status.st_mtime_ns, status.st_ino)
    if key in _kept:
        _kept.move_to_end(key)
        return _kept[key]
    try:
        found: logs.LogSummary | str = logs.read_log(path)
    except (ValueError, ArithmeticError, LookupError) as error:
        found = units.clip(str(error), 300)
    _kept[key] = found
    while len(_kept) > KEPT:
        _kept.popitem(last=False)
    return found
