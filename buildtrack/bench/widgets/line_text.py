"""What a list shows: lines of pieces, each in a look; and how a line is broken into rows of the screen."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from rich.cells import cell_len

from buildtrack.bench.plain import plain, wrap

MOST_BENEATH = 2
"""So many rows of a sentence stand beneath what it is of."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of text in one look, which is one of the `INKS` of the widget that draws it."""

    text: str
    look: str = "plain"


@dataclass(frozen=True, slots=True)
class Line:
    """One entry of the list; wraps over several rows where `wrapped`."""

    left: tuple[Piece, ...]
    right: tuple[Piece, ...] = ()
    key: str = ""
    """What it stands for; a line without a key cannot be chosen."""
    wrapped: bool = False
    indent: int = 0
    hang: int = 0
    """How much further in the second and later rows of a wrapped line stand."""
    whole: bool = False
    """Whether it takes more rows where it does not fit beside what stands at its right; else it is cut there."""


def line(text: str, look: str = "plain", right: str = "", key: str = "", right_look: str = "muted") -> Line:
    """A line of one piece on the left and perhaps one on the right."""
    return Line((Piece(plain(text), look),), (Piece(plain(right), right_look),) if right else (), key)


def prose(text: str, look: str = "plain", indent: int = 0, key: str = "", hang: int = 0) -> Line:
    """A line that wraps."""
    return Line((Piece(text, look),), (), key, wrapped=True, indent=indent, hang=hang)


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the screen: a line or a part of a wrapped one."""

    line: int = field(compare=False)
    """Place of the line in the list; rows that look the same are equal."""
    left: tuple[Piece, ...]
    right: tuple[Piece, ...] = ()
    first: bool = True


def broken(number: int, entry: Line, width: int) -> list[Row]:
    """The rows of one line at a width [cells]; `number` is its place in the list."""
    return [Row(number, left, right, first) for left, right, first in _rows(entry, width)]


Parts = tuple[tuple[Piece, ...], tuple[Piece, ...], bool]
"""Left, right and whether it is the first, of one row."""


@lru_cache(maxsize=2000)
def _rows(entry: Line, width: int) -> list[Parts]:
    """Most lines of a screen are those it showed before the last key."""
    if entry.whole and (rows := _in_full(entry, width)):
        return rows
    if not entry.wrapped:
        left = (Piece(" " * entry.indent), *entry.left) if entry.indent else entry.left
        return [(left, entry.right, True)]
    blank = " " * entry.indent
    piece = entry.left[0]
    lines = wrap(piece.text, width - 1 - entry.indent, " " * entry.hang)
    return [((Piece(blank + text, piece.look),), (), n == 0) for n, text in enumerate(lines)]


def _in_full(entry: Line, width: int) -> list[Parts]:
    """The rows of a line that is told in full; none where one row holds it."""
    left, right = _joined(entry.left), _joined(entry.right)
    if cell_len(left) + 1 + cell_len(right) <= width - 1:
        return []
    rows = [(text, entry.left[-1].look) for text in wrap(left, width - 1, "  ")]
    if cell_len(right) > width - 3:  # a sentence at the right begins beneath, at the left; Enter opens the rest
        told = wrap(right, width - 4, "")
        rows += [(f"  {text}", entry.right[-1].look) for text in told[:MOST_BENEATH]]
        if len(told) > MOST_BENEATH:
            rows[-1] = (f"{rows[-1][0]}…", rows[-1][1])
        return [(_looks(entry, text, look, n), (), n == 0) for n, (text, look) in enumerate(rows)]
    if cell_len(rows[-1][0]) + 1 + cell_len(right) > width - 1:
        rows.append(("", "plain"))
    last = len(rows) - 1
    return [(_looks(entry, text, look, n), entry.right if n == last else (), n == 0)
            for n, (text, look) in enumerate(rows)]


def _looks(entry: Line, text: str, look: str, number: int) -> tuple[Piece, ...]:
    """A row in its look; of the first row a sign keeps its own."""
    sign = entry.left[0]
    if number == 0 and len(entry.left) > 1 and text.startswith(sign.text):
        return (sign, Piece(text.removeprefix(sign.text), look))
    return (Piece(text, look),)


def _joined(pieces: tuple[Piece, ...]) -> str:
    return "".join(piece.text for piece in pieces)
