"""What is said about one field of a table, under the table. Knows no screen."""

from __future__ import annotations

import re

from rich.cells import cell_len

from buildtrack.bench import rows, words
from buildtrack.bench.desk import Desk
from buildtrack.bench.plain import plain
from buildtrack.bench.words import option_label
from buildtrack.model.checklist import Column, Item
from buildtrack.model.instruments import taken_with
from buildtrack.workings.typed_days import EXAMPLE

PLACEHOLDERS = {
    "reading": "type a number",
    "choice": "type the number or the word",
    "tick": "type y or n",
    "date": f"type a date like {EXAMPLE}",
}


GLUE = "\ue000"
"""Stands for a blank at which no line ends (a character of private use: no text of a checklist holds it)."""


def unparted(text: str, width: int) -> str:
    """A text that fits as it is, else in lines of so many cells; no line ends at GLUE."""
    if GLUE not in text or cell_len(text) <= width:
        return plain(text.replace(GLUE, " "))
    lines = [""]
    for word in re.findall(r"\S+\s*", text):
        if lines[-1] and cell_len(lines[-1] + word.rstrip()) > width:
            lines.append("")
        lines[-1] += word
    return "\n".join(plain(one.rstrip().replace(GLUE, " ")) for one in lines)


def field_facts(desk: Desk, item: Item, column: Column, row: str) -> str:
    """What stands in a field of a table, what is usual there, what the past build had, and why it is asked."""
    parts = []
    if column.kind == "choice":
        parts.append("  ".join(f"{n} {o.label}".replace(" ", GLUE) for n, o in enumerate(column.options, 1)))
    if column.kind == "tick":
        parts.append("y yes  n no")
    parts += [words.usual_text(column, desk), words.example_text(item, column)]
    past = next((r for r in desk.build.entry(item.id).expected_rows if r.id == row), None)
    if past is not None and past.text(column.id):
        parts.append(f"in the past build: {past.text(column.id)}")
    present = desk.build.entry(item.id).row(row)
    cell = present.cells.get(column.id) if present is not None else None
    if cell is not None and cell.text:
        shown = option_label(column.options, cell.text) if column.kind == "choice" else cell.text
        taken = rows.in_words(item, column, present) if item.role == "instruments" and column.kind == "text" else ""
        shown = f"{shown}, taken as {taken}" if taken not in ("", shown) else shown
        name = taken_with(column, cell)
        meter = f"with {name}" if name else ""
        how = cell.note if cell.note == rows.FILLED_IN else cell.value_class
        parts.insert(0, " ".join(p for p in (f"now {shown},", how, meter) if p))
    if item.dated_by is not None and rows.lacks_date(item, present):
        parts.insert(0, f"▲ {row} has no date: when it was read is not known, and what is due stays due")
    if against := rows.spoken_against(desk, item).get(row):
        parts.insert(0, f"▲ against {row}: {against}. x rejects it")
    parts.append(column.why)
    return " · ".join(p for p in parts if p)
