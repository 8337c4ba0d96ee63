"""Cell chemistries as data: their limits, the curve that stands for them, and what a resting voltage tells."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from buildtrack import data
from buildtrack.data.personal import personal_folder

FILE = "chemistries.toml"
"""Name of a person's own file of chemistries in their configuration folder."""
LARGEST = 1_000_000
"""Largest such file that is read [bytes]."""
_KEYS = frozenset({"label", "curve", "source", "stand_in", "tells_charge", "charge_zones", "charge_zones_from",
                   "limits"})
_NEEDED = ("label", "curve", "limits")


@dataclass(frozen=True, slots=True)
class Limit:
    """One policy value as a chemistry sets it."""

    id: str
    label: str
    value: str
    """As written, with its unit."""
    unit: str
    dimension: str
    source: str


@dataclass(frozen=True, slots=True)
class ChargeZone:
    """A range of cell temperature with the highest rate and voltage at which a cell may be charged, as written."""

    low: str
    high: str
    rate: str
    voltage: str


@dataclass(frozen=True, slots=True)
class Chemistry:
    """What the program knows of one chemistry."""

    id: str
    label: str
    curve: str
    """Key of the open-circuit-voltage curve that stands for it."""
    stand_in: str
    """Why the curve of another chemistry is taken; empty where the curve is its own."""
    tells_charge: bool
    """Whether a resting voltage says how full the cell is."""
    charge_zones: tuple[ChargeZone, ...]
    sources: Mapping[str, str]
    limits: Mapping[str, Limit]


def chemistries() -> Mapping[str, Chemistry]:
    """Every chemistry by id: those of the program, and the person's own; ValueError names a mistake in the latter."""
    return _with_own(str(personal_folder() / FILE))


def chemistry(name: str) -> Chemistry | None:
    """The chemistry of this id, in any case of letters; None where there is none."""
    return chemistries().get(name.strip().lower())


@cache
def _with_own(path: str) -> Mapping[str, Chemistry]:
    shipped = data.load("chemistries")
    found = {name: _chemistry(name, body, shipped["limits"], "") for name, body in shipped["chemistries"].items()}
    own = Path(path)
    if not own.is_file():
        return found
    for name, body in _own_file(own).items():
        if name in found:
            raise ValueError(f"{path}: chemistry '{name}' comes with the program; give yours another id")
        found[name] = _chemistry(name, body, shipped["limits"], f"{path}: ")
    return found


def _own_file(path: Path) -> Mapping[str, Any]:
    if path.stat().st_size > LARGEST:
        raise ValueError(f"{path}: more than {LARGEST} bytes")
    try:
        raw = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise ValueError(f"{path}: cannot be read: {str(error)[:200]}") from error
    found = raw.get("chemistries", {})
    if not isinstance(found, dict) or not all(isinstance(b, dict) for b in found.values()):
        raise ValueError(f"{path}: holds tables [chemistries.NAME]")
    return found


def _chemistry(name: str, body: Mapping[str, Any], known: Mapping[str, Any], told: str) -> Chemistry:
    where = f"{told}chemistry '{name}'"
    if name != name.lower():
        raise ValueError(f"{where}: an id is written in lower-case letters")
    for key in body:
        if key not in _KEYS:
            raise ValueError(f"{where}: '{key}' is not a key of a chemistry; there are {', '.join(sorted(_KEYS))}")
    for key in _NEEDED:
        if key not in body:
            raise ValueError(f"{where}: '{key}' is missing")
    raw_zones = body.get("charge_zones", [])
    if not isinstance(raw_zones, list) or not isinstance(body["limits"], dict):
        raise ValueError(f"{where}: 'charge_zones' is a list of tables, and 'limits' holds a table for each limit")
    zones = tuple(_zone(raw, where) for raw in raw_zones)
    sources = {k: str(v) for k, v in body.items() if k == "source" or k.endswith("_from")}
    return Chemistry(
        name, str(body["label"]), str(body["curve"]), str(body.get("stand_in", "")),
        bool(body.get("tells_charge", True)), zones, sources, _limits(body["limits"], known, where))


def _zone(raw: Mapping[str, Any], where: str) -> ChargeZone:
    try:
        return ChargeZone(*(str(raw[key]) for key in ("from", "to", "rate", "voltage")))
    except (KeyError, TypeError) as error:
        raise ValueError(f"{where}: each of 'charge_zones' has from, to, rate and voltage") from error


def _limits(raw: Mapping[str, Any], known: Mapping[str, Any], where: str) -> Mapping[str, Limit]:
    found: dict[str, Limit] = {}
    for name, given in raw.items():
        if name not in known:
            raise ValueError(f"{where}: '{name}' is no limit of a chemistry; there are {', '.join(known)}")
        if not isinstance(given, dict) or not given.get("value") or not given.get("source_text"):
            raise ValueError(f"{where}: limit '{name}' has a value and a source_text")
        shape = known[name]
        found[name] = Limit(name, shape["label"], str(given["value"]), shape["unit"], shape.get("dimension", ""),
                            str(given["source_text"]))
    return found
