"""How a log file is written: encoding, separator, decimal mark, junk lines, header, where the readings begin."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

from buildtrack.physics.log_errors import LogError
from buildtrack.physics.log_numbers import looks_like_time, read_number
from buildtrack.plain_file import open_plain

SAMPLE_BYTES = 65_536
LONGEST_LINE = 100_000
"""A longer line is no row of a log: it is refused instead of filling the memory [characters]."""
SAMPLE_LINES = 500
PAIRS = ((";", ","), (";", "."), ("\t", ","), ("\t", "."), (",", "."), ("|", "."), (" ", "."), (" ", ","))


@dataclass(frozen=True, slots=True)
class Sniffed:
    """What was found about a file: how to open it, its header, its first rows, and every assumption in words."""

    encoding: str
    delimiter: str
    decimal: str
    first_row: int  # line number of the first reading, from 1
    header: tuple[str, ...]
    units: tuple[str, ...]
    junk: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    assumptions: tuple[str, ...]


def sniff(path: Path | str) -> Sniffed:
    """Find out how a log is written from its first 64 kB; LogError when it holds no rows of readings."""
    with open_plain(path) as file:
        head = file.read(SAMPLE_BYTES)
    return sniff_head(head, Path(path).name, cut=len(head) == SAMPLE_BYTES)


@lru_cache(maxsize=8)  # columns, readings and their description each ask for the same head
def sniff_head(head: bytes, name: str, *, cut: bool) -> Sniffed:
    """The same from the first bytes of a log; `cut` where its last line may not be all there."""
    if not head.strip():
        raise LogError(name, 0, "the file is empty", "export the log again with its rows")
    if head[:2] == b"PK" or head[:4] in (b"%PDF", b"\xd0\xcf\x11\xe0"):
        raise LogError(name, 0, "this is no text file", "open it in its program and save it as CSV")
    encoding = find_encoding(head, cut)
    text = head.decode(encoding, errors="replace")
    if sum(ch < " " and ch not in "\t\r\n\f" for ch in text) > len(text) / 50:
        raise LogError(name, 0, "this is no text file", "save the log as CSV")
    lines = io.StringIO(text, newline=None).read().split("\n")
    if cut and len(lines) > 1:
        lines.pop()  # cut in the middle
    return _read_lines(name, lines, encoding)


def _read_lines(name: str, lines: list[str], encoding: str) -> Sniffed:
    notes = [f"encoding {encoding}"]
    told = re.fullmatch(r"sep=(.)", lines[0].strip().strip("\ufeff"), re.IGNORECASE) if lines else None
    pairs = [pair for pair in PAIRS if told is None or pair[0] == told.group(1)]
    delimiter, decimal = _best_pair(name, lines, pairs)
    words = {"\t": "tab", " ": "spaces"}.get(delimiter, f"'{delimiter}'")
    notes.append(f"separator {words}, decimal mark '{decimal}'")
    rows = [split_line(line, delimiter) for line in lines[:SAMPLE_LINES]]
    start = _first_reading(rows, decimal)
    if start is None:
        raise LogError(name, 0, "no rows of readings were found", "rows with time, voltage and current are needed")
    header, units = _header_above(rows, start, decimal)
    if start:
        notes.append(f"readings begin in line {start + 1}")
    notes.append("columns named by the header" if header else "no header: columns told by their values")
    junk = tuple(line for line in lines[: min(start, 60)] if line.strip())
    end = _other_header(rows, start, header, decimal)
    sample = tuple(tuple(row) for row in rows[start : min(end, start + 200)] if _readings(row, decimal) >= 2)
    return Sniffed(encoding, delimiter, decimal, start + 1, header, units, junk, sample, tuple(notes))


def find_encoding(head: bytes, cut: bool) -> str:
    """UTF-8, UTF-16 by mark or zero bytes, Chinese when high bytes come in pairs of its range, else Windows Latin."""
    if head.startswith(b"\xef\xbb\xbf"):
        return "utf-8-sig"
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    if len(head) > 3 and head.count(0) > len(head) / 4:
        return "utf-16-le" if head[1] == 0 else "utf-16-be"
    try:
        head.decode("utf-8")
        return "utf-8"
    except UnicodeDecodeError as error:
        if error.start > len(head) - 4 and cut:
            return "utf-8"
    runs = re.findall(rb"[\x80-\xff]+", head)
    if all(len(run) % 2 == 0 and min(run) >= 0xA1 for run in runs):
        return "gb18030"
    return "cp1252"


def split_line(line: str, delimiter: str) -> list[str]:
    """Fields of a line, spaces around them taken off; runs of spaces are one separator."""
    if delimiter == " ":
        return line.split()
    return [field.strip() for field in next(csv.reader([line], delimiter=delimiter), [])]


def _readings(row: Sequence[str], decimal: str) -> int:
    return sum(read_number(field, decimal) is not None or looks_like_time(field) for field in row)


def _best_pair(name: str, lines: list[str], pairs: Sequence[tuple[str, str]]) -> tuple[str, str]:
    """The pair of separator and decimal mark under which most fields of the later lines are readings."""
    numbered = [(k, line) for k, line in enumerate(lines, 1) if line.strip()][-60:]
    best, best_score = pairs[0], -1.0
    for delimiter, decimal in pairs:
        if not any(delimiter in line for _, line in numbered):
            continue  # one column: no log
        rows = [split_line(line, delimiter) for _, line in numbered]
        usual = Counter(len(row) for row in rows if _readings(row, decimal) >= 2).most_common(1)
        if not usual or usual[0][0] < 2:
            continue
        fitting = [row for row in rows if len(row) == usual[0][0]]
        readings = sum(_readings(row, decimal) for row in fitting)
        filled = sum(1 for row in fitting for field in row if field)
        score = len(fitting) / len(rows) * readings / max(filled, 1) * (1 + 0.01 * usual[0][0])
        score *= _mark_used(fitting, decimal)
        if score > best_score + 1e-9:
            best, best_score = (delimiter, decimal), score
    if best_score < 0:
        raise LogError(name, 0, "no rows of readings were found", "rows with time, voltage and current are needed")
    if best[0] == ",":
        _refuse_two_commas(name, numbered)
    return best


def _mark_used(rows: Sequence[Sequence[str]], decimal: str) -> float:
    """1 where numbers carry this decimal mark, down to 0.5 where they carry only the other (2.000 is not 2000)."""
    other = "," if decimal == "." else "."
    fields = [field for row in rows for field in row if read_number(field, decimal) is not None]
    own, foreign = (sum(mark in field for field in fields) for mark in (decimal, other))
    return 1.0 - 0.5 * foreign / (own + foreign) if own + foreign else 1.0


def _refuse_two_commas(name: str, numbered: Sequence[tuple[int, str]]) -> None:
    counts = Counter(len(split_line(line, ",")) for _, line in numbered if _readings(split_line(line, ","), ".") >= 2)
    if len(counts) < 2:
        return
    (usual, many), (other, some) = counts.most_common(2)
    if abs(usual - other) == 1 and some > 0.05 * (many + some) and some > 1:
        more = max(usual, other)
        line = next(k for k, text in numbered if len(split_line(text, ",")) == more)
        raise LogError(
            name, line, "the comma is both separator and decimal mark (one field more than in other lines)",
            "export with semicolons or with a decimal point",
        )  # fmt: skip


def _first_reading(rows: Sequence[Sequence[str]], decimal: str) -> int | None:
    """First line of which it and the next four filled ones are readings."""
    @cache
    def good(k: int) -> bool:
        readings = _readings(rows[k], decimal)
        return readings >= 2 and readings >= 0.5 * sum(map(bool, rows[k]))

    filled = [k for k, row in enumerate(rows) if any(row)]
    for position, k in enumerate(filled):
        following = filled[position : position + 5]
        if good(k) and sum(map(good, following)) >= min(4, len(following)):
            return k
    return next(filter(good, filled), None)


def _other_header(rows: Sequence[Sequence[str]], start: int, header: Sequence[str], decimal: str) -> int:
    """Where the first stretch of readings ends: at a line of names that is not its header; else at the end."""
    for k in range(start + 1, len(rows)):
        row = rows[k]
        named = len(row) >= len(rows[start]) - 1 and sum(map(bool, row)) >= max(2, len(row) / 2)
        if named and not _readings(row, decimal) and [f.strip() for f in row[: len(header)]] != list(header):
            return k
    return len(rows)


def _header_above(rows: Sequence[Sequence[str]], start: int, decimal: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names and, when they have a line of their own, units."""
    width = len(rows[start])
    above = [row for row in rows[max(0, start - 4) : start] if any(row)]
    above = [
        row
        for row in above
        if abs(len(row) - width) <= 1 and not any(read_number(f, decimal) is not None for f in row if f)
    ]
    if not above:
        return (), ()
    last = above[-1]
    if len(above) > 1 and all(is_unit(field) for field in last if field):
        return tuple(_unmarked(above[-2])), tuple(last)
    return tuple(_unmarked(last)), ()


def is_unit(field: str) -> bool:
    """Whether a field holds nothing but a unit."""
    return field.strip("[]() ").lower() in {
        "s", "ms", "min", "h", "v", "mv", "a", "ma", "ah", "mah", "wh", "mwh", "w", "mw", "°c", "degc", "c",
        "hh:mm:ss", "%",
    }  # fmt: skip


def _unmarked(fields: Sequence[str]) -> list[str]:
    """Names without a comment mark in front."""
    return [field.lstrip("#~; ").strip() if k == 0 else field for k, field in enumerate(fields)]
