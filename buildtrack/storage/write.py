"""Build files out: the old text with the changed values put in; proven by reading it again before it is used."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist
from buildtrack.storage import make_tree, toml_patch
from buildtrack.storage.build_file import BuildFileError, Opened, open_text
from buildtrack.storage.unknown import keep_unknown


class WriteError(ValueError):
    """A build that cannot be written as a file that reads back as the same; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Written:
    """A text that was proven to read back as the build."""

    opened: Opened
    fresh: bool = False
    """Whether the layout of the old text could not be kept."""
    report: str = ""
    """Why not."""

    @property
    def text(self) -> str:
        """The text, LF line ends."""
        return self.opened.text


def _step_of(build: Build, checklist: Checklist | None, steps: Mapping[str, str]) -> dict[str, str]:
    """The step every item is written under: as the file has it, else the checklist, else the history."""
    found: dict[str, str] = {event.item: event.step for event in build.history if event.step}
    if checklist is not None:
        found.update({item.id: item.step for item in checklist.all_items()})
    return {**found, **steps}


def _target(build: Build, checklist: Checklist | None, before: Opened | None) -> dict[str, Any]:
    """The tables that are to stand in the file."""
    where = _step_of(build, checklist, before.steps if before else {})
    order: Iterable[str] = checklist.items if checklist is not None else ()
    tree = make_tree.file_tree(build, lambda item: where.get(item, "other"), order)
    if before is None:
        return tree
    for step, items in before.tree.get("steps", {}).items():
        for item, body in items.items():
            if item in build.entries and isinstance(body, dict):  # its table may hold keys that are not ours
                tree.setdefault("steps", {}).setdefault(step, {}).setdefault(item, {})
    return keep_unknown(before.tree, tree)


def _proven(text: str, target: Mapping[str, Any], build: Build) -> Opened | str:
    """The text as read back where it is what was meant; else what is wrong with it."""
    try:
        opened = open_text(text, quickly=False)
    except BuildFileError as error:
        return str(error)
    if not toml_patch.same(opened.tree, dict(target)):
        return "it would not read back as what was entered"
    if opened.build != build:
        return "the build read back would differ from the one in memory"
    return opened


def _patched(before: Opened, target: Mapping[str, Any], build: Build) -> Opened | str:
    try:
        stands = before.tree if before.raw is None else before.raw
        text = toml_patch.patch(before.text, stands, target, whole=frozenset({"snapshot"}))
    except Exception as error:  # whatever tomlkit stumbles over: the fresh text below is proven by itself
        return f"{type(error).__name__}: {error}"
    return _proven(text, target, build)


def rewrite(build: Build, checklist: Checklist | None, before: Opened | None = None,
            snapshot: Mapping[str, object] | None = None) -> Written:
    """The text for a build, made from the text it was read from where there is one.

    snapshot: replaces the build's own. Raises WriteError where the build holds what no file can (a bug, not a reading).
    """
    if snapshot is not None:
        build = replace(build, snapshot=make_tree.plain(snapshot))
    report = ""
    try:
        target = _target(build, checklist, before)
        if before is not None:
            found = _patched(before, target, build)
            if isinstance(found, Opened):
                return Written(found)
            report = found
        text = toml_patch.write(target)
        text.encode()
    except (TypeError, ValueError) as error:
        raise WriteError(f"the build cannot be written: {error}") from error
    found = _proven(text, target, build)
    if isinstance(found, Opened):
        return Written(found, fresh=bool(report), report=report)
    raise WriteError(f"the build cannot be written: {found}")


def to_text(build: Build, checklist: Checklist | None, previous_text: str | None = None,
            snapshot: Mapping[str, object] | None = None) -> str:
    """The text for a build; comments, order and unknown keys of `previous_text` stay, and so do its line ends."""
    if previous_text is None:
        return rewrite(build, checklist, None, snapshot).text
    crlf = "\r\n" in previous_text
    before = open_text(previous_text.removeprefix("\ufeff").replace("\r\n", "\n"))
    text = rewrite(build, checklist, before, snapshot).text
    return text.replace("\n", "\r\n") if crlf else text


