"""`buildtrack log`: what is in a discharge log, or in the logs attached to a build, and columns set by hand."""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

from buildtrack import units
from buildtrack.console.common import checklist_of, now, plain, print_json, wrapped
from buildtrack.judging import summary
from buildtrack.model import edit
from buildtrack.model.build import Build, Reading
from buildtrack.model.checklist import Checklist, Item
from buildtrack.physics.logs import LogSummary
from buildtrack.storage.attachments import resolve
from buildtrack.storage.build_file import read_build
from buildtrack.storage.log_data import ITEM, LOG_ITEMS, read_columns
from buildtrack.storage.session import open_session
from buildtrack.workings.explain import plain_data

AS_TOLD = "auto"
"""Typed for the columns: all are told from the file again."""


def log(options: argparse.Namespace) -> int:
    """Say what is in a log, or in the logs attached to a build; columns set by hand are kept in the build."""
    path: Path = options.file
    if options.every or options.alarm:
        raise ValueError(f"--{'every' if options.every else 'alarm'} is for a log that grows: add --follow")
    columns = shlex.join(options.map)
    if path.suffix == ".toml":
        return _of_build(path, columns, options)
    found = read_columns(path, "" if columns == AS_TOLD else columns)
    if options.json:
        print_json(log_data(found.log))
    else:
        _print_log(found.log, found.columns)
    return 0


def _of_build(path: Path, columns: str, options: argparse.Namespace) -> int:
    if columns:
        _keep(path, columns, options.item or ITEM, options.by)
    build = read_build(path).build
    told = {}
    for item, reading in _attached(build, checklist_of(build, path), options.item):
        found = read_columns(resolve(path.resolve().parent, reading.text), reading.columns)
        if options.json:
            told[item.id] = {"set_by_hand": reading.columns, "columns": found.columns, **log_data(found.log)}
            continue
        by_hand = f"; columns set by hand: {plain(reading.columns)}" if reading.columns else ""
        print(wrapped(f"{item.label}: {plain(reading.text)}{by_hand}"))
        _print_log(found.log, found.columns)
    if options.json:
        print_json(told)
    return 0


def _attached(build: Build, checklist: Checklist, only: str) -> Iterator[tuple[Item, Reading]]:
    """The logs a build names, with their items; ValueError where there is none."""
    found = False
    for name in (only,) if only else LOG_ITEMS:
        item, standing = checklist.items.get(name), build.entry(name).standing
        if item is not None and standing:
            found = True
            yield item, standing[-1]
    if not found:
        raise ValueError(f"{build.title}: no log is attached" + (f" to {units.clip(only)}" if only else ""))


def _keep(path: Path, columns: str, name: str, by: str) -> None:
    """Set the columns of an attached log in the build file, once the log was read with them."""
    session = open_session(path, snapshot=summary)
    try:
        if session.read_only_reason:
            raise ValueError(f"{path}: {session.read_only_reason}")
        item, reading = next(_attached(session.build, session.checklist, name))
        wanted = "" if columns == AS_TOLD else columns
        read_columns(resolve(path.resolve().parent, reading.text), wanted)
        made = replace(reading, columns=wanted, taken=now())
        state = session.commit(edit.add_reading(session.build, item, made, edit.Hand(now(), by)))
        if not state.saved:
            raise ValueError(f"{path}: not saved: {state.reason}")
    finally:
        session.close()


LEAST_AH = 0.00005
"""A charge that is no zero in the four places shown."""


def not_counted_ah(s: LogSummary) -> float:
    """What the rows hold beyond the charge out and in: that between the last row under load and the next [Ah]."""
    return s.charge_ah - (s.discharged_ah - s.charged_ah)


def log_data(summary: LogSummary) -> dict[str, Any]:
    """A log's figures as JSON: the promised keys first, everything else behind them."""
    told: dict[str, Any] = {
        "rows": summary.rows, "duration_s": summary.duration_s, "charge_Ah": summary.charge_ah,
        "energy_Wh": summary.energy_wh, "mean_V": summary.mean_v, "gaps": plain_data(summary.gaps)}
    skipped = {"rows", "duration_s", "charge_ah", "energy_wh", "mean_v", "gaps", "outline"}
    told["not_counted_Ah"] = not_counted_ah(summary)
    told.update({f.name: plain_data(getattr(summary, f.name)) for f in fields(summary) if f.name not in skipped})
    return told


def _print_log(s: LogSummary, mapping: tuple[str, ...]) -> None:
    doubtful = dict(s.warning_counts).get("doubtful row", 0)
    print(f"{plain(s.file)}: {s.rows} rows, {s.used} used, {s.ignored} passed over"
          + (f", {doubtful} of them doubtful" if doubtful else ""))
    print("columns as understood:")
    for line in (*mapping, *s.assumptions):
        print(wrapped(plain(line), "    ", "  - "))
    print(f"duration {s.duration_s / 60:.1f} min, sampled every {s.interval_median_s:g} s "
          f"(longest {s.interval_longest_s:g} s)")
    mean = f", mean {s.mean_v:.3f} V" if s.mean_v is not None else ""
    print(f"discharged {s.discharged_ah:.4f} Ah, {s.discharged_wh:.3f} Wh{mean}")
    if s.charged_ah >= LEAST_AH:
        print(f"charged back {s.charged_ah:.4f} Ah, which is not taken off")
    if (between := not_counted_ah(s)) >= LEAST_AH:
        print(wrapped(f"not counted: at most {between:.4f} Ah between the last row under load and the next; "
                      "when in between the load went away is not known"))
    print(f"the end: {s.end_kind}; lowest pack voltage {s.lowest_v:.3f} V")
    for number, (volts, seconds) in enumerate(s.group_lowest, 1):
        print(f"  group {number}: lowest {volts:.3f} V at {seconds / 60:.1f} min")
    if s.gaps:
        print(f"{len(s.gaps)} gap{'s' * (len(s.gaps) > 1)}: {s.gap_charge_ah:.4f} Ah of the charge lies there")
    for warning in s.warnings:
        place = f"line {warning.line}: " if warning.line else ""
        print(wrapped(place + plain(warning.text), "    ", "  ! "))
