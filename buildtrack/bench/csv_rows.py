"""A CSV file read for a table: which column goes where, and what each row becomes. Pure but for reading the file."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from buildtrack.bench.entry import try_column
from buildtrack.bench.rows import Placed
from buildtrack.model.checklist import Column

LARGEST = 5_000_000
"""Largest CSV file read for a table [bytes]; logs are attached, not imported."""
MOST_ROWS = 400


class SheetError(ValueError):
    """A file that cannot be imported; one sentence."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A CSV file as read."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Planned:
    """What an import would do."""

    mapping: tuple[tuple[str, str], ...]
    """Head of the file, and the label of the column it goes to (empty: left away)."""
    fields: tuple[Placed, ...]
    refused: tuple[str, ...]
    """Fields that do not fit, one sentence each."""


def read_csv(path: Path) -> Sheet:
    """Read a CSV file with a head; SheetError says in one line why it cannot be."""
    try:
        if path.stat().st_size > LARGEST:
            raise SheetError(f"{path.name}: too large for a table; a log is attached, not imported")
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise SheetError(f"{path.name}: is not UTF-8 text") from error
    except (OSError, ValueError) as error:
        if isinstance(error, SheetError):
            raise
        raise SheetError(f"{path.name}: cannot be read ({getattr(error, 'strerror', None) or error})") from error
    first = next((line for line in text.splitlines() if line.strip()), "")
    mark = max(";\t,", key=first.count)
    try:
        rows = [tuple(c.strip() for c in row) for row in csv.reader(io.StringIO(text), delimiter=mark) if any(row)]
    except csv.Error as error:
        raise SheetError(f"{path.name}: is not a table ({error})") from error
    if len(rows) < 2:
        raise SheetError(f"{path.name}: needs a line of heads and at least one row")
    return Sheet(rows[0], tuple(rows[1 : MOST_ROWS + 1]))


def _plain_words(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", " ", re.sub(r"[\[(].*?[\])]", " ", text.casefold())).strip()


def column_for(head: str, columns: Sequence[Column]) -> Column | None:
    """The column a head means: by its id, label or short head."""
    wanted = _plain_words(head)
    for column in columns:
        if wanted and wanted in (_plain_words(column.id), _plain_words(column.label), _plain_words(column.head)):
            return column
    return None


def unit_in(head: str) -> str:
    """The unit a head names in brackets."""
    found = re.search(r"[\[(]\s*([^\])]+?)\s*[\])]", head)
    return found.group(1) if found else ""


def plan(sheet: Sheet, columns: Sequence[Column], names: Sequence[str], prefix: str) -> Planned:
    """Where every field goes. A first column of names decides the rows, else they follow in order."""
    targets = [column_for(h, columns) for h in sheet.head]
    named = targets[0] is None and bool(sheet.rows) and all(r[0] for r in sheet.rows)
    fields: list[Placed] = []
    refused: list[str] = []
    for number, row in enumerate(sheet.rows):
        name = row[0] if named else names[number] if number < len(names) else f"{prefix or 'r'}{number + 1:02d}"
        for head, column, text in zip(sheet.head, targets, row, strict=False):
            if column is None or not text:
                continue
            unit = unit_in(head)
            typed = f"{text} {unit}" if column.kind == "reading" and unit and text[-1].isdigit() else text
            tried = try_column(column, typed)
            if tried.refused:
                refused.append(f"{name}, {column.label}: {tried.refused}")
            else:
                fields.append(Placed(name, column, tried.text, tried.unusual and f"imported: {tried.unusual}"))
    mapping = tuple(
        (h, "name of the row" if n == 0 and named else c.label if c else "")
        for n, (h, c) in enumerate(zip(sheet.head, targets, strict=True))
    )
    return Planned(mapping, tuple(fields), tuple(refused))
