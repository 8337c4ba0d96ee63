"""Cells from a tester's CSV file: id, capacity, resistance, whatever the columns are called."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from buildtrack import units
from buildtrack.storage.checklist_file import read_text

LARGEST = 5_000_000
MOST_CELLS = 2_000
MOST_LINES = 20_000
"""How many lines are read: ten for each cell there may be."""
LONGEST_HEADING = 200
"""So much of a heading is looked at [characters]."""
MOST_COLUMNS = 500
"""How many columns a line may have."""
_UNIT = re.compile(r"[\[(]([^\])]*)[\])]|[ _]([A-Za-zµΩ]+)$")
_NAMES = {
    "id": ("id", "cell", "name", "no", "nr", "number", "label", "#"),
    "capacity": ("capacity", "cap", "kap", "kapazität", "mah", "ah", "q", "c"),
    "resistance": ("resistance", "ir", "dcir", "ri", "r", "mohm", "mω", "ohm", "esr", "innenwiderstand"),
    "keep_apart": ("type", "chemistry", "marking", "model", "kind", "batch"),
}
"""Words by which a column is known, in lower case; the beginning of a heading counts."""


class CellListError(ValueError):
    """A list of cells that cannot be used; one line that names file, line and what would be right."""


@dataclass(frozen=True, slots=True)
class ListedCell:
    """One cell of the list."""

    id: str
    capacity_ah: float
    resistance_ohm: float | None = None
    keep_apart: str = ""


@dataclass(frozen=True, slots=True)
class CellList:
    """The cells, how the columns were understood, and the lines that were passed over."""

    cells: tuple[ListedCell, ...]
    mapping: Mapping[str, str]
    """What was taken -> heading and unit, to be shown."""
    passed_over: tuple[str, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class _Column:
    index: int
    heading: str
    unit: str


def _delimiter(line: str) -> str:
    return max((";", "\t", ",", "|"), key=line.count)


def _heading(text: str) -> tuple[str, str]:
    """Name in lower case and unit of a heading such as `Capacity (mAh)`, `R[mΩ]`, `cap_mAh`."""
    plain = text.strip()[:LONGEST_HEADING]
    match = _UNIT.search(plain)
    unit = next((g for g in match.groups() if g), "") if match else ""
    if unit and units.find_unit(unit) is None:
        unit = ""
    name = plain[: match.start()] if match and unit else plain
    if not unit and units.find_unit(plain) is not None:
        unit = plain
    return name.strip().lower() or plain.lower(), unit


def _find(headings: Sequence[str], what: str) -> _Column | None:
    split = [_heading(h) for h in headings]
    for exact in (True, False):
        for index, (name, unit) in enumerate(split):
            fits = any(name == w if exact else len(w) > 2 and name.startswith(w) for w in _NAMES[what])
            if fits and (what in ("id", "keep_apart") or not unit or _dimension(unit) == what):
                return _Column(index, headings[index].strip(), unit)
    return None


def _dimension(unit: str) -> str:
    found = units.find_unit(unit)
    return found.dimension if found else ""


def _head_line(rows: Sequence[Sequence[str]]) -> int:
    for number, row in enumerate(rows[:40]):
        if len(row) >= 2 and _find(row, "capacity") is not None:
            return number
    raise LookupError


def _value(text: str, dimension: str, unit: str, default: str) -> float:
    return units.parse(text, dimension, unit or default).value


def _refuse_much(path: Path, lines: Sequence[str], mark: str) -> None:
    """Refuse what is no list of cells by its numbers of lines and columns, before it is parted."""
    if len(lines) > MOST_LINES:
        raise ValueError(f"{path}: {len(lines)} lines are more than the {MOST_LINES} this program reads")
    for number, line in enumerate(lines, 1):
        if line.count(mark) >= MOST_COLUMNS:
            raise ValueError(f"{path}: line {number}: {line.count(mark) + 1} columns are more than the {MOST_COLUMNS} "
                             "this program reads")


def read_cells(path: Path) -> CellList:
    """Read a list of cells; CellListError names the file, the line and what would be right."""
    try:
        lines = read_text(path, LARGEST).splitlines()
        best = max(lines[:40], key=lambda line: max(line.count(d) for d in ";\t,|"), default="")
        mark = _delimiter(best)
        _refuse_much(path, lines, mark)
        rows = list(csv.reader(lines, delimiter=mark))
    except csv.Error as error:
        raise CellListError(f"{path}: is no list that can be parted into columns ({error}): save it as CSV") from error
    except ValueError as error:
        raise CellListError(str(error)) from error
    try:
        head = _head_line(rows)
    except LookupError:
        raise CellListError(f"{path}: no line of headings with a capacity column was found; expected for instance "
                            "id;capacity (mAh);resistance (mΩ)") from None
    columns = {what: _find(rows[head], what) for what in _NAMES}
    return _cells(path, rows, head, columns)


def _cells(path: Path, rows: Sequence[Sequence[str]], head: int, columns: Mapping[str, _Column | None]) -> CellList:
    capacity, resistance = columns["capacity"], columns["resistance"]
    assert capacity is not None  # the line of headings was chosen by it
    unit = capacity.unit or _guessed_unit(rows[head + 1:], capacity.index)
    found: list[ListedCell] = []
    passed: list[str] = []
    seen: set[str] = set()
    for number, row in enumerate(rows[head + 1:], head + 2):
        if not any(field.strip() for field in row):
            continue
        name = _field(row, columns["id"]) or f"line {number}"
        try:
            ah = _value(_field(row, capacity), "capacity", unit, "mAh")
            text = _field(row, resistance)
            ohm = _value(text, "resistance", resistance.unit if resistance else "", "mΩ") if text else None
        except units.QuantityError as error:
            passed.append(f"line {number}: {error}")
            continue
        if name in seen:
            raise CellListError(f"{path}: line {number}: cell '{units.clip(name)}' stands twice")
        if not 0.05 <= ah <= 50.0 or (ohm is not None and not 0.0005 <= ohm <= 10.0):
            passed.append(f"line {number}: {units.clip(name)} has values no such cell can have")
            continue
        seen.add(name)
        found.append(ListedCell(name, ah, ohm, _field(row, columns["keep_apart"])))
        if len(found) > MOST_CELLS:
            raise CellListError(f"{path}: more than {MOST_CELLS} cells are too many to group at once")
    if not found:
        why = passed[0] if passed else "no lines at all"
        raise CellListError(f"{path}: no line held a cell with a capacity ({why})")
    shown = {"capacity": unit, "resistance": (resistance.unit if resistance else "") or "mΩ"}
    mapping = {what: f"{c.heading} [{shown.get(what, 'text')}]" for what, c in columns.items() if c is not None}
    return CellList(tuple(found), mapping, tuple(passed))


def _guessed_unit(rows: Sequence[Sequence[str]], index: int) -> str:
    """Without a unit in the heading, values above 100 are milliampere-hours."""
    for row in rows:
        try:
            value = units.parse(row[index], "capacity", "Ah").value if index < len(row) else 0.0
        except units.QuantityError:
            continue
        if value:
            return "mAh" if value > 100 else "Ah"
    return "mAh"


def _field(row: Sequence[str], column: _Column | None) -> str:
    return row[column.index].strip() if column is not None and column.index < len(row) else ""
