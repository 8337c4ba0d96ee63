"""Enters a whole build from a table of answers, each item when it is asked, with a clock that moves on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from buildtrack import units
from buildtrack.model.checklist import Column, Item
from buildtrack.workings.asked import applies
from buildtrack.workings.registry import sheet_of
from tests.samples.parts import INSTRUMENTS
from tests.samples.scribe import Scribe

Rows = Mapping[str, Mapping[str, str]]
Answer = str | tuple[str, ...] | Rows

METERS = ("m1-6v", "m1-60v", "m1-10a", "m1-60ma", "m1-600ua", "m1-600mv", "m1-60k", "m2-20v", "shunt-50a", "tester", "thermometer", "scale", "caliper")
BENCH: dict[str, Answer] = {
    "instruments": {n: dict(zip(("meter", "kind", "quantity", "range", "resolution", "accuracy"), INSTRUMENTS[n], strict=True))
                    for n in METERS},
    "meter_check": {"k1": {"meter": "m1", "reading": "4.096 V"}, "k2": {"meter": "m2", "reading": "4.10 V"}},
    "bench_temperature": "21 °C",
}
NOT_READ = frozenset({
    "rated_voltage", "target_duration", "old_capacity", "old_cells", "duty", "charge_policy", "fuse_voltage", "fuse_rating", "current_range",
    "alarm_setting", "alarm_resolution", "tester_stop", "old_full_voltage", "old_empty_voltage", "strips", "conductors",
    "series_count", "parallel_count", "insulating_rings", "measured_duration", "rest_before_test", "soak_minutes", "top_up_interval",
    "costs", "alarm_after", "cutoff_after", "charge_time", "discharge_points.minute", "duty.seconds", "full_trips", "instruments"})
"""What is read off a plate, a clock or a plan instead of a meter."""
SHEET = ("board_", "candidates.rated_", "candidates.charge_limit", "candidates.min_voltage")
MEASURED_OF_BOARD = ("board_idle_current", "board_temperature", "board_space")


@dataclass(slots=True)
class Story:
    """What is entered, and when."""

    answers: Mapping[str, Answer]
    days: Mapping[str, str] = field(default_factory=dict)
    """Before this item the clock goes to this moment."""
    after: Mapping[str, tuple[tuple[str, Rows], ...]] = field(default_factory=dict)
    """After this item, rows of a table are filled on."""
    left_out: Mapping[str, str] = field(default_factory=dict)
    notes: Mapping[str, str] = field(default_factory=dict)
    until: str = ""
    """Last item entered; empty: all."""


def meter_for(dimension: str, text: str) -> str:
    """The meter that a reading of this kind is taken with."""
    if dimension == "voltage":
        value = abs(units.parse(text, dimension, "V").value)
        return "m1-600mv" if 0 < value < 0.1 else "m1-6v" if value < 5.7 else "m1-60v"
    if dimension == "current":
        value = abs(units.parse(text, dimension, "A").value)
        return "m1-600ua" if value < 0.0005 else "m1-60ma" if value < 0.055 else "m1-10a" if value < 9 else "shunt-50a"
    return {"temperature": "thermometer", "mass": "scale", "length": "caliper", "capacity": "tester", "resistance": "m1-60k"}.get(dimension, "")


def _instrument(name: str, kind: str, dimension: str, text: str) -> str:
    item = name.partition(".")[0]
    if kind != "reading" or name in NOT_READ or item in NOT_READ or _from_sheet(name):
        return ""
    return meter_for(dimension, text)


def _from_sheet(name: str) -> bool:
    return name.startswith(SHEET) and name not in MEASURED_OF_BOARD


def fill(s: Scribe, story: Story) -> None:
    """Answer every item that is asked, in the order of the checklist; an item without an answer is an error here."""
    used: set[str] = set()
    for item in s.checklist.all_items():
        if item.id in story.days:
            s.go_to(story.days[item.id])
        if not item.only_if or applies(item.only_if, s.build, sheet_of(s.build, s.checklist, s.moment.date())):
            _answer(s, item, story)
            used.add(item.id)
        for table, rows in story.after.get(item.id, ()):
            _rows(s, s.checklist.items[table], rows)
        if item.id == story.until:
            return
    unused = set() if story.until else (set(story.answers) | set(story.left_out)) - used - set(BENCH)
    assert not unused, f"answers for items that were not asked: {sorted(unused)}"


def _answer(s: Scribe, item: Item, story: Story) -> None:
    if item.id in story.left_out:
        s.leave_out(item.id, story.left_out[item.id])
        return
    given = story.answers.get(item.id, "yes" if item.kind == "tick" else None)
    if given is None:
        assert item.need == "optional" or item.kind in ("photo", "file"), f"{item.id} has no answer"
        if item.need != "optional":
            s.leave_out(item.id, "invented example: nothing was photographed")
        return
    if item.kind == "table":
        assert isinstance(given, Mapping), item.id
        _rows(s, item, given)
        return
    assert not isinstance(given, Mapping), item.id
    first = given if isinstance(given, str) else given[0]
    meter = _instrument(item.id, item.kind, item.dimension, first)
    s.put(item.id, given, meter, story.notes.get(item.id, ""), value_class="taken over" if _from_sheet(item.id) else "measured")


def _rows(s: Scribe, item: Item, rows: Rows) -> None:
    columns = {c.id: c for c in item.columns}
    meters = {}
    for name in dict.fromkeys(c for row in rows.values() for c in row):
        column: Column = columns[name]
        text = next(row[name] for row in rows.values() if name in row)
        if found := _instrument(f"{item.id}.{name}", column.kind, column.dimension, text):
            meters[name] = found if item.id != "taps" else "m1"
    classes = {n: "taken over" for n in columns if _from_sheet(f"{item.id}.{n}")}
    s.rows(item.id, rows, meters, classes)
