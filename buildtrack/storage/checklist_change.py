"""What changed in a checklist since a build was made with it.

A build keeps an outline of its checklist in its snapshot: every item with two short fingerprints (what it asks, and its
wording), the limits as written, and the checks. Compared with the checklist of today it tells what is new, gone or
different. A build without an outline is compared by what it holds itself.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import MISSING, fields, is_dataclass, replace
from functools import cache
from typing import Any

from buildtrack import units
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist, CheckRule, Item
from buildtrack.workings.inputs import column_misfit, misfit

KEY = "checklist_outline"
"""Where the outline stands in a build's snapshot."""
SHOWN = 6
"""So many names of one kind are told; more are counted."""


_outlined: list[tuple[Checklist, dict[str, Any]]] = []
"""The outlines made last: a checklist never changes, and its outline is asked for at every save."""
KEPT = 4


def outline(checklist: Checklist) -> dict[str, Any]:
    """The checklist in short, for the snapshot of a build: `steps`, `limits` and `checks`."""
    for known, found in _outlined:
        if known is checklist:
            return _copied(found)
    made = {
        "steps": {s.id: [_line(i) for i in s.items] for s in checklist.steps},
        "limits": {p.id: p.text for p in checklist.policies},
        "checks": [f"{c.id} {_mark(_rule(c))}" for c in checklist.checks],
    }
    _outlined[:] = [*_outlined[-KEPT + 1 :], (checklist, made)]
    return _copied(made)


def _copied(made: Mapping[str, Any]) -> dict[str, Any]:
    """An outline that its reader may change."""
    steps = {name: list(lines) for name, lines in made["steps"].items()}
    return {"steps": steps, "limits": dict(made["limits"]), "checks": list(made["checks"])}


def _line(item: Item) -> str:
    return f"{item.id} {_mark(_substance(item))} {_mark(_wording(item))}"


def what_changed(build: Build, checklist: Checklist) -> list[str]:
    """Sentences on what differs between the checklist a build was made with and this one; empty where nothing does."""
    ref = build.checklist
    if ref.sha256 == checklist.sha256:
        return []
    found: list[str] = []
    if ref.version and ref.version != checklist.version:
        version = units.clip(ref.version)
        found.append(f"made with version {version} of the checklist; this is version {checklist.version}")
    elif ref.sha256:
        found.append("the checklist was changed since the build was made, under the same version")
    before = build.snapshot.get(KEY)
    if isinstance(before, Mapping):
        found += _compared(before, checklist)
    return [*found, *_no_longer_fits(build, checklist)]


# ---------------------------------------------------------------------------------------------------- fingerprints

_WORDS = frozenset({"label", "why", "how", "caution", "head", "title", "message", "advice", "mistakes", "ends"})
"""Fields that hold wording only."""


def _mark(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:6]


def _canonical(thing: object, words: bool | None) -> object:
    """A part of the checklist without what stands at its default, so that a new field changes no fingerprint.

    words: whether only the wording is wanted, only the rest, or (None) both.
    """
    if isinstance(thing, (list, tuple)):
        return [_canonical(x, words) for x in thing]
    if isinstance(thing, Mapping):
        return sorted((k, _canonical(v, words)) for k, v in thing.items())
    if not is_dataclass(thing):
        return thing
    found = []
    kind: type = type(thing)
    for name, default in _defaults(kind):
        value = getattr(thing, name)
        if value == default:
            continue
        nested = isinstance(value, tuple) and bool(value) and is_dataclass(value[0])
        if words is None or nested or (name in _WORDS) == words or (words and name == "id"):
            found.append((name, _canonical(value, words)))
    return found


@cache
def _defaults(kind: type) -> tuple[tuple[str, object], ...]:
    """Names of the fields of a class, each with its default; asked for each of some hundred items."""
    return tuple((f.name, f.default_factory() if f.default_factory is not MISSING else f.default)
                 for f in fields(kind))


def _wording(item: Item) -> str:
    return repr(_canonical(replace(item, only_if=()), True))


def _substance(item: Item) -> str:
    """Everything that decides what is asked and accepted; no wording, and not the step it stands in."""
    return repr(_canonical(replace(item, step=""), False))


def _rule(check: CheckRule) -> str:
    return repr(_canonical(replace(check, step=""), False))


# --------------------------------------------------------------------------------------------- against the outline


def _texts(value: Any) -> list[str]:
    return [v for v in value if isinstance(v, str)] if isinstance(value, (list, tuple)) else []


def _parts(lines: Iterable[str]) -> dict[str, list[str]]:
    return {words[0]: words[1:] for line in lines if (words := line.split())}


def _compared(before: Mapping[str, Any], checklist: Checklist) -> Iterator[str]:
    now = outline(checklist)
    steps = before.get("steps")
    old = _parts(t for lines in (steps.values() if isinstance(steps, Mapping) else ()) for t in _texts(lines))
    new = _parts(t for lines in now["steps"].values() for t in lines)
    labels = {i.id: i.label for i in checklist.all_items()}
    yield from _told("new items", [f"'{labels[n]}'" for n in new if n not in old])
    yield from _told("items that are gone", [units.clip(n) for n in old if n not in new])
    both = [n for n in new if n in old]
    yield from _told("items that ask something else", [f"'{labels[n]}'" for n in both if new[n][:1] != old[n][:1]])
    reworded = [n for n in both if new[n][:1] == old[n][:1] and new[n][1:] != old[n][1:]]
    yield from _told("items worded differently", [f"'{labels[n]}'" for n in reworded])
    yield from _limits(before.get("limits"), checklist)
    was, are = _parts(_texts(before.get("checks"))), _parts(now["checks"])
    titles = {c.id: c.title for c in checklist.checks}
    yield from _told("new checks", [f"'{titles[n]}'" for n in are if n not in was])
    yield from _told("checks that are gone", [units.clip(n) for n in was if n not in are])
    yield from _told("checks that judge differently", [f"'{titles[n]}'" for n in are if n in was and are[n] != was[n]])


def asked_since(build: Build, checklist: Checklist) -> tuple[frozenset[str], frozenset[str]]:
    """Items and checks that a build's own checklist did not have, or had otherwise; none where its file is silent."""
    before = build.snapshot.get(KEY)
    if build.checklist.sha256 == checklist.sha256 or not isinstance(before, Mapping):
        return frozenset(), frozenset()
    steps, now = before.get("steps"), outline(checklist)
    old = _parts(t for lines in (steps.values() if isinstance(steps, Mapping) else ()) for t in _texts(lines))
    new = _parts(t for lines in now["steps"].values() for t in lines)
    was, are = _parts(_texts(before.get("checks"))), _parts(now["checks"])
    if not old or not was:
        return frozenset(), frozenset()
    return (frozenset(n for n in new if n not in old or old[n][:1] != new[n][:1]),
            frozenset(n for n in are if are[n] != was.get(n)))


def _limits(before: Any, checklist: Checklist) -> Iterator[str]:
    old = {k: v for k, v in before.items() if isinstance(v, str)} if isinstance(before, Mapping) else {}
    for policy in checklist.policies:
        if policy.id in old and old[policy.id] != policy.text:
            yield f"limit '{policy.label}' was {units.clip(old[policy.id])}, is now {policy.text}"
    yield from _told("new limits", [f"'{p.label}' {p.text}" for p in checklist.policies if p.id not in old])
    yield from _told("limits that are gone", [units.clip(n) for n in old if n not in checklist.policy])


def _told(what: str, names: list[str]) -> Iterator[str]:
    if names:
        more = f" and {len(names) - SHOWN} more" if len(names) > SHOWN else ""
        yield f"{what}: {', '.join(names[:SHOWN])}{more}"


# ------------------------------------------------------------------------------------------------- against the build


def _no_longer_fits(build: Build, checklist: Checklist) -> Iterator[str]:
    """Answers, limits and waivers of the build that the checklist has no place for."""
    yield from _told("kept, though the checklist does not ask for it any more",
                     [units.clip(n) for n in build.entries if n not in checklist.items])
    for item in checklist.all_items():
        entry = build.entry(item.id)
        for reading in entry.standing:
            if told := misfit(item, reading.text):
                yield f"the answer to '{item.label}' does not fit any more: {told}"
        for row in entry.rows:
            for column in item.columns:
                text = row.text(column.id)
                if text and (told := column_misfit(column, text)):
                    yield f"'{item.label}', {item.row_name} {units.clip(row.id)}: {told}"
    yield from _told("limits changed in the build that the checklist does not have",
                     [units.clip(n) for n in build.policy if n not in checklist.policy])
    yield from _told("accepted cautions that the checklist does not have",
                     [units.clip(w.check) for w in build.waivers if w.check not in checklist.check])
