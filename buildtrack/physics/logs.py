"""Read a discharge log as loggers write it: one pass, bounded memory, every assumption and oddity named."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import IO, Any

from buildtrack.physics.log_columns import Mapping, describe, guess_mapping, refuse_incomplete
from buildtrack.physics.log_direction import (
    END_OF_BOARD,
    END_OF_TESTER,
    END_UNKNOWN,
    END_UNTOLD,
    set_over_states,
    sign_of,
    state_signs,
)
from buildtrack.physics.log_errors import LogCancelled, LogError, LogWarning, Warnings
from buildtrack.physics.log_rows import Block, Cleaner
from buildtrack.physics.log_sniff import LONGEST_LINE, Sniffed, sniff
from buildtrack.physics.log_summary import Extremes, LogSummary, summarise
from buildtrack.physics.log_totals import Totals
from buildtrack.plain_file import open_plain

__all__ = [
    "END_OF_BOARD",
    "END_OF_TESTER",
    "END_UNTOLD",
    "END_UNKNOWN",
    "LogCancelled",
    "LogError",
    "LogSummary",
    "LogWarning",
    "Mapping",
    "describe",
    "guess_mapping",
    "read_log",
    "rows_summary",
    "sniff",
]

BLOCK_CHARACTERS = 1 << 15
PROGRESS_ROWS = 50_000


class _HashedFile(io.RawIOBase):
    """A file read once, its SHA-256 taken on the way."""

    def __init__(self, source: IO[bytes]) -> None:
        self.source = source
        self.digest = hashlib.sha256()

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        view = memoryview(buffer)
        data = self.source.read(len(view))
        self.digest.update(data)
        view[: len(data)] = data
        return len(data)


def read_log(
    path: Path | str,
    mapping: Mapping | None = None,
    *,
    notes: Sequence[str] = ("columns as set by hand",),
    progress: Callable[[int], None] | None = None,
    cancel: Callable[[], bool] | None = None,
    gap_s: float | None = None,
    watch_v: Sequence[float] = (),
    watch_s: Sequence[float] = (),
) -> LogSummary:
    """Read a whole log in one pass and sum it up: Q = sum((I_k + I_k+1) / 2 dt) / 3600, E likewise with U I [Ah, Wh].

    Without a mapping the columns are told from header and values; what was assumed is in the summary. `notes` says how
    a given mapping came about. A gap is a span above `gap_s`, or above ten times the usual interval (at least 5 s).
    `watch_v` marks the first row under load with a group at or below each voltage, `watch_s` the first row at each
    time. Raises LogError; LogCancelled on request.
    Source: trapezoid rule.
    """
    name = Path(path).name
    sniffed = sniff(path)
    if mapping is None:
        mapping, notes = guess_mapping(sniffed, name)
    else:
        refuse_incomplete(mapping, sniffed, name)
    warnings = Warnings()
    by_state, state_note = state_signs(mapping, sniffed)
    if overridden := set_over_states(mapping, sniffed):
        warnings.add("sign", 0, overridden)
    cleaner = Cleaner(mapping, sniffed.decimal, sniffed.header, warnings, by_state)
    totals = Totals(_gap_limit(mapping, sniffed, gap_s), warnings, tuple(watch_v), tuple(watch_s))
    heat = Extremes(len(mapping.temperatures))
    digest = _pass(path, name, sniffed, cleaner, totals, heat, progress, cancel)
    if totals.first is None or totals.last is None:
        raise LogError(name, sniffed.first_row, "no row could be used", "check the mapping of the columns")
    sign, sign_note = sign_of(mapping, by_state, totals, warnings)
    assumptions = (*sniffed.assumptions, *notes, *(note for note in (state_note, sign_note) if note))
    return summarise(name, digest, mapping, assumptions, warnings, cleaner, totals, heat, sign)


def rows_summary(
    time_s: Sequence[float],
    current_a: Sequence[float],
    voltage_v: Sequence[float],
    groups_v: Sequence[Sequence[float]] = (),
    *,
    watch_v: Sequence[float] = (),
    watch_s: Sequence[float] = (),
) -> LogSummary:
    """The same summary from rows entered by hand; discharge positive, `groups_v` one sequence per group.

    Refused: unequal lengths, fewer than two rows, or a time that does not rise, with the row number.
    """
    if len({len(time_s), len(current_a), len(voltage_v), *map(len, groups_v)}) != 1 or len(time_s) < 2:
        raise ValueError("time, current, voltage and every group need as many values, and at least two rows")
    for k in range(1, len(time_s)):
        if not time_s[k] > time_s[k - 1]:
            raise ValueError(f"row {k + 1}: the time {time_s[k]:g} s does not come after {time_s[k - 1]:g} s")
    warnings, mapping = Warnings(), Mapping(groups=tuple(range(len(groups_v))), sign=1)
    spans = [b - a for a, b in zip(time_s, time_s[1:], strict=False)]
    groups = [list(group) for group in groups_v]
    block = Block(range(1, len(time_s) + 1), list(time_s), spans, list(current_a), list(voltage_v), groups, [], [])
    totals = Totals(float("inf"), warnings, tuple(watch_v), tuple(watch_s))
    totals.take(block)
    cleaner = Cleaner(mapping, ".", (), warnings, {}, rows_seen=len(time_s))
    return summarise("", "", mapping, ("entered by hand",), warnings, cleaner, totals, Extremes(0), 1)


def _gap_limit(mapping: Mapping, sniffed: Sniffed, gap_s: float | None) -> float:
    if gap_s is not None:
        return gap_s
    if mapping.time is None or mapping.time_form.kind == "index":
        return 10 * (mapping.interval_s or 1.0)
    read = mapping.time_form.reader(sniffed.decimal)
    times = [
        value for row in sniffed.rows if mapping.time < len(row) and (value := read(row[mapping.time])) is not None
    ]
    spans = sorted(b - a for a, b in zip(times, times[1:], strict=False) if b > a)
    return max(5.0, 10 * spans[len(spans) // 2]) if spans else 60.0


def _pass(
    path: Path | str,
    name: str,
    sniffed: Sniffed,
    cleaner: Cleaner,
    totals: Totals,
    heat: Extremes,
    progress: Callable[[int], None] | None,
    cancel: Callable[[], bool] | None,
) -> str:
    """The one pass over the file; gives its SHA-256."""
    lines = 0
    with open_plain(path) as raw:
        hashed = _HashedFile(raw)
        text = io.TextIOWrapper(io.BufferedReader(hashed, 1 << 18), sniffed.encoding, errors="replace", newline=None)
        for _ in range(sniffed.first_row - 1):
            text.readline()
        told = 0
        while block := text.read(BLOCK_CHARACTERS) + text.readline(LONGEST_LINE):
            if cancel is not None and cancel():
                raise LogCancelled(f"{name}: reading stopped after {cleaner.rows_seen} rows")
            if len(block) >= BLOCK_CHARACTERS + LONGEST_LINE and not block.endswith("\n"):
                where = sniffed.first_row + lines + block.count("\n")
                raise LogError(name, where, "this line does not end", "a log has one row a line")
            try:
                clean = cleaner.clean(block, sniffed.delimiter, sniffed.first_row + lines)
            except csv.Error as error:
                where = sniffed.first_row + lines
                raise LogError(name, where, f"lines from here cannot be parted ({error})", "save as CSV") from error
            totals.take(clean)
            heat.take(clean.temperatures)
            lines += block.count("\n")
            if progress is not None and cleaner.rows_seen >= told + PROGRESS_ROWS:
                told = cleaner.rows_seen - cleaner.rows_seen % PROGRESS_ROWS
                progress(cleaner.rows_seen)
        if progress is not None:
            progress(cleaner.rows_seen)
    return hashed.digest.hexdigest()
