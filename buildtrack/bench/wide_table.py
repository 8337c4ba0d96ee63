"""A table of texts as aligned lines, its columns as wide as what stands in them."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from buildtrack.bench.plain import pad, plain
from buildtrack.bench.widgets.line_text import Line, Piece

GAP = 2


MOST = 40
"""Widest column; longer texts are cut [cells]."""


def widths(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[int]:
    """Width of every column: its longest text."""
    columns = [[cell_len(plain(str(t))) for t in column] for column in zip(head, *rows, strict=False)]
    return [min(MOST, max(column, default=1)) for column in columns]


def blocks(columns: Sequence[int], room: int) -> list[list[int]]:
    """Which columns stand beside each other, so that none is cut: the first, which names the rows, in every block."""
    found: list[list[int]] = [[0]]
    for number in range(1, len(columns)):
        taken = sum(columns[n] + GAP for n in found[-1])
        if taken + columns[number] > room and len(found[-1]) > 1:
            found.append([0])
        found[-1].append(number)
    return found


def _number(text: str) -> bool:
    return text[:1] in "0123456789+-−" and text[:1] != ""


def row_text(cells: Sequence[str], columns: Sequence[int], right: Sequence[bool]) -> str:
    """One row: numbers stand to the right."""
    parts = []
    for text, width, to_right in zip(cells, columns, right, strict=False):
        clean = plain(str(text))
        padded = pad(clean, width)
        parts.append(f"{clean:>{width}}" if to_right and cell_len(clean) <= width else padded)
    return (" " * GAP).join(parts).rstrip()


def table_lines(head: Sequence[str], rows: Sequence[Sequence[str]], room: int) -> list[Line]:
    """Head and rows as lines of a list; what has no room beside each other stands below, with the names again."""
    columns = [min(w, max(6, room)) for w in widths(head, rows)]
    right = [all(_number(str(r[n])) for r in rows if n < len(r) and r[n]) for n in range(len(head))]
    found: list[Line] = []
    for block in blocks(columns, room):
        if found:
            found.append(Line((Piece(""),)))
        wide, to_right = [columns[n] for n in block], [right[n] for n in block]
        found.append(Line((Piece(row_text([head[n] for n in block], wide, to_right), "muted"),)))
        picked = ([str(r[n]) if n < len(r) else "" for n in block] for r in rows)
        found += [Line((Piece(row_text(cells, wide, to_right)),)) for cells in picked]
    return found
