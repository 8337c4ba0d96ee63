"""The keys of the build file: which table holds what, in the order in which it is written.

    format, id, title, maker, created, currency, notice      first lines
    [checklist] [origin] [ended]                             id, version, sha256 / where it came from / why it stopped
    [policy.<name>]                                          value, reason, at, by
    [instruments.<id>]                                       the rows of the item `instruments`, a table each
    [steps.<step>.<item>]                                    an item; [[steps.<step>.<item>.readings]] its readings
    [[steps.<step>.<item>]]                                  a table item: `id`, then one text per column
    [steps.<step>.<item>.taken] .with .class .note           of the row above: when, with what, which class, remark
    [steps.<step>.<item>.columns]                            of the row above: columns whose id is one of those words
    [left_out.<step>.<item>]                                 reason, at, by: for items of every kind
    [expected.<step>.<item>]                                 value, or rows: what a past build had
    [[waivers]] [[reviews]] [[history]]                      in the order in which they were made
    [snapshot]                                               for readers without the program; never read as truth

Empty texts and the class "measured" are not written. Times are UTC. Keys that are not named here are kept.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from buildtrack.model import build as m

TIMES = frozenset({"taken", "at", "created"})
"""Keys that hold a date with time."""
WHOLE = frozenset({"size"})
"""Keys that hold a whole number."""
DETAILS = {"taken": "taken", "with": "instrument", "class": "value_class", "note": "note"}
"""Sub-tables of a row, and the attribute of a cell that each one holds."""
RESERVED = frozenset({"id", "columns", *DETAILS})
"""Words that mean something in a row; a column of that name goes into `columns` where the two would clash."""
INSTRUMENTS = "instruments"
"""Item whose rows have a table of their own in the file."""
DEFAULTS: Mapping[str, object] = {"class": "measured"}
"""What a key is when it is not written; an empty text for all others."""


@dataclass(frozen=True, slots=True)
class Record:
    """A table of fixed keys: how each is called in the file and in the model."""

    make: Callable[..., Any]
    keys: Mapping[str, str]
    needed: frozenset[str] = frozenset()
    """Keys that are always written and must be there."""


def _same(*names: str) -> dict[str, str]:
    return {name: name for name in names}


READING = Record(m.Reading, {**_same("text", "taken"), "with": "instrument", "note": "note", "class": "value_class",
                             **_same("accepted", "withdrawn", "sha256", "size", "columns")}, frozenset({"text"}))
LEFT_OUT = Record(m.LeftOut, _same("reason", "at", "by"))
POLICY = Record(m.PolicyChange, {"value": "text", **_same("reason", "at", "by")}, frozenset({"value"}))
WAIVER = Record(m.Waiver, _same("check", "reason", "at", "by", "finding"), frozenset({"check"}))
REVIEW = Record(m.Review, _same("reviewer", "decision", "remarks", "at", "content"))
EVENT = Record(m.Event, {**_same("at", "what", "step", "item", "row", "column"), "from": "before", "to": "after",
                         "with": "instrument", **_same("by", "reason")}, frozenset({"what"}))
ORIGIN = Record(m.Origin, _same("title", "id", "sha256", "path"))
ENDED = Record(m.Ended, _same("reason", "at", "by"))
CHECKLIST = Record(m.ChecklistRef, _same("id", "version", "sha256"), frozenset({"id"}))
HEADER = Record(m.Build, _same("id", "title", "maker", "created", "currency", "notice"), frozenset({"id", "title"}))

RECORDS: Mapping[str, Record] = {"checklist": CHECKLIST, "origin": ORIGIN, "ended": ENDED}
"""Tables of the top level that stand once."""
LISTS: Mapping[str, tuple[str, Record]] = {
    "waivers": ("waivers", WAIVER), "reviews": ("reviews", REVIEW), "history": ("history", EVENT)}
"""Arrays of tables of the top level: the attribute of the build, and what one element is."""
ORDER = ("checklist", "origin", "ended", "policy", "instruments", "steps", "left_out", "expected", "waivers", "reviews",
         "history")
