"""A table of texts as aligned lines, its columns as wide as what stands in them."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from rich.cells import cell_len, chop_cells

from buildtrack.bench.plain import pad, plain
from buildtrack.bench.widgets.line_text import Line, Piece

GAP = 2


MOST = 40
"""A column is so wide at most while others want room beside it; what is left over goes to the longer ones [cells]."""


def widths(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[int]:
    """Width of every column: its longest text."""
    columns = [[cell_len(plain(str(t))) for t in column] for column in zip(head, *rows, strict=False)]
    return [max(1, *column) for column in columns]


def widened(block: Sequence[int], columns: list[int], wanted: Sequence[int], room: int) -> None:
    """Give the room that is left in a block to the columns that want more, from the last on, in place."""
    spare = room - sum(columns[n] for n in block) - GAP * (len(block) - 1)
    for number in reversed(block):
        more = min(max(0, spare), wanted[number] - columns[number])
        columns[number] += more
        spare -= more


def broken(text: str, width: int) -> list[str]:
    """A text in parts of at most so many cells; nothing of it is cut."""
    parts = textwrap.wrap(plain(text), width) or [""]
    return [piece for part in parts for piece in (chop_cells(part, width) if cell_len(part) > width else [part])]


def blocks(columns: Sequence[int], room: int) -> list[list[int]]:
    """Which columns stand beside each other, each in its width: the first, which names the rows, in every block."""
    found: list[list[int]] = [[0]]
    for number in range(1, len(columns)):
        taken = sum(columns[n] + GAP for n in found[-1])
        if taken + columns[number] > room and len(found[-1]) > 1:
            found.append([0])
        found[-1].append(number)
    return found


def _number(text: str) -> bool:
    return text[:1] in "0123456789+-−" and text[:1] != ""


def row_text(cells: Sequence[str], columns: Sequence[int], right: Sequence[bool]) -> list[str]:
    """One row: numbers stand to the right; what is longer than its column goes on beneath."""
    parts = [broken(str(text), width) for text, width in zip(cells, columns, strict=False)]
    found = []
    for number in range(max(map(len, parts), default=0)):
        texts = [part[number] if number < len(part) else "" for part in parts]
        padded = [f"{' ' * (width - cell_len(text))}{text}" if to_right else pad(text, width)
                  for text, width, to_right in zip(texts, columns, right, strict=False)]  # fmt: skip
        found.append((" " * GAP).join(padded).rstrip())
    return found


def table_lines(head: Sequence[str], rows: Sequence[Sequence[str]], room: int) -> list[Line]:
    """Head and rows as lines of a list; what has no room beside each other stands below, with the names again."""
    room = max(6, room)
    wanted = widths(head, rows)
    columns = [min(width, MOST, room) for width in wanted]
    # A text column beside a column of names never goes past the page, however narrow that is.
    columns[1:] = [min(width, max(6, room - columns[0] - GAP)) for width in columns[1:]]
    right = [all(_number(str(r[n])) for r in rows if n < len(r) and r[n]) for n in range(len(head))]
    found: list[Line] = []
    for block in blocks(columns, room):
        if found:
            found.append(Line((Piece(""),)))
        widened(block, columns, wanted, room)
        wide, to_right = [columns[n] for n in block], [right[n] for n in block]
        found += [Line((Piece(text, "muted"),)) for text in row_text([head[n] for n in block], wide, to_right)]
        picked = ([str(r[n]) if n < len(r) else "" for n in block] for r in rows)
        found += [Line((Piece(text),)) for cells in picked for text in row_text(cells, wide, to_right)]
    return found
