"""`buildtrack lint`: every mistake in a checklist, with its line, and the file where that is an included one."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from buildtrack import units
from buildtrack.checks.engine import all_rules, rule_on
from buildtrack.checks.ruling import Context
from buildtrack.console import lint_reach, lint_texts
from buildtrack.console.common import plain
from buildtrack.model.build import Build, ChecklistRef, Entry, Reading
from buildtrack.model.checklist import Checklist, CheckRule, Condition, Item
from buildtrack.physics.chemistries import chemistry
from buildtrack.storage import toml_lines
from buildtrack.storage.checklist_file import ChecklistError, Parsed, Problem, check_library, parse_whole, read_text
from buildtrack.storage.checklist_reader import in_order
from buildtrack.workings.graph import GraphError, Sheet, usable
from buildtrack.workings.inputs import ATTACHED, JOINED_DAY, LOG_DATA, OWN_DATA, RECORD_ID, TODAY
from buildtrack.workings.registry import all_workings, sheet_of
from buildtrack.workings.status import Status, status_of

LONGEST = lint_texts.LONGEST
MOMENT = datetime(2026, 1, 1, tzinfo=UTC)
"""At which the rules are tried on an empty build; which moment does not matter."""


def lint(options: argparse.Namespace) -> int:
    """Print every problem of every file; 0 none, 1 some, 2 a file that cannot be read."""
    worst = 0
    for path in options.files:
        try:
            problems = problems_of(path)
        except ChecklistError as error:
            problems = list(error.problems)
        for problem in problems:
            print(plain(f"{path}: {problem}"))
        if not problems:
            print(f"{path}: no mistakes found")
        worst = max(worst, 1 if problems else 0)
    return worst


_OF_A_BUILD = re.compile(r"^\[checklist\]", re.MULTILINE)
"""A table that every build file has, and no checklist."""


def problems_of(path: Path) -> list[Problem]:
    """Every structural and factual mistake of a checklist; ChecklistError where it is no TOML at all."""
    text = read_text(path)
    if _OF_A_BUILD.search(text):
        raise ValueError(f"{path}: this is a build file, not a checklist: buildtrack check {path}")
    parsed = parse_whole(text, str(path))
    found = [*parsed.problems, *_Finder(parsed).all()]
    if path.parent.is_dir() and parsed.checklist.id and parsed.checklist.id != path.stem:
        told = f"'id' is '{parsed.checklist.id}': the file must be called {parsed.checklist.id}.toml to be found"
        found.append(parsed.places.problem(("id",), "file", told))
    return list(in_order(found))


class _Finder:
    """Looks for names that lead nowhere, what is never reached, and texts nobody can read at the bench."""

    def __init__(self, parsed: Parsed) -> None:
        self.parsed = parsed
        self.checklist: Checklist = parsed.checklist
        inputs = {*self.checklist.items, *self.checklist.policy, TODAY, LOG_DATA, OWN_DATA, ATTACHED, RECORD_ID,
                  JOINED_DAY}
        self.workings = {w.id: w for w in usable(all_workings(), inputs)}
        self.known = inputs | set(self.workings)
        self.problem = parsed.places.problem

    def all(self) -> Iterator[Problem]:
        for clash in sorted(set(self.workings) & ({*self.checklist.items} | {*self.checklist.policy})):
            yield self.problem((), clash, "is the name of a working: give the item or policy value another id")
        for s, step in enumerate(self.checklist.steps):
            for name in step.workings:
                if name not in self.workings:
                    yield self.problem(("steps", s, "workings"), f"step {step.id}", self._no_working(name))
            for i, item in enumerate(step.items):
                yield from self._item(item, ("steps", s, "items", i))
        yield from lint_texts.problems(self.checklist, self.problem)
        yield from lint_reach.problems(self.checklist, self.problem)
        yield from self._blind()
        yield from self._checks()

    def _no_working(self, name: str) -> str:
        every = {w.id for w in all_workings()}
        if name in every:
            return f"the working '{name}' lacks inputs in this checklist"
        return f"there is no working '{name}'"

    def _item(self, item: Item, path: toml_lines.Path) -> Iterator[Problem]:
        where = f"step {item.step}, item {item.id}"
        for name in (*item.rests_on, *((item.expires_before,) if item.expires_before else ())):
            if name not in self.checklist.items:
                yield self.problem(path, where, f"'{name}' is not an item of this checklist")
        for name in item.filled_first:
            below, _, field = name.partition(".")
            there = self.checklist.items.get(below)
            if there is None or (field and there.column(field) is None):
                yield self.problem((*path, "filled_first"), where, f"'{name}' is neither an item nor a table.column")
        if item.rows_from and item.rows_from not in self.known:
            yield self.problem((*path, "rows_from"), where, f"'{item.rows_from}' is neither an item nor a working")
        if item.beside and item.beside not in {w.id for w in all_workings()}:
            yield self.problem((*path, "beside"), where, f"there is no working '{item.beside}' to stand beside it")
        yield from self._conditions((*item.only_if, *item.filled_first_if), path, where)
        for column in item.columns:
            yield from self._conditions(column.only_if, path, f"{where}, column {column.id}")

    def _conditions(self, conditions: tuple[Condition, ...], path: toml_lines.Path, where: str) -> Iterator[Problem]:
        for condition in conditions:
            name = condition.item or condition.working
            if condition.item and name not in self.checklist.items:
                yield self.problem(path, where, f"only_if names item '{name}', which this checklist does not have "
                                                f"(ask it, or say its answer under [fixed])")
            elif condition.working and name not in self.workings:
                yield self.problem(path, where, f"only_if: {self._no_working(name)}")

    # ------------------------------------------------------------------------------------------------------- chemistry

    def _blind(self) -> Iterator[Problem]:
        """Where a resting voltage tells nothing, leaks must be found by the capacity method."""
        kind = chemistry(self.checklist.chemistry) if self.checklist.chemistry else None
        cells = self.checklist.items.get("candidates")
        if kind is None or kind.tells_charge or cells is None:
            return
        if cells.column("rest_2_voltage") is not None and "quick_leak_ratio" not in self.checklist.items:
            told = f"a resting voltage says nearly nothing of {kind.label}: ask 'quick_leak_ratio', the capacity method"
            yield self.problem(("chemistry",), "item candidates", told)

    # ---------------------------------------------------------------------------------------------------------- checks

    def _checks(self) -> Iterator[Problem]:
        own = {c.id for c in self.checklist.checks} - set(check_library())
        trials = self._trials()
        number = 0
        misfits: dict[str, list[Problem]] = {}
        for check in self.checklist.checks:
            path: toml_lines.Path = ("checks", number) if check.id in own else ("use_checks",)
            number += check.id in own
            found = list(self._check(check, path, trials))
            if check.id not in own and self.parsed.takes_all_checks and found:
                misfits[check.id] = found
            else:
                yield from found
        if misfits:
            yield from self._misfits(misfits)

    def _misfits(self, misfits: dict[str, list[Problem]]) -> Iterator[Problem]:
        """Library checks that do not fit a checklist which takes them all: why, and the list to leave them out."""
        for name, found in misfits.items():
            yield self.problem(("use_checks",), f"library check {name}", found[0].message)
        names = ", ".join(f'"{name}"' for name in misfits)
        told = (f"{len(misfits)} checks of the library ask for what this checklist does not have: ask for it, or "
                f"add to leave_out_checks: {names}")
        short = self.problem(("use_checks",), "use_checks", told)
        yield replace(short, message=told, longest=len(told))  # it is pasted, so all of it is needed

    def _trials(self) -> list[tuple[Build, Sheet, Status]]:
        """An empty build and one with every simple item answered, each evaluated: what rules are tried on."""
        ref = ChecklistRef(self.checklist.id)
        items = self.checklist.all_items()
        answers = {i.id: Entry((Reading(text, MOMENT),)) for i in items if (text := _some_answer(i))}
        found = []
        try:
            for build in (Build("lint", "", ref, MOMENT), Build("lint", "", ref, MOMENT, entries=answers)):
                sheet = sheet_of(build, self.checklist, MOMENT.date())
                found.append((build, sheet, status_of(build, self.checklist, sheet, MOMENT)))
        except GraphError:
            return []  # two things of one name: told already
        return found

    def _check(self, check: CheckRule, path: toml_lines.Path,
               trials: list[tuple[Build, Sheet, Status]]) -> Iterator[Problem]:
        where = f"check {check.id}"
        if self.checklist.step(check.step) is None:
            yield self.problem(path, where, f"'{check.step}' is not a step of this checklist, nor in any step's 'also'")
        if check.rule and check.rule not in all_rules():
            yield self.problem((*path, "rule"), where, f"there is no rule '{check.rule}'")
        elif check.rule:
            yield from self._rule_needs(check, path, where, trials)
        if check.value:
            yield from self._name(check.value, path, where)
        for limit in (check.at_most, check.at_least):
            if limit and limit not in self.known and _quantity(limit) is None:
                yield self.problem(path, where, f"the limit '{limit}' is neither a name nor a quantity")
            elif limit and check.value:
                yield from self._same_quantity(check.value, limit, path, where)
        for mistake in check.mistakes:
            if self.checklist.mistakes and mistake not in self.checklist.mistakes:
                yield self.problem((*path, "mistakes"), where, f"'{mistake}' is not told under [mistakes]")
        if item := check.settings.get("item"):
            yield from self._name(item, path, where)
        yield from self._conditions(check.only_if, path, where)

    def _rule_needs(self, check: CheckRule, path: toml_lines.Path, where: str,
                    trials: list[tuple[Build, Sheet, Status]]) -> Iterator[Problem]:
        """A coded rule is tried: what it asks for must be there to be answered."""
        needs: dict[str, None] = {}
        for build, sheet, status in trials:
            ruling = rule_on(check, Context(build, self.checklist, sheet, status, check, MOMENT))
            needs.update(dict.fromkeys(ruling.needs))
        for name in needs:
            if name.partition(".")[0] not in self.known:
                yield self.problem(path, where, f"needs '{name}', which this checklist does not have")

    def _name(self, value: str, path: toml_lines.Path, where: str) -> Iterator[Problem]:
        name, _, column = value.partition(".")
        if name not in self.known:
            yield self.problem((*path, "value"), where, f"'{name}' is neither an item, a working nor a policy value")
        elif column and (name not in self.checklist.items or self.checklist.items[name].column(column) is None):
            yield self.problem((*path, "value"), where, f"'{name}' has no column '{column}'")

    def _same_quantity(self, value: str, limit: str, path: toml_lines.Path, where: str) -> Iterator[Problem]:
        mine, theirs = self._dimension(value), self._dimension(limit)
        pair = {mine, theirs}
        if "" not in pair and mine != theirs and pair != {"temperature", "temperature_difference"}:
            yield self.problem(path, where, f"compares '{value}' ({mine}) with '{limit}' ({theirs})")

    def _dimension(self, name: str) -> str:
        """Dimension of an item, column, policy value, working or quantity; empty where it has none or several."""
        head, _, column = name.partition(".")
        if head in self.checklist.items:
            item = self.checklist.items[head]
            found = item.column(column) if column else None
            return found.dimension if found else item.dimension
        if name in self.checklist.policy:
            return self.checklist.policy[name].dimension
        if name in self.workings:
            unit = units.find_unit(self.workings[name].unit) if self.workings[name].unit else None
            return unit.dimension if unit else ""
        return _quantity(name) or ""


def _some_answer(item: Item) -> str:
    """An answer that fits a simple item; empty for tables, photos and files."""
    if item.kind == "choice":
        return item.options[0].id if item.options else ""
    if item.kind == "reading":
        low = item.plausible.low if item.plausible.low is not None else 1.0
        return units.show(low, item.unit, digits=6) if item.unit else f"{low:g}"
    return {"tick": "yes", "text": "something"}.get(item.kind, "")


def _quantity(text: str) -> str | None:
    """Dimension of a quantity written out; None where it is none."""
    number, _, unit = text.partition(" ")
    found = units.find_unit(unit) if unit else None
    dimension = found.dimension if found else "count"
    try:
        units.parse(text, dimension)
    except units.QuantityError:
        return None
    return dimension if number else None
