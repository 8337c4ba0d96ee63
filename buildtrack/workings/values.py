"""Values that travel through the graph: known with their sources of error, missing, or failed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

_NOTHING: Mapping[str, float] = {}


@dataclass(frozen=True, slots=True)
class Record:
    """One row of a table item with its columns in canonical units; a column not entered is absent."""

    id: str
    values: Mapping[str, Any]
    spreads: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    """Per column: limit of error by source."""
    marks: Mapping[str, str] = field(default_factory=dict)
    """Per column: instrument named, as typed."""

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


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of a table item."""

    rows: tuple[Record, ...]

    def __iter__(self) -> Iterator[Record]:
        return iter(self.rows)

    def __len__(self) -> int:
        return len(self.rows)

    def row(self, name: str) -> Record | None:
        """The row called `name`."""
        return next((r for r in self.rows if r.id == name), None)

    def numbers(self, column: str) -> tuple[float, ...]:
        """The values of a reading column, rows without one left out."""
        return tuple(v for r in self.rows if (v := r.number(column)) is not None)


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
        return math.sqrt(sum(c * c for c in self.spread.values())) if self.spread else None


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


def sources(value: Value) -> set[str]:
    """Every source of error in a value."""
    if not isinstance(value, Known):
        return set()
    if isinstance(value.value, Table):
        return {s for row in value.value for spread in row.spreads.values() for s in spread}
    return set(value.spread)


def shifted(value: Known, source: str, sign: float) -> Any:
    """The value with one source of error pushed to its limit (sign +1 or -1)."""
    if isinstance(value.value, float):
        return value.value + sign * value.spread.get(source, 0.0)
    if isinstance(value.value, Table):
        return Table(tuple(_shifted_row(row, source, sign) for row in value.value))
    return value.value


def _shifted_row(row: Record, source: str, sign: float) -> Record:
    touched = {c: s[source] for c, s in row.spreads.items() if source in s}
    if not touched:
        return row
    values = dict(row.values)
    for column, limit in touched.items():
        values[column] = values[column] + sign * limit
    return Record(row.id, values, row.spreads, row.marks)
