"""Includes put into a checklist: shared steps, items, policy values and checks, and what the checklist fixes.

What is written once in `shared/*.toml` is named by the checklists that use it. Every part keeps the file and line it
was written at, so that a mistake is told where it can be mended.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from buildtrack import units
from buildtrack.storage import toml_guard, toml_lines
from buildtrack.storage.checklist_fixed import is_plain_path, listed, settled
from buildtrack.storage.checklist_reader import Places, Problem, Source
from buildtrack.storage.text_file import read_text

Raw = dict[str, Any]
Where = toml_lines.Path
SHARED = frozenset({"format", "step", "items", "policy", "checks", "cautions", "mistakes", "use_checks", "change"})
"""Keys of a shared file."""
STEP_HEAD = ("id", "title", "minutes", "intro", "cautions", "workings", "also")
_ITEM_INCLUDE = frozenset({"include", "items", "leave_out"})


@dataclass(frozen=True, slots=True)
class Shared:
    """A shared file as read."""

    source: Source
    raw: Raw
    text: str
    items: dict[str, int]
    """Place of every item in the file, by id."""


@dataclass(slots=True)
class Expanded:
    """A checklist with its includes put in."""

    raw: Raw
    places: Places
    problems: list[Problem] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)
    """Texts of the files put in, each once."""
    included: set[Where] = field(default_factory=set)
    """Paths of items that came from a shared file."""

    def note(self, path: Where, where: str, message: str) -> None:
        self.problems.append(self.places.problem(path, where, message))


def _copied(part: Any) -> Any:
    """A part of a file that may be changed: its tables and lists copied; texts, numbers and moments never change."""
    if isinstance(part, dict):
        return {key: _copied(value) for key, value in part.items()}
    return [_copied(value) for value in part] if isinstance(part, list) else part


@lru_cache(maxsize=64)
def _parsed(path: Path, _stamp: tuple[int, int], name: str) -> Shared:
    text = read_text(path)
    raw = toml_guard.loads(text, toml_guard.MOST_TABLES_OF_A_CHECKLIST)
    items = {str(body.get("id", "")): n for n, body in enumerate(listed(raw.get("items"))) if isinstance(body, dict)}
    return Shared(Source(name, text), raw, text, items)


def _inside(folder: Path, name: str) -> Path | None:
    """The file of this name inside `folder`, after following links; None where it is not there or leads out."""
    path = (folder / name).resolve()
    return path if path.is_file() and path.is_relative_to(folder.resolve()) else None


class Expander:
    """Puts the includes of one checklist in."""

    def __init__(self, text: str, raw: Raw, folders: Sequence[Path]) -> None:
        self.folders = folders
        self.main = Source("", text)
        self.done = Expanded(_copied(raw), Places(self.main))
        fixed = raw.get("fixed", {})
        self.fixed: Mapping[str, str] = fixed if isinstance(fixed, dict) else {}
        self._seen: set[str] = set()
        self._taken = 0
        """How many bytes were included, a file as often as it is [bytes]."""
        self._changes: list[tuple[Raw, Source]] = []
        """Tables of changes to shared items: those of the files included at the top, then the checklist's own."""
        self._changed_ids: set[str] = set()
        self._checks: list[tuple[Any, Shared, int]] = []

    def run(self) -> Expanded:
        """The whole, with every include in its place."""
        self._top()
        steps = self.done.raw.get("steps", [])
        if isinstance(steps, list):
            for number, step in enumerate(steps):
                if isinstance(step, dict):
                    self._step(step, number)
        self._unused_changes()
        self._links()
        return self.done

    def shared(self, name: Any, path: Where, where: str) -> Shared | None:
        """A shared file by its name; a problem is noted where it cannot be had, and once where all is too much."""
        if self._taken > toml_guard.MOST_INCLUDED:
            return None
        if not isinstance(name, str) or not is_plain_path(name):
            self.done.note(path, where, f"'include' is {units.clip(repr(name))}; it must name a file inside the "
                                        f"checklist folder, like \"shared/bench.toml\"")
            return None
        found = next((p for folder in self.folders if (p := _inside(folder, name))), None)
        if found is None:
            self.done.note(path, where, f"there is no file '{units.clip(name)}' to include")
            return None
        try:
            stat = found.stat()
            self._taken += stat.st_size
            if self._taken > toml_guard.MOST_INCLUDED:
                self.done.note(path, where, f"all that is included is more than the {toml_guard.MOST_INCLUDED} "
                                            "characters this program takes; from here on nothing is included")
                return None
            shared = _parsed(found, (stat.st_mtime_ns, stat.st_size), name)
        except toml_guard.Refused as error:
            self.done.problems.append(Problem(max(error.line, 1), "file", error.message, name))
            return None
        except ValueError as error:
            self.done.note(path, where, str(error))
            return None
        if name not in self._seen:
            self._seen.add(name)
            self.done.texts.append(shared.text)
            self._shape(shared)
        return shared

    def _shape(self, shared: Shared) -> None:
        for key in shared.raw:
            if key not in SHARED:
                line = toml_lines.line_of(shared.source.lines, (key,))
                self.done.problems.append(Problem(line, "file", f"'{key}' is not a key of a shared file",
                                                  shared.source.name))

    # ------------------------------------------------------------------------------------ the head of the checklist

    def _top(self) -> None:
        raw = self.done.raw
        names = raw.pop("include", [])
        for name in names if isinstance(names, list) else [names]:
            shared = self.shared(name, ("include",), "file")
            if shared is not None:
                self._merge(raw, shared)
                self._take_changes(shared.raw.get("change", {}), shared.source)
        self._take_changes(raw.pop("change", {}), self.main)
        policy = raw.get("policy", {})
        for name in listed(raw.get("leave_out_policies")):
            if isinstance(policy, dict) and isinstance(name, str):
                policy.pop(name, None)

    def _merge(self, raw: Raw, shared: Shared) -> None:
        for key in ("policy", "mistakes"):
            given, own = shared.raw.get(key, {}), raw.setdefault(key, {})
            for name, body in (given.items() if isinstance(given, dict) and isinstance(own, dict) else ()):
                if name not in own:
                    own[name] = _copied(body)
                    self.done.places.origins[(key, name)] = (shared.source, (key, name))
        for key in ("cautions", "use_checks"):
            own = raw.get(key, [])
            given = shared.raw.get(key, [])
            if isinstance(own, list) and isinstance(given, list) and given:
                raw[key] = [*(x for x in given if x not in own), *own]
        self._checks += [(body, shared, n) for n, body in enumerate(listed(shared.raw.get("checks")))]

    def _take_changes(self, change: Any, source: Source) -> None:
        if isinstance(change, dict) and all(isinstance(c, dict) for c in change.values()):
            self._changes.append((change, source))
            return
        line = toml_lines.line_of(source.lines, ("change",))
        self.done.problems.append(Problem(line, "change", "holds one table for each item changed", source.name))

    def _unused_changes(self) -> None:
        for name in self._changes[-1][0] if self._changes and self._changes[-1][1] is self.main else ():
            if name not in self._changed_ids:
                line = toml_lines.line_of(self.main.lines, ("change", name))
                self.done.problems.append(Problem(line, "change", f"'{name}' is not an item put in from a shared file"))

    # ------------------------------------------------------------------------------------------------ steps and items

    def _step(self, step: Raw, number: int) -> None:
        path: Where = ("steps", number)
        own = step.get("items", [])
        if not isinstance(own, list) or not all(isinstance(i, dict) for i in own):
            return  # told by the reader
        items: list[Raw] = []
        origins: list[tuple[tuple[Source, Where], dict[Where, tuple[Source, Where]], bool]] = []
        if "include" in step:
            body = {k: step.pop(k) for k in tuple(step) if k in _ITEM_INCLUDE and k != "items"}
            self._head(step, body["include"], path)
            self._put_in(body, path, items, origins)
        for k, item in enumerate(own):
            here = (*path, "items", k)
            if "include" in item:
                self._put_in(item, here, items, origins)
            else:
                items.append(item)
                origins.append(((self.main, here), {}, False))
        kept: list[Raw] = []
        for item, (origin, inner, is_shared) in zip(items, origins, strict=True):
            if not self._settle(item):
                continue
            place = (*path, "items", len(kept))
            self.done.places.origins[place] = origin
            self.done.places.origins.update({(*place, *key): value for key, value in inner.items()})
            if is_shared:
                self.done.included.add(place)
            kept.append(item)
        step["items"] = kept

    def _head(self, step: Raw, name: Any, path: Where) -> None:
        shared = self.shared(name, path, "step")
        head = shared.raw.get("step", {}) if shared else {}
        for key in STEP_HEAD:
            if shared and isinstance(head, dict) and key in head and key not in step:
                step[key] = _copied(head[key])
                self.done.places.origins[(*path, key)] = (shared.source, ("step", key))

    def _put_in(self, body: Raw, path: Where, items: list[Raw],
                origins: list[tuple[tuple[Source, Where], dict[Where, tuple[Source, Where]], bool]]) -> None:
        where = "include"
        for key in body:
            if key not in _ITEM_INCLUDE:
                self.done.note((*path, key), where, f"'{key}' cannot stand beside 'include': "
                               f"what differs goes under [change.ITEM]")
        shared = self.shared(body["include"], path, where)
        if shared is None:
            return
        for name in self._chosen(body, shared, path):
            number = shared.items[name]
            item = _copied(shared.raw["items"][number])
            inner: dict[Where, tuple[Source, Where]] = {}
            for change, source in self._changes:
                if name in change:
                    self._change(item, change[name], source, inner)
            items.append(item)
            origins.append(((shared.source, ("items", number)), inner, True))
            self._changed_ids.add(name)

    def _chosen(self, body: Raw, shared: Shared, path: Where) -> list[str]:
        wanted = body.get("items")
        names = list(shared.items) if wanted is None else wanted
        left_out = body.get("leave_out", [])
        if not isinstance(names, list) or not isinstance(left_out, list):
            self.done.note(path, "include", "'items' and 'leave_out' are lists of ids")
            return []
        for key, given in (("items", names), ("leave_out", left_out)):
            for name in given:
                if not isinstance(name, str) or name not in shared.items:
                    self.done.note((*path, key), "include",
                                   f"'{units.clip(str(name))}' is not an item of {shared.source.name}")
        return [n for n in names if isinstance(n, str) and n in shared.items and n not in left_out]

    def _change(self, item: Raw, change: Raw, source: Source, inner: dict[Where, tuple[Source, Where]]) -> None:
        """Put one table of changes into an item; `inner` keeps where its changed parts are written."""
        name = item.get("id")
        path: Where = ("change", str(name))
        columns = [c for c in listed(item.get("columns")) if isinstance(c, dict)]
        if "keep_columns" in change:
            known = [c.get("id") for c in columns]
            wanted = listed(change["keep_columns"])
            for column in wanted:
                if column not in known:
                    self._note(source, (*path, "keep_columns"), f"item {name}", f"there is no column '{column}'")
            columns = item["columns"] = [c for c in columns if c.get("id") in wanted]
        for key, value in change.items():
            if key in ("id", "kind"):
                self._note(source, (*path, key), f"item {name}", f"'{key}' of a shared item cannot be changed")
            elif key == "columns" and isinstance(value, dict):
                self._change_columns(item, columns, value, source, inner)
            elif key != "keep_columns":
                item[key] = _copied(value)
                inner[(key,)] = (source, (*path, key))

    def _change_columns(self, item: Raw, columns: list[Raw], change: Raw, source: Source,
                        inner: dict[Where, tuple[Source, Where]]) -> None:
        places = {c.get("id"): n for n, c in enumerate(columns)}
        path: Where = ("change", str(item.get("id")), "columns")
        for name, body in change.items():
            if name not in places:
                if source is self.main:  # a shared file may change columns that this checklist leaves out
                    self._note(source, (*path, name), f"item {item.get('id')}", f"there is no column '{name}'")
                continue
            for key, value in body.items() if isinstance(body, dict) else ():
                columns[places[name]][key] = _copied(value)
                inner[("columns", places[name], key)] = (source, (*path, name, key))

    def _note(self, source: Source, path: Where, where: str, message: str) -> None:
        self.done.problems.append(Problem(toml_lines.line_of(source.lines, path), where, message, source.name))

    # -------------------------------------------------------------------------------- what the kind of retrofit fixes

    def _settle(self, item: Raw) -> bool:
        """Decide the conditions on fixed answers; False where the item is never asked."""
        conditions = settled(item.get("only_if"), self.fixed)
        if conditions is None:
            return False
        if "only_if" in item:
            item["only_if"] = conditions
        if "filled_first_if" in item:
            rests = settled(item["filled_first_if"], self.fixed)
            item["filled_first_if"] = rests or []
            item["filled_first"] = [] if rests is None else item.get("filled_first", [])
        kept = []
        for column in listed(item.get("columns")):
            mine = settled(column.get("only_if"), self.fixed) if isinstance(column, dict) else []
            if mine is not None:
                if isinstance(column, dict) and "only_if" in column:
                    column["only_if"] = mine
                kept.append(column)
        if "columns" in item and isinstance(item["columns"], list):
            item["columns"] = kept
        return True

    def _links(self) -> None:
        """Links of shared items to items that this checklist does not have fall away."""
        steps = self.done.raw.get("steps", [])
        asked = [i for s in steps if isinstance(s, dict) for i in s.get("items", [])
                 if isinstance(i, dict)] if isinstance(steps, list) else []
        every = {str(i.get("id")) for i in asked}
        columns = ((i, c) for i in asked for c in listed(i.get("columns")) if isinstance(c, dict))
        fields = {f"{i.get('id')}.{c.get('id')}" for i, c in columns}
        for place in self.done.included:
            item = steps[int(place[1])]["items"][int(place[3])]
            if isinstance(item.get("rests_on"), list):
                item["rests_on"] = [n for n in item["rests_on"] if n in every]
            if isinstance(item.get("filled_first"), list):
                item["filled_first"] = [n for n in item["filled_first"] if n in every or n in fields]
            if item.get("expires_before") and item["expires_before"] not in every:
                del item["expires_before"]
        self._add_checks(every)

    def _add_checks(self, every: set[str]) -> None:
        """Checks of shared files; those that look at an item of their own file which was not taken fall away."""
        checks = self.done.raw.setdefault("checks", [])
        for body, shared, number in self._checks if isinstance(checks, list) else ():
            looks_at = str(body.get("value", "")).partition(".")[0] if isinstance(body, dict) else ""
            if looks_at not in shared.items or looks_at in every:
                checks.append(_copied(body))
                self.done.places.origins[("checks", len(checks) - 1)] = (shared.source, ("checks", number))
