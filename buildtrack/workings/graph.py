"""The sheet: every working evaluated in order, an edit recomputing only what depends on it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from graphlib import CycleError, TopologicalSorter
from inspect import Parameter, signature
from typing import Any

from buildtrack.workings.values import Failed, Known, Missing, Table, Value, WithSpread, shifted, sources

CLASS_ORDER = ("measured", "computed", "taken over", "guessed")


@dataclass(frozen=True, slots=True)
class Working:
    """A derived value: a pure function whose parameter names are its inputs (items, policy values, other workings).

    A parameter with a default is optional: while it is missing, the default counts.
    """

    fn: Callable[..., Any]
    step: str
    label: str
    unit: str
    """Unit it is shown in (a spelling of spellings.toml, or a compound one printed as it is)."""
    formula: str
    """Text with the parameter names; where `expression` is set, a test holds it equal to the code."""
    source: str
    symbol: str = ""
    expression: bool = True
    digits: int = 3
    tables: bool = False
    """Whether errors of table rows are carried through (costs two evaluations per reading)."""
    note: str = ""

    @property
    def id(self) -> str:
        """Its name: that of the function."""
        return self.fn.__name__


@cache
def _parameters(fn: Callable[..., Any]) -> tuple[tuple[str, bool], ...]:
    return tuple((p.name, p.default is not Parameter.empty) for p in signature(fn).parameters.values())


def needs(working: Working) -> tuple[str, ...]:
    """Names of everything a working uses."""
    return tuple(name for name, _ in _parameters(working.fn))


def required(working: Working) -> tuple[str, ...]:
    """Names of what a working cannot do without."""
    return tuple(name for name, optional in _parameters(working.fn) if not optional)


class GraphError(ValueError):
    """Workings that do not fit together: a name nobody gives, a cycle, a name given twice."""


def usable(workings: Iterable[Working], inputs: Iterable[str]) -> tuple[Working, ...]:
    """The workings whose required inputs exist, directly or through others, in a checklist with these inputs."""
    left = list(workings)
    names = set(inputs)
    chosen: list[Working] = []
    while ready := [w for w in left if all(n in names for n in required(w))]:
        chosen.extend(ready)
        names.update(w.id for w in ready)
        left = [w for w in left if w not in ready]
    return tuple(chosen)


class Sheet:
    """All values of one build: inputs as given, workings computed."""

    def __init__(self, workings: Sequence[Working], inputs: Mapping[str, Value]) -> None:
        self.workings = {w.id: w for w in workings}
        clash = set(self.workings) & set(inputs)
        if clash or len(self.workings) != len(workings):
            raise GraphError(f"names given twice: {', '.join(sorted(clash)) or 'two workings share an id'}")
        self.values: dict[str, Value] = dict(inputs)
        self.memory: dict[str, Any] = {}
        """What reading the build leaves for the next reading (inputs.Memory); the sheet only keeps it."""
        self._order = self._sorted()
        for working in self._order:
            self.values[working.id] = self._evaluate(working)

    def _sorted(self) -> tuple[Working, ...]:
        graph: dict[str, list[str]] = {}
        for working in self.workings.values():
            unknown = [n for n in required(working) if n not in self.workings and n not in self.values]
            if unknown:
                raise GraphError(f"working {working.id} needs {', '.join(unknown)}, which nothing gives")
            graph[working.id] = [n for n in needs(working) if n in self.workings]
        try:
            return tuple(self.workings[n] for n in TopologicalSorter(graph).static_order())
        except CycleError as error:
            raise GraphError(f"workings need each other in a circle: {' -> '.join(error.args[1])}") from error

    def set(self, changed: Mapping[str, Value]) -> list[str]:
        """Change inputs; returns the names whose value is now another, in order of evaluation."""
        moved = [n for n, v in changed.items() if self.values.get(n) != v]
        touched = set(moved)
        for name in moved:
            self.values[name] = changed[name]
        for working in self._order:
            if touched.isdisjoint(needs(working)):
                continue
            new = self._evaluate(working)
            if new != self.values[working.id]:
                self.values[working.id] = new
                touched.add(working.id)
                moved.append(working.id)
        return moved

    def value(self, name: str) -> Value:
        """Value of an input or working; Missing itself where the checklist has no such name."""
        return self.values.get(name, Missing(frozenset({name})))

    def number(self, name: str) -> float | None:
        """Value as a float, None where it is not a known number."""
        found = self.values.get(name)
        return found.value if isinstance(found, Known) and isinstance(found.value, float) else None

    def _evaluate(self, working: Working) -> Value:
        given: dict[str, Known] = {}
        missing: set[str] = set()
        absent: set[str] = set()
        for name, optional in _parameters(working.fn):
            value = self.values.get(name)
            if isinstance(value, Known):
                given[name] = value
                continue
            if isinstance(value, Failed) and not optional:
                return value
            roots = value.inputs if isinstance(value, Missing) else {name}
            (absent if optional else missing).update(roots)
        if missing:
            return Missing(frozenset(missing))
        return compute(working, given, frozenset(absent))


def compute(working: Working, given: Mapping[str, Known], absent: frozenset[str] = frozenset()) -> Value:
    """Evaluate one working on known inputs, with first-order propagation of their limits of error.

    absent: roots of the optional inputs that are missing; they are what is named when the working has nothing to say.
    """
    try:
        result = working.fn(**{n: v.value for n, v in given.items()})
        spread = _spread(working, given, result)
    except (ValueError, ArithmeticError) as error:
        return Failed(working.id, str(error))
    if result is None:
        tables = frozenset(n for n, v in given.items() if isinstance(v.value, Table))
        return Missing(tables | absent or frozenset(given))
    if isinstance(result, WithSpread):
        result, spread = result.value, dict(result.spread)
    if isinstance(result, int) and not isinstance(result, bool):
        result = float(result)
    if isinstance(result, float) and not math.isfinite(result):
        return Failed(working.id, "the result is not a finite number")
    return Known(result, spread, "computed" if _worst_class(given) in ("measured", "computed") else _worst_class(given))


def _worst_class(given: Mapping[str, Known]) -> str:
    return max((v.value_class for v in given.values()), key=CLASS_ORDER.index, default="computed")


def _spread(working: Working, given: Mapping[str, Known], result: Any) -> dict[str, float]:
    if not isinstance(result, (int, float)) or isinstance(result, bool):
        return {}
    carried = [v for v in given.values() if working.tables or not isinstance(v.value, Table)]
    found: dict[str, float] = {}
    for source in sorted(set().union(*(sources(v) for v in carried))) if carried else ():
        high, low = (_pushed(working, given, source, sign) for sign in (1.0, -1.0))
        if high is not None and low is not None:
            contribution = (high - low) / 2
        else:  # at the edge of what the relation allows: the side that is allowed counts
            contribution = high - result if high is not None else result - low if low is not None else 0.0
        if contribution:
            found[source] = contribution
    return found


def _pushed(working: Working, given: Mapping[str, Known], source: str, sign: float) -> float | None:
    """The result with one source of error at its limit; None where the relation refuses that."""
    try:
        result = working.fn(**{n: shifted(v, source, sign) for n, v in given.items()})
    except (ValueError, ArithmeticError):
        return None
    return float(result) if isinstance(result, (int, float)) else None
