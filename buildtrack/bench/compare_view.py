"""Two builds side by side on the screen: what differs stands out by its mark, what is the same stays back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildtrack.bench.plain import fit, pad, plain
from buildtrack.bench.shelf_list import Compared
from buildtrack.bench.wide_table import broken
from buildtrack.bench.widgets.line_text import Line, Piece, line, prose


def counted(rows: Sequence[Compared]) -> str:
    """How much both have, how much of it differs, and what only one has."""
    both = [row for row in rows if row.first and row.second]
    alone, apart = len(rows) - len(both), sum(row.differs for row in both)
    told = f"both have {len(both)}, and {apart} of them {'differs' if apart == 1 else 'differ'}"
    return told + (f"; {alone} more only one of them has" if alone else "")


def side_by_side(rows: Sequence[Compared], width: int, only_differing: bool = False) -> Iterator[Line]:
    """The lines of a comparison in so many cells; the titles of both stand over their columns.

    What differs is shown whole, going on beneath; what is the same takes one row. The key of a line is the place of
    its row.
    """
    label = max(20, min(40, width // 3))
    side = max(12, (width - label - 6) // 2)
    section = ""
    yield line(counted(rows), "muted")
    for number, row in enumerate(rows):
        if only_differing and not row.differs:
            continue
        if row.section != section:
            section = row.section
            yield from (line(""), line(section, "head"))
        is_title = row.label == "title" and not row.section
        yield from _row(row, label, side, f"row:{number}", "head" if is_title else "plain" if row.differs else "muted")


def _row(row: Compared, label: int, side: int, key: str, look: str) -> Iterator[Line]:
    sides = [broken(text, side) for text in (row.first or "–", row.second or "–")]
    names = broken(row.label, label)
    if not row.differs:
        sides, names = [[fit(plain(text) or "–", side)] for text in (row.first, row.second)], [fit(row.label, label)]
    for number in range(max(len(names), *(len(s) for s in sides))):
        name, one, two = (parts[number] if number < len(parts) else "" for parts in (names, *sides))
        yield Line((
            Piece("≠ " if row.differs and number == 0 else "  ", "accent"),
            Piece(pad(name, label), "muted"),
            Piece(f"  {pad(one, side)}  {two}", look),
        ), (), key if number == 0 else "")  # fmt: skip


def whole(row: Compared, names: tuple[str, str]) -> list[Line]:
    """Both values of a row in full, one under the other."""
    found = [line("≠ They differ." if row.differs else "Both are the same.", "accent" if row.differs else "muted")]
    for name, text in zip(names, (row.first, row.second), strict=True):
        found += [line(""), line(name, "head"), prose(plain(text) or "–")]
    return found
