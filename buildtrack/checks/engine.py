"""All checks of a build ruled on, and what follows: findings, conditions, verdict."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from importlib import import_module
from typing import Any

from buildtrack.checks.compare import compare
from buildtrack.checks.rules_general_words import BY_READINGS, listed
from buildtrack.checks.ruling import SUSPECTED, Context, Result, Rule, Ruling, fill
from buildtrack.model.build import Build, PolicyChange, Waiver
from buildtrack.model.checklist import Checklist, CheckRule
from buildtrack.units import clip
from buildtrack.workings.asked import applies
from buildtrack.workings.graph import Sheet, needs
from buildtrack.workings.inputs import counting
from buildtrack.workings.status import Status, status_of, stopped
from buildtrack.workings.values import Known, Value

ROOMS = ("rules_general", "rules_cells", "rules_pack", "rules_protection", "rules_tests")
"""Modules of this package that each hold a table RULES of coded rules by name."""
VERDICTS = ("incomplete", "not cleared", "cleared with conditions", "cleared", "ended early")


@lru_cache(maxsize=1)
def all_rules() -> Mapping[str, Rule]:
    """Every coded rule by the name a checklist calls it."""
    found: dict[str, Rule] = {}
    for room in ROOMS:
        found.update(import_module(f"buildtrack.checks.{room}").RULES)
    return found


@dataclass(frozen=True, slots=True)
class Assessment:
    """A build judged."""

    verdict: str
    reasons: tuple[str, ...]
    """Why the verdict is not better, most important first."""
    conditions: tuple[str, ...]
    """Under which conditions it is cleared: waivers, what was left out, limits of use; none of an ended project."""
    results: tuple[Result, ...]
    sheet: Sheet
    status: Status

    @property
    def findings(self) -> tuple[Result, ...]:
        """The checks that did not pass, stops first, failed before unsure before unknown."""
        severity = {"stop": 0, "caution": 1, "note": 2}
        outcome = {"fail": 0, "unsure": 1, "unknown": 2}
        bad = [r for r in self.results if r.outcome != "pass"]
        return tuple(sorted(bad, key=lambda r: (severity[r.severity], outcome[r.outcome])))


def rule_on(rule: CheckRule, context: Context) -> Ruling:
    """Answer of one check."""
    return compare(context) if rule.value else all_rules()[rule.rule](context)


def looked_at(rule: CheckRule, build: Build, assessment: Assessment, checklist: Checklist, now: datetime) -> list[str]:
    """Names of the values a check looks at: items and workings in the order of the checklist, then limits."""
    context = Context(build, checklist, assessment.sheet, assessment.status, rule, now)
    rule_on(rule, context)
    names = dict.fromkeys(n.partition(".")[0] for n in context.seen)
    order = [n for step in checklist.steps for n in (*(i.id for i in step.items), *step.workings)]
    found = [n for n in order if n in names]
    return list(dict.fromkeys([*found, *sorted(names)]))


def _result(rule: CheckRule, context: Context, build: Build) -> Result:
    ruling = rule_on(rule, context)
    if ruling.outcome == "pass" and rule.severity == "stop":
        ruling = _without_guesses(ruling, context)
    message = _message(rule, ruling, context)
    waiver = _waiver(rule, message, build) if ruling.outcome != "pass" else None
    item = rule.value.partition(".")[0] if rule.value.partition(".")[0] in context.checklist.items else ""
    return Result(
        rule.id, rule.severity, ruling.outcome, rule.step, rule.settings.get("item", item), rule.title, message,
        _advice(rule, ruling, context), ruling.needs, rule.mistakes, fill(rule.condition, ruling.facts),
        waiver,
        idle=ruling.outcome == "pass" and not _has_looked(context),
        holds_after=_holds_after(context) if rule.severity == "stop" and ruling.outcome == "fail" else "")


READ_AGAIN = ("Read it again in a range that shows it. If it was read with another instrument, enter it again and "
              "name that one.")  # fmt: skip
"""What to do where the named instrument does not show such a value: of a fault nothing is known."""


def _advice(rule: CheckRule, ruling: Ruling, context: Context) -> str:
    """What to do about it; of a stop that going on cannot mend also what alone ends it."""
    if ruling.outcome == "unsure" and ruling.meter:
        return READ_AGAIN
    if not rule.ends or ruling.outcome != "fail":
        return rule.advice
    if context.build.ended is not None:
        return "The end of the project settles it."
    return f"{rule.advice} The stop stands until {rule.ends}.".strip()


def _holds_after(context: Context) -> str:
    """The step after which a stop holds the work: its own, or the last one it rests on an answer of."""
    last = _place(context.rule.step, context)
    for name in _roots(context.seen, context.sheet):
        item = context.checklist.items.get(name)
        if item is not None and ((entry := context.build.entry(name)).standing or entry.rows):
            last = max(last, _place(item.step, context))
    return context.checklist.steps[last].id


def _place(step: str, context: Context) -> int:
    return next(n for n, s in enumerate(context.checklist.steps) if s.id == step)


def _roots(names: Iterable[str], sheet: Sheet) -> set[str]:
    """Items and policy values under some names, through all workings between."""
    found: set[str] = set()
    waiting = list(names)
    while waiting:
        name = waiting.pop().partition(".")[0]
        if name not in found:
            found.add(name)
            waiting += needs(sheet.workings[name]) if name in sheet.workings else ()
    return found


def _has_looked(context: Context) -> bool:
    """Whether a check had something before it: a value by name, any reading, or else an answer in its step."""
    names = [n for n in context.seen if n not in context.checklist.policy]
    if names:
        values = [context.value(n) for n in names]
        return any(isinstance(v, Known) and v.value != () for v in values)
    if (any_reading := context.memo.get(BY_READINGS, {}).get(context.rule.id)) is not None:
        return bool(any_reading)
    step = context.checklist.step(context.rule.step)
    entries = [context.build.entry(i.id) for i in step.items] if step is not None else []
    return any(e.standing or e.rows for e in entries)


def _message(rule: CheckRule, ruling: Ruling, context: Context) -> str:
    if ruling.outcome == "pass":
        return "in order"
    said = ruling.message or fill(rule.message, ruling.facts)
    if ruling.outcome == "unknown":
        names = listed([_name(n, context) for n in ruling.needs]) or "more readings"
        return f"{NOT_YET}needs {names}" + (f" ({ruling.message})" if ruling.message else "")
    if ruling.outcome == "unsure":
        meter = f"{clip(ruling.meter)}, which does not show such a value" if ruling.meter else "this meter"
        return said if said.startswith((GUESS, SUSPECTED)) else f"cannot tell with {meter}: {said}"
    return said


GUESS = "rests on a guess"
NOT_YET = "cannot be judged yet: "
"""How the message of a check begins that waits for readings."""


def _without_guesses(ruling: Ruling, context: Context) -> Ruling:
    """A stop that passes on a guessed value does not pass: it is unsure."""
    guessed = sorted(n for n in context.seen if _is_guess(context.value(n)))
    if not guessed:
        return ruling
    return Ruling("unsure", ruling.facts, message=f"{GUESS}: {', '.join(context.label(n) for n in guessed)}")


def _is_guess(value: object) -> bool:
    return isinstance(value, Known) and value.value_class == "guessed"


def _waiver(rule: CheckRule, message: str, build: Build) -> Waiver | None:
    """The waiver that stands: it has a reason, and the check still says what was accepted."""
    found = next((w for w in build.waivers if w.check == rule.id), None)
    if found is None or not found.reason.strip() or (found.finding and found.finding != message):
        return None
    return found


def _name(name: str, context: Context) -> str:
    item, _, column = name.partition(".")
    if column and item in context.checklist.items:
        found = context.checklist.items[item].column(column)
        return f"{context.checklist.items[item].label}: {found.label if found else column}"
    return context.label(name)


@dataclass(frozen=True, slots=True)
class _Kept:
    """A result that rests on nothing but some values, limits and waivers, none of which is ever changed in place."""

    rule: CheckRule
    values: Mapping[str, Value | None]
    limits: Mapping[str, PolicyChange]
    waivers: tuple[Waiver, ...]
    result: Result

    def holds(self, rule: CheckRule, build: Build, values: Mapping[str, Value]) -> bool:
        """Whether it would come out the same now: all that it rests on are the same objects."""
        if self.rule is not rule or self.limits is not build.policy or self.waivers is not build.waivers:
            return False
        return all(values.get(name) is value for name, value in self.values.items())


KEPT = "results of checks"
"""Where the sheet's memory keeps them, by check."""


def run_checks(build: Build, checklist: Checklist, sheet: Sheet, status: Status, now: datetime) -> tuple[Result, ...]:
    """Every check of the checklist that applies to this build, in the order of the checklist.

    Of a project that was ended nothing is asked that is still to be done, and nothing waits for a reading. A check that
    looked at values by name only, all of which are still the same objects, is not ruled on again.
    """
    memo: dict[str, Any] = {}
    kept: dict[str, _Kept] = sheet.memory.setdefault(KEPT, {})
    ended = build.ended is not None
    results: list[Result] = []
    for rule in checklist.checks:
        if (rule.only_if and not applies(rule.only_if, build, sheet)) or (ended and rule.ongoing):
            continue
        last = kept.get(rule.id)
        if last is not None and last.holds(rule, build, sheet.values):
            result = last.result
        else:
            context = Context(build, checklist, sheet, status, rule, now, memo)
            result = _result(rule, context, build)
            if not context.wide:
                values = {name: sheet.values.get(name) for name in context.asked}
                kept[rule.id] = _Kept(rule, values, build.policy, build.waivers, result)
        if not (ended and result.outcome == "unknown"):
            results.append(result)
    return tuple(results)


def _stops_by_step(results: tuple[Result, ...]) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for r in results:
        if r.holds_after:
            found[r.holds_after] = (*found.get(r.holds_after, ()), r.check)
    return found


def _stops(results: tuple[Result, ...]) -> list[str]:
    return [f"stop: {r.title}: {r.message}" for r in results if r.severity == "stop" and r.outcome == "fail"]


def _cautions(results: tuple[Result, ...]) -> list[str]:
    return [f"caution neither mended nor accepted: {r.title}: {r.message}" for r in results
            if r.severity == "caution" and r.outcome in ("fail", "unsure") and r.waiver is None]


def _open(results: tuple[Result, ...], status: Status, checklist: Checklist, build: Build) -> list[str]:
    waiting = [s.item for step in status.steps for s in step.items
               if not s.settled and checklist.items[s.item].need != "optional"]
    left_out = {name for name, entry in build.entries.items() if entry.left_out}
    unsettled = set(waiting)
    found = _items_open(waiting, status, checklist)
    for r in results:
        if r.outcome == "unknown" and _explained(r, unsettled):
            continue  # the open item above says it already
        if r.severity == "stop" and r.outcome in ("unsure", "unknown"):
            found.append(f"stop not settled: {r.title}: {r.message}")
        elif r.severity == "caution" and r.outcome == "unknown" and r.waiver is None and not _excused(r, left_out):
            found.append(f"caution not settled: {r.title}: {r.message}")
    return found


FEW = 12
"""So many open items are named one by one; more are counted by step."""


def _items_open(waiting: list[str], status: Status, checklist: Checklist) -> list[str]:
    if len(waiting) <= FEW:
        states = [status.items[name] for name in waiting]
        return [f"'{checklist.items[s.item].label}' is {s.state}" + (f" ({s.why})" if s.why else "") for s in states]
    found = []
    for step in checklist.steps:
        mine = [name for name in waiting if checklist.items[name].step == step.id]
        if mine:
            first = checklist.items[mine[0]].label
            items = f"{len(mine)} items are" if len(mine) > 1 else "1 item is"
            found.append(f"{step.title}: {items} not settled, first '{first}'")
    return found


def _explained(result: Result, unsettled: set[str]) -> bool:
    """Whether a check waits for nothing but items that are named as open."""
    return bool(result.needs) and all(n.partition(".")[0] in unsettled for n in result.needs)


def _excused(result: Result, left_out: set[str]) -> bool:
    """Whether a caution cannot be judged because an item was left out with a reason (which is a condition already)."""
    return bool(result.needs) and any(n.partition(".")[0] in left_out for n in result.needs)


def _conditions(results: tuple[Result, ...], build: Build, checklist: Checklist, status: Status) -> list[str]:
    found: list[str] = []
    for r in results:
        if r.condition and r.outcome in ("fail", "unsure"):
            found.append(r.condition)
        if r.waiver is not None:
            by = f" ({r.waiver.by})" if r.waiver.by else ""
            found.append(f"accepted{by}: {r.title}. Reason: {r.waiver.reason}")
    for item in checklist.all_items():
        state = status.items[item.id]
        if state.state == "left out" and item.need == "expected":
            found.append(f"left out: {item.label}. Reason: {state.why}")
        if state.state == "done" and state.why and item.need != "optional":
            found.append(f"{state.why}: {item.label}")
        for reading in counting(item, build.entry(item.id)):
            if reading.accepted:
                found.append(f"unusual value accepted: {item.label} {reading.text}. Reason: {reading.accepted}")
    return list(dict.fromkeys(found))


def assess(build: Build, checklist: Checklist, sheet: Sheet, now: datetime) -> Assessment:
    """Judge a build at the moment `now`.

    No waiver of a stop exists: a stop that fails always gives `not cleared`. A caution that is neither mended nor
    accepted gives it where nothing else is open any more; before, the build is incomplete as it would be without it.
    """
    status = status_of(build, checklist, sheet, now)
    results = run_checks(build, checklist, sheet, status, now)
    if build.ended is None:
        status = stopped(status, _stops_by_step(results), checklist)
    conditions = _conditions(results, build, checklist, status)
    stops, cautions, open_ = _stops(results), _cautions(results), _open(results, status, checklist, build)
    bad = [*stops, *cautions]
    if build.ended is not None:
        return Assessment("ended early", (build.ended.reason, *bad), (), results, sheet, status)  # nothing is cleared
    if stops or (cautions and not open_):
        verdict = "not cleared"
    elif open_:
        verdict = "incomplete"
    else:
        verdict = "cleared with conditions" if conditions else "cleared"
    return Assessment(verdict, (*bad, *open_), tuple(conditions), results, sheet, status)
