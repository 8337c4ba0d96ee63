"""Reading a checklist's TOML value by value, every mistake noted with its line instead of stopping at the first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from buildtrack import units
from buildtrack.model import checklist as m
from buildtrack.storage import toml_lines


def doubles(names: Iterable[str]) -> list[str]:
    """The names that stand there more than once, each once, in the order of the alphabet."""
    return sorted(name for name, times in Counter(names).items() if times > 1)


def in_order(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """By line, each once: by a key, since comparing two problems field by field is slow where there are thousands."""
    return tuple(sorted(set(problems), key=lambda p: (p.line, p.where, p.message, p.file)))


@dataclass(frozen=True, slots=True)
class Problem:
    """One mistake in a checklist."""

    line: int
    where: str
    message: str
    file: str = ""
    """Included file the line is in, relative to its checklist folder; empty for the checklist itself."""
    longest: int = 500
    """Longest message; more only for a list of our own that is meant to be pasted."""

    def __post_init__(self) -> None:
        """Whatever the checklist holds, a mistake is told in one line that can be printed."""
        object.__setattr__(self, "where", units.clip(self.where, 160))
        object.__setattr__(self, "message", units.clip(self.message, self.longest))

    def __str__(self) -> str:
        file = f"{self.file} " if self.file else ""
        return f"{file}line {self.line}: {self.where}: {self.message}"


@lru_cache(maxsize=64)
def _lines_of(text: str) -> dict[toml_lines.Path, int]:
    return toml_lines.index(text)


@dataclass(frozen=True, slots=True)
class Source:
    """One file that a checklist is read from."""

    name: str
    """Relative to its checklist folder; empty for the checklist itself."""
    text: str

    @property
    def lines(self) -> dict[toml_lines.Path, int]:
        """Line of every key; a checklist without faults never asks for it."""
        return _lines_of(self.text)


@dataclass(slots=True)
class Places:
    """Where each part of a checklist, with its includes put in, was written."""

    main: Source
    origins: dict[toml_lines.Path, tuple[Source, toml_lines.Path]] = field(default_factory=dict)
    """Path in the whole -> the file it came from and its path there; what is not named came from the checklist."""

    def find(self, path: toml_lines.Path) -> tuple[int, str]:
        """Line and file of `path`, or of the nearest thing around it."""
        for end in range(len(path), 0, -1):
            if path[:end] in self.origins:
                source, base = self.origins[path[:end]]
                return toml_lines.line_of(source.lines, (*base, *path[end:])), source.name
        return toml_lines.line_of(self.main.lines, path), ""

    def problem(self, path: toml_lines.Path, where: str, message: str) -> Problem:
        """A mistake at `path`, with its line and file."""
        line, file = self.find(path)
        return Problem(line, where, message, file)


class ChecklistError(ValueError):
    """A checklist that cannot be used; holds every problem found."""

    def __init__(self, path: str, problems: Sequence[Problem]) -> None:
        self.path = path
        self.problems = tuple(problems)
        more = f" (and {len(problems) - 1} more: buildtrack lint {path})" if len(problems) > 1 else ""
        super().__init__(f"{path}: {problems[0]}{more}")


class Reader:
    """Walks the parsed TOML and notes each mistake with its line instead of stopping at the first."""

    def __init__(self, places: Places) -> None:
        self.places = places
        self.problems: list[Problem] = []

    def note(self, path: toml_lines.Path, where: str, message: str) -> None:
        self.problems.append(self.places.problem(path, where, message))

    def text(self, body: Mapping[str, Any], key: str, path: toml_lines.Path, where: str,
             default: str | None = None) -> str:
        value = body.get(key, default)
        if value is None:
            self.note(path, where, f"'{key}' is missing")
            return ""
        if not isinstance(value, str):
            self.note((*path, key), where, f"'{key}' must be text in quotes, not {type(value).__name__}")
            return ""
        return value

    def one_of(self, body: Mapping[str, Any], key: str, allowed: Sequence[str], path: toml_lines.Path, where: str,
               default: str) -> str:
        value = self.text(body, key, path, where, default)
        if value not in allowed:
            self.note((*path, key), where, f"'{key}' is '{value}'; it must be one of {', '.join(allowed)}")
            return default
        return value

    def flag(self, body: Mapping[str, Any], key: str, path: toml_lines.Path, where: str) -> bool:
        value = body.get(key, False)
        if not isinstance(value, bool):
            self.note((*path, key), where, f"'{key}' must be true or false")
            return False
        return value

    def whole(self, body: Mapping[str, Any], key: str, path: toml_lines.Path, where: str, default: int) -> int:
        value = body.get(key, default)
        if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= 100_000:
            self.note((*path, key), where, f"'{key}' must be a whole number from 0 to 100000")
            return default
        return value

    def texts(self, body: Mapping[str, Any], key: str, path: toml_lines.Path, where: str) -> tuple[str, ...]:
        value = body.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            self.note((*path, key), where, f"'{key}' must be a list of texts")
            return ()
        return tuple(value)

    def tables(self, body: Mapping[str, Any], key: str, path: toml_lines.Path, where: str) -> list[Mapping[str, Any]]:
        value = body.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            self.note((*path, key), where, f"'{key}' must be a list of tables")
            return []
        return list(value)

    def known(self, body: Mapping[str, Any], allowed: frozenset[str], path: toml_lines.Path, where: str) -> None:
        for key in body:
            if key not in allowed:
                self.note((*path, key), where, f"'{key}' is not a key of the checklist format")

    def measure(self, text: Any, dimension: str, unit: str, path: toml_lines.Path, where: str) -> float | None:
        if text in ("", None):
            return None
        try:
            return units.parse(str(text), dimension, unit).value
        except units.QuantityError as error:
            self.note(path, where, str(error))
            return None

    def span(self, body: Mapping[str, Any], key: str, dimension: str, unit: str, path: toml_lines.Path,
             where: str) -> m.Span:
        value = body.get(key)
        if value is None:
            return m.Span()
        if not isinstance(value, list) or len(value) != 2:
            self.note((*path, key), where, f"'{key}' must be a list of two: lowest and highest, \"\" for open")
            return m.Span()
        if not dimension:
            self.note((*path, key), where, f"'{key}' needs a unit")
            return m.Span()
        low, high = (self.measure(v, dimension, unit, (*path, key), where) for v in value)
        if low is not None and high is not None and low >= high:
            self.note((*path, key), where, f"'{key}': the lowest must lie below the highest")
        return m.Span(low, high)

    def unit(self, body: Mapping[str, Any], path: toml_lines.Path, where: str, needed: bool) -> tuple[str, str]:
        """Unit and dimension; `dimension` may be named where a unit belongs to several."""
        unit = self.text(body, "unit", path, where, "")
        dimension = self.text(body, "dimension", path, where, "")
        if dimension and dimension not in units.dimensions():
            self.note((*path, "dimension"), where, f"'{dimension}' is not a dimension; see spellings.toml")
            return unit, ""
        if not unit and not dimension:
            if needed:
                self.note(path, where, "a reading needs a 'unit' (or 'dimension' = count or money)")
            return "", ""
        found = units.find_unit(unit, dimension or None) if unit else units.dimensions()[dimension].units[0]
        if found is None:
            self.note((*path, "unit"), where, f"'{unit}' is not a unit this program knows")
            return unit, ""
        return unit, dimension or found.dimension
