"""What an answer rests on, and has to be there first: a "yes" over empty readings settles nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist, Item
from buildtrack.workings.asked import applies, visible_columns
from buildtrack.workings.graph import Sheet


@dataclass(frozen=True, slots=True)
class Lack:
    """An item, or a column of a table, that is empty."""

    name: str
    """Item, or table.column."""
    rows: tuple[str, ...] = ()
    """The rows in which the column is empty; none where the whole item is."""


def lacking(item: Item, build: Build, checklist: Checklist, sheet: Sheet) -> tuple[Lack, ...]:
    """What `item` rests on (`filled_first`) and is empty; what is not asked for in this build, or left out, is not."""
    if not applies(item.filled_first_if, build, sheet):
        return ()
    found = (_lack(name, build, checklist, sheet) for name in item.filled_first)
    return tuple(dict.fromkeys(each for each in found if each is not None))


def _lack(name: str, build: Build, checklist: Checklist, sheet: Sheet) -> Lack | None:
    below, _, wanted = name.partition(".")
    item = checklist.items.get(below)
    if item is None or (item.only_if and not applies(item.only_if, build, sheet)):
        return None
    entry = build.entry(below)
    if not entry.rows and not entry.standing:
        left_out = entry.left_out is not None and item.need != "must"
        return None if left_out else Lack(below)
    if not wanted or all(c.id != wanted for c in visible_columns(item, build, sheet)):
        return None
    rows = tuple(r.id for r in entry.rows if not r.text(wanted) and r.text("decision") != "reject")
    return Lack(name, rows) if rows else None


def lacking_words(lacks: Sequence[Lack], checklist: Checklist) -> str:
    """What is empty, in words: each table once, with its columns and rows."""
    told = []
    for below in dict.fromkeys(each.name.partition(".")[0] for each in lacks):
        item = checklist.items[below]
        mine = [each for each in lacks if each.name.partition(".")[0] == below]
        rows = list(dict.fromkeys(row for each in mine for row in each.rows))
        if not rows:
            told.append(f"'{item.label}' is empty")
            continue
        columns = [c.label for each in mine if (c := item.column(each.name.partition(".")[2])) is not None]
        more = f" and {len(rows) - 4} more" if len(rows) > 4 else ""
        told.append(f"'{item.label}' lacks {', '.join(columns)} ({', '.join(rows[:4])}{more})")
    return "; ".join(told)
