"""A CSV file read for a table: which column goes where, and what each row becomes. Pure but for reading the file."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from buildtrack.bench.entry import try_column
from buildtrack.bench.rows import Placed
from buildtrack.model.checklist import Column
from buildtrack.plain_file import read_plain
from buildtrack.units import clip, unit_taken

LARGEST = 5_000_000
"""Largest CSV file read for a table [bytes]; logs are attached, not imported."""
MOST_ROWS = 400
ROW_NAME = "@row"
"""Where a column of the file goes that names the rows."""
NOWHERE = ""
"""Where a column of the file goes that is left away."""
NAME_HEADS = frozenset({"id", "name", "no", "nr", "number", "cell", "row", "label", "tap", "group", "run"})
"""Heads of a column that names the rows."""


class SheetError(ValueError):
    """A file that cannot be imported; one sentence."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A CSV file as read."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...] = ()
    """Line of the file on which each row ends."""

    def line_of(self, row: int) -> int:
        """Line of the file of a row; counted from the head where the lines are not known."""
        return self.lines[row] if row < len(self.lines) else row + 2


@dataclass(frozen=True, slots=True)
class Planned:
    """What an import would do."""

    targets: tuple[str, ...]
    """Where each column of the file goes: an id of a column, ROW_NAME or NOWHERE."""
    fields: tuple[Placed, ...]
    refused: tuple[str, ...]
    """Fields that do not fit, one sentence each, with line and column of the file."""
    read_as: tuple[str, ...] = ()
    """What could have meant two numbers, and how each was read."""
    meant: tuple[tuple[str, str], ...] = ()
    """Names of rows in the file that are another in the table, with that one: 1 is n1."""
    new: tuple[str, ...] = ()
    """Names of rows that the table does not have yet."""
    by_column: tuple[tuple[str, int, str], ...] = ()
    """What does not fit, the fewest first: column of the file, how many fields of it, and the first sentence."""


def read_csv(path: Path) -> Sheet:
    """Read a CSV file with a head; SheetError says in one line why it cannot be."""
    try:
        if path.stat().st_size > LARGEST:
            raise SheetError(f"{path.name}: too large for a table; a log is attached, not imported")
        data = read_plain(path)
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise SheetError(f"{path.name}: line {line} is not UTF-8 text; save the file as CSV in UTF-8") from error
    except (OSError, ValueError) as error:
        if isinstance(error, SheetError):
            raise
        raise SheetError(f"{path.name}: cannot be read ({getattr(error, 'strerror', None) or error})") from error
    first = next((line for line in text.splitlines() if line.strip()), "")
    mark = max(";\t,", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    try:
        found = [(reader.line_num, tuple(c.strip() for c in row)) for row in reader if any(c.strip() for c in row)]
    except csv.Error as error:
        raise SheetError(f"{path.name}: line {reader.line_num} is not a row of a table ({error})") from error
    if len(found) < 2:
        raise SheetError(f"{path.name}: needs a line of heads and at least one row")
    if len(found) - 1 > MOST_ROWS:
        raise SheetError(f"{path.name}: {len(found) - 1} rows are more than the {MOST_ROWS} that a table takes")
    return Sheet(found[0][1], tuple(row for _, row in found[1:]), tuple(line for line, _ in found[1:]))


def _plain_words(text: str) -> str:
    return re.sub(r"[^\w]+|_", " ", re.sub(r"[\[(].*?[\])]", " ", text.casefold())).strip()


def column_for(head: str, columns: Sequence[Column]) -> Column | None:
    """The column a head means: by its id, label or short head; else the only one that begins with these whole words."""
    wanted = _plain_words(head)
    if not wanted:
        return None
    names = [(c, [_plain_words(c.id), _plain_words(c.label), _plain_words(c.head)]) for c in columns]
    exact = next((c for c, known in names if wanted in known), None)
    begins = [c for c, known in names if len(wanted) > 2 and any(k.startswith(f"{wanted} ") for k in known)]
    return exact or (begins[0] if len(begins) == 1 else None)


def unit_in(head: str) -> str:
    """The unit a head names in brackets."""
    found = re.search(r"[\[(]\s*([^\])]+?)\s*[\])]", head)
    return found.group(1) if found else ""


def targets_of(sheet: Sheet, columns: Sequence[Column]) -> tuple[str, ...]:
    """Where the columns of a file go by their heads; of two for one column the first goes there."""
    found: list[str] = []
    for number, head in enumerate(sheet.head):
        column = column_for(head, columns)
        target = column.id if column is not None else NOWHERE
        names_rows = number == 0 or _plain_words(head) in NAME_HEADS
        if not target and names_rows and ROW_NAME not in found and _names_rows(sheet, number):
            target = ROW_NAME
        found.append(target if target not in found else NOWHERE)
    return tuple(found)


def _names_rows(sheet: Sheet, column: int) -> bool:
    """Whether a column holds another short text in every row."""
    texts = [row[column] if column < len(row) else "" for row in sheet.rows]
    return all(texts) and len(set(texts)) == len(texts) and max(len(t) for t in texts) <= 24


def retargeted(targets: Sequence[str], number: int, target: str) -> tuple[str, ...]:
    """Another target for one column of the file; the one that went there before goes nowhere."""
    freed = [NOWHERE if target and t == target else t for t in targets]
    freed[number] = target
    return tuple(freed)


def plan(sheet: Sheet, targets: Sequence[str], columns: Sequence[Column], names: Sequence[str], prefix: str,
         currency: str = "") -> Planned:
    """What every field becomes. A column of names decides the rows, else they follow in order."""
    by_id = {c.id: c for c in columns}
    fields: list[Placed] = []
    refused: list[str] = []
    read_as: list[str] = []
    by_column: dict[str, list[str]] = {}
    named = targets.index(ROW_NAME) if ROW_NAME in targets else None
    meant = _names_meant(sheet, named, names, prefix)
    seen: set[str] = set()
    for number, row in enumerate(sheet.rows):
        written = _row_name(row, named, number, names, prefix)
        name = meant.get(written, written)
        if wrong := _row_refused(row, len(sheet.head), name, seen):
            refused.append(f"line {sheet.line_of(number)}: {wrong}")
            by_column.setdefault("", []).append(refused[-1])
            continue
        seen.add(name)
        for head, target, text in zip(sheet.head, targets, row, strict=False):
            column = by_id.get(target)
            if column is None or not text:
                continue
            tried = try_column(column, with_unit(text, head, column), currency)
            if tried.refused:
                refused.append(f"line {sheet.line_of(number)}, column '{clip(head)}' ({name}): {tried.refused}")
                by_column.setdefault(head, []).append(refused[-1])
            else:
                fields.append(Placed(name, column, tried.text, tried.unusual and f"imported: {tried.unusual}"))
                read_as += [tried.read_as] if tried.read_as else []
    filled = dict.fromkeys(f.row for f in fields)
    new = tuple(name for name in filled if name not in names)
    return Planned(tuple(targets), tuple(fields), tuple(refused), tuple(read_as),
                   tuple((w, n) for w, n in meant.items() if n in filled), new, _fewest_first(by_column))


def _fewest_first(by_column: Mapping[str, Sequence[str]]) -> tuple[tuple[str, int, str], ...]:
    """A column of which one field does not fit is most likely one mistake: it stands before one of another form."""
    return tuple(sorted(((head, len(told), told[0]) for head, told in by_column.items()), key=lambda each: each[1]))


def _names_meant(sheet: Sheet, named: int | None, names: Sequence[str], prefix: str) -> dict[str, str]:
    """Names of rows in the file that are written otherwise in the table: 1 or N01 is n1; only where one row is meant.

    A file that names a row of the table as it is called there is taken at its word.
    """
    if named is None:
        return {}
    written = [row[named] for row in sheet.rows if named < len(row) and row[named]]
    if not set(written).isdisjoint(names):
        return {}
    rows: dict[tuple[str, int], list[str]] = {}
    for name in names:
        if (key := _lettered(name, "")) is not None:
            rows.setdefault(key, []).append(name)
    found = {w: rows.get(key, []) for w in written if (key := _lettered(w, prefix)) is not None}
    return {w: each[0] for w, each in found.items() if len(each) == 1}


def _lettered(name: str, prefix: str) -> tuple[str, int] | None:
    """A name of a row as letters and number, whatever its case and zeros; prefix: letters where it has none."""
    found = re.fullmatch(r"([^\W\d_]*)[ _-]?(\d{1,6})", name)
    return ((found.group(1) or prefix).casefold(), int(found.group(2))) if found else None


def _row_refused(row: Sequence[str], heads: int, name: str, seen: Container[str]) -> str:
    """Why a whole row is not taken; empty where it is."""
    if any(row[heads:]):
        return (f"{len(row)} fields, but {heads} heads; where a comma is decimal mark and separator at once, save the "
                "file with semicolons")
    return f"'{clip(name)}' stands twice; each row needs a name of its own" if name in seen else ""


def _row_name(row: Sequence[str], named: int | None, number: int, names: Sequence[str], prefix: str) -> str:
    if named is not None and named < len(row) and row[named]:
        return row[named]
    return names[number] if number < len(names) else f"{prefix or 'r'}{number + 1:02d}"


def with_unit(text: str, head: str, column: Column) -> str:
    """A field with the unit of its head, where the field names none; 2 h 30 names its own."""
    unit = unit_in(head)
    alone = unit_taken(text, "h") not in ("", "h:min:s")  # whatever the unit of its head
    return f"{text} {unit}" if column.kind == "reading" and unit and alone else text


def examples(sheet: Sheet, number: int, most: int = 3) -> str:
    """The first texts of a column of the file."""
    return ", ".join(clip(row[number]) for row in sheet.rows[:most] if number < len(row) and row[number])


def preview(planned: Planned, most: int = 3) -> Iterator[tuple[str, str]]:
    """The first rows as they will stand in the table: name, and its fields in words."""
    names = list(dict.fromkeys(f.row for f in planned.fields))
    for name in names[:most]:
        fields = [f"{f.column.head or f.column.label} {f.text}" for f in planned.fields if f.row == name]
        yield name, " · ".join(fields)
