"""What the maker wrote beside answers: seen with the evidence it belongs to, and all of it in one place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from buildtrack.checks.review_told import Evidence
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist, Column, Item
from buildtrack.units import unit_taken

MOST_VALUES = 5
"""So many answers that carry the same remark are told one by one; more are counted."""


@dataclass(frozen=True, slots=True)
class Remark:
    """One remark, and the answers of one item or column beside which it was written."""

    item: str
    column: str
    label: str
    values: tuple[str, ...]
    text: str
    by: str = ""
    """Who wrote it, where the history says so; else who entered the answer, where it says that."""
    at: datetime | None = None
    """When it was written, where the history says so; else when the answer was taken."""

    @property
    def beside(self) -> str:
        """The answers in words."""
        shown = ", ".join(self.values[:MOST_VALUES])
        return shown + (f" and {len(self.values) - MOST_VALUES} more" if len(self.values) > MOST_VALUES else "")

    @property
    def line(self) -> str:
        """All of it in a line: what it is about, the answer, the remark, who, when."""
        when = f"{self.at:%Y-%m-%d %H:%M}" if self.at else ""
        said = ", ".join(part for part in (self.by, when) if part)
        return f"{self.label}, {self.beside}: {self.text}" + (f" ({said})" if said else "")


def answer_words(place: Item | Column, text: str) -> str:
    """An answer as people read it: an option by its label, a bare number with the unit it is taken in."""
    if place.kind == "reading" and (taken := unit_taken(text, place.unit)):
        return f"{text} {taken}"
    return next((o.label for o in place.options if o.id == text), text)


def remarks(build: Build, checklist: Checklist) -> tuple[Remark, ...]:
    """Every remark beside an answer, in the order of the work; the same words at one place count once."""
    found: dict[tuple[str, str, str], Remark] = {}
    for one in _each(build, checklist):
        key = (one.item, one.column, one.text)
        before = found.get(key)
        found[key] = replace(before, values=before.values + one.values) if before is not None else one
    return tuple(found.values())


def _each(build: Build, checklist: Checklist) -> Iterator[Remark]:
    for item in checklist.all_items():
        entry = build.entry(item.id)
        for reading in entry.readings:
            if reading.note:
                value = answer_words(item, reading.text) + (" (withdrawn)" if reading.withdrawn else "")
                by, at = _written(build, item.id, "", "", reading.text, reading.note)
                yield Remark(item.id, "", item.label, (value,), reading.note, by, at or reading.taken)
        for row in entry.rows:
            for name, cell in row.cells.items():
                if cell.note:
                    place = item.column(name)
                    value = f"{row.id} {answer_words(place, cell.text) if place else cell.text}".rstrip()
                    label = f"{item.label}: {place.label if place else name}"
                    by, at = _written(build, item.id, row.id, name, cell.text, cell.note)
                    yield Remark(item.id, name, label, (value,), cell.note, by, at or cell.taken)


def _written(build: Build, item: str, row: str, column: str, text: str, note: str) -> tuple[str, datetime | None]:
    """Who wrote a remark, and when, by the history; of one written with its answer, who entered that."""
    events = [e for e in reversed(build.history) if (e.item, e.row, e.column) == (item, row, column)]
    noted = next((e for e in events if e.what == "noted" and e.after == note), None)
    if noted is not None:
        return noted.by, noted.at
    return next((e.by for e in events if e.after == text and e.by), ""), None


def beside_evidence(names: tuple[str, ...], given: tuple[Remark, ...]) -> Iterator[Evidence]:
    """The remarks beside what a question rests on; they answer nothing by themselves.

    names: items (then also every column of them) and item.column.
    """
    for one in given:
        if one.item in names or f"{one.item}.{one.column}" in names:
            yield Evidence(f"item:{one.item}", f"Remark on {one.label}, {one.beside}", one.text, False, stated=True)
