"""The rule about groups found empty in a re-check, and what settles one: its cells are out, or were tested again."""

from __future__ import annotations

from datetime import UTC, date, datetime, time

from buildtrack import units
from buildtrack.checks.rules_general_words import PASS
from buildtrack.checks.rules_service import unread
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.workings.aftercare_rechecks import RecheckReport
from buildtrack.workings.pack_groups import cell_names


def found_empty(context: Context) -> Ruling:
    """No group was found deeply discharged in any re-check; a charge since then does not mend it.

    It is settled when every cell that was in the group is out of use, or had its capacity measured again on a later
    day; below the limit of never only the first.
    """
    report, limit = context.known("recheck_report"), context.number("arrival_stop")
    never = context.number("arrival_never") or 0.0
    if limit is None:
        return PASS
    if not isinstance(report, RecheckReport):
        return unread(context) or PASS
    several = len(report.rechecks) > 1
    low = []
    for check in report.rechecks:
        day = datetime.combine(date.fromordinal(int(check.on)), time.max, UTC)
        for group, volts in check.voltages_v.items():
            if volts < limit and _stands(context, group, day, volts < never):
                low.append(f"{group} {units.show(volts, 'V')}" + (f" in {check.id}" if several else ""))
    return Ruling("fail", {"value": f"{', '.join(low)}; below {units.show(limit, 'V')}"}) if low else PASS


def _stands(context: Context, group: str, day: datetime, for_good: bool) -> bool:
    """Whether a cell of a group on a day is still used and was not tested since; for good: a test does not help."""
    members = _members(context, group, day)
    if not members:
        return True  # nobody knows which cells they were
    used = {name for row in context.build.entry("groups").rows for name in _names(row.text("cells"))}
    candidates = context.build.entry("candidates")
    for name in members & used:
        row = next((r for r in candidates.rows if r.id.casefold() == name), None)
        tested = row.cells.get("capacity") if row is not None else None
        again = tested is not None and tested.taken is not None and tested.taken > day
        if (row is None or row.text("decision") != "reject") and (for_good or not again):
            return True
    return False


def _members(context: Context, group: str, day: datetime) -> set[str]:
    """The cells that were in a group on a day: as it was before the first change since, else as it is."""
    for event in context.build.history:
        of_group = (event.item, event.row) == ("groups", group) and event.at is not None and event.at > day
        if of_group and (event.column == "cells" or event.what == "row deleted") and event.before:
            return _names(event.before.partition("cells = ")[2].partition(";")[0] or event.before)
    row = context.build.entry("groups").row(group)
    return _names(row.text("cells")) if row is not None else set()


def _names(text: str) -> set[str]:
    return {name.casefold() for name in cell_names(text)}
