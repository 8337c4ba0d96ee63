"""A log that is being written, followed: each look reads on from where the last one ended, in bounded memory."""

from __future__ import annotations

import codecs
import csv
import io
import os
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice
from math import inf
from pathlib import Path
from typing import IO

from buildtrack.physics.log_columns import Mapping, describe, guess_mapping
from buildtrack.physics.log_direction import UNTOLD, set_over_states, sign_of, state_signs
from buildtrack.physics.log_errors import LogError, LogWarning, Warnings
from buildtrack.physics.log_records import Point, Row
from buildtrack.physics.log_rows import Block, Cleaner
from buildtrack.physics.log_setting import chosen_columns, words_of
from buildtrack.physics.log_sniff import LONGEST_LINE, SAMPLE_BYTES, Sniffed, sniff_head
from buildtrack.physics.log_summary import tail_of
from buildtrack.physics.log_totals import Totals
from buildtrack.plain_file import open_plain

PART_BYTES = 1 << 18
"""Bytes read at once."""
MOST_BYTES = 1 << 22
"""Bytes read in one look; what is left waits for the next."""
ENOUGH_ROWS = 200
"""Rows after which the form of the file is no longer in doubt."""
MARK_BYTES = 64
"""Bytes at the beginning and before the place reached, by which the same file is known again."""
RECENT_S = 300.0
MOST_RECENT = 700
MOST_MEDIANS = 1000


@dataclass(frozen=True, slots=True)
class Seen:
    """What a followed log says at one look: discharge positive, times in seconds from when the load came on."""

    file: str
    problem: str = ""
    """Why nothing can be read at present; empty where all is well. What was read before stays."""
    grew: bool = False
    """Whether this look found new rows."""
    behind: bool = False
    """Whether there is more to read than one look takes."""
    begun_anew: int = 0
    """How often the file was replaced, or cut short, and read from its beginning again."""
    rows: int = 0
    ignored: int = 0
    columns: tuple[str, ...] = ()
    """The columns as understood, one line a quantity."""
    notes: tuple[str, ...] = ()
    now: Row | None = None
    """The latest row."""
    loaded: Row | None = None
    """The latest row under load."""
    charge_ah: float = 0.0
    interval_s: float = 0.0
    lowest: tuple[tuple[float, float], ...] = ()
    """Seconds and volts of the lowest group (of the pack where there are no groups) of late, under load."""
    points: tuple[Point, ...] = ()
    warnings: tuple[LogWarning, ...] = ()
    remarks: tuple[str, ...] = ()
    """What is to be said of rows that are not counted, or stand under another header."""

    @property
    def under_load(self) -> bool:
        """Whether the latest row is under load."""
        return self.now is not None and self.loaded is not None and self.now.time_s == self.loaded.time_s


class _Form:
    """How the file is written and what its columns are; fixed once enough rows were seen."""

    def __init__(self, head: bytes, name: str, columns: str) -> None:
        self.sniffed: Sniffed = sniff_head(head, name, cut=True)
        chosen = chosen_columns(words_of(columns), self.sniffed) if columns else None
        self.mapping: Mapping
        self.mapping, self.notes = guess_mapping(self.sniffed, name, chosen=chosen)
        self.final = len(head) == SAMPLE_BYTES or len(self.sniffed.rows) >= ENOUGH_ROWS

    def same_as(self, other: _Form) -> bool:
        """Whether rows read in the other form would be read alike in this."""
        ours, theirs = self.sniffed, other.sniffed
        alike = all(getattr(ours, n) == getattr(theirs, n) for n in ("encoding", "delimiter", "decimal", "first_row"))
        return alike and ours.header == theirs.header and self.mapping == other.mapping


class _Reading:
    """One reading of the file from its beginning: where it is, and what was found so far."""

    def __init__(self, form: _Form) -> None:
        sniffed = form.sniffed
        self.form = form
        self.warnings = Warnings()
        by_state, note = state_signs(form.mapping, sniffed)
        if overridden := set_over_states(form.mapping, sniffed):
            self.warnings.add("sign", 0, overridden)
        self.by_state = by_state
        self.notes = tuple(n for n in (*sniffed.assumptions, *form.notes, note) if n)
        self.cleaner = Cleaner(form.mapping, sniffed.decimal, sniffed.header, self.warnings, by_state)
        self.totals = Totals(inf, self.warnings)
        self.offset = 0
        self.head = self.tail = b""
        self.lines = 0
        self.recent: deque[tuple[float, float]] = deque(maxlen=MOST_RECENT)
        self.spans: deque[float] = deque(maxlen=50)
        self._rest = ""
        self._text = io.IncrementalNewlineDecoder(codecs.getincrementaldecoder(sniffed.encoding)("replace"), True)

    def take(self, data: bytes, name: str) -> bool:
        """Read on; whether there were whole rows in it."""
        self.head = (self.head + data[:MARK_BYTES])[:MARK_BYTES]
        self.tail = (self.tail + data)[-MARK_BYTES:]
        self.offset += len(data)
        text = self._rest + self._text.decode(data)
        end = text.rfind("\n") + 1
        whole, self._rest = text[:end], text[end:]
        if len(self._rest) > LONGEST_LINE:
            raise LogError(name, self.lines + 1, "this line does not end", "a log has one row a line")
        first = self.form.sniffed.first_row
        rows = whole.split("\n")[:-1]
        above = min(len(rows), max(0, first - 1 - self.lines))
        where, self.lines = self.lines + above + 1, self.lines + len(rows)
        if above == len(rows):
            return False
        try:
            block = self.cleaner.clean("\n".join(rows[above:]) + "\n", self.form.sniffed.delimiter, where)
        except csv.Error as error:
            raise LogError(name, where, f"lines from here cannot be parted ({error})", "save as CSV") from error
        self._add(block)
        return bool(block.t)

    def _add(self, block: Block) -> None:
        last = self.totals.last
        self.totals.take(block)
        if len(self.totals.medians) > MOST_MEDIANS:
            self.totals.medians = [(self.totals.median_interval_s(), sum(n for _, n in self.totals.medians))]
        if block.t and last is not None:
            self.spans.append(block.t[0] - last.time_s)
        self.spans.extend(block.spans[-self.spans.maxlen :] if self.spans.maxlen else ())
        self._keep_recent(block)

    def _keep_recent(self, block: Block) -> None:
        """The lowest group of late, at most two points a second; a row without load forgets it."""
        bare = self.totals.loaded_limit_a()
        begin = max(0, len(block.t) - 20 * MOST_RECENT)
        groups = block.groups or [block.v]
        for k in range(begin, len(block.t)):
            low = min(group[k] for group in groups)
            if abs(block.i[k]) <= bare or low <= 0.05:
                self.recent.clear()
            elif not self.recent or block.t[k] >= self.recent[-1][0] + RECENT_S / (MOST_RECENT - 100):
                self.recent.append((block.t[k], low))
        while self.recent and self.recent[0][0] < self.recent[-1][0] - RECENT_S:
            self.recent.popleft()

    def sign(self) -> int:
        """Sign that makes discharge positive; while the voltage does not tell, the test is taken as a discharge."""
        sign, note = sign_of(self.form.mapping, self.by_state, self.totals, Warnings())
        return -1 if note == UNTOLD and self.totals.charge_ah < 0 else sign


class Follower:
    """Follows one log file, which need not exist yet, and may be replaced, cut short, or written with pauses."""

    def __init__(self, path: Path, columns: str = "") -> None:
        self.path, self.columns = path, columns
        self._reading: _Reading | None = None
        self._state: tuple[int, int, int, int] | None = None
        self._begun_anew = 0

    def look(self) -> Seen:
        """Read what has come since the last look; never raises for what a file can be or a disk can do."""
        try:
            with open_plain(self.path) as file:
                grew, behind = self._look(file)
        except FileNotFoundError:
            return self._seen("the file is gone" if self._reading else "the file is not there yet", False, False)
        except (OSError, ValueError, ArithmeticError, LookupError) as error:
            self._state = None
            return self._seen(_said(error, self.path.name), False, False)
        return self._seen("" if self._reading is not None else "no readings yet", grew, behind)

    def _look(self, file: IO[bytes]) -> tuple[bool, bool]:
        status = os.fstat(file.fileno())
        state = (status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns)
        if state == self._state:
            return False, False
        if self._reading is not None and not self._same_file(file, status.st_size):
            self._reading = None
            self._begun_anew += 1
        if not self._settle(file):
            self._state = state
            return False, False
        grew, behind = self._read_on(file)
        self._state = None if behind else state
        return grew, behind

    def _same_file(self, file: IO[bytes], size: int) -> bool:
        """Whether what was read is still there: by its first bytes and by those before the place reached."""
        reading = self._reading
        if reading is None or size < reading.offset:
            return False
        file.seek(0)
        if file.read(len(reading.head)) != reading.head:
            return False
        file.seek(reading.offset - len(reading.tail))
        return file.read(len(reading.tail)) == reading.tail

    def _settle(self, file: IO[bytes]) -> bool:
        """Tell the form of the file; while few rows are there it is told again, and all is read again if it changed."""
        if self._reading is not None and self._reading.form.final:
            return True
        file.seek(0)
        head = file.read(SAMPLE_BYTES)
        if not head.strip():
            return False
        try:
            form = _Form(head, self.path.name, self.columns)
        except LogError as error:
            if "no rows" in error.what and len(head) < SAMPLE_BYTES:
                return self._reading is not None
            raise
        if self._reading is None or not form.same_as(self._reading.form):
            self._reading = _Reading(form)
        else:
            self._reading.form.final = form.final
        return True

    def _read_on(self, file: IO[bytes]) -> tuple[bool, bool]:
        reading = self._reading
        assert reading is not None, "the form was told before"
        file.seek(reading.offset)
        grew, left = False, MOST_BYTES
        while left > 0 and (data := file.read(min(PART_BYTES, left))):
            grew = reading.take(data, self.path.name) or grew
            left -= len(data)
        return grew, left <= 0

    def _seen(self, problem: str, grew: bool, behind: bool) -> Seen:
        reading, name = self._reading, self.path.name
        if reading is None or reading.totals.last is None:
            columns = describe(reading.form.mapping, reading.form.sniffed.header) if reading is not None else ()
            return Seen(name, problem or "no readings yet", begun_anew=self._begun_anew, columns=columns)
        totals, sign = reading.totals, reading.sign()
        start = (totals.first_loaded or totals.ends()[0]).time_s
        spans = sorted(reading.spans)
        return Seen(
            file=name,
            problem=problem,
            grew=grew,
            behind=behind,
            begun_anew=self._begun_anew,
            rows=reading.cleaner.rows_seen,
            ignored=reading.cleaner.ignored,
            columns=describe(reading.form.mapping, reading.form.sniffed.header),
            notes=reading.notes,
            now=_row(totals.ends()[1], start, sign),
            loaded=_row(totals.last_loaded, start, sign) if totals.last_loaded is not None else None,
            charge_ah=sign * totals.charge_ah - tail_of(totals, sign)[0],
            interval_s=spans[len(spans) // 2] if spans else 0.0,
            lowest=tuple((t - start, v) for t, v in reading.recent),
            points=tuple(replace(p, time_s=p.time_s - start) for p in totals.outline.points),
            remarks=reading.cleaner.remarks(),
            warnings=tuple(islice(reversed(reading.warnings.kept), 5)),
        )


def _said(error: Exception, name: str) -> str:
    if isinstance(error, OSError):
        return f"{name}: cannot be read ({error.strerror or type(error).__name__})"
    return str(error)


def _row(row: Row, start: float, sign: int) -> Row:
    return Row(row.time_s - start, sign * row.current_a, row.voltage_v, row.groups_v)


def seconds_to(level_v: float, lowest: Sequence[tuple[float, float]]) -> float | None:
    """Seconds until the lowest group is at a level, if it goes on falling as of late; None where it does not fall.

    lowest: seconds and volts under load. The straight line of least squares over the last tenth of the time, at least
    30 s and at most 300 s. Near the end a curve falls ever faster, so this is the longest it can take.
    Source: ordinary least squares.
    """
    if not lowest:
        return None
    end, last = lowest[-1]
    if last <= level_v:
        return 0.0
    window = min(RECENT_S, max(30.0, 0.1 * end))
    points = [(t - end, v) for t, v in lowest if t >= end - window]
    if len(points) < 4:
        return None
    mean_t, mean_v = (sum(p[k] for p in points) / len(points) for k in (0, 1))
    spread = sum((t - mean_t) ** 2 for t, _ in points)
    slope = sum((t - mean_t) * (v - mean_v) for t, v in points) / spread if spread > 0 else 0.0
    if slope > -1e-6:
        return None
    return max(0.0, (mean_v - slope * mean_t - level_v) / -slope)
