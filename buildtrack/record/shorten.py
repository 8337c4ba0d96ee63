"""What is printed of a build that holds more than a record can: texts, rows and readings cut, and each cut counted.

The whole stands in the build file, which is attached. A build of usual size is not touched.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from buildtrack.model.build import Build, Cell, Entry, Reading, Row
from buildtrack.record.text import LONGEST

TEXT_BUDGET = 80_000
"""Characters of free text printed as they are; beyond it every text is cut to its share."""
SHORTEST = 80
"""No text is cut below this [characters]."""
FIELD_BUDGET = 8_000
MOST_ROWS, FEWEST_ROWS = 250, 20
"""Fields of tables printed, and rows of one table: the fewer, the more tables are long."""
MOST_READINGS = 16
"""Readings printed of one item: the first two and the last."""
WHERE = "the attached build file"


@dataclass(frozen=True, slots=True)
class Shortened:
    """A build cut to what is printed, and how much was cut of each item."""

    build: Build
    rows_left: Mapping[str, int] = field(default_factory=dict)
    readings_left: Mapping[str, int] = field(default_factory=dict)


def _texts(build: Build) -> Iterator[str]:
    """Every free text of a build."""
    yield from (w.reason for w in build.waivers)
    yield from (r.remarks for r in build.reviews)
    yield from (p.reason for p in build.policy.values())
    for entry in build.entries.values():
        for reading in entry.readings:
            yield from (reading.text, reading.note, reading.withdrawn, reading.accepted)
        for row in entry.rows:
            for cell in row.cells.values():
                yield from (cell.text, cell.note)


def longest_text(build: Build) -> int:
    """How long one text may be printed [characters]."""
    lengths = sorted(min(len(t), LONGEST) for t in _texts(build))
    total, count = sum(lengths), len(lengths)
    if total <= TEXT_BUDGET:
        return LONGEST
    spent = 0
    for number, length in enumerate(lengths):  # short ones stand whole, what they leave is shared by the long ones
        share = (TEXT_BUDGET - spent) // (count - number)
        if length > share:
            return max(SHORTEST, share)
        spent += length
    return LONGEST


def _cut(text: str, longest: int) -> str:
    if len(text) <= longest or longest >= LONGEST:
        return text
    return f"{text[:longest]} … ({len(text)} characters; the whole text is in the build file)"


def _reading(reading: Reading, longest: int) -> Reading:
    return replace(reading, text=_cut(reading.text, longest), note=_cut(reading.note, longest),
                   withdrawn=_cut(reading.withdrawn, longest), accepted=_cut(reading.accepted, longest))


def _row(row: Row, longest: int) -> Row:
    cells = {k: Cell(_cut(c.text, longest), c.taken, c.instrument, c.value_class, _cut(c.note, longest))
             for k, c in row.cells.items()}
    return Row(row.id, cells)


def _entry(entry: Entry, longest: int, rows: int) -> Entry:
    readings = entry.readings
    if len(readings) > MOST_READINGS:
        readings = (*readings[:2], *readings[2 - MOST_READINGS:])
    left_out = entry.left_out and replace(entry.left_out, reason=_cut(entry.left_out.reason, longest))
    return replace(entry, readings=tuple(_reading(r, longest) for r in readings), left_out=left_out,
                   rows=tuple(_row(r, longest) for r in entry.rows[:rows]))


def most_rows(build: Build) -> int:
    """How many rows of one table may be printed, so that all tables together stay within their budget of fields."""
    tables = [e.rows for e in build.entries.values() if e.rows]
    for rows in (MOST_ROWS, 120, 60, 40):
        if sum(len(r.cells) for table in tables for r in table[:rows]) <= FIELD_BUDGET:
            return rows
    return FEWEST_ROWS


def shortened(build: Build) -> Shortened:
    """The build as it is printed."""
    longest, rows = longest_text(build), most_rows(build)
    fits = all(len(e.readings) <= MOST_READINGS and len(e.rows) <= rows for e in build.entries.values())
    if longest >= LONGEST and fits:
        return Shortened(build)
    entries = {name: _entry(e, longest, rows) for name, e in build.entries.items()}
    cut = replace(
        build, entries=entries, waivers=tuple(replace(w, reason=_cut(w.reason, longest)) for w in build.waivers),
        reviews=tuple(replace(r, remarks=_cut(r.remarks, longest)) for r in build.reviews),
        policy={k: replace(p, reason=_cut(p.reason, longest)) for k, p in build.policy.items()})
    return Shortened(
        cut, {n: len(e.rows) - rows for n, e in build.entries.items() if len(e.rows) > rows},
        {n: len(e.readings) - MOST_READINGS for n, e in build.entries.items() if len(e.readings) > MOST_READINGS})
