"""A header in the midst of a log: a logger that was restarted may write its columns in another order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from buildtrack.physics.log_columns import Mapping, role_of, split_name
from buildtrack.physics.log_numbers import read_number
from buildtrack.physics.log_sniff import is_unit

SINGLE = ("time", "date", "current", "voltage", "capacity", "energy", "state")
LISTS = ("groups", "temperatures")
TOLD = {"time": "time", "current": "current", "voltage": "voltage"}


def is_header(fields: Sequence[str], decimal: str) -> bool:
    """Whether a line names columns: no number in it, at least two quantities of a log, and not units alone."""
    filled = [field for field in fields if field.strip()]
    if len(filled) < 2 or any(read_number(field, decimal) is not None for field in filled):
        return False
    return not all(map(is_unit, filled)) and sum(bool(role_of(*split_name(field))) for field in filled) >= 2


def moved(mapping: Mapping, before: Sequence[str], now: Sequence[str]) -> Mapping | None:
    """The mapping under another header; None where not every column in use is found in it by name, and only once.

    before: the header the mapping was told from; empty where the log began without one, and the quantities must fit.
    """
    if not before:
        return mapping if _fits(mapping, now) else None
    old, new = ([" ".join(name.split()).casefold() for name in names] for names in (before, now))
    where: dict[int, int] = {}
    for k in used(mapping):
        if k >= len(old) or not old[k] or old.count(old[k]) != 1 or new.count(old[k]) != 1:
            return None
        where[k] = new.index(old[k])

    def at(column: int | None) -> int | None:
        return None if column is None else where[column]

    m = mapping
    return replace(
        m, time=at(m.time), date=at(m.date), current=at(m.current), voltage=at(m.voltage), capacity=at(m.capacity),
        energy=at(m.energy), state=at(m.state), groups=tuple(where[k] for k in m.groups),
        temperatures=tuple(where[k] for k in m.temperatures),
    )  # fmt: skip


def used(mapping: Mapping) -> list[int]:
    """The columns a mapping reads."""
    single = [k for n in SINGLE if (k := getattr(mapping, n)) is not None]
    return [*single, *(k for n in LISTS for k in getattr(mapping, n))]


def _fits(mapping: Mapping, now: Sequence[str]) -> bool:
    """Whether the names say of every column what its values said."""
    roles = [role_of(*split_name(name)) for name in now]
    named = [(k, role) for n, role in TOLD.items() if (k := getattr(mapping, n)) is not None]
    return len(named) == len(used(mapping)) and all(k < len(roles) and roles[k] == role for k, role in named)
