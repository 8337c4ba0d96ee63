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

from buildtrack.workings.values import Failed, Known, Look, Missing, Table, Value, WithSpread, shifted

CLASS_ORDER = ("measured", "computed", "taken over", "guessed")
KINK = 2.0
"""Where pushing to one side does so many times as much as to the other, the result has a kink: our own choice."""
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


@dataclass(frozen=True, slots=True)
class _Plan:
    """Workings in an order in which each comes after those it needs, and who uses a name (places in the order)."""

    order: tuple[Working, ...]
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
        order = tuple(by_id[n] for n in TopologicalSorter(graph).static_order())
    except CycleError as error:
        raise GraphError(f"workings need each other in a circle: {' -> '.join(error.args[1])}") from error
    users: dict[str, list[int]] = {}
    for place, working in enumerate(order):
        for name in needs(working):
            users.setdefault(name, []).append(place)
    return _Plan(order, {name: tuple(places) for name, places in users.items()})


class Sheet:
    """All values of one build: inputs as given, workings computed."""

    def __init__(self, workings: Sequence[Working], inputs: Mapping[str, Value]) -> None:
        self._plan = _plan(tuple(workings), frozenset(inputs))
        self.workings = {w.id: w for w in workings}
        self.values: dict[str, Value] = dict(inputs)
        self.memory: dict[str, Any] = {}
        """What reading the build leaves for the next reading (inputs.Memory); the sheet only keeps it."""
        for working in self._plan.order:
            self.values[working.id] = self._evaluate(working)

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
            working = order[heappop(waiting)]
            new = self._evaluate(working)
            if new == self.values[working.id]:
                continue
            self.values[working.id] = new
            moved.append(working.id)
            for place in users.get(working.id, ()):
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
    plain = {n: v.value for n, v in given.items()}
    looks = {n: v.watched() for n, v in plain.items() if isinstance(v, Table)} if working.tables else {}
    try:
        result = working.fn(**{**plain, **{n: look.table for n, look in looks.items()}} if looks else plain)
        spread = _spread(working, given, plain, looks, result)
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
    worst = max((v.value_class for v in given.values()), key=_RANK.__getitem__, default="computed")
    return Known(result, spread, "computed" if worst == "measured" else worst)


def _spread(working: Working, given: Mapping[str, Known], plain: Mapping[str, Any], looks: Mapping[str, Look],
            result: Any) -> dict[str, float]:
    """Contribution of every source of error to a number: half the difference of pushing it up and down, at a kink
    the larger of the two.

    What the working did not look at cannot change its result, so those fields of a table are not pushed.
    """
    if not isinstance(result, (int, float)) or isinstance(result, bool):
        return {}
    carriers: dict[str, list[str]] = {}
    tables = []
    for name, value in given.items():
        if isinstance(value.value, Table):
            tables.append((name, value.value.errors))
        for source in looks[name].sources() if name in looks else value.spread:
            carriers.setdefault(source, []).append(name)
    found: dict[str, float] = {}
    kinks: dict[int, list[tuple[float, str]]] = {1: [], -1: [], 0: []}
    for source in sorted(carriers):
        names = carriers[source]
        names += [name for name, errors in tables if source in errors and name not in names]
        high, low = (_pushed(working, given, plain, names, source, sign) for sign in (1.0, -1.0))
        if high is not None and low is not None:
            up, down = high - result, result - low
            if max(abs(up), abs(down)) > KINK * min(abs(up), abs(down)) or up * down < 0:
                # Another reading takes over as the lowest or highest: one side hardly moves, half of the other would
                # tell the limit too small. Such an error no longer goes along with its source, so it cancels nowhere.
                way = 0 if up * down < 0 else 1 if up + down > 0 else -1
                kinks[way].append((max(up, down, key=abs), f"{source}, kink of {working.id}"))
                continue
            contribution = (up + down) / 2
        else:  # at the edge of what the relation allows: the side that is allowed counts
            contribution = high - result if high is not None else result - low if low is not None else 0.0
        if contribution:
            found[source] = contribution
    # of readings that may each take over as the lowest (or the highest) only one does: the largest error counts; where
    # every push moves the result the same way, as in highest less lowest, one may take over at either end
    for way, most in ((1, 1), (-1, 1), (0, 2)):
        found |= {name: error for error, name in sorted(kinks[way], key=lambda k: -abs(k[0]))[:most]}
    return found


def _pushed(working: Working, given: Mapping[str, Known], plain: Mapping[str, Any], names: Sequence[str], source: str,
            sign: float) -> float | None:
    """The result with one source of error at its limit; None where the relation refuses that."""
    pushed = dict(plain)
    try:
        for name in names:
            pushed[name] = shifted(given[name], source, sign)
        result = working.fn(**pushed)
    except (ValueError, ArithmeticError):
        return None
    return float(result) if isinstance(result, (int, float)) else None
