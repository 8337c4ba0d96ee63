"""Where typed texts belong: whether there is still a place for one, and its name in words. Knows no screen."""

from __future__ import annotations

from collections.abc import Mapping

from buildtrack.bench import rows
from buildtrack.bench.desk import Desk
from buildtrack.bench.drafts import THE_BUILD, Place
from buildtrack.bench.plain import plain
from buildtrack.storage.typed_file import QUESTION


def has_place(place: Place, desk: Desk) -> bool:
    """Whether what was typed there can be seen again: its item and column exist, or its question can come again."""
    checklist = desk.checklist
    name, *field = (place[2:] or (QUESTION,)) if place[0] == QUESTION else place
    item = checklist.items.get(name)
    if place[0] != QUESTION:
        return item is not None and (len(field) < 2 or item.column(field[1]) is not None)
    if item is None:
        return place[2:] == THE_BUILD or not field and (name in checklist.check or name in checklist.policy)
    row_is_there = not field or field[0] in rows.row_names(item, desk)
    return row_is_there and (len(field) < 2 or item.column(field[1]) is not None)


def item_of(place: Place, desk: Desk) -> str:
    """The item that a text was typed for; empty where there is none."""
    names = place[2:3] if place[0] == QUESTION else place[:1]
    return next((name for name in names if name in desk.checklist.items), "")


def told(place: Place, text: str, desk: Desk) -> str:
    """A typed text with where it was typed, in words."""
    item = desk.checklist.items.get(item_of(place, desk))
    if place[0] == QUESTION:
        label = f"{item.label}: " if item is not None and item.label not in place[1] else ""
        return f"{plain(label)}{plain(place[1])} {plain(text)}"
    name, *field = place
    column = item.column(field[1]) if item is not None and len(field) > 1 else None
    row = [f"in place of {field[0]}"] if len(field) == 1 else field[:1]
    where = [item.label if item is not None else name, *row, column.label if column is not None else ""]
    return f"{', '.join(plain(w) for w in where if w)}: {plain(text)}"


def told_all(texts: Mapping[Place, str], desk: Desk) -> list[str]:
    """Typed texts with where they were typed, in words."""
    return [told(place, text, desk) for place, text in texts.items()]
