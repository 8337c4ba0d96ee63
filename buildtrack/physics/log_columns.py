"""Which column of a log is what: told by name and unit, then by magnitude; every guess is put into words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from buildtrack.physics.log_errors import LogError
from buildtrack.physics.log_numbers import TimeForm, guess_time_form, looks_like_time, read_number
from buildtrack.physics.log_sniff import Sniffed

UNITS = {
    "mv": 0.001, "v": 1.0, "volt": 1.0, "volts": 1.0, "ma": 0.001, "a": 1.0, "amp": 1.0, "amps": 1.0, "µa": 1e-6,
    "ua": 1e-6, "mah": 0.001, "ah": 1.0, "mwh": 0.001, "wh": 1.0, "°c": 1.0, "degc": 1.0, "c": 1.0, "℃": 1.0,
}  # fmt: skip

LONGEST_NAME = 200
"""So much of a heading is looked at [characters]; the patterns below take the square of its length."""
NAMES: dict[str, tuple[str, ...]] = {
    "date": ("date", "datum", "fecha", "日期"),
    "state": ("state", "mode", "step", "status", "modus", "schritt", "zustand", "step type", "工步", "状态"),
    "index": ("index", "no", "nr", "#", "sample", "record", "row", "data point", "point", "id", "序号"),
    "time": ("time", "zeit", "t", "elapsed", "elapsed time", "timestamp", "test time", "seconds", "sec", "date/time",
             "datetime", "date time", "temps", "tiempo", "tempo", "hours", "minutes", "时间", "测试时间"),
    "current": ("current", "strom", "i", "cur", "curr", "amps", "amp", "ampere", "courant", "corriente", "corrente",
                "load current", "i load", "电流"),
    "voltage": ("voltage", "spannung", "u", "v", "volt", "volts", "vbat", "ubat", "tension", "tensión", "tensione",
                "pack voltage", "total voltage", "v pack", "u pack", "battery voltage", "电压"),
    "capacity": ("cap", "capacity", "kap", "kapazität", "q", "ah", "mah", "charge", "capacité", "capacidad", "容量"),
    "energy": ("energy", "energie", "e", "wh", "mwh", "énergie", "energía", "能量"),
    "temperature": ("temp", "temperature", "temperatur", "température", "temperatura", "温度"),
}  # fmt: skip

GROUP = re.compile(
    r"(?:v|u|c|g|b|cell|zelle|group|gruppe|cellv|vcell|ucell|cell voltage|zellspannung|voltage|spannung)"
    r"[ _.#-]*(\d{1,2})"
)
NUMBERED = re.compile(r"(.+?)[ _.#-]*(\d{1,2})")
NUMBERED_TEMPERATURE = re.compile(r"(?:t|temp|temperature|temperatur)[ _.-]*\d{1,2}")


@dataclass(frozen=True, slots=True)
class Mapping:
    """Which column is what; numbers count from 0. Change any of it with `dataclasses.replace`.

    `sign`: 1 discharge is positive in the file, -1 negative, 0 told by the state column, None told from the readings.
    `fixed_current_a` stands in for a missing current column, `interval_s` for a missing time column.
    """

    time: int | None = None
    time_form: TimeForm = field(default_factory=lambda: TimeForm("number"))
    date: int | None = None
    current: int | None = None
    current_scale: float = 1.0
    voltage: int | None = None
    voltage_scale: float = 1.0
    groups: tuple[int, ...] = ()
    group_scale: float = 1.0
    temperatures: tuple[int, ...] = ()
    capacity: int | None = None
    capacity_scale: float = 1.0
    energy: int | None = None
    energy_scale: float = 1.0
    state: int | None = None
    sign: int | None = None
    fixed_current_a: float | None = None
    interval_s: float | None = None


@dataclass(frozen=True, slots=True)
class Chosen:
    """What of a mapping was set by hand (log_setting.py); columns count from 0."""

    columns: dict[str, tuple[int, ...]] = field(default_factory=dict)
    """Columns by the name of the quantity."""
    units: dict[int, str] = field(default_factory=dict)
    """Unit of a column, in small letters."""
    sign: int | None = None
    """As in Mapping."""


def split_name(header: str) -> tuple[str, str]:
    """Name and unit of a header field: "U[V]", "Cap(mAh)", "Current / mA", "time_ms" -> lower-case name and unit."""
    text = " ".join(header[:LONGEST_NAME].split()).strip('"').lower().replace("â°", "°").replace("�", "°")
    match = re.fullmatch(r"(.*?)\s*[\[(/]\s*([^\])]*)\s*[\])]?", text)
    if match and match.group(1) and (match.group(2) in UNITS or _time_unit(match.group(2))):
        return match.group(1).replace("_", " ").strip(), _time_unit(match.group(2)) or match.group(2)
    match = re.fullmatch(r"(.+?)[ _.]+([a-zµ°℃]+)", text)
    if match and (match.group(2) in UNITS or match.group(2) in ("s", "ms", "min", "h", "sec")):
        return match.group(1).replace("_", " "), _time_unit(match.group(2)) or match.group(2)
    return text.replace("_", " "), ""


def _time_unit(text: str) -> str:
    words = {"s": "s", "sec": "s", "second": "s", "seconds": "s", "ms": "ms", "min": "min", "minutes": "min", "h": "h",
             "hours": "h", "hour": "h", "d": "d", "days": "d", "hh:mm:ss": "clock", "h:mm:ss": "clock"}  # fmt: skip
    return words.get(text.strip(), "")


def guess_mapping(
    sniffed: Sniffed, name: str = "log", complete: bool = True, chosen: Chosen | None = None
) -> tuple[Mapping, tuple[str, ...]]:
    """Tell the columns of a log from its header and first rows, with every assumption in words.

    LogError when voltage, current or time cannot be told; the message names the columns found. With `complete` false
    the mapping is given back as far as it was told.
    chosen: columns set by hand; where no unit was set with them, it is told as for others.
    """
    chosen = chosen or Chosen()
    columns = _columns(sniffed)
    roles = [role_of(header, unit) for header, unit in columns] if columns else _roles_by_value(sniffed)
    if not columns:
        columns = [("", "")] * len(roles)
    notes: list[str] = []
    roles = _chosen_roles(_numbered_groups(columns, roles, notes), chosen.columns)
    columns += [("", "")] * (len(roles) - len(columns))
    columns = [(header, chosen.units.get(k, unit)) for k, (header, unit) in enumerate(columns)]
    mapping = _basic(columns, roles, sniffed, notes)
    lists = {key: found for key, found in chosen.columns.items() if key in ("groups", "temperatures")}
    mapping = replace(mapping, groups=lists.get("groups", mapping.groups),
                      temperatures=lists.get("temperatures", mapping.temperatures))  # fmt: skip
    mapping = replace(mapping, sign=chosen.sign)
    mapping = _scales(mapping, columns, sniffed, notes)
    mapping = _time_column(mapping, columns, roles, sniffed, notes)
    if complete:
        refuse_incomplete(mapping, sniffed, name)
    return mapping, tuple(notes)


def _chosen_roles(roles: Sequence[str], chosen: dict[str, tuple[int, ...]]) -> list[str]:
    """The roles with what was set by hand: a quantity that was set is told of no other column."""
    told = {"groups": "group", "temperatures": "temperature"}
    taken = {told.get(what, what) for what in chosen}
    width = max((len(roles), *(k + 1 for columns in chosen.values() for k in columns)))
    found = [role if role not in taken else "" for role in (*roles, *[""] * (width - len(roles)))]
    for what, columns in chosen.items():
        for k in columns:
            found[k] = "" if what in told else what
    return found


def _columns(sniffed: Sniffed) -> list[tuple[str, str]]:
    columns = [split_name(header) for header in sniffed.header]
    for k, unit in enumerate(sniffed.units[: len(columns)]):
        bare = unit.strip("[]() ").lower()
        columns[k] = (columns[k][0], _time_unit(bare) or bare)
    return columns


def role_of(name: str, unit: str) -> str:
    """What a column is by its name and unit in small letters; empty where they do not tell."""
    name = name.strip()
    if unit in ("°c", "degc", "℃") or (unit == "c" and name.startswith("t")):
        return "temperature"
    if GROUP.fullmatch(name) and unit in ("", "v", "mv"):
        return "group"
    for role, names in NAMES.items():
        if name in names:
            return {"ah": "capacity", "mah": "capacity", "wh": "energy", "mwh": "energy"}.get(unit, role)
    if NUMBERED_TEMPERATURE.fullmatch(name):
        return "temperature"
    by_unit = {"v": "voltage", "mv": "voltage", "a": "current", "ma": "current", "ah": "capacity", "mah": "capacity",
               "wh": "energy", "mwh": "energy", "clock": "time"}  # fmt: skip
    if unit in by_unit:
        return by_unit[unit]
    first = re.split(r"[ _.-]", name)[0]
    return next(
        (
            role
            for role in ("time", "current", "voltage", "capacity", "energy", "temperature")
            if first in NAMES[role] and len(first) > 1
        ),
        "",
    )


def _numbered_groups(columns: Sequence[tuple[str, str]], roles: Sequence[str], notes: list[str]) -> list[str]:
    """Voltages called alike and numbered on from 0 or 1 ("Z1 [mV]", "Z2 [mV]") are the groups of the pack."""
    sets: dict[tuple[str, str], dict[int, int]] = {}
    for k, (name, unit) in enumerate(columns):
        match = NUMBERED.fullmatch(name.strip())
        if match and roles[k] == "voltage" and unit in ("v", "mv"):
            sets.setdefault((match[1], unit), {})[int(match[2])] = k
    found = list(roles)
    if "group" in found:
        return found
    for (stem, _), places in sets.items():
        numbers = sorted(places)
        if len(numbers) >= 2 and numbers[0] in (0, 1) and numbers == list(range(numbers[0], numbers[0] + len(numbers))):
            for k in places.values():
                found[k] = "group"
            notes.append(f"columns called {stem} and numbered are taken as the groups: check them")
            return found
    return found


def _group_number(name: str) -> int:
    match = NUMBERED.fullmatch(name.strip())
    return int(match[2]) if match else 0


def _roles_by_value(sniffed: Sniffed) -> list[str]:
    """Roles without a header: first column time, then the larger of two values voltage, the steadier one current."""
    rows = [row for row in sniffed.rows if len(row) >= 3]
    if not rows:
        return []
    roles = ["time", *[""] * (len(rows[0]) - 1)]
    means = {}
    for k in (1, 2):
        values = [value for row in rows if (value := read_number(row[k], sniffed.decimal)) is not None]
        means[k] = sum(map(abs, values)) / len(values) if values else 0.0
    high = 1 if means[1] >= means[2] else 2
    roles[high], roles[3 - high] = "voltage", "current"
    return roles


def _basic(columns: Sequence[tuple[str, str]], roles: Sequence[str], sniffed: Sniffed, notes: list[str]) -> Mapping:
    def first(role: str) -> int | None:
        return next((k for k, found in enumerate(roles) if found == role), None)

    groups = [k for k, role in enumerate(roles) if role == "group"]
    groups.sort(key=lambda k: _group_number(columns[k][0]))
    empty = [k for k in groups if not any(_value(row, k, sniffed.decimal) for row in sniffed.rows)]
    if empty:
        notes.append(f"{len(empty)} group columns hold nothing and are left out")
    voltage = first("voltage")
    if voltage is not None and len([k for k, role in enumerate(roles) if role == "voltage"]) > 1:
        notes.append(f"several voltage columns: column {voltage + 1} is taken")
    if not sniffed.header:
        notes.append("columns told by magnitude: check them")
    return Mapping(
        date=first("date"),
        current=first("current"),
        voltage=voltage,
        groups=tuple(k for k in groups if k not in empty),
        temperatures=tuple(k for k, role in enumerate(roles) if role == "temperature"),
        capacity=first("capacity"),
        energy=first("energy"),
        state=first("state"),
    )


def _value(row: Sequence[str], k: int, decimal: str) -> float:
    return (read_number(row[k], decimal) or 0.0) if k < len(row) else 0.0


def _scales(mapping: Mapping, columns: Sequence[tuple[str, str]], sniffed: Sniffed, notes: list[str]) -> Mapping:
    def unit_of(column: int | None) -> str:
        return columns[column][1] if column is not None and column < len(columns) else ""

    def typical(column: int | None) -> float:
        values = sorted(abs(_value(row, column, sniffed.decimal)) for row in sniffed.rows) if column is not None else []
        return values[len(values) // 2] if values else 0.0

    def scale(column: int | None, what: str, above: float, small: str, large: str) -> float:
        unit = unit_of(column)
        if unit in UNITS:
            return UNITS[unit]
        if column is None:
            return 1.0
        name = columns[column][0]
        if name in ("mah", "mwh", "ma", "mv"):
            return 0.001
        used = small if typical(column) > above else large
        notes.append(f"{what} has no unit, read in {used} by its size")
        return UNITS[used.lower()]

    first_group = mapping.groups[0] if mapping.groups else None
    return replace(
        mapping,
        voltage_scale=scale(mapping.voltage, "voltage", 1000.0, "mV", "V"),
        group_scale=scale(first_group, "group voltage", 1000.0, "mV", "V"),
        current_scale=scale(mapping.current, "current", 90.0, "mA", "A"),
        capacity_scale=scale(mapping.capacity, "capacity", 90.0, "mAh", "Ah"),
        energy_scale=scale(mapping.energy, "energy", 1000.0, "mWh", "Wh"),
    )


def _time_column(
    mapping: Mapping, columns: Sequence[tuple[str, str]], roles: Sequence[str], sniffed: Sniffed, notes: list[str]
) -> Mapping:
    column = next((k for k, role in enumerate(roles) if role == "time"), None)
    if column is None and mapping.date is not None:
        column, mapping = mapping.date, replace(mapping, date=None)
    if column is None:
        clocks = [k for k, text in enumerate(sniffed.rows[0] if sniffed.rows else ()) if looks_like_time(text)]
        column = clocks[0] if clocks else next((k for k, role in enumerate(roles) if role == "index"), None)
    if column is None:
        return mapping
    values = [row[column] for row in sniffed.rows if column < len(row)]
    form, note = guess_time_form(values, columns[column][1], roles[column] == "index", sniffed.decimal)
    notes.append(note)
    if form.kind == "date":
        mapping = replace(mapping, date=None)
    return replace(mapping, time=column, time_form=form)


def refuse_incomplete(mapping: Mapping, sniffed: Sniffed, name: str) -> None:
    """LogError when a mapping lacks voltage, current or time."""
    found = ", ".join(sniffed.header) if sniffed.header else "no header"
    line = max(1, sniffed.first_row - 1)
    if mapping.voltage is None and not mapping.groups:
        raise LogError(name, line, f"no voltage column was recognised ({found})", "name it or set the mapping")
    if mapping.current is None and mapping.fixed_current_a is None:
        raise LogError(name, line, f"no current column was recognised ({found})", "name it or state the fixed current")
    no_time = mapping.time is None or (mapping.time_form.kind == "index" and mapping.interval_s is None)
    if no_time and mapping.interval_s is None:
        raise LogError(name, line, f"no time column was recognised ({found})", "name it or state the interval")


def describe(mapping: Mapping, header: Sequence[str]) -> tuple[str, ...]:
    """The mapping in words, one line per quantity, for showing before use."""

    def named(column: int | None) -> str:
        if column is None:
            return "not in the file"
        return f"column {column + 1}" + (f" ({header[column]})" if column < len(header) else "")

    def many(columns: Iterable[int]) -> str:
        return ", ".join(named(column) for column in columns) or "not in the file"

    signs = {1: "discharge positive", -1: "discharge negative", 0: "unsigned, by state", None: "told from the readings"}
    return (
        f"time: {named(mapping.time)}, {mapping.time_form.kind}",
        f"current: {named(mapping.current)}, times {mapping.current_scale:g} A, {signs[mapping.sign]}",
        f"voltage: {named(mapping.voltage)}, times {mapping.voltage_scale:g} V",
        f"groups: {many(mapping.groups)}, times {mapping.group_scale:g} V",
        f"temperatures: {many(mapping.temperatures)}",
        f"capacity: {named(mapping.capacity)}, times {mapping.capacity_scale:g} Ah",
        f"energy: {named(mapping.energy)}, times {mapping.energy_scale:g} Wh",
        f"state: {named(mapping.state)}",
    )
