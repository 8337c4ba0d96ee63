"""Values that travel through the graph: known with their sources of error, missing, or failed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any


@dataclass(frozen=True, slots=True)
class Record:
    """One row of a table item with its columns in canonical units; a column not entered is absent."""

    id: str
    values: Mapping[str, Any]
    spreads: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    """Per column: limit of error by source."""
    marks: Mapping[str, str] = field(default_factory=dict)
    """Per column: instrument named, as typed."""
    typed_on: float | None = None
    """Of a row that is to be dated and is not: ordinal number of the day on which its last reading was typed."""

    def get(self, column: str) -> Any:
        """Value of a column, None where nothing was entered."""
        return self.values.get(column)

    def number(self, column: str) -> float | None:
        """Value of a reading column as a float, None where nothing was entered."""
        value = self.values.get(column)
        return value if isinstance(value, float) else None

    def text(self, column: str) -> str:
        """Value of a text or choice column, empty where nothing was entered."""
        value = self.values.get(column)
        return value if isinstance(value, str) else ""


@dataclass(frozen=True)
class Table:
    """The rows of a table item."""

    rows: tuple[Record, ...]

    @cached_property
    def errors(self) -> Mapping[str, tuple[tuple[int, Mapping[str, float]], ...]]:
        """By source of error: the rows it touches (by number), each with the limit of error of its columns."""
        found: dict[str, dict[int, dict[str, float]]] = {}
        for number, row in enumerate(self.rows):
            for column, spread in row.spreads.items():
                for source, limit in spread.items():
                    found.setdefault(source, {}).setdefault(number, {})[column] = limit
        return {source: tuple(rows.items()) for source, rows in found.items()}

    @cached_property
    def has_errors(self) -> bool:
        """Whether any field carries a limit of error."""
        return any(any(row.spreads.values()) for row in self.rows)

    def pushed(self, source: str, sign: float) -> Table:
        """The table with one source of error at its limit (sign +1 or -1); untouched rows are the same objects."""
        rows = list(self.rows)
        for number, limits in self.errors.get(source, ()):
            row = rows[number]
            values = {**row.values, **{c: row.values[c] + sign * limit for c, limit in limits.items()}}
            rows[number] = Record(row.id, values, row.spreads, row.marks)
        return Table(tuple(rows))

    def watched(self) -> Look:
        """The table for one reading of it, which notes the fields that are looked at."""
        return Look(self)

    def __iter__(self) -> Iterator[Record]:
        return iter(self.rows)

    def __len__(self) -> int:
        return len(self.rows)

    def row(self, name: str) -> Record | None:
        """The row called `name`."""
        return next((r for r in self.rows if r.id == name), None)

    def numbers(self, column: str) -> tuple[float, ...]:
        """The values of a reading column, rows without one left out."""
        return tuple([v for r in self.rows if isinstance(v := r.values.get(column), float)])


class _Watched(Mapping[str, Any]):
    """The columns of one row, noting which are looked at."""

    __slots__ = ("_number", "_seen", "_values")

    def __init__(self, number: int, values: Mapping[str, Any], seen: set[tuple[int, str]]) -> None:
        self._number, self._values, self._seen = number, values, seen

    def __getitem__(self, column: str) -> Any:
        self._seen.add((self._number, column))
        return self._values[column]

    def get(self, column: str, default: Any = None) -> Any:
        """The value of a column, `default` where there is none."""
        self._seen.add((self._number, column))
        return self._values.get(column, default)

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)


class Look:
    """A table while a working reads it."""

    def __init__(self, table: Table) -> None:
        self._seen: set[tuple[int, str]] = set()
        self._errors = table.errors
        self.table = Table(tuple(
            [Record(r.id, _Watched(n, r.values, self._seen), r.spreads, r.marks) for n, r in enumerate(table.rows)]))

    def sources(self) -> list[str]:
        """The sources of error of the fields that were looked at."""
        seen = self._seen
        return [source for source, rows in self._errors.items()
                if any((number, column) in seen for number, limits in rows for column in limits)]


@dataclass(frozen=True, slots=True)
class Known:
    """A value that is there."""

    value: Any
    spread: Mapping[str, float] = field(default_factory=dict)
    """Limit of error by source (same unit as the value); sources shared by two values stay correlated."""
    value_class: str = "measured"

    @property
    def plus_minus(self) -> float | None:
        """Root-sum-square of the limits of error; None where no reading under it carries one."""
        return math.sqrt(math.fsum(c * c for c in self.spread.values())) if self.spread else None


@dataclass(frozen=True, slots=True)
class Missing:
    """A value that cannot be had yet; names the inputs that are missing (roots only)."""

    inputs: frozenset[str]


@dataclass(frozen=True, slots=True)
class Failed:
    """A value whose computation refused its inputs."""

    working: str
    why: str


Value = Known | Missing | Failed


@dataclass(frozen=True, slots=True)
class WithSpread:
    """What a working returns when it knows the spread of its result itself."""

    value: Any
    spread: Mapping[str, float]
