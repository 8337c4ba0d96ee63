"""Two builds side by side on the screen: what differs stands out by its mark, what is the same stays back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildtrack.bench.plain import pad, plain
from buildtrack.bench.shelf_list import Compared
from buildtrack.bench.widgets.line_text import Line, Piece, line


def side_by_side(rows: Sequence[Compared], width: int) -> Iterator[Line]:
    """The lines of a comparison in so many cells; the titles of both stand over their columns."""
    label = max(20, min(40, width // 3))
    side = max(12, (width - label - 6) // 2)
    section = ""
    both = [row for row in rows if row.first and row.second]
    alone = len(rows) - len(both)
    told = f"both have {len(both)}, and {sum(row.differs for row in both)} of them differ"
    yield line(told + (f"; {alone} more only one of them has" if alone else ""), "muted")
    for row in rows:
        if row.label == "title" and not row.section:
            yield Line((Piece(" " * (label + 4) + f"{pad(plain(row.first), side)}  {plain(row.second)}", "head"),))
            continue
        if row.section != section:
            section = row.section
            yield from (line(""), line(section, "head"))
        look = "plain" if row.differs else "muted"
        yield Line((
            Piece("≠ " if row.differs else "  ", "accent"),
            Piece(pad(plain(row.label), label), "muted"),
            Piece(f"  {pad(plain(row.first) or '–', side)}  {pad(plain(row.second) or '–', side)}", look),
        ))  # fmt: skip
