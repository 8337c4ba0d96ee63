"""What a rule sees and what it answers."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from buildtrack import units
from buildtrack.data import load
from buildtrack.model.build import Build, Waiver
from buildtrack.model.checklist import Checklist, CheckRule
from buildtrack.workings.explain import label_of, show_plain, unit_of
from buildtrack.workings.graph import Sheet
from buildtrack.workings.status import Status
from buildtrack.workings.values import Failed, Known, Missing, Record, Table, Value

SUSPECTED = "suspected"
"""How the message of a check begins that is unsure for another reason than the meter."""
OUTCOMES = ("pass", "fail", "unsure", "unknown")
_FIELD = re.compile(r"\{([a-z_0-9]+)\}")


@dataclass(frozen=True, slots=True)
class Ruling:
    """Answer of one rule."""

    outcome: str
    """pass, fail, unsure (inside the meter's uncertainty) or unknown (readings missing)."""
    facts: Mapping[str, str] = field(default_factory=dict)
    """Words put into the message at {name}."""
    needs: tuple[str, ...] = ()
    """Names of missing inputs, for `unknown`."""
    message: str = ""
    """A sentence of its own, in place of the rule's message."""
    meter: str = ""
    """Of `unsure`: the instrument that cannot show such a value, where that alone is why."""


@dataclass(frozen=True, slots=True)
class Result:
    """One check as it stands for a build."""

    check: str
    severity: str
    outcome: str
    step: str
    item: str
    """The item it is about, where there is one."""
    title: str
    message: str
    advice: str
    needs: tuple[str, ...]
    mistakes: tuple[str, ...]
    condition: str
    waiver: Waiver | None = None
    idle: bool = False
    """Whether it passed because nothing it looks at has been entered yet."""
    holds_after: str = ""
    """Of a stop that fails: the step after which it holds the work."""

    @property
    def headline(self) -> str:
        """Its title, which names the fault; of one that passed, what is in order, or that the fault was not found."""
        if self.outcome != "pass":
            return self.title
        if self.idle:
            return f"nothing to judge yet: {self.title}"
        return load("passed").get(self.title) or f"not found: {self.title}"


class Context:
    """Everything a rule may look at; it notes what was looked at, so that a ruling need not be made twice."""

    __slots__ = ("_build", "_memo", "_now", "_sheet", "_status", "asked", "checklist", "rule", "seen", "wide")

    def __init__(self, build: Build, checklist: Checklist, sheet: Sheet, status: Status, rule: CheckRule, now: datetime,
                 memo: dict[str, Any] | None = None) -> None:
        self._build, self._sheet, self._status, self._now = build, sheet, status, now
        self._memo = memo if memo is not None else {}
        self.checklist = checklist
        self.rule = rule
        self.seen: set[str] = set()
        """Names this rule looked at: what it rests on."""
        self.asked: set[str] = set()
        """Names whose values its answer or its words may depend on: those seen, and those only told."""
        self.wide = False
        """Whether it looked further than at values by name and limits: its answer may change with any edit."""

    @property
    def build(self) -> Build:
        """The build."""
        self.wide = True
        return self._build

    @property
    def sheet(self) -> Sheet:
        """All values."""
        self.wide = True
        return self._sheet

    @property
    def status(self) -> Status:
        """State of every item and step."""
        self.wide = True
        return self._status

    @property
    def now(self) -> datetime:
        """The moment at which the build is judged."""
        self.wide = True
        return self._now

    @property
    def memo(self) -> dict[str, Any]:
        """What one rule found out and others may use: shared by all rules of one run."""
        self.wide = True
        return self._memo

    def value(self, name: str) -> Value:
        """A value of the sheet by name."""
        self.seen.add(name)
        self.asked.add(name)
        return self._sheet.value(name)

    def has(self, name: str) -> bool:
        """Whether a value is called so: an item, a policy value or a working of this checklist."""
        return name in self._sheet.values

    def unit(self, name: str) -> str:
        """Unit a name is shown in."""
        return unit_of(name, self._sheet, self.checklist)

    def known(self, name: str) -> Any:
        """A known value, or None."""
        value = self.value(name)
        return value.value if isinstance(value, Known) else None

    def number(self, name: str) -> float | None:
        """A known number, or None."""
        self.seen.add(name)
        self.asked.add(name)
        return self._sheet.number(name)

    def rows(self, name: str, which: str = "") -> tuple[Record, ...]:
        """Rows of a table item; `which` = kept leaves those that were decided to keep."""
        table = self.known(name)
        if not isinstance(table, Table):
            return ()
        return tuple(r for r in table if which != "kept" or r.get("decision") == "keep")

    def show(self, name: str) -> str:
        """A value of the sheet for people, with unit and ±; a policy value as it is written."""
        if name in self.checklist.policy:
            change = self._build.policy.get(name)
            return change.text if change else self.checklist.policy[name].text
        self.asked.add(name)
        value = self._sheet.value(name)
        if not isinstance(value, Known):
            return "?"
        return show_plain(value.value, self.unit(name), value.plus_minus)

    def label(self, name: str) -> str:
        """What a name is called for people."""
        return label_of(name, self._sheet, self.checklist)

    def missing(self, *names: str) -> tuple[str, ...]:
        """Root inputs that are missing under these names."""
        found: set[str] = set()
        for name in names:
            self.asked.add(name)
            value = self._sheet.value(name)
            if isinstance(value, Missing):
                found |= value.inputs
            elif isinstance(value, Failed):
                found.add(value.working)
        return tuple(sorted(found))

    def unknown(self, *names: str) -> Ruling:
        """The ruling `unknown`, naming what is missing under these names."""
        return Ruling("unknown", needs=self.missing(*names) or names)


Rule = Callable[[Context], Ruling]


def combined_spread(left: Mapping[str, float], right: Mapping[str, float]) -> float:
    """± of a difference: sources shared by both sides cancel as far as they are equal."""
    both = left.keys() | right.keys()  # no order of its own: fsum gives the same root whichever comes first
    return math.sqrt(math.fsum((left.get(s, 0.0) - right.get(s, 0.0)) ** 2 for s in sorted(both)))


def at_most(value: Known, limit: Known) -> str:
    """pass, fail or unsure for value <= limit, with both uncertainties."""
    gap = limit.value - value.value
    guard = combined_spread(value.spread, limit.spread)
    if gap >= guard - 1e-12:
        return "pass"
    return "fail" if gap < -guard - 1e-12 else "unsure"


COARSE = 0.25
"""An instrument cannot show a value where its error is above this share of value and limit. Chosen, no source."""


def coarse_meter(value: Known, limit: Known) -> str:
    """The instrument whose error alone hides a value beside its limit; empty where none does.

    Never of a temperature: 0 °C is not no temperature, so that no share of it can be told.
    """
    size = max(abs(float(value.value)), abs(float(limit.value)))
    for source, error in (*value.spread.items(), *limit.spread.items()):
        parts = source.rsplit(", ", 2)  # of an instrument, as model/instruments.py names it: meter, quantity, range
        quantity = parts[1] if len(parts) == 3 else ""
        if error > COARSE * size and quantity in units.dimensions() and quantity != "temperature":
            return parts[2]
    return ""


def at_least(value: Known, limit: Known) -> str:
    """pass, fail or unsure for value >= limit, with both uncertainties."""
    return at_most(limit, value)


def worst(outcomes: Iterable[str]) -> str:
    """The worst of several outcomes: fail, then unsure, then unknown, then pass."""
    order = ("fail", "unsure", "unknown", "pass")
    found = set(outcomes)
    return next((o for o in order if o in found), "unknown")


def fill(text: str, facts: Mapping[str, str]) -> str:
    """Put facts into a message; facts are plain text and never looked at again."""
    return _FIELD.sub(lambda match: facts.get(match.group(1), "?"), text) if "{" in text else text
