"""A table of texts as aligned lines, its columns as wide as what stands in them."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from buildtrack.bench.plain import pad, plain
from buildtrack.bench.widgets.line_text import Line, Piece

GAP = 2


def widths(head: Sequence[str], rows: Sequence[Sequence[str]], room: int, most: int = 28) -> list[int]:
    """Width of every column: its longest text, narrowed from the widest down until the row fits."""
    columns = [[cell_len(plain(str(t))) for t in column] for column in zip(head, *rows, strict=False)]
    found = [min(most, max(column, default=1)) for column in columns]
    while found and sum(found) + GAP * (len(found) - 1) > room and max(found) > 6:
        found[found.index(max(found))] -= 1
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
    """Head and rows as lines of a list."""
    columns = widths(head, rows, room)
    right = [all(_number(str(r[n])) for r in rows if n < len(r) and r[n]) for n in range(len(head))]
    found = [Line((Piece(row_text(head, columns, right), "muted"),))]
    found += [Line((Piece(row_text(row, columns, right)),)) for row in rows]
    return found
