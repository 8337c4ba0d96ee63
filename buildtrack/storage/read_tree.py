"""Nested tables of plain values turned into a build; the first thing that is wrong is named with its place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from buildtrack import units
from buildtrack.model.build import VALUE_CLASSES, Build, Cell, Entry, Row
from buildtrack.storage import shapes

Path = tuple[str | int, ...]
_KINDS = {str: "text", bool: "true or false", int: "a number", float: "a number", dict: "a table", list: "a list",
          datetime: "a date with time"}


class Trouble(ValueError):
    """Something in the tables that a build cannot hold: where it stands, and what would be right."""

    def __init__(self, path: Path, message: str) -> None:
        self.path = path
        self.message = message
        super().__init__(f"{spoken(path)}: {message}")


def _numbered(name: str, number: str | int) -> str:
    one = {"readings": "reading", "waivers": "waiver", "reviews": "review", "history": "history line"}.get(name, "row")
    return f"{one} {number + 1}" if isinstance(number, int) else units.clip(number)


def spoken(path: Path) -> str:
    """A place in the file for people: step load, item free_current, reading 1."""
    words: list[str] = []
    rest = list(path)
    if rest and rest[0] in {"steps", "left_out", "expected"}:
        words += [f"{name} {units.clip(str(part))}" for name, part in zip(("step", "item"), rest[1:3], strict=False)]
        rest = rest[3:]
    before = "row"
    for part in rest:
        if isinstance(part, int):
            words.append(_numbered(before, part))
        elif part not in {"readings", "rows", *shapes.LISTS}:
            words.append(units.clip(part))
        before = str(part)
    return ", ".join(words) or "file"


def _kind(value: object) -> str:
    return next((name for kind, name in _KINDS.items() if type(value) is kind), "a date or time")


@dataclass(frozen=True, slots=True)
class Spot:
    """One table, and where it stands in the file."""

    path: Path
    body: Mapping[str, Any]

    def wrong(self, key: str | int, message: str) -> Trouble:
        """What is wrong with one key."""
        return Trouble((*self.path, key), message)

    def text(self, key: str, default: str = "", needed: bool = False) -> str:
        """A text."""
        if needed and key not in self.body:
            raise Trouble(self.path, f"'{key}' is missing: write {key} = \"...\"")
        value = self.body.get(key, default)
        if not isinstance(value, str):
            raise self.wrong(key, f"'{units.clip(key)}' must be text in quotes, not {_kind(value)}")
        return value

    def moment(self, key: str) -> datetime | None:
        """A date with time, in UTC."""
        value = self.body.get(key)
        if value is None:
            return None
        if not isinstance(value, datetime) or value.tzinfo is None:
            raise self.wrong(key, f"'{units.clip(key)}' must be a date with time and zone, like 2026-11-03T18:20:00Z, "
                             f"without quotes; here it is {_kind(value)}"
                             + (" without zone" if isinstance(value, datetime) else ""))
        try:
            return value.astimezone(UTC)
        except OverflowError as error:
            raise self.wrong(key, f"'{units.clip(key)}' is a date beyond the calendar") from error

    def whole(self, key: str) -> int | None:
        """A whole number, not negative."""
        value = self.body.get(key)
        if value is None:
            return None
        if type(value) is not int or value < 0:
            raise self.wrong(key, f"'{units.clip(key)}' must be a whole number from 0 on")
        return value

    def table(self, key: str) -> Spot | None:
        """The table under `key`, if there is one."""
        return self.inner(key) if key in self.body else None

    def inner(self, key: str) -> Spot:
        """The table under `key`, which is there."""
        value = self.body[key]
        if not isinstance(value, dict):
            raise self.wrong(key, f"'{units.clip(key)}' must be a table, not {_kind(value)}")
        return Spot((*self.path, key), value)

    def tables(self, key: str) -> list[Spot]:
        """The array of tables under `key`; none where there is none."""
        value = self.body.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            head = ".".join(units.clip(part) for part in (*self.path, key) if isinstance(part, str))
            raise self.wrong(key, f"'{units.clip(key)}' must be a list of tables, each headed [[{head}]]")
        return [Spot((*self.path, key, number), body) for number, body in enumerate(value)]

    def children(self) -> Iterator[tuple[str, Spot]]:
        """Every key as a table."""
        for key in self.body:
            yield key, self.inner(key)


def value_class(spot: Spot, key: str) -> str:
    """One of the value classes."""
    value = spot.text(key, "measured")
    if value not in VALUE_CLASSES:
        raise spot.wrong(key, f"class '{units.clip(value)}' is not known; it must be one of {', '.join(VALUE_CLASSES)}")
    return value


def fields(spot: Spot, shape: shapes.Record) -> dict[str, Any]:
    """The attributes of a table of fixed keys."""
    found: dict[str, Any] = {}
    for key, attribute in shape.keys.items():
        if key in shapes.TIMES:
            found[attribute] = spot.moment(key)
        elif key in shapes.WHOLE:
            found[attribute] = spot.whole(key)
        elif key == "class":
            found[attribute] = value_class(spot, key)
        else:
            found[attribute] = spot.text(key, needed=key in shape.needed)
    return found


def record(spot: Spot, shape: shapes.Record) -> Any:
    """A table of fixed keys as the thing of the model it stands for."""
    return shape.make(**fields(spot, shape))


MOST_COLUMNS = 1_000
"""Columns a row may have; the longest table of the checklists has some thirty."""


def _cells(spot: Spot) -> dict[str, Cell]:
    """The texts of a row by column, with what belongs to each."""
    if len(spot.body) > MOST_COLUMNS:
        raise Trouble(spot.path, f"a row of {len(spot.body)} columns; no table has more than {MOST_COLUMNS}")
    texts = {key: spot.text(key) for key, value in spot.body.items()
             if key != "id" and not (key in shapes.RESERVED and isinstance(value, dict))}
    aside = spot.table("columns") if not isinstance(spot.body.get("columns"), str) else None
    if aside is not None:
        texts.update({key: aside.text(key) for key in aside.body})
    details = {key: spot.table(key) for key in shapes.DETAILS if not isinstance(spot.body.get(key), str)}
    cells: dict[str, Cell] = {}
    for column, text in texts.items():
        found: dict[str, Any] = {}
        for key, attribute in shapes.DETAILS.items():
            detail = details.get(key)
            if detail is not None and column in detail.body:
                found[attribute] = (detail.moment(column) if key == "taken" else value_class(detail, column)
                                    if key == "class" else detail.text(column))
        cells[column] = Cell(text, **found)
    return cells


def rows(spots: list[Spot]) -> tuple[Row, ...]:
    """The rows of a table item; each needs a name of its own."""
    found: dict[str, Row] = {}
    for spot in spots:
        name = spot.text("id", needed=True)
        if not name.strip():
            raise spot.wrong("id", "a row needs a name in 'id'")
        if name in found:
            raise spot.wrong("id", f"there are two rows called '{units.clip(name)}'; give one of them another id")
        found[name] = Row(name, _cells(spot))
    return tuple(found.values())


def entry(spot: Spot) -> Entry:
    """An item from one table (the journal's form)."""
    left = spot.table("left_out")
    return Entry(
        readings=tuple(record(r, shapes.READING) for r in spot.tables("readings")), rows=rows(spot.tables("rows")),
        left_out=None if left is None else record(left, shapes.LEFT_OUT), expected=spot.text("expected"),
        expected_rows=rows(spot.tables("expected_rows")))


def _items(top: Spot, key: str) -> Iterator[tuple[str, str, Spot, bool]]:
    """Step, item, the table that holds the item, and whether the item is an array of tables."""
    whole = top.table(key)
    for step, spot in whole.children() if whole is not None else ():
        for item, value in spot.body.items():
            if not isinstance(value, (dict, list)):
                raise spot.wrong(item, f"an item is a table, headed [{key}.{units.clip(step)}.{units.clip(item)}]; "
                                 f"here it is {_kind(value)}")
            yield step, item, spot, isinstance(value, list)


class _Collect:
    """The items of a build, gathered from the tables that hold a part of each."""

    def __init__(self) -> None:
        self.entries: dict[str, Entry] = {}
        self.steps: dict[str, str] = {}

    def put(self, spot: Spot, step: str, item: str, **parts: Any) -> None:
        if self.steps.setdefault(item, step) != step:
            raise spot.wrong(item, f"item '{units.clip(item)}' stands in step '{units.clip(self.steps[item])}' too")
        self.entries[item] = replace(self.entries.get(item, Entry()), **parts)


def entries(top: Spot) -> tuple[dict[str, Entry], dict[str, str]]:
    """Every item of the file by its id, and the step each one stands in."""
    found = _Collect()
    for step, item, spot, listed in _items(top, "steps"):
        if listed:
            found.put(spot, step, item, rows=rows(spot.tables(item)))
        else:
            body = spot.inner(item)
            readings = tuple(record(r, shapes.READING) for r in body.tables("readings"))
            found.put(spot, step, item, readings=readings, rows=rows(body.tables("rows")))
    for step, item, spot, _listed in _items(top, "left_out"):
        found.put(spot, step, item, left_out=record(spot.inner(item), shapes.LEFT_OUT))
    for step, item, spot, _listed in _items(top, "expected"):
        body = spot.inner(item)
        found.put(spot, step, item, expected=body.text("value"), expected_rows=rows(body.tables("rows")))
    _instruments(top, found)
    return found.entries, found.steps


def _instruments(top: Spot, found: _Collect) -> None:
    whole = top.table("instruments")
    if whole is None or not whole.body:
        return
    item = shapes.INSTRUMENTS
    listed = found.entries.get(item, Entry())
    if listed.rows:
        raise Trouble(whole.path, f"instruments stand here and in step '{units.clip(found.steps[item])}' too")
    if (blank := next((name for name in whole.body if not name.strip()), None)) is not None:
        raise whole.wrong(blank, "an instrument needs a name")
    instruments = tuple(Row(name, _cells(spot)) for name, spot in whole.children())
    found.entries[item] = replace(listed, rows=instruments)


def build(tree: Mapping[str, Any]) -> tuple[Build, dict[str, str]]:
    """A build from tables in the form of today, and the step of every item; Trouble names the first thing wrong."""
    top = Spot((), tree)
    head = fields(top, shapes.HEADER)
    if not head["id"].strip():
        raise top.wrong("id", "'id' is empty: a build needs one")
    parts: dict[str, Any] = head
    for key, shape in shapes.RECORDS.items():
        spot = top.table(key)
        parts[key] = None if spot is None else record(spot, shape)
    if parts["checklist"] is None:
        raise Trouble((), "table [checklist] with 'id' is missing")
    for key, (name, shape) in shapes.LISTS.items():
        parts[name] = tuple(record(spot, shape) for spot in top.tables(key))
    policy, snapshot = top.table("policy"), top.table("snapshot")
    parts["policy"] = {n: record(s, shapes.POLICY) for n, s in policy.children()} if policy is not None else {}
    parts["snapshot"] = dict(snapshot.body) if snapshot is not None else {}
    parts["entries"], steps = entries(top)
    return Build(**parts), steps
