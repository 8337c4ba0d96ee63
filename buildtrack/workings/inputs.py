"""From a build to the inputs of the graph: typed text becomes values with their limits of error."""

from __future__ import annotations

import statistics
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from buildtrack import units
from buildtrack.model.build import Build, Entry, PolicyChange, Reading, Row
from buildtrack.model.checklist import Checklist, Column, Condition, Item, Span
from buildtrack.model.instruments import ITEM as INSTRUMENTS
from buildtrack.model.instruments import Instrument, contributions, instruments, pick, taken_with
from buildtrack.workings.typed_days import parse_date as parse_date
from buildtrack.workings.values import Known, Missing, Record, Table, Value

TODAY = "today"
"""Input that holds the day on which the build is looked at (ordinal number of the day)."""


def counting(item: Item, entry: Entry) -> tuple[Reading, ...]:
    """The standing answers of an item that make its value; the others were replaced by them."""
    standing = entry.standing
    if item.kind == "reading" and item.use in ("mean", "median", "lowest", "highest"):
        return standing
    return standing[:1] if item.use == "first" else standing[-1:]


def reading_value(item: Item, reading: Reading, meters: Mapping[str, Instrument], address: str) -> Known:
    """One reading as a value; units.QuantityError where its text does not fit the item."""
    quantity = units.parse(reading.text, item.dimension, item.unit)
    name = taken_with(item, reading)
    meter = pick(meters, name, item.dimension, quantity.value) if name else None
    spread = contributions(meter, quantity.value, quantity.step, address) if meter else {}
    return Known(quantity.value, spread, reading.value_class)


def _combined(item: Item, values: list[Known]) -> Known:
    """Several readings of one item as the one that counts."""
    numbers = [v.value for v in values]
    if item.use == "mean":
        mean = statistics.fmean(numbers)
        spread: dict[str, float] = {}
        for value in values:
            for source, limit in value.spread.items():
                spread[source] = spread.get(source, 0.0) + limit / len(values)
        return Known(mean, spread, values[-1].value_class)
    if item.use == "median":
        return sorted(values, key=lambda v: float(v.value))[(len(values) - 1) // 2]
    pick_one = {"lowest": min, "highest": max}.get(item.use)
    if pick_one is not None:
        return pick_one(values, key=lambda v: float(v.value))
    return values[0] if item.use == "first" else values[-1]


@lru_cache(maxsize=4096)
def _nothing(name: str) -> Missing:
    """An item or input that is not there; most items of a build that was begun are not."""
    return Missing(frozenset({name}))


def item_value(item: Item, entry: Entry, meters: Mapping[str, Instrument], before: _Before | None = None) -> Value:
    """What an item gives to the graph; text that does not fit counts as missing (its item shows the refusal).

    before: an earlier entry of this item, read with the same instruments, and its value: of a table, rows that are the
    same objects are not read again.
    """
    if item.kind == "table":
        return _table(item, entry, meters, before) if entry.rows else _nothing(item.id)
    standing = entry.standing
    if not standing:
        return _nothing(item.id)
    if item.kind == "reading":
        return _readings(item, standing, meters) or _nothing(item.id)
    last = standing[-1]
    if item.kind == "tick":
        return Known(last.text == "yes", {}, last.value_class)
    return Known(last.text, {}, last.value_class)


def _readings(item: Item, standing: tuple[Reading, ...], meters: Mapping[str, Instrument]) -> Known | None:
    values: list[Known] = []
    for number, reading in enumerate(standing, 1):
        try:
            values.append(reading_value(item, reading, meters, f"{item.id} {number}"))
        except units.QuantityError:
            return None  # reported by problems(), with file, step and item
    return _combined(item, values)


def column_value(column: Column, text: str) -> object:
    """Typed text of one table field in canonical form; ValueError where it does not fit."""
    if column.kind == "reading":
        return units.parse(text, column.dimension, column.unit).value
    if column.kind == "date":
        return float(parse_date(text).toordinal())
    if column.kind == "tick":
        return text == "yes"
    if column.kind == "choice" and not any(o.id == text for o in column.options):
        raise ValueError(f"'{units.clip(text)}' is not one of {', '.join(o.id for o in column.options)}")
    return text


def _record(item: Item, row: Row, meters: Mapping[str, Instrument]) -> Record:
    values: dict[str, object] = {}
    spreads: dict[str, Mapping[str, float]] = {}
    marks: dict[str, str] = {}
    cells = row.cells
    for column in item.columns:
        name = column.id
        cell = cells.get(name)
        if cell is None or not cell.text:
            continue
        with_meter = taken_with(column, cell) if cell.instrument else ""
        try:
            if column.kind == "reading":
                quantity = units.parse(cell.text, column.dimension, column.unit)
                values[name] = quantity.value
                if with_meter and (meter := pick(meters, with_meter, column.dimension, quantity.value)):
                    address = f"{item.id} {row.id} {name}"
                    if spread := contributions(meter, quantity.value, quantity.step, address):
                        spreads[name] = spread
            else:
                values[name] = column_value(column, cell.text)
        except ValueError:
            continue  # reported by problems(), with file, step, item and row
        if with_meter:
            marks[name] = with_meter
    return Record(row.id, values, spreads, marks, _typed_on(item, row))


def _typed_on(item: Item, row: Row) -> float | None:
    """The day on which the last reading of an undated row was typed; None where it is dated, or need not be.

    It was read on that day at the latest, so that what changed since the row before it is at least as fast.
    """
    dated = item.dated_by
    if dated is None or row.text(dated.id):
        return None
    cells = (row.cells.get(c.id) for c in item.columns if c.kind == "reading")
    days = [float(c.taken.date().toordinal()) for c in cells if c is not None and c.text and c.taken is not None]
    return max(days, default=None)


_Before = tuple[Entry, Entry, Value]
"""An entry, that of the instruments it was read with, and its value; entries are never changed."""


def _table(item: Item, entry: Entry, meters: Mapping[str, Instrument], before: _Before | None) -> Known:
    known: dict[int, Record] = {}
    if before is not None and isinstance(before[2], Known) and isinstance(before[2].value, Table):
        known = {id(row): record for row, record in zip(before[0].rows, before[2].value.rows, strict=True)}
    return Known(Table(tuple([known.get(id(row)) or _record(item, row, meters) for row in entry.rows])))


def answer(build: Build, name: str) -> str:
    """Text of the last standing answer to a simple item; empty where there is none."""
    standing = build.entry(name).standing
    return standing[-1].text if standing else ""


def condition_holds(condition: Condition, build: Build, number: float | None) -> bool:
    """Whether one condition of `only_if` holds; `number` is the value of the item or working where it has one."""
    text = answer(build, condition.item) if condition.item else ""
    if condition.answered is not None and condition.item:
        return bool(text or build.entry(condition.item).rows) == condition.answered
    if condition.is_ and text not in condition.is_:
        return False
    if condition.is_not and text in condition.is_not:
        return False
    if condition.at_least is not None and (number is None or number < condition.at_least):
        return False
    return condition.at_most is None or (number is not None and number <= condition.at_most)


def applies_by_items(conditions: tuple[Condition, ...], build: Build, checklist: Checklist,
                     meters: Mapping[str, Instrument]) -> bool:
    """Whether the conditions that name items hold (those that name workings are left to status.py)."""
    for condition in conditions:
        if not condition.item:
            continue
        item = checklist.items.get(condition.item)
        number = None
        if item is not None and item.kind == "reading":
            value = item_value(item, build.entry(item.id), meters)
            number = value.value if isinstance(value, Known) else None
        if not condition_holds(condition, build, number):
            return False
    return True


def policy_value(checklist: Checklist, build: Build, name: str) -> Known:
    """A policy value: the default, or what it was changed to (a text that does not fit leaves the default)."""
    policy = checklist.policy[name]
    change = build.policy.get(name)
    if change is None:
        return Known(policy.value, {}, "computed")
    try:
        return Known(units.parse(change.text, policy.dimension, policy.unit).value, {}, "computed")
    except units.QuantityError:
        return Known(policy.value, {}, "computed")  # reported by problems()


RECORD_ID = "record_id"
"""Input that holds the name of the build, as its record bears it."""
JOINED_DAY, JOINED = "joined_day", "groups_joined"
"""Input that holds the day on which it was ticked that the groups are joined, and the item that is ticked."""
LOG_DATA = "discharge_log_data"
"""Input that holds the contents of the attached discharge log, read outside the graph (storage/log_data.py)."""
OWN_DATA = "own_curve_data"
"""Input that holds the attached slow logs of one cell, the contents of one log each (storage/log_data.py)."""


Memory = dict[str, Any]
"""What was read last time, by item: its entry, that of the instruments, and the value (entries are never changed)."""


ATTACHED = "attachment_faults"
"""Input that says what is wrong with the attached files, empty where nothing is (storage/attachments.py looks)."""


def _read(item: Item, entry: Entry, listed: Entry, meters: Mapping[str, Instrument], memory: Memory) -> Value:
    found: _Before | None = memory.get(item.id)
    if found is None or found[0] is not entry or found[1] is not listed:
        before = found if found is not None and found[1] is listed else None
        found = memory[item.id] = (entry, listed, item_value(item, entry, meters, before))
    return found[2]


@dataclass(frozen=True, slots=True)
class _Shared:
    """What all items have in common, with what it was made of (entries and policy changes are never changed)."""

    checklist: Checklist
    listed: Entry
    changes: Mapping[str, PolicyChange]
    meters: Mapping[str, Instrument]
    policies: Mapping[str, Value]


_SHARED = "of all items"
"""Where the memory keeps it; no item is called so."""


def _shared(build: Build, checklist: Checklist, memory: Memory | None) -> _Shared:
    last = memory.get(_SHARED) if memory is not None else None
    listed = build.entry(INSTRUMENTS)
    if (isinstance(last, _Shared) and last.checklist is checklist and last.listed is listed
            and last.changes is build.policy):
        return last
    found = _Shared(checklist, listed, build.policy, instruments(build),
                    {p.id: policy_value(checklist, build, p.id) for p in checklist.policies})
    if memory is not None:
        memory[_SHARED] = found
    return found


def _joined_day(build: Build) -> Value:
    standing = build.entry(JOINED).standing
    if not standing or standing[-1].text != "yes" or standing[-1].taken is None:
        return _nothing(JOINED)
    return Known(float(standing[-1].taken.date().toordinal()), {}, standing[-1].value_class)


def build_inputs(build: Build, checklist: Checklist, today: date, extras: Mapping[str, Value] | None = None,
                 memory: Memory | None = None) -> dict[str, Value]:
    """Every input of the graph by name: items, policy values, the day, the record, what was read from attached files.

    memory: what was read last time; only entries that are other objects now are read again.
    """
    shared = _shared(build, checklist, memory)
    meters = shared.meters
    found: dict[str, Value] = {
        TODAY: Known(float(today.toordinal()), {}, "computed"), LOG_DATA: _nothing("discharge_log"),
        OWN_DATA: _nothing("own_curve_log"), RECORD_ID: Known(build.id, {}, "computed"),
        JOINED_DAY: _joined_day(build),
        ATTACHED: Known("", {}, "computed"), **(extras or {})}
    found.update(shared.policies)
    kept, listed, entry_of = memory if memory is not None else {}, shared.listed, build.entry
    for name, item in checklist.items.items():
        if not item.only_if or applies_by_items(item.only_if, build, checklist, meters):
            found[name] = _read(item, entry_of(name), listed, meters, kept)
        else:
            found[name] = _nothing(name)
    return found


def problems(build: Build, checklist: Checklist) -> Iterator[tuple[str, str, str]]:
    """Every typed text that does not fit its place: (step, item, sentence)."""
    for item in checklist.all_items():
        entry = build.entry(item.id)
        for number, reading in enumerate(entry.standing, 1):
            if sentence := misfit(item, reading.text):
                yield item.step, item.id, f"reading {number}: {sentence}"
        for row in entry.rows:
            for column in item.columns:
                text = row.text(column.id)
                if text and (sentence := column_misfit(column, text)):
                    yield item.step, item.id, f"{item.row_name} {row.id}, {column.label}: {sentence}"
    for name, change in build.policy.items():
        policy = checklist.policy.get(name)
        if policy is not None:
            try:
                units.parse(change.text, policy.dimension, policy.unit)
            except units.QuantityError as error:
                yield "", name, f"policy value: {error}"


def one_meaning(place: Item | Column, text: str) -> str:
    """Typed text that can mean two numbers, written as the only one that can be right there; else the text as it is.

    `4,172` for the voltage of a cell is 4.172: 4172 V no cell has. Where both could be right the plausible one is
    taken; where that leaves two or none, nothing is guessed, and the reader of quantities refuses it.
    """
    if place.kind != "reading" or "," not in text:
        return text
    try:
        units.parse(text, place.dimension, place.unit)
    except units.TwoMeanings:
        fit = [text.replace(",", mark) for mark in (".", "")]
        for span in (place.hard, place.plausible):
            fit = fit if len(fit) == 1 else [m for m in fit if _holds(span, m, place)]
        return fit[0] if len(fit) == 1 else text
    except units.QuantityError:
        pass  # told by whoever takes the answer
    return text


def _holds(span: Span, text: str, place: Item | Column) -> bool:
    try:
        return span.holds(units.parse(text, place.dimension, place.unit).value)
    except units.QuantityError:
        return False  # 4.172 is no number of cells


def misfit(item: Item, text: str) -> str:
    """Why a typed answer does not fit a simple item; empty where it does."""
    if item.kind == "reading":
        try:
            value = units.parse(text, item.dimension, item.unit).value
        except units.QuantityError as error:
            return str(error)
        return outside(item.hard, value, item.unit, "cannot be right")
    if item.kind == "choice" and text not in {o.id for o in item.options}:
        return f"'{units.clip(text)}' is not one of: {', '.join(o.id for o in item.options)}"
    if item.kind == "tick" and text not in ("yes", "no"):
        return f"'{units.clip(text)}' is not yes or no"
    return _no_day(text) if item.role == DAY else ""


DAY = "date"
"""Role of an item of words that is answered with a day."""


def _no_day(text: str) -> str:
    """Why a text is not read as a day; empty where it is."""
    try:
        parse_date(text)
    except ValueError as error:
        return str(error)
    return ""


def column_misfit(column: Column, text: str) -> str:
    """Why a typed text does not fit a table column; empty where it does."""
    try:
        value = column_value(column, text)
    except ValueError as error:
        return str(error)
    if column.kind == "reading" and isinstance(value, float):
        return outside(column.hard, value, column.unit, "cannot be right")
    if column.kind == "tick" and text not in ("yes", "no"):
        return f"'{units.clip(text)}' is not yes or no"
    return ""


def outside(span: Span, value: float, unit: str, verdict: str) -> str:
    """Sentence that says a value lies outside a span; empty where it lies inside."""
    low, high = span.low, span.high
    if low is not None and value < low:
        return f"{units.short(value, unit)} {verdict}: the lowest is {units.short(low, unit)}"
    if high is not None and value > high:
        return f"{units.short(value, unit)} {verdict}: the highest is {units.short(high, unit)}"
    return ""
