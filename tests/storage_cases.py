"""Builds of every shape for the tests of storage: hypothesis strategies, and texts that are meant to do harm."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from hypothesis import strategies as st

from buildtrack.model.build import (
    VALUE_CLASSES,
    Build,
    Cell,
    ChecklistRef,
    Ended,
    Entry,
    Event,
    LeftOut,
    Origin,
    PolicyChange,
    Reading,
    Review,
    Row,
    Waiver,
)

AT = datetime(2026, 11, 3, 18, 20, 0, tzinfo=UTC)

HOSTILE = (
    "[bold red]x[/]", "[/", "[type=x, v={'a[0]'}]", "<script>alert(1)</script>", "&lt;b&gt;", "{0.__class__}", "%s%n",
    "${HOME}", "../../etc/passwd", "/etc/passwd", "=cmd|' /C calc'!A0", "\x1b[31mred", "\x07\x08\x7f", "a\x00b",
    "\u202e321 evil", "\u2066x\u2069", "\u200bzero width", "line\nbreak", "line\r\nbreak", "\r", "\u2028", "\u0085",
    'quo"te', "quo'te", '"""', "'''", "back\\slash", "\\u0041", "# no comment", "[[history]]", "format = 2",
    "a = 1\n[snapshot]\nb = 2", "é", "e\u0301", "中文", "🔋", "\U0010ffff",
    " lead and trail ", "\t", "1_000", "nan", "true", "2026-11-03T18:20:00Z", "\ufeff", "x" * 2000)

TEXTS = st.one_of(
    st.sampled_from(HOSTILE), st.sampled_from(("3.300 V", "1,3 A", "c01", "yes", "")),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=12))
WORDS = ("load", "cells", "plan", "candidates", "free_current", "instruments", "id", "taken", "with", "class", "note",
         "columns", "readings", "rows", "a.b", "a b", 'q"q', "q'q", "", "é", "[x]", "#", "x\ny", "steps", "value")
KEYS = st.one_of(st.sampled_from(WORDS), st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=5))
NAMES = KEYS.filter(lambda name: bool(name.strip()))
TIMES = st.none() | st.datetimes(datetime(1, 1, 2), datetime(9999, 12, 30)).map(
    lambda t: t.replace(microsecond=0, tzinfo=UTC)) | st.just(AT)

READINGS = st.builds(
    Reading, text=TEXTS, taken=TIMES, instrument=TEXTS, note=TEXTS, value_class=st.sampled_from(VALUE_CLASSES),
    withdrawn=TEXTS, accepted=TEXTS, sha256=TEXTS, size=st.none() | st.integers(0, 1 << 62))
CELLS = st.builds(
    Cell, text=TEXTS, taken=TIMES, instrument=TEXTS, value_class=st.sampled_from(VALUE_CLASSES), note=TEXTS)
ROWS = st.lists(st.builds(Row, id=NAMES, cells=st.dictionaries(KEYS, CELLS, max_size=4)), max_size=3,
                unique_by=lambda row: row.id).map(tuple)
LEFT = st.builds(LeftOut, reason=TEXTS, at=TIMES, by=TEXTS)
ENTRIES = st.builds(
    Entry, readings=st.lists(READINGS, max_size=2).map(tuple), rows=ROWS, left_out=st.none() | LEFT, expected=TEXTS,
    expected_rows=ROWS)
EVENTS = st.builds(
    Event, at=TIMES, what=TEXTS, step=TEXTS, item=TEXTS, row=TEXTS, column=TEXTS, before=TEXTS, after=TEXTS,
    instrument=TEXTS, by=TEXTS, reason=TEXTS)
SCALARS = st.one_of(
    TEXTS, st.booleans(), st.integers(-(1 << 62), 1 << 62), st.floats(allow_nan=False, allow_infinity=False),
    TIMES.filter(bool))
SNAPSHOTS = st.dictionaries(KEYS, st.recursive(SCALARS, lambda inner: st.one_of(
    st.lists(inner, max_size=3), st.dictionaries(KEYS, inner, max_size=3)), max_leaves=6), max_size=3)

BUILDS = st.builds(
    Build, id=NAMES, title=TEXTS, created=TIMES,
    checklist=st.builds(ChecklistRef, id=TEXTS, version=TEXTS, sha256=TEXTS),
    maker=TEXTS, currency=TEXTS, notice=TEXTS, entries=st.dictionaries(KEYS, ENTRIES, max_size=4),
    policy=st.dictionaries(KEYS, st.builds(PolicyChange, text=TEXTS, reason=TEXTS, at=TIMES, by=TEXTS), max_size=2),
    waivers=st.lists(st.builds(Waiver, check=TEXTS, reason=TEXTS, by=TEXTS, at=TIMES), max_size=2).map(tuple),
    reviews=st.lists(st.builds(Review, reviewer=TEXTS, decision=TEXTS, remarks=TEXTS, at=TIMES, content=TEXTS),
                     max_size=2).map(tuple),
    history=st.lists(EVENTS, max_size=3).map(tuple),
    origin=st.none() | st.builds(Origin, title=TEXTS, id=TEXTS, sha256=TEXTS, path=TEXTS),
    ended=st.none() | st.builds(Ended, reason=TEXTS, at=TIMES, by=TEXTS), snapshot=SNAPSHOTS)


def small_build(**parts: object) -> Build:
    """A build with nothing in it but what is given."""
    given: dict[str, Any] = {"id": "b1", "title": "Hedge trimmer", "checklist": ChecklistRef("small", "1"), **parts}
    return Build(**given)


def large_build(readings: int = 200, cells: int = 60, events: int = 800) -> Build:
    """A build that makes a file of about 200 kB."""
    entries: dict[str, Entry] = {
        f"item_{n}": Entry((Reading(f"{n / 100:.2f} V", AT, "m1-20v", "read twice"),)) for n in range(readings)}
    columns = ("arrival_voltage", "rested_voltage", "capacity", "resistance", "warmest", "decision")
    entries["candidates"] = Entry(rows=tuple(
        Row(f"c{n:02d}", {c: Cell(f"{3 + n / 100:.3f} V", AT, "m1-20v") for c in columns}) for n in range(cells)))
    history = tuple(Event(AT, "entered", "load", f"item_{n % readings}", after=f"{n / 100:.2f} V", instrument="m1-20v")
                    for n in range(events))
    return small_build(entries=entries, history=history)
