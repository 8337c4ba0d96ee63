"""Read a discharge log as loggers write it: one pass, bounded memory, every assumption and oddity named."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Any

from buildtrack.physics.log_columns import Mapping, describe, guess_mapping, refuse_incomplete
from buildtrack.physics.log_errors import LogCancelled, LogError, LogWarning, Warnings
from buildtrack.physics.log_numbers import read_number
from buildtrack.physics.log_rows import Cleaner
from buildtrack.physics.log_sniff import Sniffed, sniff
from buildtrack.physics.log_totals import Gap, LoadStep, Point, Row, Totals, Unload

__all__ = [
    "LogCancelled", "LogError", "LogSummary", "LogWarning", "Mapping", "describe", "guess_mapping", "read_log", "sniff",
]  # fmt: skip

BLOCK_CHARACTERS = 1 << 15
PROGRESS_ROWS = 50_000
END_OF_BOARD = "board opened"
END_OF_TESTER = "stopped by tester"
END_UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class LogSummary:
    """What a log says. Charge, energy and currents count discharge as positive; times in seconds from the first row.

    `charge_ah` is net; `discharged_ah` and `charged_ah` are its two directions.
    `group_lowest` holds (volts, seconds) for each group.
    """

    file: str
    sha256: str
    mapping: Mapping
    assumptions: tuple[str, ...]
    warnings: tuple[LogWarning, ...]
    warning_counts: tuple[tuple[str, int], ...]
    rows: int
    used: int
    ignored: int
    duration_s: float
    loaded_s: float
    charge_ah: float
    discharged_ah: float
    charged_ah: float
    energy_wh: float
    discharged_wh: float
    mean_v: float | None
    gaps: tuple[Gap, ...]
    gap_charge_ah: float
    interval_median_s: float
    interval_longest_s: float
    first: Row
    last: Row
    first_loaded: Row | None
    last_loaded: Row | None
    lowest_v: float
    group_lowest: tuple[tuple[float, float], ...]
    end_kind: str
    end_line: int | None
    steps: tuple[LoadStep, ...]
    step_count: int
    outline: tuple[Point, ...]
    counter_ah: float | None
    counter_wh: float | None
    temperature_first_degc: tuple[float, ...]
    temperature_highest_degc: tuple[float, ...]


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
    progress: Callable[[int], None] | None = None,
    cancel: Callable[[], bool] | None = None,
    gap_s: float | None = None,
) -> LogSummary:
    """Read a whole log in one pass and sum it up: Q = sum((I_k + I_k+1) / 2 dt) / 3600, E likewise with U I [Ah, Wh].

    Without a mapping the columns are told from header and values; what was assumed is in the summary. A gap is a span
    above `gap_s`, or above ten times the usual interval (at least 5 s). Raises LogError, or LogCancelled on request.
    Source: trapezoid rule.
    """
    name = Path(path).name
    sniffed = sniff(path)
    if mapping is None:
        mapping, notes = guess_mapping(sniffed, name)
    else:
        refuse_incomplete(mapping, sniffed, name)
        notes = ("columns as set by hand",)
    warnings = Warnings()
    by_state, state_note = _state_signs(mapping, sniffed)
    cleaner = Cleaner(mapping, sniffed.decimal, sniffed.header, warnings, by_state)
    totals = Totals(_gap_limit(mapping, sniffed, gap_s), warnings)
    heat = _Extremes(len(mapping.temperatures))
    digest = _pass(path, name, sniffed, cleaner, totals, heat, progress, cancel)
    if totals.first is None or totals.last is None:
        raise LogError(name, sniffed.first_row, "no row could be used", "check the mapping of the columns")
    sign, sign_note = _sign(mapping, by_state, totals, warnings)
    assumptions = (*sniffed.assumptions, *notes, *(note for note in (state_note, sign_note) if note))
    return _summary(name, digest, mapping, assumptions, warnings, cleaner, totals, heat, sign)


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


def _state_signs(mapping: Mapping, sniffed: Sniffed) -> tuple[dict[str, float], str]:
    """Factors of the state column's words, when the direction is to be told by them."""
    if mapping.state is None or mapping.sign in (1, -1):
        return {}, ""
    words = {row[mapping.state] for row in sniffed.rows if mapping.state < len(row)}
    currents = [
        value
        for row in sniffed.rows
        if mapping.current is not None and mapping.current < len(row)
        and (value := read_number(row[mapping.current], sniffed.decimal)) is not None
    ]  # fmt: skip
    told = {word for word in words if _direction(word) != 0}
    if not told or (mapping.sign is None and any(value < 0 for value in currents)):
        return {}, ""
    return _States(), "direction of the current told by the state column"


class _States(dict[str, float]):
    """Factor of a state's word: 1 discharge, -1 charge, 1 unknown; words are looked at once."""

    def __bool__(self) -> bool:
        return True

    def get(self, key: str, default: float = 1.0) -> float:  # type: ignore[override]
        if key not in self:
            self[key] = _direction(key) or default
        return self[key]


def _direction(word: str) -> float:
    text = word.strip().lower()
    if text.startswith(("dis", "dch", "dsg", "entl", "déch", "desc", "放")) or text == "d":
        return 1.0
    if text.startswith(("ch", "cc_chg", "cccv", "lad", "auf", "carg", "充")) or text == "c":
        return -1.0
    return 0.0


class _Extremes:
    """First and highest value of the temperature columns."""

    def __init__(self, count: int) -> None:
        self.first: list[float] = []
        self.highest: list[float] = [float("-inf")] * count

    def take(self, columns: list[list[float]]) -> None:
        if columns and columns[0]:
            self.first = self.first or [column[0] for column in columns]
            self.highest = [max(old, *column) for old, column in zip(self.highest, columns, strict=True)]


def _pass(
    path: Path | str,
    name: str,
    sniffed: Sniffed,
    cleaner: Cleaner,
    totals: Totals,
    heat: _Extremes,
    progress: Callable[[int], None] | None,
    cancel: Callable[[], bool] | None,
) -> str:
    """The one pass over the file; gives its SHA-256."""
    lines = 0
    with Path(path).open("rb") as raw:
        hashed = _HashedFile(raw)
        text = io.TextIOWrapper(io.BufferedReader(hashed, 1 << 18), sniffed.encoding, errors="replace", newline=None)
        for _ in range(sniffed.first_row - 1):
            text.readline()
        told = 0
        while block := text.read(BLOCK_CHARACTERS) + text.readline():
            if cancel is not None and cancel():
                raise LogCancelled(f"{name}: reading stopped after {cleaner.rows_seen} rows")
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


def _sign(mapping: Mapping, by_state: dict[str, float], totals: Totals, warnings: Warnings) -> tuple[int, str]:
    """Sign that makes discharge positive: as set, by state, or told from how the voltage goes."""
    first, last = totals.first_loaded, totals.last_loaded
    change = last.voltage_v - first.voltage_v if first is not None and last is not None else 0.0
    clear = abs(change) > 0.01 * totals.lowest_v and totals.charge_ah != 0.0
    told = 1 if (totals.charge_ah > 0) == (change < 0) else -1
    if by_state:
        return 1, ""
    if mapping.sign in (1, -1):
        if clear and told != mapping.sign and first is not None:
            warnings.add("sign", 0, "with this sign the voltage moves against the current: check the sign")
        return mapping.sign or 1, ""
    if not clear:
        return 1, "the readings do not tell the sign: discharge taken as positive"
    words = "positive" if told > 0 else "negative"
    return told, f"discharge taken as {words} in the file: the voltage {'falls' if change < 0 else 'rises'} under it"


def _end_kind(unload: Unload | None) -> str:
    """Who ended the test: a fall to about nothing is the board, a jump up is the tester or a hand."""
    if unload is None or not unload.after_v:
        return END_UNKNOWN
    if min(unload.after_v) < 0.3 * unload.before.voltage_v:
        return END_OF_BOARD
    if unload.after_v[-1] > unload.before.voltage_v * 1.0005:
        return END_OF_TESTER
    return END_UNKNOWN


def _summary(
    name: str,
    digest: str,
    mapping: Mapping,
    assumptions: tuple[str, ...],
    warnings: Warnings,
    cleaner: Cleaner,
    totals: Totals,
    heat: _Extremes,
    sign: int,
) -> LogSummary:
    first, last = totals.first, totals.last
    assert first is not None and last is not None
    start = first.time_s
    charge, energy = sign * totals.charge_ah, sign * totals.energy_wh
    out, energy_out = (totals.charge_any_way_ah + charge) / 2, (totals.energy_any_way_wh + energy) / 2
    counters = _counters(mapping, cleaner)
    _compare_counter(counters[0], totals.charge_any_way_ah, warnings)
    loaded = [row for row in (totals.first_loaded, totals.last_loaded) if row is not None]
    unload = totals.unload
    return LogSummary(
        file=name,
        sha256=digest,
        mapping=mapping,
        assumptions=assumptions,
        warnings=tuple(warnings.kept),
        warning_counts=tuple(sorted(warnings.counts.items())),
        rows=cleaner.rows_seen,
        used=totals.used,
        ignored=cleaner.ignored,
        duration_s=last.time_s - start,
        loaded_s=loaded[-1].time_s - loaded[0].time_s if len(loaded) == 2 else 0.0,
        charge_ah=charge,
        discharged_ah=out,
        charged_ah=totals.charge_any_way_ah - out,
        energy_wh=energy,
        discharged_wh=energy_out,
        mean_v=energy_out / out if out > 0 else None,
        gaps=tuple(replace(gap, time_s=gap.time_s - start, charge_ah=sign * gap.charge_ah) for gap in totals.gaps),
        gap_charge_ah=sign * totals.gap_charge_ah,
        interval_median_s=totals.median_interval_s(),
        interval_longest_s=totals.longest_s,
        first=_row(first, start, sign),
        last=_row(last, start, sign),
        first_loaded=_row(totals.first_loaded, start, sign) if totals.first_loaded else None,
        last_loaded=_row(totals.last_loaded, start, sign) if totals.last_loaded else None,
        lowest_v=totals.lowest_v,
        group_lowest=tuple((volts, time_s - start) for volts, time_s in totals.group_lowest),
        end_kind=_end_kind(unload),
        end_line=unload.line if unload else None,
        steps=tuple(_step(step, start, sign) for step in totals.steps),
        step_count=totals.step_count,
        outline=tuple(_point(point, start, sign) for point in totals.outline.points),
        counter_ah=counters[0],
        counter_wh=counters[1],
        temperature_first_degc=tuple(heat.first),
        temperature_highest_degc=tuple(heat.highest) if heat.first else (),
    )


def _counters(mapping: Mapping, cleaner: Cleaner) -> tuple[float | None, float | None]:
    values = list(cleaner.last_counters)
    charge = values.pop(0) if mapping.capacity is not None and values else None
    return charge, (values.pop(0) if mapping.energy is not None and values else None)


def _compare_counter(counter_ah: float | None, charge_ah: float, warnings: Warnings) -> None:
    if counter_ah and charge_ah > 0 and abs(abs(counter_ah) / charge_ah - 1) > 0.02:
        text = f"the file's own counter ends at {abs(counter_ah):.4g} Ah, the rows add up to {charge_ah:.4g} Ah"
        warnings.add("counter differs", 0, text)


def _row(row: Row, start: float, sign: int) -> Row:
    return Row(row.time_s - start, sign * row.current_a, row.voltage_v, row.groups_v)


def _step(step: LoadStep, start: float, sign: int) -> LoadStep:
    before, after = sign * step.current_before_a, sign * step.current_after_a
    return replace(step, time_s=step.time_s - start, current_before_a=before, current_after_a=after)


def _point(point: Point, start: float, sign: int) -> Point:
    low, high = sorted((sign * point.lowest_a, sign * point.highest_a))
    return replace(point, time_s=point.time_s - start, lowest_a=low, highest_a=high)
