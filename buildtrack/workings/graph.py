"""The sheet: every working evaluated in order, an edit recomputing only what depends on it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from graphlib import CycleError, TopologicalSorter
from heapq import heapify, heappop, heappush
from inspect import Parameter, signature
from typing import Any

from buildtrack.workings.spread import carried
from buildtrack.workings.values import Failed, Known, Missing, Table, Value, WithSpread

CLASS_ORDER = ("measured", "computed", "taken over", "guessed")
_RANK = {name: rank for rank, name in enumerate(CLASS_ORDER)}


@dataclass(frozen=True, slots=True, eq=False)
class Working:
    """A derived value: a pure function whose parameter names are its inputs (items, policy values, other workings).

    A parameter with a default is optional: while it is missing, the default counts. A working equals only itself.
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


_Step = tuple[Working, str, tuple[tuple[str, bool], ...]]
"""A working, its id, and its parameters with whether each is optional."""


@dataclass(frozen=True, slots=True)
class _Plan:
    """Workings in an order in which each comes after those it needs, and who uses a name (places in the order)."""

    by_id: Mapping[str, Working]
    order: tuple[_Step, ...]
    users: Mapping[str, tuple[int, ...]]


@lru_cache(maxsize=16)
def _plan(workings: tuple[Working, ...], inputs: frozenset[str]) -> _Plan:
    """The plan of a sheet; it rests on names only, so one serves all builds of a checklist."""
    by_id = {w.id: w for w in workings}
    clash = set(by_id) & inputs
    if clash or len(by_id) != len(workings):
        raise GraphError(f"names given twice: {', '.join(sorted(clash)) or 'two workings share an id'}")
    graph: dict[str, list[str]] = {}
    for working in workings:
        unknown = [n for n in required(working) if n not in by_id and n not in inputs]
        if unknown:
            raise GraphError(f"working {working.id} needs {', '.join(unknown)}, which nothing gives")
        graph[working.id] = [n for n in needs(working) if n in by_id]
    try:
        order = [by_id[n] for n in TopologicalSorter(graph).static_order()]
    except CycleError as error:
        raise GraphError(f"workings need each other in a circle: {' -> '.join(error.args[1])}") from error
    users: dict[str, list[int]] = {}
    for place, working in enumerate(order):
        for name in needs(working):
            users.setdefault(name, []).append(place)
    steps = tuple((w, w.id, _parameters(w.fn)) for w in order)
    return _Plan(by_id, steps, {name: tuple(places) for name, places in users.items()})


class Sheet:
    """All values of one build: inputs as given, workings computed."""

    def __init__(self, workings: Sequence[Working], inputs: Mapping[str, Value]) -> None:
        self._plan = _plan(tuple(workings), frozenset(inputs))
        self.workings = dict(self._plan.by_id)
        self.values: dict[str, Value] = dict(inputs)
        self.memory: dict[str, Any] = {}
        """What reading the build leaves for the next reading (inputs.Memory); the sheet only keeps it."""
        for working, name, parameters in self._plan.order:
            self.values[name] = self._evaluate(working, parameters)

    def set(self, changed: Mapping[str, Value]) -> list[str]:
        """Change inputs; returns the names whose value is now another, in order of evaluation."""
        moved = [n for n, v in changed.items() if (old := self.values.get(n)) is not v and old != v]
        for name in moved:
            self.values[name] = changed[name]
        users, order = self._plan.users, self._plan.order
        due = {place for name in moved for place in users.get(name, ())}
        waiting = list(due)
        heapify(waiting)
        while waiting:
            working, name, parameters = order[heappop(waiting)]
            new = self._evaluate(working, parameters)
            if new == self.values[name]:
                continue
            self.values[name] = new
            moved.append(name)
            for place in users.get(name, ()):
                if place not in due:
                    due.add(place)
                    heappush(waiting, place)
        return moved

    def value(self, name: str) -> Value:
        """Value of an input or working; Missing itself where the checklist has no such name."""
        return self.values.get(name, Missing(frozenset({name})))

    def number(self, name: str) -> float | None:
        """Value as a float, None where it is not a known number."""
        found = self.values.get(name)
        return found.value if isinstance(found, Known) and isinstance(found.value, float) else None

    def _evaluate(self, working: Working, parameters: tuple[tuple[str, bool], ...]) -> Value:
        values, given = self.values, {}
        missing: set[str] = set()
        absent: set[str] = set()
        for name, optional in parameters:
            value = values.get(name)
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
    """Evaluate one working on known inputs, with first-order propagation of their limits of error (spread.py).

    absent: roots of the optional inputs that are missing; they are what is named when the working has nothing to say.
    """
    plain = {n: v.value for n, v in given.items()}
    try:
        result = working.fn(**plain)
    except (ValueError, ArithmeticError) as error:
        return Failed(working.id, str(error))
    if result is None:
        tables = frozenset(n for n, v in given.items() if isinstance(v.value, Table))
        return Missing(tables | absent or frozenset(given))
    spread: Mapping[str, float]
    if isinstance(result, WithSpread):
        result, spread = result.value, dict(result.spread)
    else:
        spread = carried(working.fn, given, plain, result, working.tables)
    if isinstance(result, int) and not isinstance(result, bool):
        result = float(result)
    if isinstance(result, float) and not math.isfinite(result):
        return Failed(working.id, "the result is not a finite number")
    return Known(result, spread, _worst(given))


def _worst(given: Mapping[str, Known]) -> str:
    """The class of what rests on some inputs: the worst of theirs, but never `measured`."""
    worst = "computed"
    for value in given.values():
        found = value.value_class
        if found not in ("measured", worst) and _RANK[found] > _RANK[worst]:
            worst = found
    return worst
