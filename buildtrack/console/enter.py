"""`buildtrack enter`: one reading, answer or table field, taken and refused as on the bench."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from difflib import get_close_matches

from buildtrack import units
from buildtrack.bench.attach import attached_reading
from buildtrack.bench.rows import with_row
from buildtrack.console.common import now, plain
from buildtrack.judging import Judged, judge, judge_again, lifted, summary
from buildtrack.model import edit
from buildtrack.model.build import Build, Cell, Reading
from buildtrack.model.checklist import Checklist, Column, Item
from buildtrack.model.instruments import instruments, known_names, pick
from buildtrack.storage.session import BuildSession, open_session
from buildtrack.workings.asked import wanted_rows
from buildtrack.workings.inputs import column_misfit, misfit, one_meaning, outside
from buildtrack.workings.status import why_held

WANTED_AGAIN = ("stale", "expired")
"""States of an item in which an equal value is a reading taken anew."""


def enter(options: argparse.Namespace) -> int:
    """Enter one reading, answer or table field."""
    session = open_session(options.file, snapshot=summary)
    try:
        if session.read_only_reason:
            raise ValueError(f"{options.file}: {session.read_only_reason}")
        item = session.checklist.items.get(options.item)
        if item is None:
            raise ValueError(f"{options.file}: the checklist has no item '{units.clip(options.item)}'"
                             f"{_alike(options.item, session.checklist)} ('buildtrack show FILE' prints all, in [ ])")
        judged = _judged(session)
        entering = _Entering(judged, item, options)
        build, place = entering.entered()
        entering.refuse_to_lift(build)
        stood = build == session.build
        state = session.commit(build)
        if not state.saved:
            raise ValueError(f"{options.file}: not saved: {state.reason}")
        early = _judged(session).assessment.status.items[item.id] if item.filled_first else None
    finally:
        session.close()
    print(plain(f"{place}: {options.text}{' stands already, nothing was changed' if stood else ''}"))
    if early is not None and early.lacks:
        print(plain(f"buildtrack: {early.why}; until then it settles nothing"), file=sys.stderr)
    return 0


def _alike(name: str, checklist: Checklist) -> str:
    """The items whose ids or labels are most like a name; empty where none is."""
    known = {key.casefold(): item.id for item in checklist.all_items() for key in (item.label, item.id)}
    found = list(dict.fromkeys(known[k] for k in get_close_matches(units.clip(name).casefold(), known, 3, 0.6)))
    return f"; there is: {', '.join(found)}" if found else ""


def _judged(session: BuildSession) -> Judged:
    return judge(session.build, session.checklist, session.path.resolve().parent, now())


class _Entering:
    """One text on its way into a build. What stands against it is a ValueError with file, step and item."""

    def __init__(self, judged: Judged, item: Item, options: argparse.Namespace) -> None:
        self.judged, self.build, self.item, self.options = judged, judged.build, item, options
        self.hand = edit.Hand(now(), options.by)
        self.where = f"{options.file}: step {item.step}, item {item.id}"
        status = judged.assessment.status
        self.replaced = ""
        """The reading in whose place the new one comes."""
        self.again = status.items[item.id].state in WANTED_AGAIN
        if held := why_held(item, self.build, judged.checklist, status):
            raise self.refused(held)

    def refused(self, sentence: str) -> ValueError:
        """A refusal that says where."""
        return ValueError(f"{self.where}: {sentence}")

    def entered(self) -> tuple[Build, str]:
        """The build with what was typed (the same one where that stands already), and its place in words."""
        return self._cell() if self.item.kind == "table" else (self._answer(), self.item.label)

    def _answer(self) -> Build:
        item, options = self.item, self.options
        self._checked(item, misfit(item, one_meaning(item, options.text)))
        if item.kind == "reading" and not options.accept:
            value = units.parse(options.text, item.dimension, item.unit).value
            if sentence := outside(item.plausible, value, item.unit, "is unusual"):
                raise self.refused(f"{sentence} (to take it all the same: --accept REASON)")
        reading = Reading(options.text, self.hand.at, options.instrument, options.note, accepted=options.accept)
        if item.kind in ("photo", "file"):
            found = attached_reading(options.file, options.text, self.hand.at, item.kind)
            if isinstance(found, str):
                raise self.refused(found)
            reading = replace(found, note=options.note)
        last = self.build.entry(item.id).standing[-1:]
        if item.several == 1 and not self.again and last and replace(last[0], taken=reading.taken) == reading:
            return self.build
        if item.several == 1 and last and item.kind == "reading":
            self._in_place(last[0].text)
        return edit.add_reading(self.build, item, reading, self.hand)

    def _cell(self) -> tuple[Build, str]:
        item, options, build = self.item, self.options, self.build
        column = column_meant(item, options.column)
        if column is None:
            wrong = f"'{units.clip(options.column)}' is no column; " if options.column else ""
            raise self.refused(f"{wrong}needs --column, one of {', '.join(c.id for c in item.columns)}")
        if not options.row:
            raise self.refused(f"needs --row, the name of a {item.row_name}")
        row, is_new = self._row_meant(options.row)
        self.where += f", {item.row_name} {row}, {column.id}"
        self._checked(column, column_misfit(column, one_meaning(column, options.text)))
        cell = Cell(options.text, self.hand.at, options.instrument, note=options.note)
        found = build.entry(item.id).row(row)
        before = found.cells.get(column.id) if found is not None else None
        place = f"{item.label}, {item.row_name} {row}{' (new)' if is_new else ''}, {column.label}"
        if before is not None and not self.again and replace(before, taken=cell.taken) == cell:
            return build, place
        if before is not None and before.text and before.value_class != "taken over" and column.kind == "reading":
            self._in_place(before.text)
        if found is None:
            build = with_row(build, item, row, self.hand)
        return edit.set_cell(build, item, row, column.id, cell, self.hand), place

    def _checked(self, place: Item | Column, sentence: str) -> None:
        """The text as it is understood there; refused where it, its currency or its instrument does not fit."""
        options = self.options
        options.text = one_meaning(place, options.text)
        if not sentence and place.dimension == "money":
            sentence = units.other_currency(options.text, self.build.currency)
        if sentence := sentence or self._no_instrument(place):
            raise self.refused(sentence)

    def _no_instrument(self, place: Item | Column) -> str:
        """Why the instrument named is none for this place; empty where it is one, or none is named."""
        name = self.options.instrument
        if not name:
            return ""
        if place.kind != "reading":
            return "--with names the instrument of a reading, and this is none"
        if not place.metered:
            return "this is printed, set, agreed or shown by the part itself: no instrument reads it; leave out --with"
        listed = instruments(self.build)
        value = units.parse(self.options.text, place.dimension, place.unit).value
        if pick(listed, name, place.dimension, value) is not None:
            return ""
        fit = known_names(i for i in listed.values() if i.quantity == place.dimension)
        there = f"there are: {', '.join(fit)}" if fit else "none is listed in Instruments"
        what = place.dimension.replace("_", " ")
        return f"--with '{units.clip(name)}' is no instrument of this build for {what}; {there}"

    def refuse_to_lift(self, build: Build) -> None:
        """Refuse to take a stop away by putting another reading in the place of one, unless a note says why."""
        if not self.replaced or self.options.note:
            return
        if stops := lifted(self.judged, judge_again(self.judged, build, self.judged.now)):
            raise self.refused(f"{self.replaced} stands and makes the stop '{stops[0].title}'; "
                               "--note REASON says why another reading takes its place")

    def _in_place(self, standing: str) -> None:
        """Refuse to replace a reading at a hold point unless that is asked for; one wanted anew replaces nothing."""
        self.replaced = standing
        if self.item.hold and not self.again and not self.options.replace:
            now = units.clip(self.options.text)
            raise self.refused(f"hold point: {standing} stands; --replace puts {now} in its place")

    def _row_meant(self, name: str) -> tuple[str, bool]:
        """The row called so, else the only one called so but for capitals, else a new one; and whether it is new.

        Refused where the checklist says how many rows there are.
        """
        wanted = wanted_rows(self.item, self.judged.assessment.sheet)
        there = [*wanted, *(r.id for r in self.build.entry(self.item.id).rows if r.id not in wanted)]
        alike = [n for n in there if n.casefold() == name.casefold()]
        if name in there or len(alike) == 1:
            return (name if name in there else alike[0]), False
        if self.item.rows_from:
            rows = f"there are: {', '.join(there)}" if there else f"their number is not known yet: {self._count()}"
            raise self.refused(f"there is no {self.item.row_name} '{units.clip(name)}'; {rows}")
        return name, True

    def _count(self) -> str:
        """What says how many rows there are."""
        found = self.judged.checklist.items.get(self.item.rows_from)
        return f"it follows from '{found.label}'" if found is not None else "it follows from the plan"


def column_meant(item: Item, name: str) -> Column | None:
    """The column with this id, else the only one whose head or label this is, capitals or not."""
    wanted = name.casefold().replace("_", " ").strip()
    alike = [c for c in item.columns if wanted and wanted in (c.head.casefold(), c.label.casefold())]
    return item.column(name) or (alike[0] if len(alike) == 1 else None)
