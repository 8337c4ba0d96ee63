"""Texts of a checklist that cannot be read at the bench, and hold points that can hurt without saying so."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from buildtrack.model.checklist import Checklist, Item
from buildtrack.storage import toml_lines
from buildtrack.storage.checklist_file import Problem

Note = Callable[[toml_lines.Path, str, str], Problem]

LONGEST = {"label": 60, "why": 260, "how": 400, "caution": 260, "intro": 400}
"""Longest texts that still fit beside a reading [characters]."""
LONGEST_CAUTION = 260
LONGEST_PURPOSE = 240
LONGEST_HEAD = 8
"""Longest heading of a column that a table of 80 characters can carry."""
LONGEST_SENTENCE = 27
"""Most words in a sentence that is read with a meter in one hand: our own choice."""
_SENTENCE = re.compile(r"(?<=[.?;:]) ")
_HURTS = re.compile(
    r"\b(fires?|flames?|burn\w*|spark\w*|a short|shorted|short circuit|explo\w+|vent\w*|poison\w*|caustic|acid|"
    r"shock\w*|red hot|melt\w*|crush\w*|dangerous)\b", re.IGNORECASE)
"""Words by which a text says that something can hurt; our own choice."""


def problems(checklist: Checklist, note: Note) -> Iterator[Problem]:
    """Every text too long or missing, in the order of the checklist."""
    if len(checklist.purpose) > LONGEST_PURPOSE:
        yield note(("purpose",), "file", _too_long("purpose", checklist.purpose, LONGEST_PURPOSE))
    yield from _cautions(checklist.cautions, ("cautions",), "file", note)
    labels: dict[str, str] = {}
    for s, step in enumerate(checklist.steps):
        path: toml_lines.Path = ("steps", s)
        where = f"step {step.id}"
        if len(step.intro) > LONGEST["intro"]:
            yield note((*path, "intro"), where, _too_long("intro", step.intro, LONGEST["intro"]))
        yield from _sentences(step.intro, (*path, "intro"), where, "intro", note)
        yield from _cautions(step.cautions, (*path, "cautions"), where, note)
        for i, item in enumerate(step.items):
            here = (*path, "items", i)
            yield from _item(item, here, note)
            if item.label in labels:
                yield note((*here, "label"), f"{where}, item {item.id}", f"has the label of '{labels[item.label]}'")
            labels.setdefault(item.label, item.id)


def _item(item: Item, path: toml_lines.Path, note: Note) -> Iterator[Problem]:
    where = f"step {item.step}, item {item.id}"
    for key in ("label", "why", "how", "caution"):
        text = getattr(item, key)
        if len(text) > LONGEST[key]:
            yield note((*path, key), where, _too_long(key, text, LONGEST[key]))
        if key != "label":
            yield from _sentences(text, (*path, key), where, key, note)
    for n, column in enumerate(item.columns):
        head = column.head or column.label
        if len(head) > LONGEST_HEAD:
            told = f"column {column.id}: the heading '{head}' has {len(head)} characters; at most {LONGEST_HEAD} fit"
            yield note((*path, "columns", n), where, told)
    if item.hold:
        yield from _hold(item, path, where, note)


def _hold(item: Item, path: toml_lines.Path, where: str, note: Note) -> Iterator[Problem]:
    if not item.why:
        yield note(path, where, "a hold point needs a 'why'")
    if item.need != "must":
        yield note(path, where, "a hold point is a 'must'")
    hurts = _HURTS.search(f"{item.label} {item.why} {item.how}")
    if hurts and not item.caution:
        yield note(path, where, f"speaks of what can hurt ('{hurts.group(0)}'): a hold point like this needs a "
                                f"'caution'")


def _cautions(texts: tuple[str, ...], path: toml_lines.Path, where: str, note: Note) -> Iterator[Problem]:
    for text in texts:
        if len(text) > LONGEST_CAUTION:
            yield note(path, where, _too_long("cautions", text, LONGEST_CAUTION))
        yield from _sentences(text, path, where, "cautions", note)


def _sentences(text: str, path: toml_lines.Path, where: str, key: str, note: Note) -> Iterator[Problem]:
    for sentence in _SENTENCE.split(text):
        words = len(sentence.split())
        if words > LONGEST_SENTENCE:
            yield note(path, where, f"'{key}' has a sentence of {words} words; at most {LONGEST_SENTENCE} are read")


def _too_long(key: str, text: str, most: int) -> str:
    return f"'{key}' has {len(text)} characters; at most {most} can be read"
