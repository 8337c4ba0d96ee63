"""A working told in words: formula, the numbers put into it, result, source, and what it rests on."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from buildtrack import units
from buildtrack.model.checklist import Checklist
from buildtrack.workings.graph import Sheet, Working, needs
from buildtrack.workings.inputs import LOG_DATA, OWN_DATA
from buildtrack.workings.values import Failed, Known, Missing, Table, Value

_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_LAST_ZEROS = re.compile(r"(?<=\d)(\.\d*?)0+(?=\D|$)")
_READ_FROM = {LOG_DATA: "discharge_log", OWN_DATA: "own_curve_log"}
"""Inputs that are the contents of an attached file, and the item it is attached to."""


@dataclass(frozen=True, slots=True)
class Explained:
    """Everything a person may ask of one value."""

    id: str
    label: str
    shown: str
    """Result with unit and ±, or what it needs, or why it failed."""
    value: Any
    unit: str
    plus_minus: float | None
    formula: str
    substituted: str
    source: str
    needs: tuple[str, ...]
    """Missing root inputs."""
    inputs: tuple[str, ...]
    """Names it is computed from."""
    state: str
    """known, missing or failed."""
    value_class: str
    note: str = ""


def label_of(name: str, sheet: Sheet, checklist: Checklist) -> str:
    """What a name is called for people."""
    if name in sheet.workings:
        return sheet.workings[name].label
    if name in checklist.items:
        return checklist.items[name].label
    if name in checklist.policy:
        return checklist.policy[name].label
    if name in _READ_FROM and _READ_FROM[name] in checklist.items:
        return f"{checklist.items[_READ_FROM[name]].label}, as read from the file"
    return name.replace("_", " ")


def unit_of(name: str, sheet: Sheet, checklist: Checklist) -> str:
    """Unit a name is shown in."""
    if name in sheet.workings:
        return sheet.workings[name].unit
    if name in checklist.items:
        return checklist.items[name].unit
    return checklist.policy[name].unit if name in checklist.policy else ""


def show_value(value: Value, unit: str, digits: int = 4) -> str:
    """A value for people, in one line."""
    if isinstance(value, Missing):
        return f"needs {', '.join(sorted(value.inputs))}"
    if isinstance(value, Failed):
        return f"cannot be computed: {value.why}"
    return show_plain(value.value, unit, value.plus_minus, digits)


def show_plain(value: Any, unit: str, plus_minus: float | None = None, digits: int = 4) -> str:
    """A plain value for people, in one line; structured results say it themselves by a `summary` attribute."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        if not unit and value == int(value) and not plus_minus:
            return str(int(value))  # a count
        return units.show(value, unit, plus_minus, digits)
    if isinstance(value, Table):
        return f"table of {units.counted(len(value), 'row')}"
    if isinstance(value, str):
        return value or "-"
    summary = getattr(value, "summary", None)
    if isinstance(summary, str):
        return summary
    if isinstance(value, (tuple, list)):
        return f"{len(value)} entries" if value and not isinstance(value[0], (str, float)) else ", ".join(
            show_plain(v, unit, None, digits) for v in value)
    return str(value)


def substituted(working: Working, sheet: Sheet, checklist: Checklist) -> str:
    """The formula with numbers in the place of names; for a procedure, the inputs it used."""
    def number(name: str) -> str:
        value = sheet.values.get(name)
        return _put_in(name, value, sheet, checklist) if isinstance(value, Known) else ""

    if working.expression:
        names = set(needs(working))

        def replaced(match: re.Match[str]) -> str:
            name = match.group(0)
            return (number(name) or name) if name in names else name

        return formula_text(_NAME.sub(replaced, working.formula))
    return ", ".join(f"{label_of(n, sheet, checklist)} = {number(n)}" for n in needs(working) if number(n))


def _put_in(name: str, value: Known, sheet: Sheet, checklist: Checklist) -> str:
    """An input as it is put in: a choice by its words, a limit or a number without ± without zeros at its end.

    Such a number is shown to as many digits as any other and may never have had them. A zero that was typed goes too:
    12.60 V is put in as 12.6 V, the same number; the text as typed stands with the reading.
    """
    item = checklist.items.get(name)
    if item is not None and item.kind == "choice":
        return next((o.label for o in item.options if o.id == value.value), show_value(value, ""))
    shown = show_value(value, unit_of(name, sheet, checklist))
    if name in sheet.workings or value.plus_minus or not isinstance(value.value, float):
        return shown
    trimmed = _LAST_ZEROS.sub(lambda found: found.group(1).rstrip("."), shown)
    return "1 month" if trimmed == "1 months" else trimmed


def formula_text(formula: str) -> str:
    """A formula for people: words with spaces, × for *, a raised 2 for a square."""
    return formula.replace("**2", "²").replace("**", "^").replace("*", "×").replace("_", " ")


def in_brief(name: str, sheet: Sheet, checklist: Checklist) -> tuple[str, str, str]:
    """Label, state (known, failed, missing) and value in words of a working: what a line of a list needs of it."""
    working, value = sheet.workings[name], sheet.value(name)
    state = "known" if isinstance(value, Known) else "failed" if isinstance(value, Failed) else "missing"
    return working.label, state, _shown(value, working, sheet, checklist)


def explain(name: str, sheet: Sheet, checklist: Checklist) -> Explained:
    """Explain a working by its id."""
    working = sheet.workings[name]
    value = sheet.value(name)
    known = isinstance(value, Known)
    state = "known" if known else "failed" if isinstance(value, Failed) else "missing"
    return Explained(
        id=name, label=working.label, shown=_shown(value, working, sheet, checklist),
        value=value.value if isinstance(value, Known) else None, unit=working.unit,
        plus_minus=value.plus_minus if isinstance(value, Known) else None, formula=formula_text(working.formula),
        substituted=substituted(working, sheet, checklist) if known else "", source=working.source,
        needs=tuple(sorted(value.inputs)) if isinstance(value, Missing) else (), inputs=needs(working), state=state,
        value_class=value.value_class if isinstance(value, Known) else "", note=working.note)


def _shown(value: Value, working: Working, sheet: Sheet, checklist: Checklist) -> str:
    if isinstance(value, Missing):
        return "needs " + ", ".join(_lacking(n, sheet, checklist) for n in sorted(value.inputs))
    return show_value(value, working.unit, working.digits)


def _lacking(name: str, sheet: Sheet, checklist: Checklist) -> str:
    """What is missing of an input: the whole of it, or columns or rows of a table that was begun."""
    label = label_of(name, sheet, checklist)
    value = sheet.values.get(name)
    return f"more in {label}" if isinstance(value, Known) and isinstance(value.value, Table) else label


def plain_data(value: Any) -> Any:
    """A value as JSON can hold it (dataclasses as tables, tuples as lists)."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain_data(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(k): plain_data(v) for k, v in value.items()}
    if isinstance(value, (tuple, list, set, frozenset)):
        return [plain_data(v) for v in (sorted(value) if isinstance(value, (set, frozenset)) else value)]
    if isinstance(value, date):
        return value.isoformat()
    if value is None or isinstance(value, (str, bool, int, float)):
        return value
    return str(value)
