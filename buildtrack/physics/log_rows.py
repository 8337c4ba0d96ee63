"""From the rows of a log to cleaned blocks: numbers read, times brought into one rising line, oddities named.

A block that is clean is converted column by column; one that is not goes through row by row. Both give the same.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import isfinite
from operator import mul, sub

from buildtrack.physics.log_columns import Mapping
from buildtrack.physics.log_errors import Warnings
from buildtrack.physics.log_headers import is_header, moved
from buildtrack.physics.log_numbers import read_moment, read_number
from buildtrack.physics.log_sniff import split_line
from buildtrack.physics.log_sound import Sieve

SWAP_MARKS = str.maketrans(",.", ".,")
DAY_S = 86400.0
MOST_KNOWN = 100_000


class _Known(dict[str, float]):
    """Numbers by their text, scaled; a new text is converted and kept."""

    def __init__(self, scale: float) -> None:
        super().__init__()
        self.scale = scale

    def __missing__(self, text: str) -> float:
        value = self[text] = float(text) * self.scale
        return value


def _scaled(column: Sequence[str], scale: float) -> list[float]:
    """Numbers of a column whose texts do not repeat; whole numbers are read faster as such."""
    values: list[float] = list(map(float, column)) if "." in column[-1] else list(map(int, column))
    return values if scale == 1.0 else [value * scale for value in values]


def _all_above_zero(spans: list[float]) -> bool:
    """True when no span is zero or below; spans are mostly all alike, which is told faster."""
    return spans[0] > 0 and (spans.count(spans[0]) == len(spans) or min(spans) > 0)


def _columns_of(text: str, count: int, delimiter: str, decimal: str) -> list[list[str]] | None:
    """Columns of `count` lines that all have as many fields; None when they have not, or hold quotes.

    A line break becomes the first character of a field, so it must turn up in the first column only.
    """
    if delimiter == " " or '"' in text:
        return None
    if decimal == ",":
        text = text.translate(SWAP_MARKS)
    fields = text.removesuffix("\n").replace("\n", delimiter + "\n").split(delimiter)
    width, rest = divmod(len(fields), count)
    if rest or "".join(fields[::width]).count("\n") != count - 1:
        return None
    return [fields[k::width] for k in range(width)]


@dataclass(slots=True)
class Block:
    """Cleaned rows as columns; `spans` are the times between neighbouring rows of the block, one fewer."""

    lines: Sequence[int]
    t: list[float]
    spans: list[float]
    i: list[float]
    v: list[float]
    groups: list[list[float]]
    temperatures: list[list[float]]
    counters: list[list[float]]

    def only(self, kept: Sequence[int]) -> Block:
        """These rows alone, by their places in the block."""

        def of(column: Sequence[float]) -> list[float]:
            return [column[k] for k in kept]

        times = of(self.t)
        return Block([self.lines[k] for k in kept], times, list(map(sub, times[1:], times)), of(self.i), of(self.v),
                     *(list(map(of, columns)) for columns in (self.groups, self.temperatures, self.counters)))


@dataclass(slots=True)
class Cleaner:
    """Turns raw rows into blocks and remembers what the next block must join on to."""

    mapping: Mapping
    decimal: str
    header: tuple[str, ...]
    warnings: Warnings
    by_state: dict[str, float]
    ignored: int = 0
    offset_s: float = 0.0
    last_t: float | None = None
    last_line: str = ""
    last_counters: list[float] = field(default_factory=list)
    rows_seen: int = 0
    other_header: str = ""
    """The last header in the midst with other columns, and what became of the rows after it; empty where none was."""
    unread: int = 0
    """Rows not counted because the header above them cannot be told."""
    sieve: Sieve = field(init=False)
    _deaf: bool = False
    """Whether the rows that follow stand under such a header."""
    _restarted: bool = False
    """Whether a header stood just before: the time may begin anew."""
    _read_time: Callable[[str], float | None] = field(init=False)
    _known: dict[float, _Known] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._read_time = self.mapping.time_form.reader(self.decimal)
        self.sieve = Sieve(self.warnings)

    def remarks(self) -> tuple[str, ...]:
        """What is to be said of rows that are not counted, or read otherwise than the first ones."""
        unread = f"; {self.unread} row{'s' * (self.unread > 1)} not counted" if self.unread else ""
        doubtful = ""
        if self.sieve.count:
            rows = f"{self.sieve.count} doubtful row{'s' * (self.sieve.count > 1)} not counted"
            doubtful = f"{rows}, first {self.sieve.first}"
        found = (f"{self.other_header}{unread}" if self.other_header else "", doubtful, self.sieve.never)
        return tuple(text for text in found if text)

    def _wanted(self) -> list[tuple[int, float]]:
        """Columns besides time and current, with their scales: voltage, groups, temperatures, counters."""
        m = self.mapping
        voltage = [(m.voltage, m.voltage_scale)] if m.voltage is not None else []
        groups = [(k, m.group_scale) for k in m.groups]
        temperatures = [(k, 1.0) for k in m.temperatures]
        return [*voltage, *groups, *temperatures, *self._counters()]

    def _counters(self) -> list[tuple[int, float]]:
        m = self.mapping
        pairs = ((m.capacity, m.capacity_scale), (m.energy, m.energy_scale))
        return [(k, scale) for k, scale in pairs if k is not None]

    def clean(self, text: str, delimiter: str, first_line: int) -> Block:
        """Clean a stretch of whole lines; `first_line` is the line number of the first."""
        count = text.count("\n") + (not text.endswith("\n"))
        block = self._whole_block(text, count, delimiter, first_line)
        if block is None:
            block = self._row_by_row(text.removesuffix("\n").split("\n"), delimiter, first_line)
        else:
            self.rows_seen += count
        if block.t:
            self.last_t = block.t[-1]
            self._counter_resets(block)
        before = self.sieve.count
        block = self.sieve.sift(block, self.mapping.voltage is not None)
        self.ignored += self.sieve.count - before
        return block

    def _whole_block(self, text: str, count: int, delimiter: str, first_line: int) -> Block | None:
        """Convert column by column; None when anything at all is unusual."""
        form = self.mapping.time_form
        if self._deaf or form.kind not in ("number", "index", "clock") or self.mapping.date is not None:
            return None
        columns = _columns_of(text, count, delimiter, self.decimal)
        if columns is None:
            return None
        try:
            t = self._times(columns)
            current = self._currents(columns, count)
            rest = [self._numbers(columns[k], scale) for k, scale in self._wanted()]
        except (ValueError, IndexError):
            return None
        if t is None or current is None or not isfinite(sum(t)) or not isfinite(sum(current)):
            return None
        if not all(isfinite(sum(column)) for column in rest):
            return None
        before = t[0] - 1.0 if self.last_t is None else self.last_t
        spans = list(map(sub, t[1:], t))
        if t[0] <= before or (spans and not _all_above_zero(spans)):
            return None
        self._restarted = False
        self.last_line = text[text.rfind("\n", 0, -1) + 1 :].removesuffix("\n")
        return self._parted(range(first_line, first_line + count), t, spans, current, rest)

    def _numbers(self, column: Sequence[str], scale: float = 1.0) -> list[float]:
        """Numbers of a column; loggers repeat the same few texts, so each text is converted once."""
        known = self._known.setdefault(scale, _Known(scale))
        if len(known) > MOST_KNOWN:
            known.clear()
        return list(map(known.__getitem__, column))

    def _times(self, columns: Sequence[Sequence[str]]) -> list[float] | None:
        form, m = self.mapping.time_form, self.mapping
        if m.time is None or form.kind == "index":
            step = m.interval_s or 1.0
            return [(self.rows_seen + k) * step for k in range(len(columns[0]))]
        if form.kind == "clock":
            read = [self._read_time(text) for text in columns[m.time]]
            known = [value for value in read if value is not None]
            values = known if len(known) == len(read) else None
        else:
            values = _scaled(columns[m.time], form.scale)
        if values is None or not self.offset_s:
            return values
        return [value + self.offset_s for value in values]

    def _currents(self, columns: Sequence[Sequence[str]], count: int) -> list[float] | None:
        m = self.mapping
        if m.current is None:
            return [m.fixed_current_a or 0.0] * count
        values = self._numbers(columns[m.current], m.current_scale)
        if not self.by_state or m.state is None:
            return values
        factors = [self.by_state.get(text.strip(), 1.0) for text in columns[m.state]]
        return list(map(mul, map(abs, values), factors))

    def _parted(
        self, lines: Sequence[int], t: list[float], spans: list[float], i: list[float], rest: list[list[float]]
    ) -> Block:
        m = self.mapping
        at = 1 if m.voltage is not None else 0
        groups = rest[at : at + len(m.groups)]
        v = rest[0] if at else [sum(values) for values in zip(*groups, strict=True)]
        at += len(m.groups)
        temperatures = rest[at : at + len(m.temperatures)]
        return Block(lines, t, spans, i, v, groups, temperatures, rest[at + len(m.temperatures) :])

    def _row_by_row(self, lines: Sequence[str], delimiter: str, first_line: int) -> Block:
        kept: list[tuple[int, float, float, list[float]]] = []
        for line, text in enumerate(lines, first_line):
            if not text.strip():
                continue
            row = split_line(text, delimiter)
            values = self._readings(row, line, self.rows_seen)
            self.rows_seen += 1
            if values is not None and (time_s := self._placed(values[0], text, line, kept)) is not None:
                kept.append((line, time_s, values[1], values[2]))
                self.last_line, self._restarted = text, False
            else:
                self.ignored += 1
        rest = [list(column) for column in zip(*(entry[3] for entry in kept), strict=True)]
        if not kept:
            rest = [[] for _ in self._wanted()]
        times = [entry[1] for entry in kept]
        spans = list(map(sub, times[1:], times))
        return self._parted([entry[0] for entry in kept], times, spans, [entry[2] for entry in kept], rest)

    def _readings(self, row: list[str], line: int, number: int) -> tuple[float, float, list[float]] | None:
        """Time (without offset), current and the other columns of one row; None, with a warning, when unreadable."""
        if self._deaf and not is_header(row, self.decimal):
            self.unread += 1
            return None
        time_s = self._one_time(row, number)
        current = self._one_current(row)
        rest = [self._one(row, column, scale) for column, scale in self._wanted()]
        needed = 1 if self.mapping.voltage is not None else 0
        if time_s is None or current is None or None in rest[: needed + len(self.mapping.groups)]:
            self._unreadable(row, line)
            return None
        filled = [0.0 if value is None else value for value in rest]
        if None in rest:
            self.warnings.add("missing value", line, "a temperature or counter is missing in this row; taken as 0")
        return time_s, current, filled

    def _unreadable(self, row: list[str], line: int) -> None:
        text = " ".join(row).strip()[:60]
        if self.header and [field.strip() for field in row[: len(self.header)]] == list(self.header):
            self._restarted, self._deaf = True, False
            self.warnings.add("header repeated", line, "the header stands here again; the log was restarted")
        elif is_header(row, self.decimal):
            self._under_other_header([field.strip() for field in row], line)
        elif not any(read_number(field, self.decimal) is not None for field in row):
            self.warnings.add("text line", line, f"no readings: {text}")
        else:
            self.warnings.add("unreadable row", line, f"not used: {text}")

    def _under_other_header(self, names: list[str], line: int) -> None:
        """Read on by another header where its columns are plain; else count nothing until one comes that is."""
        found = moved(self.mapping, self.header, names)
        self._restarted, self._deaf = True, found is None
        if found is None:
            told = "another header, and it does not tell all the columns: rows after it are not counted"
        else:
            self.mapping, self.header = found, tuple(names)
            told = "another header; rows after it are read by the names of its columns"
        self.other_header = f"line {line}: {told}"
        self.warnings.add("other header", line, told)

    def _one(self, row: list[str], column: int, scale: float) -> float | None:
        value = read_number(row[column], self.decimal) if column < len(row) else None
        return None if value is None else value * scale

    def _one_time(self, row: list[str], number: int) -> float | None:
        m = self.mapping
        if m.time is None or m.time_form.kind == "index":
            return number * (m.interval_s or 1.0)
        if m.time >= len(row):
            return None
        value = self._read_time(row[m.time])
        if value is None or m.date is None:
            return value
        day = read_moment(row[m.date], m.time_form.order) if m.date < len(row) else None
        return None if day is None else day + value

    def _one_current(self, row: list[str]) -> float | None:
        m = self.mapping
        if m.current is None:
            return m.fixed_current_a or 0.0
        value = self._one(row, m.current, m.current_scale)
        if value is None or not self.by_state or m.state is None or m.state >= len(row):
            return value
        return abs(value) * self.by_state.get(row[m.state], 1.0)

    def _placed(
        self, raw_s: float, text: str, line: int, kept: Sequence[tuple[int, float, float, list[float]]]
    ) -> float | None:
        """The time on the rising line, or None for a row that repeats or goes back; roll-overs and restarts joined."""
        previous = kept[-1][1] if kept else self.last_t
        time_s = raw_s + self.offset_s
        if previous is None or time_s > previous:
            return time_s
        if time_s == previous:
            same = text == self.last_line
            told = "the same row again; not used" if same else "the same time again; only the first row is used"
            self.warnings.add("repeated row" if same else "repeated time", line, told)
            return None
        return self._joined(raw_s, previous, line)

    def _joined(self, raw_s: float, previous: float, line: int) -> float | None:
        before = previous - self.offset_s
        kind = self.mapping.time_form.kind
        if kind == "clock" and before > DAY_S - 3600 and raw_s < 3600:
            self.offset_s += DAY_S
            self.warnings.add("day roll-over", line, "the clock passes midnight; 24 h added")
        elif kind == "date" and 3000 < before - raw_s < 3700:
            self.offset_s += 3600
            self.warnings.add("clock set back", line, "the clock goes back by about an hour (summer time); 1 h added")
        elif raw_s < 60 and (raw_s <= 0.02 * before or self._restarted):
            self.offset_s = previous
            self.warnings.add("clock restarted", line, "the time starts again from about 0; joined to the row before")
            return None if raw_s == 0 else raw_s + self.offset_s
        else:
            self.warnings.add("backward time", line, f"the time goes back by {before - raw_s:g} s; row not used")
            return None
        return raw_s + self.offset_s

    def _counter_resets(self, block: Block) -> None:
        for k, column in enumerate(block.counters):
            joined = [self.last_counters[k], *column] if self.last_counters else column
            if len(joined) > 1 and min(map(sub, joined[1:], joined)) < -0.01 * max(1e-9, abs(max(joined))):
                drop = next(j for j in range(1, len(joined)) if joined[j] < joined[j - 1] - 0.01 * abs(max(joined)))
                at = min(drop - (1 if self.last_counters else 0), len(block.lines) - 1)
                self.warnings.add("counter reset", block.lines[at], "a charge or energy counter falls back")
        self.last_counters = [column[-1] for column in block.counters]
