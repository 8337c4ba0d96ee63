"""Grids from rows of text: which columns hold numbers, how wide each is to be, where a wide one is broken."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, pairwise

from buildtrack.record.pages import Grid

PAGE_WIDTH_MM = 170.0
"""Width that tables may take on A4 and Letter."""
_LETTER_MM = 1.42
_EM_MM = 2.93
"""Size of the type of tables [mm]: 8.3 pt."""
_WIDTHS = {**dict.fromkeys("mw%@MW", 0.88), **dict.fromkeys(" ijl.,:;'|!fIt()[]{}-/r°²", 0.38)}
_CAPITAL, _SMALL = 0.68, 0.565
"""Widths of the letters of the bundled semibold face, from above [em]."""
_PADDING_MM = 2.8
_WIDEST_MM = 62.0
_NARROWEST_MM = 7.0
_LEAST_LONG_MM = 24.0
"""Columns wider than this give room first where a table is too wide."""
_ROOMY = 1.25
"""How much wider than its words need a small table is set."""
_LONG_HEAD = 18
"""Heads longer than this may take three lines [characters]."""
_GAP = 4.0
"""Room between two tables that stand beside each other [% of page]."""
_MOST_BESIDE, _UNEVEN = 12, 6
"""Rows of a table that may stand beside another, and by how many the two may differ."""
_TITLE_LETTER_MM = 1.95
_NOTE_LETTERS = 4.5
"""Letters of a note for each per cent of the page: about three lines."""
_LONG_ENTRY = 40
"""Entries longer than this are broken into lines [characters]."""


def numeric_columns(count: int, rows: Sequence[tuple[str, ...]]) -> tuple[bool, ...]:
    """Columns in which nearly every entry begins with a digit or sign."""
    found = []
    for k in range(count):
        cells = [row[k].lstrip("?←=●▲✓✗ \u00a0") for row in rows if k < len(row) and row[k] not in ("", "-", "–")]
        numbers = sum(1 for c in cells if c[:1].isdigit() or (c[:1] in "+-−±" and c[1:2].strip().isdigit()))
        short = all(len(c) <= 24 for c in cells)
        found.append(bool(cells) and short and numbers >= 0.8 * len(cells))
    return tuple(found)


def word_width(word: str) -> float:
    """How wide a word of a head gets at most [mm]: a word that does not fit is broken wherever its column ends."""
    return _EM_MM * sum(_WIDTHS.get(c, _CAPITAL if c.isupper() else _SMALL) for c in word)


def head_width(head: str) -> float:
    """Width of a head set in the fewest lines that suit it [mm]: two, three where it is long."""
    words = head.split()
    lines = min(len(words), 2 if len(head) <= _LONG_HEAD else 3)
    splits = combinations(range(1, len(words)), max(0, lines - 1))
    return min((max((word_width(" ".join(words[a:b])) for a, b in pairwise((0, *cuts, len(words)))), default=0.0)
                for cuts in splits), default=0.0)


def column_width(head: str, cells: Sequence[str]) -> float:
    """About how wide a column gets [mm]: its head in two lines, the longest entry up to a limit."""
    longest = max((len(c) for c in cells), default=0)
    wanted = max(head_width(head), max(min(longest, _LONG_ENTRY), 3) * _LETTER_MM)
    return min(_WIDEST_MM, max(_NARROWEST_MM, wanted + _PADDING_MM))


def _weight(head: str, cells: Sequence[str]) -> float:
    """Wanted width of a column, more where entries are so long that they are broken."""
    total = sum(len(c) for c in cells) / max(1, len(cells))
    return column_width(head, cells) * (1.0 + min(1.5, total / 120))


def shares(head: tuple[str, ...], rows: Sequence[tuple[str, ...]],
           width_mm: float = PAGE_WIDTH_MM) -> tuple[float, ...]:
    """Share of the width for each column [%]: each as wide as its words need, what is left goes to the long entries."""
    columns = [[row[k] for row in rows if k < len(row)] for k in range(len(head))]
    needed = [column_width(h, cells) for h, cells in zip(head, columns, strict=True)]
    wanted = [_weight(h, cells) - n for h, cells, n in zip(head, columns, needed, strict=True)]
    left = width_mm - sum(needed)
    if left > 0 and sum(wanted) > 0:
        needed = [n + left * w / sum(wanted) for n, w in zip(needed, wanted, strict=True)]
    elif left < 0 and (roomy := sum(max(0.0, n - _LEAST_LONG_MM) for n in needed)) > 0:
        share = min(1.0, -left / roomy)  # long entries can be broken into more lines, words of a head cannot
        needed = [n - share * max(0.0, n - _LEAST_LONG_MM) for n in needed]
    whole = sum(needed)
    return tuple(round(100.0 * n / whole, 1) for n in needed)


def grid(title: str, head: tuple[str, ...], rows: Sequence[tuple[str, ...]], feet: Sequence[tuple[str, ...]] = (),
         notes: tuple[str, ...] = ()) -> Grid:
    """A grid with its columns measured."""
    body = tuple(rows)
    every = (*body, *feet)
    natural = sum(column_width(h, [row[k] for row in every if k < len(row)]) for k, h in enumerate(head))
    width = min(100.0, round(_ROOMY * 100.0 * natural / PAGE_WIDTH_MM, 1))
    return Grid(title, head, body, tuple(feet), notes, numeric_columns(len(head), body),
                shares(head, every, PAGE_WIDTH_MM * width / 100), width)


def beside(grids: Sequence[Grid]) -> list[tuple[tuple[Grid, float], ...]]:
    """Tables in their order, two small neighbours as a pair, each with the room it takes [% of the page]."""
    found: list[tuple[tuple[Grid, float], ...]] = []
    waiting = list(grids)
    while waiting:
        first = waiting.pop(0)
        rooms = (_room(first), _room(waiting[0]) if waiting else 100.0)
        if sum(rooms) + _GAP <= 100.0 and abs(len(first.rows) - len(waiting[0].rows)) <= _UNEVEN:
            found.append(((first, rooms[0]), (waiting.pop(0), rooms[1])))
        else:
            found.append(((first, 100.0),))
    return found


def _room(small: Grid) -> float:
    """Room of a table that can stand beside another [% of page]: its title and its notes need theirs too."""
    if len(small.rows) > _MOST_BESIDE:
        return 100.0
    title = 100.0 * _TITLE_LETTER_MM * len(small.title) / PAGE_WIDTH_MM
    return round(max(small.width, title, sum(len(n) for n in small.notes) / _NOTE_LETTERS), 1)


def blocks(widths: Sequence[float], available: float = PAGE_WIDTH_MM) -> list[range]:
    """Columns 1.. in runs that fit beside column 0, as even as their count of blocks allows."""
    if len(widths) < 2:
        return [range(1, len(widths))]
    rest = available - widths[0]
    count = max(1, -(-int(sum(widths[1:])) // max(1, int(rest))))
    aim = sum(widths[1:]) / count
    runs: list[range] = []
    start, used = 1, 0.0
    for k in range(1, len(widths)):
        full = used + widths[k] > rest
        enough = used >= aim and len(runs) < count - 1
        if k > start and (full or enough):
            runs.append(range(start, k))
            start, used = k, 0.0
        used += widths[k]
    runs.append(range(start, len(widths)))
    return runs
