"""A build as nested tables of plain values, just as they stand in the file."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, date, datetime, time
from typing import Any

from buildtrack.model.build import FORMAT, Build, Cell, Entry, Row
from buildtrack.storage import shapes

Tree = dict[str, Any]


def record(thing: object, shape: shapes.Record) -> Tree:
    """One table of fixed keys; what is at its default is left away."""
    found: Tree = {}
    for key, attribute in shape.keys.items():
        value = getattr(thing, attribute)
        if key in shape.needed or (value is not None and value != shapes.DEFAULTS.get(key, "")):
            found[key] = value
    return found


def _clash(cells: Mapping[str, Cell], column: str) -> bool:
    if column in shapes.DETAILS:
        default = shapes.DEFAULTS.get(column, "")
        return any(getattr(c, shapes.DETAILS[column]) not in (None, default) for c in cells.values())
    return column in shapes.RESERVED


def row(found: Row, named: bool = True) -> Tree:
    """One row of a table item; `named` writes its id."""
    tree: Tree = {"id": found.id} if named else {}
    aside = {name: cell.text for name, cell in found.cells.items() if _clash(found.cells, name)}
    tree.update({name: cell.text for name, cell in found.cells.items() if name not in aside})
    if aside:
        tree["columns"] = aside
    for key, attribute in shapes.DETAILS.items():
        default = shapes.DEFAULTS.get(key, "")
        detail = {n: v for n, c in found.cells.items() if (v := getattr(c, attribute)) is not None and v != default}
        if detail:
            tree[key] = detail
    return tree


def entry(found: Entry) -> Tree:
    """All of one item in one table (the journal's form; the file spreads it over several)."""
    tree: Tree = {}
    if found.readings:
        tree["readings"] = [record(r, shapes.READING) for r in found.readings]
    if found.rows:
        tree["rows"] = [row(r) for r in found.rows]
    if found.left_out is not None:
        tree["left_out"] = record(found.left_out, shapes.LEFT_OUT)
    if found.expected:
        tree["expected"] = found.expected
    if found.expected_rows:
        tree["expected_rows"] = [row(r) for r in found.expected_rows]
    return tree


def _spread(tree: Tree, step: str, item: str, found: Entry) -> None:
    """Put one item where it belongs in the file."""
    whole = entry(found)
    if found.left_out is not None:
        tree["left_out"].setdefault(step, {})[item] = whole.pop("left_out")
    expected = {new: whole.pop(old) for old, new in (("expected", "value"), ("expected_rows", "rows")) if old in whole}
    if expected:
        tree["expected"].setdefault(step, {})[item] = expected
    if item == shapes.INSTRUMENTS and found.rows and not found.readings:
        tree["instruments"] = {r.id: row(r, named=False) for r in found.rows}
    elif found.rows and not found.readings:
        tree["steps"].setdefault(step, {})[item] = whole["rows"]
    elif whole or found == Entry():
        tree["steps"].setdefault(step, {})[item] = whole


def plain(value: object) -> Any:
    """A snapshot's value made fit for the file: None left away, numbers that are none as text."""
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items() if v is not None}
    if isinstance(value, (list, tuple)):
        return [plain(v) for v in value if v is not None]
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    if isinstance(value, datetime) and value.tzinfo is None:
        return value.replace(tzinfo=UTC)
    if isinstance(value, (str, bool, int, float, datetime, date, time)):
        return value
    raise TypeError(f"a snapshot cannot hold a {type(value).__name__}")


def header(build: Build) -> Tree:
    """The first lines, and the tables that stand once."""
    tree: Tree = {"format": FORMAT, **record(build, shapes.HEADER)}
    for key, shape in shapes.RECORDS.items():
        if (thing := getattr(build, key)) is not None:
            tree[key] = record(thing, shape)
    if build.policy:
        tree["policy"] = {name: record(change, shapes.POLICY) for name, change in build.policy.items()}
    return tree


def lists(build: Build) -> Tree:
    """Waivers, reviews and history."""
    found = {key: [record(x, shape) for x in getattr(build, name)] for key, (name, shape) in shapes.LISTS.items()}
    return {key: value for key, value in found.items() if value}


def file_tree(build: Build, step_of: Callable[[str], str], order: Iterable[str] = ()) -> Tree:
    """The whole build as it stands in the file.

    step_of: the step an item belongs to. order: item ids in the order of the work; all others follow.
    """
    spread: Tree = {"instruments": {}, "steps": {}, "left_out": {}, "expected": {}}
    for item in dict.fromkeys([*(i for i in order if i in build.entries), *build.entries]):
        _spread(spread, step_of(item), item, build.entries[item])
    tree = {**header(build), **{key: value for key, value in spread.items() if value}, **lists(build)}
    if build.snapshot:
        tree["snapshot"] = plain(build.snapshot)
    return tree
