"""`buildtrack lint`: every mistake in a checklist, with its line."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

from buildtrack import units
from buildtrack.checks.engine import all_rules
from buildtrack.model.checklist import Checklist, CheckRule, Condition, Item
from buildtrack.storage import toml_lines
from buildtrack.storage.checklist_file import ChecklistError, Problem, check_library, parse_checklist, read_text
from buildtrack.workings.graph import usable
from buildtrack.workings.inputs import LOG_DATA, TODAY
from buildtrack.workings.registry import all_workings

LONGEST = {"label": 60, "why": 260, "how": 400, "caution": 260, "intro": 400}
"""Longest texts that still fit beside a reading [characters]."""


def lint(options: argparse.Namespace) -> int:
    """Print every problem of every file; 0 none, 1 some, 2 a file that cannot be read."""
    worst = 0
    for path in options.files:
        try:
            problems = problems_of(path)
        except ChecklistError as error:
            problems = list(error.problems)
        for problem in problems:
            print(f"{path}: {problem}")
        if not problems:
            print(f"{path}: no mistakes found")
        worst = max(worst, 1 if problems else 0)
    return worst


def problems_of(path: Path) -> list[Problem]:
    """Every structural and factual mistake of a checklist; ChecklistError where it is no TOML at all."""
    text = read_text(path)
    checklist, problems = parse_checklist(text, str(path))
    finder = _Finder(text, checklist)
    return sorted([*problems, *finder.all()])


class _Finder:
    """Looks for names that lead nowhere and texts nobody can read at the bench."""

    def __init__(self, text: str, checklist: Checklist) -> None:
        self.lines = toml_lines.index(text)
        self.checklist = checklist
        inputs = {*checklist.items, *checklist.policy, TODAY, LOG_DATA}
        self.workings = {w.id for w in usable(all_workings(), inputs)}
        self.known = inputs | self.workings

    def problem(self, path: toml_lines.Path, where: str, message: str) -> Problem:
        return Problem(toml_lines.line_of(self.lines, path), where, message)

    def all(self) -> Iterator[Problem]:
        for clash in sorted(self.workings & ({*self.checklist.items} | {*self.checklist.policy})):
            yield self.problem((), clash, "is the name of a working: give the item or policy value another id")
        for s, step in enumerate(self.checklist.steps):
            for name in step.workings:
                if name not in self.workings:
                    yield self.problem(("steps", s, "workings"), f"step {step.id}", self._no_working(name))
            for i, item in enumerate(step.items):
                yield from self._item(item, ("steps", s, "items", i))
        own = {c.id for c in self.checklist.checks} - set(check_library())
        number = 0
        for check in self.checklist.checks:
            path: toml_lines.Path = ("checks", number) if check.id in own else ("use_checks",)
            number += check.id in own
            yield from self._check(check, path)

    def _no_working(self, name: str) -> str:
        every = {w.id for w in all_workings()}
        if name in every:
            return f"the working '{name}' lacks inputs in this checklist"
        return f"there is no working '{name}'"

    def _item(self, item: Item, path: toml_lines.Path) -> Iterator[Problem]:
        where = f"step {item.step}, item {item.id}"
        for key, most in LONGEST.items():
            text = getattr(item, key, "")
            if len(text) > most:
                told = f"'{key}' has {len(text)} characters; at most {most} can be read"
                yield self.problem((*path, key), where, told)
        if item.hold and not item.why:
            yield self.problem(path, where, "a hold point needs a 'why'")
        for name in (*item.rests_on, *((item.expires_before,) if item.expires_before else ())):
            if name not in self.checklist.items:
                yield self.problem(path, where, f"'{name}' is not an item of this checklist")
        if item.rows_from and item.rows_from not in self.known:
            yield self.problem((*path, "rows_from"), where, f"'{item.rows_from}' is neither an item nor a working")
        yield from self._conditions(item.only_if, path, where)
        for column in item.columns:
            yield from self._conditions(column.only_if, path, f"{where}, column {column.id}")

    def _conditions(self, conditions: tuple[Condition, ...], path: toml_lines.Path, where: str) -> Iterator[Problem]:
        for condition in conditions:
            name = condition.item or condition.working
            if condition.item and name not in self.checklist.items:
                yield self.problem(path, where, f"only_if names item '{name}', which this checklist does not have")
            elif condition.working and name not in self.workings:
                yield self.problem(path, where, f"only_if: {self._no_working(name)}")
            elif condition.item:
                yield from self._answers(condition, path, where)

    def _answers(self, condition: Condition, path: toml_lines.Path, where: str) -> Iterator[Problem]:
        item = self.checklist.items[condition.item]
        allowed = {o.id for o in item.options} if item.kind == "choice" else None
        allowed = {"yes", "no"} if item.kind == "tick" else allowed
        for answer in (*condition.is_, *condition.is_not):
            if allowed is not None and answer not in allowed:
                yield self.problem(path, where, f"only_if waits for '{answer}', which '{item.id}' never answers: "
                                                f"this would never be reached")

    def _check(self, check: CheckRule, path: toml_lines.Path) -> Iterator[Problem]:
        where = f"check {check.id}"
        if self.checklist.step(check.step) is None:
            yield self.problem(path, where, f"'{check.step}' is not a step of this checklist")
        if check.rule and check.rule not in all_rules():
            yield self.problem((*path, "rule"), where, f"there is no rule '{check.rule}'")
        if check.value:
            yield from self._name(check.value, path, where)
        for limit in (check.at_most, check.at_least):
            if limit and limit not in self.known and not _is_quantity(limit):
                yield self.problem(path, where, f"the limit '{limit}' is neither a name nor a quantity")
        yield from self._conditions(check.only_if, path, where)

    def _name(self, value: str, path: toml_lines.Path, where: str) -> Iterator[Problem]:
        name, _, column = value.partition(".")
        if name not in self.known:
            yield self.problem((*path, "value"), where, f"'{name}' is neither an item, a working nor a policy value")
        elif column and (name not in self.checklist.items or self.checklist.items[name].column(column) is None):
            yield self.problem((*path, "value"), where, f"'{name}' has no column '{column}'")


def _is_quantity(text: str) -> bool:
    number, _, unit = text.partition(" ")
    found = units.find_unit(unit) if unit else None
    try:
        units.parse(text, found.dimension if found else "count")
    except units.QuantityError:
        return False
    return bool(number)
