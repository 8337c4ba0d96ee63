"""Alarm and end of a discharge test, marked as they happen; the points of a test by hand. Knows no screen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from buildtrack import units
from buildtrack.bench import rows
from buildtrack.bench.desk import Desk, Edit
from buildtrack.bench.entry import try_item
from buildtrack.model.build import Build, Cell, Reading, Row
from buildtrack.model.checklist import Item
from buildtrack.model.edit import Hand, add_reading, set_cell

LOG, POINTS, GROUPS = "discharge_log", "discharge_points", "event_groups"
BY_CLOCK = "by the clock"
"""Note of a time that the program took, not the person."""
USUAL_S, LATE_S, LATE_V = 300.0, 30.0, 3.4
"""Every 5 minutes, every 30 seconds once a group is below 3.4 V: as the checklist says of the table."""
FRESH_S = 30.0
"""How old a point may be to stand for a moment [s]."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A moment of the test that is recorded."""

    name: str
    item: str
    """Item that takes its time."""
    column: str
    """Column of the table of turning points that takes the groups."""


ALARM = Kind("alarm", "alarm_after", "at_alarm")
END = Kind("end of the test", "cutoff_after", "before_cutoff")


@dataclass(frozen=True, slots=True)
class Moment:
    """When it happened, and what was read then."""

    seconds: float
    """Since the load came on."""
    groups: tuple[float, ...] = ()
    """Volts of each group; empty where they are not known."""
    note: str = ""


def marked_s(kind: Kind, build: Build) -> float | None:
    """Seconds at which it stands in the build; None where it does not."""
    standing = build.entry(kind.item).standing
    return _seconds(standing[-1].text) if standing else None


def _seconds(text: str) -> float | None:
    try:
        return units.parse(text, "time", "min").value
    except units.QuantityError:
        return None  # the item itself shows that its text does not fit


def minutes_text(seconds: float) -> str:
    """A time of the test as it is entered."""
    return f"{seconds / 60:.2f} min"


def refused(kind: Kind, moment: Moment, desk: Desk) -> str:
    """Why it cannot be recorded; empty where it can."""
    item = desk.checklist.items.get(kind.item)
    if item is None:
        return f"this checklist does not ask for the {kind.name}"
    return desk.refusal(item) or try_item(item, minutes_text(moment.seconds)).refused


def mark(kind: Kind, moment: Moment, desk: Desk) -> Edit:
    """The one edit that records a moment: its time, and each group in the table of turning points."""
    item, table = desk.checklist.items[kind.item], desk.checklist.items.get(GROUPS)
    names = rows.row_names(table, desk) if table is not None and moment.groups else []

    def change(build: Build, hand: Hand) -> Build:
        build = add_reading(build, item, Reading(minutes_text(moment.seconds), hand.at, note=moment.note), hand)
        if table is None or desk.refusal(table):
            return build
        for name, volts in zip(names, moment.groups, strict=False):
            build = _filled(build, table, name, kind.column, f"{volts:.3f} V", hand, moment.note)
        return build

    return change


def _filled(build: Build, table: Item, row: str, column: str, text: str, hand: Hand, why: str) -> Build:
    if table.column(column) is None:
        return build
    if build.entry(table.id).row(row) is None:
        build = rows.with_row(build, table, row, hand)
    return set_cell(build, table, row, column, Cell(text, hand.at), hand, why)


# -- a test that is written down by hand -------------------------------------------------------------------------------


def began(build: Build) -> datetime | None:
    """When the test began, from the first point that the program timed; None where none was."""
    for row in build.entry(POINTS).rows:
        cell = row.cells.get("minute")
        if cell is not None and cell.taken is not None and cell.note == BY_CLOCK:
            seconds = _seconds(cell.text)
            if seconds is not None:
                return cell.taken - timedelta(seconds=seconds)
    return None


def with_point(build: Build, item: Item, name: str, hand: Hand) -> Build:
    """A new point at this moment; the first one is the beginning of the test."""
    start = began(build)
    seconds = (hand.at - start).total_seconds() if start is not None else 0.0
    build = rows.with_row(build, item, name, hand)
    return set_cell(build, item, name, "minute", Cell(minutes_text(seconds), hand.at, note=BY_CLOCK), hand, BY_CLOCK)


def groups_of(row: Row, count: int) -> tuple[float, ...]:
    """Volts of the groups of a point; empty where not all of them were read."""
    found = []
    for number in range(1, count + 1):
        try:
            found.append(units.parse(row.text(f"g{number}"), "voltage", "V").value)
        except units.QuantityError:
            return ()
    return tuple(found)


def interval_s(build: Build) -> float:
    """How long until the next point is due: shorter once a group is low [s]."""
    points = build.entry(POINTS).rows
    for row in reversed(points):
        read = [v for n in range(1, 11) if (v := _volts(row.text(f"g{n}"))) is not None]
        if read:
            return LATE_S if min(read) < LATE_V else USUAL_S
    return USUAL_S


def _volts(text: str) -> float | None:
    try:
        return units.parse(text, "voltage", "V").value if text else None
    except units.QuantityError:
        return None  # shown as not fitting in the table


def moment_by_hand(build: Build, count: int, now: datetime) -> Moment | None:
    """This moment of a test by hand, with the groups of a point that is fresh; None where the clock was not started."""
    start = began(build)
    if start is None:
        return None
    points = [r for r in build.entry(POINTS).rows if (c := r.cells.get("minute")) and c.taken]
    groups: tuple[float, ...] = ()
    if points and (now - _read_at(points[-1])).total_seconds() <= FRESH_S:
        groups = groups_of(points[-1], count)
    note = f"marked by key; groups of point {points[-1].id}" if groups else "marked by key"
    return Moment((now - start).total_seconds(), groups, note)


def _read_at(row: Row) -> datetime:
    """When the first group of a point was read."""
    times = [c.taken for name, c in row.cells.items() if c.taken is not None and name.startswith("g") and c.text]
    return min(times) if times else datetime.min.replace(tzinfo=row.cells["minute"].taken.tzinfo)  # type: ignore[union-attr]
