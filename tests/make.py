"""Builds for tests, written as short as the maker would say them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

from buildtrack.checks.engine import Assessment, assess
from buildtrack.model.build import Build, Cell, ChecklistRef, Entry, Reading, Row
from buildtrack.model.checklist import Checklist
from buildtrack.workings.graph import Sheet
from buildtrack.workings.registry import sheet_of

NOW = datetime(2026, 11, 25, 12, 0, 0, tzinfo=UTC)

Given = str | Sequence[str] | Sequence[Mapping[str, str]]


def _entry(given: Given, instrument: str) -> Entry:
    if isinstance(given, str):
        return Entry((Reading(given, NOW, instrument),))
    if given and isinstance(given[0], str):
        return Entry(tuple(Reading(str(text), NOW, instrument) for text in given))
    rows = []
    for row in given:
        assert isinstance(row, Mapping)
        cells = {k: Cell(v, NOW, instrument) for k, v in row.items() if k != "id"}
        rows.append(Row(row["id"], cells))
    return Entry(rows=tuple(rows))


def build_with(given: Mapping[str, Given], checklist: Checklist, instrument: str = "") -> Build:
    """A build in which these items were answered: text, list of texts (several readings), or rows."""
    entries = {name: _entry(value, instrument) for name, value in given.items()}
    unknown = set(entries) - set(checklist.items)
    assert not unknown, f"the checklist has no item {sorted(unknown)}"
    return Build("test", "Test build", ChecklistRef(checklist.id, checklist.version), NOW, entries=entries)


def sheet_with(given: Mapping[str, Given], checklist: Checklist) -> Sheet:
    """The sheet of such a build."""
    return sheet_of(build_with(given, checklist), checklist, NOW.date())


def judged(given: Mapping[str, Given], checklist: Checklist) -> Assessment:
    """Such a build, judged."""
    build = build_with(given, checklist)
    return assess(build, checklist, sheet_of(build, checklist, NOW.date()), NOW)


def outcome(given: Mapping[str, Given], checklist: Checklist, check: str) -> str:
    """Outcome of one check for such a build; 'not asked' where it does not apply."""
    results = {r.check: r.outcome for r in judged(given, checklist).results}
    return results.get(check, "not asked")
