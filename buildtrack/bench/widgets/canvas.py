"""A small canvas of braille dots: each character holds 2 × 4 of them; text may be laid over it."""

from __future__ import annotations

from collections.abc import Iterable

from buildtrack.bench.widgets.line_text import Line, Piece

BLANK = 0x2800
DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""Bit of a dot in its character, by row and column (Unicode block Braille Patterns)."""


class Canvas:
    """Dots and texts on so many characters."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = max(1, width), max(1, height)
        self._bits = [[0] * self.width for _ in range(self.height)]
        self._looks = [["plain"] * self.width for _ in range(self.height)]
        self._texts: dict[tuple[int, int], tuple[str, str]] = {}

    @property
    def dots_across(self) -> int:
        """How many dots a row has."""
        return self.width * 2

    @property
    def dots_down(self) -> int:
        """How many dots a column has."""
        return self.height * 4

    def dot(self, x: int, y: int, look: str = "plain") -> None:
        """Set one dot, counted from the upper left; outside it is left away."""
        if 0 <= x < self.dots_across and 0 <= y < self.dots_down:
            self._bits[y // 4][x // 2] |= DOTS[y % 4][x % 2]
            self._looks[y // 4][x // 2] = look

    def stroke(self, x0: int, y0: int, x1: int, y1: int, look: str = "plain", every: int = 1) -> None:
        """A straight line; `every` sets only each so many dots of it."""
        steps = max(abs(x1 - x0), abs(y1 - y0), 1)
        for n in range(0, steps + 1, every):
            self.dot(round(x0 + (x1 - x0) * n / steps), round(y0 + (y1 - y0) * n / steps), look)

    def text(self, column: int, row: int, text: str, look: str = "muted") -> None:
        """Lay text over the dots, by characters."""
        for n, character in enumerate(text):
            if 0 <= row < self.height and 0 <= column + n < self.width:
                self._texts[row, column + n] = (character, look)

    def free(self, column: int, row: int, length: int) -> bool:
        """Whether no text lies there yet."""
        return 0 <= row < self.height and not any((row, column + n) in self._texts for n in range(length))

    def covered(self, column: int, row: int, length: int) -> int:
        """How many characters with dots a text there would hide."""
        return sum(1 for n in range(column, min(column + length, self.width)) if self._bits[row][n])

    def rows(self) -> Iterable[list[Piece]]:
        """The rows as pieces of one look each."""
        for row in range(self.height):
            pieces: list[Piece] = []
            for column in range(self.width):
                character, look = self._character(row, column)
                if pieces and pieces[-1].look == look:
                    pieces[-1] = Piece(pieces[-1].text + character, look)
                else:
                    pieces.append(Piece(character, look))
            yield pieces

    def _character(self, row: int, column: int) -> tuple[str, str]:
        if (row, column) in self._texts:
            return self._texts[row, column]
        bits = self._bits[row][column]
        return (chr(BLANK + bits), self._looks[row][column]) if bits else (" ", "plain")

    def lines(self) -> list[Line]:
        """The rows as lines of a list."""
        return [Line(tuple(pieces)) for pieces in self.rows()]
