"""The ± of a computed value: every source of error under it pushed to its limit, when somebody first asks for it.

Most values of a sheet are never shown with their ±, nor held against a limit. Inputs and functions never change, so the
answer is the same whenever it is worked out, and whichever thread does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from buildtrack.workings.values import Known, Look, Table

KINK = 2.0
"""Where pushing to one side does so many times as much as to the other, the result has a kink: our own choice."""

_Made = tuple[Callable[..., Any], Mapping[str, Known], Mapping[str, Any], float, bool]
"""Function, its inputs, their plain values, its result, and whether errors of table rows are carried through."""


class Carried(Mapping[str, float]):
    """Limit of error of a computed number by source (same unit as the number), worked out at the first look at it."""

    __slots__ = ("_found", "_made")

    def __init__(self, fn: Callable[..., Any], given: Mapping[str, Known], plain: Mapping[str, Any], result: float,
                 tables: bool) -> None:
        self._made: _Made | None = (fn, given, plain, result, tables)
        self._found: dict[str, float] = {}

    def by_source(self) -> dict[str, float]:
        """The limits as a plain table."""
        made = self._made
        if made is not None:  # a second thread that comes meanwhile finds the same once more
            self._found = _contributions(*made)
            self._made = None
        return self._found

    def __getitem__(self, source: str) -> float:
        return self.by_source()[source]

    def __iter__(self) -> Iterator[str]:
        return iter(self.by_source())

    def __len__(self) -> int:
        return len(self.by_source())

    def __eq__(self, other: object) -> bool:
        return self.by_source() == (other.by_source() if isinstance(other, Carried) else other)

    __hash__ = None  # type: ignore[assignment]  # as a dict

    def __repr__(self) -> str:
        return repr(self.by_source())


def carried(fn: Callable[..., Any], given: Mapping[str, Known], plain: Mapping[str, Any], result: Any,
            tables: bool) -> Mapping[str, float]:
    """The ± of `result`, which `fn` made of the inputs `given` (`plain`: their values); empty where it can have none.

    tables: whether errors of table rows are carried through.
    """
    if isinstance(result, (int, float)) and not isinstance(result, bool):
        for value in given.values():
            if type(value.spread) is Carried or value.spread or (
                    tables and isinstance(value.value, Table) and value.value.has_errors):
                return Carried(fn, given, plain, result, tables)
    return {}


def limits(spread: Mapping[str, float]) -> Mapping[str, float]:
    """Limits of error as a plain table, which is looked up faster."""
    return spread.by_source() if type(spread) is Carried else spread


def _contributions(fn: Callable[..., Any], given: Mapping[str, Known], plain: Mapping[str, Any], result: float,
                   tables: bool) -> dict[str, float]:
    """Contribution of every source of error to a number: half the difference of pushing it up and down, at a kink
    the larger of the two.
    """
    found: dict[str, float] = {}
    kinks: dict[int, list[tuple[float, str]]] = {1: [], -1: [], 0: []}
    spreads = {name: limits(value.spread) for name, value in given.items()}
    for source, names in _carriers(fn, spreads, plain, tables):
        high = _pushed(fn, plain, spreads, names, source, 1.0)
        low = _pushed(fn, plain, spreads, names, source, -1.0)
        if high is not None and low is not None:
            up, down = high - result, result - low
            if max(abs(up), abs(down)) > KINK * min(abs(up), abs(down)) or up * down < 0:
                # Another reading takes over as the lowest or highest: one side hardly moves, half of the other would
                # tell the limit too small. Such an error no longer goes along with its source, so it cancels nowhere.
                way = 0 if up * down < 0 else 1 if up + down > 0 else -1
                kinks[way].append((max(up, down, key=abs), f"{source}, kink of {fn.__name__}"))
                continue
            contribution = (up + down) / 2
        else:  # at the edge of what the relation allows: the side that is allowed counts
            contribution = high - result if high is not None else result - low if low is not None else 0.0
        if contribution:
            found[source] = contribution
    # of readings that may each take over as the lowest (or the highest) only one does: the largest error counts; where
    # every push moves the result the same way, as in highest less lowest, one may take over at either end
    for way, most in ((1, 1), (-1, 1), (0, 2)):
        if kinks[way]:
            found |= {name: error for error, name in sorted(kinks[way], key=lambda k: -abs(k[0]))[:most]}
    return found


def _carriers(fn: Callable[..., Any], spreads: Mapping[str, Mapping[str, float]], plain: Mapping[str, Any],
              tables: bool) -> list[tuple[str, list[str]]]:
    """Every source of error in the order of its name, with the inputs that it moves.

    What the function does not look at cannot change its result, so those fields of a table are not pushed.
    """
    held = {name: value for name, value in plain.items() if isinstance(value, Table)}
    looks: dict[str, Look] = {name: value.watched() for name, value in held.items()} if tables else {}
    if looks:
        fn(**{**plain, **{name: look.table for name, look in looks.items()}})
    found: dict[str, list[str]] = {}
    for name, spread in spreads.items():
        for source in looks[name].sources() if name in looks else spread:
            found.setdefault(source, []).append(name)
    for name, table in held.items() if found else ():
        for source, names in found.items():
            if source in table.errors and name not in names:
                names.append(name)
    return sorted(found.items())


def _pushed(fn: Callable[..., Any], plain: Mapping[str, Any], spreads: Mapping[str, Mapping[str, float]],
            names: Sequence[str], source: str, sign: float) -> float | None:
    """The result with one source of error at its limit; None where the relation refuses that."""
    moved = {**plain}
    try:
        for name in names:
            value = plain[name]
            if isinstance(value, float):
                moved[name] = value + sign * spreads[name].get(source, 0.0)
            elif isinstance(value, Table):
                moved[name] = value.pushed(source, sign)
        result = fn(**moved)
    except (ValueError, ArithmeticError):
        return None
    return float(result) if isinstance(result, (int, float)) else None
