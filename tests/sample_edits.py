"""Edits of the shipped samples, drawn at random, for tests that hold a quick way against the long one."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from hypothesis import strategies as st

from buildtrack.model import edit
from buildtrack.model.build import Build, Cell, Reading, Row
from buildtrack.model.checklist import Checklist, Item
from buildtrack.model.edit import EditError, Hand
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples

SAMPLES = ("garden-screwdriver-cleared", "drill-not-cleared", "grass-shears-in-progress", "path-light-cleared")
ODD = ("nonsense", "0", "-1", "yes", "no", "4.1", "3.85 V", "12 A", "2000 mAh", "25 °C", "2027-03-01")


@cache
def sample(name: str) -> tuple[Build, Checklist, Path]:
    """A sample with its checklist and folder."""
    path = shipped_samples() / f"{name}.toml"
    build = read_build(path).build
    return build, find_checklist(build.checklist.id), path.parent


Draw = tuple[int, int, int, int]
"""Which item, what is done with it, with which of its parts, and which text is put in."""
DRAWS = st.tuples(st.integers(0, 10**6), st.integers(0, 9), st.integers(0, 10**6), st.integers(0, 10**6))


def edited(build: Build, checklist: Checklist, draw: Draw, hand: Hand) -> Build:
    """The build after the edit drawn; the same one where the model refuses that edit."""
    which, kind, part, text = draw
    try:
        if kind == 9 and part % 3 == 0:
            return edit.end_early(build, "tried", hand) if build.ended is None else edit.reopen(build, "tried", hand)
        if kind == 9:
            caution = [c for c in checklist.checks if c.severity == "caution"]
            return edit.waive(build, checklist, caution[which % len(caution)].id, "tried", hand)
        if kind == 8:
            policy = checklist.policies[which % len(checklist.policies)]
            return edit.set_policy(build, policy.id, _other(policy.text, text), "tried", hand)
        items = [i for i in checklist.all_items() if kind == 7 or i.id in build.entries]
        return _item_edited(build, items[which % len(items)], kind, part, text, hand)
    except EditError:
        return build


def _item_edited(build: Build, item: Item, kind: int, part: int, text: int, hand: Hand) -> Build:
    entry = build.entry(item.id)
    if kind == 6:
        return edit.leave_out(build, item, "tried", hand)
    if item.kind == "table":
        row = entry.rows[part % len(entry.rows)] if entry.rows else Row("x1")
        if not entry.rows:
            build = edit.add_row(build, item, row.id, hand)
        elif kind == 5:
            return edit.delete_row(build, item, row.id, "tried", hand)
        names = [c.id for c in item.columns if kind == 4 or c.id in row.cells] or [item.columns[0].id]
        column = names[text % len(names)]
        cell = row.cells.get(column, Cell(""))
        return edit.set_cell(build, item, row.id, column, Cell(_other(cell.text, text), hand.at, cell.instrument), hand)
    if kind == 5 and entry.readings:
        return edit.withdraw_reading(build, item, part % len(entry.readings), "tried", hand)
    last = entry.readings[-1] if entry.readings else Reading("")
    return edit.add_reading(build, item, Reading(_other(last.text, text), hand.at, last.instrument), hand)


def _other(text: str, number: int) -> str:
    """Another text in place of one: a digit changed, or something odd."""
    digits = [n for n, c in enumerate(text) if c.isdigit()]
    if number % 4 == 0 or not digits:
        return ODD[number // 4 % len(ODD)]
    place = digits[number // 4 % len(digits)]
    return f"{text[:place]}{(int(text[place]) + number % 9 + 1) % 10}{text[place + 1:]}"
