"""Enters readings into a build as a maker would, with a clock that moves on."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from buildtrack import units
from buildtrack.model import edit
from buildtrack.model.build import Build, Cell, Reading
from buildtrack.model.checklist import Checklist
from buildtrack.workings.inputs import column_misfit, misfit, outside

NOTICE = "Invented demonstration data: no such tool, people or cells exist."


def at(text: str) -> datetime:
    """A moment written as 2026-08-03 18:10 (UTC)."""
    return datetime.strptime(text, "%Y-%m-%d %H:%M").replace(tzinfo=UTC)


class Scribe:
    """A build being written, with the moment and the hand that writes."""

    def __init__(self, build: Build, checklist: Checklist, by: str) -> None:
        self.build, self.checklist, self.by = build, checklist, by
        self.moment = build.created or at("2026-01-01 00:00")

    @property
    def hand(self) -> edit.Hand:
        return edit.Hand(self.moment, self.by)

    def go_to(self, moment: str) -> None:
        """Put the clock forward; work is never entered backwards in time."""
        wanted = at(moment)
        assert wanted >= self.moment, f"{moment} lies before {self.moment}"
        self.moment = wanted

    def wait(self, seconds: float) -> None:
        self.moment += timedelta(seconds=round(seconds))

    def put(self, item: str, given: str | Sequence[str], instrument: str = "", note: str = "", accepted: str = "",
            value_class: str = "measured") -> None:
        """Enter one answer, or several readings."""
        found = self.checklist.items[item]
        for text in (given,) if isinstance(given, str) else given:
            assert not misfit(found, text), f"{item}: {misfit(found, text)}"
            if found.kind == "reading" and not accepted:
                value = units.parse(text, found.dimension, found.unit).value
                assert not outside(found.plausible, value, found.unit, "is unusual"), f"{item} {text}"
            meter = instrument if found.metered else ""  # as at the bench
            reading = Reading(text, self.moment, meter, note, value_class, accepted=accepted)
            self.build = edit.add_reading(self.build, found, reading, self.hand)
            self.wait(20)

    def yes(self, *items: str) -> None:
        for item in items:
            self.put(item, "yes")

    def rows(self, item: str, rows: Mapping[str, Mapping[str, str]], instruments: Mapping[str, str] | None = None,
             value_class: Mapping[str, str] | None = None) -> None:
        """Enter rows of a table, column by column as at the bench; rows that are there are filled on."""
        found = self.checklist.items[item]
        for name in rows:
            if self.build.entry(item).row(name) is None:
                self.build = edit.add_row(self.build, found, name, self.hand)
        columns = list(dict.fromkeys(c for row in rows.values() for c in row))
        for column in columns:
            shape = found.column(column)
            assert shape is not None, f"{item} has no column {column}"
            for name, row in rows.items():
                if column not in row:
                    continue
                assert not column_misfit(shape, row[column]), f"{item} {name} {column_misfit(shape, row[column])}"
                meter = (instruments or {}).get(column, "") if shape.metered else ""
                cell = Cell(row[column], self.moment, meter,
                            (value_class or {}).get(column, "measured"))
                self.build = edit.set_cell(self.build, found, name, column, cell, self.hand)
                self.wait(12)

    def leave_out(self, item: str, reason: str) -> None:
        self.build = edit.leave_out(self.build, self.checklist.items[item], reason, self.hand)
        self.wait(15)

    def attach(self, item: str, path: Path, folder: Path, note: str = "", columns: str = "") -> None:
        """Attach a photo or log that lies beside the build."""
        content = path.read_bytes()
        reading = Reading(path.relative_to(folder).as_posix(), self.moment, note=note,
                          sha256=hashlib.sha256(content).hexdigest(), size=len(content), columns=columns)
        self.build = edit.add_reading(self.build, self.checklist.items[item], reading, self.hand)
        self.wait(20)

    def waive(self, check: str, reason: str, finding: str = "") -> None:
        self.build = edit.waive(self.build, self.checklist, check, reason, self.hand, finding)
        self.wait(30)

    def titled(self, **changes: str) -> None:
        self.build = replace(self.build, **changes)  # type: ignore[arg-type]
