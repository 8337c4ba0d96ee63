"""Checklists in: a TOML file, with what it includes, read into the model; every mistake collected with its line."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import tomli

from buildtrack import units
from buildtrack.model import checklist as m
from buildtrack.physics.chemistries import chemistries, chemistry
from buildtrack.storage import toml_guard, upgrade
from buildtrack.storage.checklist_fixed import holds
from buildtrack.storage.checklist_include import Expanded, Expander
from buildtrack.storage.checklist_parts import policy_of, read_check, read_policy, read_step
from buildtrack.storage.checklist_reader import ChecklistError, Places, Problem, Reader, Source, doubles, in_order
from buildtrack.storage.places import checklist_folders, shipped_checklists
from buildtrack.storage.text_file import read_text

__all__ = ["ChecklistError", "Parsed", "Problem", "check_library", "checklist_files", "find_checklist",
           "parse_checklist", "parse_whole", "read_checklist", "read_text"]

FORMAT = 1
_TOP = frozenset({"format", "id", "version", "title", "purpose", "chemistry", "cautions", "policy", "steps", "checks",
                  "mistakes", "use_checks", "leave_out_checks", "leave_out_policies", "fixed"})
EVERYTHING = "*"
"""In `use_checks`: the whole library. In a step's `workings`: all of the step that the items can feed."""


@dataclass(frozen=True, slots=True)
class Parsed:
    """A checklist as read, with every structural problem and the place of each part."""

    checklist: m.Checklist
    problems: tuple[Problem, ...]
    places: Places
    takes_all_checks: bool = False
    """Whether it takes the whole library of checks, less those it leaves out."""


@lru_cache(maxsize=1)
def check_library() -> Mapping[str, m.CheckRule]:
    """The checks that any checklist may use by id, from data/checks*.toml."""
    found: dict[str, m.CheckRule] = {}
    for path in sorted((Path(__file__).parent.parent / "data").glob("checks*.toml")):
        text = read_text(path)
        r = Reader(Places(Source("", text)))
        for number, body in enumerate(tomli.loads(text).get("checks", [])):
            rule = read_check(r, body, number)
            if rule.id in found:
                r.note(("checks", number), f"check {rule.id}", "stands twice in the library")
            found[rule.id] = rule
        if r.problems:
            raise ChecklistError(str(path), r.problems)
    return found


def _from_library(r: Reader, wanted: Sequence[str], left_out: Sequence[str]) -> tuple[m.CheckRule, ...]:
    if not wanted:
        return ()
    library = check_library()
    for key, names in (("use_checks", wanted), ("leave_out_checks", left_out)):
        for name in names:
            if name not in library and name != EVERYTHING:
                r.note((key,), key, f"'{units.clip(name)}' is not a check of the library")
    names = tuple(library) if EVERYTHING in wanted else tuple(dict.fromkeys(wanted))
    return tuple(library[name] for name in names if name in library and name not in left_out)


def _checks(r: Reader, whole: Expanded, steps: tuple[m.Step, ...], fixed: Mapping[str, str]) -> tuple[m.CheckRule, ...]:
    raw = whole.raw
    own = tuple(read_check(r, c, i) for i, c in enumerate(r.tables(raw, "checks", (), "file")))
    used = _from_library(r, r.texts(raw, "use_checks", (), "file"), r.texts(raw, "leave_out_checks", (), "file"))
    home = {name: step.id for step in steps for name in step.also}
    found = []
    for rule in (*used, *own):
        decided = _settled(rule.only_if, fixed)
        if decided is not None:
            found.append(replace(rule, step=home.get(rule.step, rule.step), only_if=decided))
    return tuple(found)


def _settled(conditions: tuple[m.Condition, ...], fixed: Mapping[str, str]) -> tuple[m.Condition, ...] | None:
    left = []
    for c in conditions:
        if c.item not in fixed:
            left.append(c)
        elif not holds({"is": c.is_, "is_not": c.is_not, "at_least": c.at_least, "at_most": c.at_most,
                        "answered": c.answered}, fixed[c.item]):
            return None
    return tuple(left)


def _policies(r: Reader, whole: Expanded, name: str) -> tuple[tuple[m.Policy, ...], str]:
    """The policy values, and what the chemistry added to them (for the hash)."""
    given = whole.raw.get("policy", {})
    own = [p for n, b in (given.items() if isinstance(given, dict) else ()) if (p := read_policy(r, n, b))]
    if not name:
        return tuple(own), ""
    try:
        kind = chemistry(name)
        if kind is None:
            r.note(("chemistry",), "file", f"chemistry '{units.clip(name)}' is not known; there are: "
                                           f"{', '.join(chemistries())}")
    except ValueError as error:
        r.note(("chemistry",), "file", str(error))
        return tuple(own), ""
    names = set(given) if isinstance(given, dict) else set()
    left_out = set(r.texts(whole.raw, "leave_out_policies", (), "file"))
    added = [p for limit in (kind.limits.values() if kind else ()) if limit.id not in names | left_out
             and (p := policy_of(r, limit, name))]
    return (*own, *added), "".join(f"{p.id}={p.text}\n" for p in added)


def _doubles(r: Reader, names: Sequence[str], what: str) -> None:
    for double in doubles(n for n in names if n):
        r.note((), what, f"'{double}' stands twice")


def _fixed(r: Reader, whole: Expanded) -> dict[str, str]:
    given = whole.raw.get("fixed", {})
    if not isinstance(given, dict) or not all(isinstance(v, str) for v in given.values()):
        r.note(("fixed",), "fixed", "'fixed' is a table of answers in quotes")
        return {}
    return dict(given)


def _with_workings(checklist: m.Checklist) -> m.Checklist:
    """Steps that ask for all workings of theirs get those which the items and policy values can feed."""
    if not any(EVERYTHING in s.workings for s in checklist.steps):
        return checklist
    from buildtrack.workings.graph import usable
    from buildtrack.workings.inputs import LOG_DATA, OWN_DATA, TODAY
    from buildtrack.workings.registry import all_workings

    fed = usable(all_workings(), {*checklist.items, *checklist.policy, TODAY, LOG_DATA, OWN_DATA})
    order = {w.id: n for n, w in enumerate(all_workings())}
    steps = []
    for step in checklist.steps:
        if EVERYTHING in step.workings:
            own = [w.id for w in fed if w.step in (step.id, *step.also)]
            named = [n for n in step.workings if n != EVERYTHING and n not in own]
            step = replace(step, workings=(*named, *sorted(own, key=order.__getitem__)))
        steps.append(step)
    return replace(checklist, steps=tuple(steps))


def _folders(path: str) -> tuple[Path, ...]:
    """Where included files are looked for: beside the checklist, then among those of the program."""
    beside = Path(path).parent if path else None
    return tuple(f for f in (beside, shipped_checklists()) if f is not None and f.is_dir())


def _digest(text: str, whole: Expanded, added: str) -> str:
    """Hash of the checklist's text, followed by what it includes and takes from its chemistry."""
    parts = [text, *whole.texts, *([added] if added else [])]
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


def parse_whole(text: str, path: str = "") -> Parsed:
    """Read a checklist's text with its includes; ChecklistError where it is no TOML or of a newer format."""
    try:
        raw = toml_guard.loads(text, toml_guard.MOST_TABLES_OF_A_CHECKLIST)
    except toml_guard.Refused as error:
        raise ChecklistError(path, [Problem(max(error.line, 1), "file", error.message)]) from error
    try:
        raw = upgrade.raised(raw, FORMAT, upgrade.CHECKLIST, "checklist")
    except upgrade.Unknown as error:
        told = Places(Source("", text)).problem(("format",), "file", str(error))
        raise ChecklistError(path, [told]) from error
    number = FORMAT
    whole = Expander(text, raw, _folders(path)).run()
    r = Reader(whole.places)
    r.problems.extend(whole.problems)
    found = _checklist(r, whole, text, path, number)
    takes_all = EVERYTHING in r.texts(whole.raw, "use_checks", (), "file")
    return Parsed(found, in_order(r.problems), whole.places, takes_all)


def _checklist(r: Reader, whole: Expanded, text: str, path: str, number: int) -> m.Checklist:
    raw = whole.raw
    r.known(raw, _TOP, (), "file")
    steps = tuple(read_step(r, s, i) for i, s in enumerate(r.tables(raw, "steps", (), "file")))
    fixed = _fixed(r, whole)
    checks = _checks(r, whole, steps, fixed)
    kind = r.text(raw, "chemistry", (), "file", "")
    policies, added = _policies(r, whole, kind)
    mistakes = raw.get("mistakes", {})
    if not steps:
        r.note((), "file", "a checklist needs 'steps'")
    _doubles(r, [s.id for s in steps], "steps")
    _doubles(r, [i.id for s in steps for i in s.items] + [p.id for p in policies], "items and policy values")
    _doubles(r, [c.id for c in checks], "checks")
    return _with_workings(m.Checklist(
        format=number, id=r.text(raw, "id", (), "file"), version=r.text(raw, "version", (), "file"),
        title=r.text(raw, "title", (), "file"), purpose=r.text(raw, "purpose", (), "file"), steps=steps,
        policies=policies, checks=checks, cautions=r.texts(raw, "cautions", (), "file"), chemistry=kind,
        sha256=_digest(text, whole, added), path=path, mistakes=mistakes if isinstance(mistakes, dict) else {},
        fixed=fixed))


def parse_checklist(text: str, path: str = "") -> tuple[m.Checklist, list[Problem]]:
    """Read a checklist's text; returns it with every structural problem found (the list is empty for a good one).

    Raises ChecklistError where the text is no TOML or of a newer format.
    """
    parsed = parse_whole(text, path)
    return parsed.checklist, list(parsed.problems)


def read_checklist(path: Path) -> m.Checklist:
    """Read and validate a checklist; ChecklistError names every problem with its line."""
    found, problems = parse_checklist(read_text(path), str(path))
    if problems:
        raise ChecklistError(str(path), problems)
    return found


def checklist_files() -> Mapping[str, Path]:
    """Every checklist there is by its id (the name of its file), the person's own before those of the program."""
    found: dict[str, Path] = {}
    for folder in checklist_folders():
        for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
            found.setdefault(path.stem, path)
    return found


def find_checklist(name: str) -> m.Checklist:
    """The checklist with this id, the person's own folder first; ValueError lists those there are."""
    files = checklist_files()
    if name not in files:
        raise ValueError(f"checklist '{units.clip(name)}' is not known; there are: {', '.join(sorted(files))}")
    return read_checklist(files[name])
