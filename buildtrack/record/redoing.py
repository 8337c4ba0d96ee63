"""The numbers of a working as a reader needs them: where its tables stand, in which money, what was left out."""

from __future__ import annotations

import re

from buildtrack import units
from buildtrack.judging import Judged
from buildtrack.record.text import line
from buildtrack.workings.explain import Explained, label_of, show_value, unit_of
from buildtrack.workings.graph import Working
from buildtrack.workings.values import Known, Table

_WITH_SPREAD = re.compile(r"(-?\d+(?:\.\d+)?)( ± [\d.]+)( ?.*)")
_BARE = re.compile(r"(-?\d+(?:\.\d+)?)( ?.*)")
_HOUR = re.compile(r"(?<![\d.])3600(?![\d.])(?!\s*[A-Za-zµΩ°%])")
_MONEY = re.compile(r"(?<=\d) money\b")


def in_currency(judged: Judged, text: str) -> str:
    """Amounts in the currency of the build."""
    currency = line(judged.build.currency, 12)
    return _MONEY.sub(lambda _: f" {currency}", text) if currency else text


def for_a_reader(formula: str) -> str:
    """A formula, or its numbers, without what only the computer needs: a bare 3600 is seconds an hour, and 1e-9 is the
    room for its rounding."""
    return _HOUR.sub("3600 s/h", formula).replace(" + 1e-9", "")


def guarded(shown: str, finer: str) -> str:
    """A value with its ±, told to the digits of `finer` where its ± would leave it fewer: nothing is rounded twice."""
    with_spread, bare = _WITH_SPREAD.fullmatch(shown), _BARE.fullmatch(finer)
    if with_spread is None or bare is None or with_spread.group(3) != bare.group(2):
        return shown
    value = bare.group(1)
    if float(value) == float(with_spread.group(1)):
        return shown  # more digits would only be zeros
    return value + with_spread.group(2) + with_spread.group(3) if len(value) > len(with_spread.group(1)) else shown


def _guard_digits(judged: Judged, told: Explained, text: str, digits: int) -> str:
    sheet, checklist = judged.assessment.sheet, judged.checklist
    for name in told.inputs:
        value = sheet.values.get(name)
        if isinstance(value, Known) and isinstance(value.value, float) and value.plus_minus:
            unit = unit_of(name, sheet, checklist)
            shown = show_value(value, unit)
            finer = guarded(shown, units.show(value.value, unit, None, digits))
            text = re.sub(rf"(?<![\d.]){re.escape(shown)}", finer.replace("\\", r"\\"), text)
    return text


def _step_of(judged: Judged, name: str) -> str:
    if name in judged.checklist.items:
        return judged.checklist.items[name].step
    return judged.assessment.sheet.workings[name].step if name in judged.assessment.sheet.workings else ""


def step_numbers(judged: Judged) -> dict[str, int]:
    """Number of each step, also under the ids of the steps it stands for."""
    found: dict[str, int] = {}
    for number, step in enumerate(judged.checklist.steps, 1):
        for name in (step.id, *step.also):
            found.setdefault(name, number)
    return found


def _is_table(judged: Judged, name: str) -> bool:
    value = judged.assessment.sheet.values.get(name)
    return isinstance(value, Known) and (isinstance(value.value, Table) or bool(getattr(value.value, "lines", ())))


def numbers(judged: Judged, told: Explained, working: Working) -> str:
    """The numbers put in; tables that stand in another step are named with its number."""
    # a difference of like numbers loses digits: there one more is put in
    digits = 5 if working.expression and " - " in told.formula else 4
    text = _guard_digits(judged, told, in_currency(judged, told.substituted), digits)
    steps = step_numbers(judged)
    own = steps.get(working.step)
    for name in told.inputs:
        number = steps.get(_step_of(judged, name))
        if number is not None and number != own and _is_table(judged, name):
            label = label_of(name, judged.assessment.sheet, judged.checklist)
            text = text.replace(f"{label} = ", f"{label} [step {number}] = ", 1)
    return text


def left_out(judged: Judged, told: Explained, working: Working) -> str:
    """Names that stand in the formula without a number, because nothing was entered."""
    sheet = judged.assessment.sheet
    bare = [n for n in told.inputs if working.expression and not isinstance(sheet.values.get(n), Known)
            and re.search(rf"\b{re.escape(n.replace('_', ' '))}\b", told.substituted)]
    return f"left out, not entered: {', '.join(n.replace('_', ' ') for n in bare)}" if bare else ""
