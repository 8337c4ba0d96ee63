"""Text of a build made fit for a terminal line: no control characters, one line, a known width in cells."""

from __future__ import annotations

import textwrap

from rich.cells import cell_len, set_cell_size


def plain(text: str) -> str:
    """Text with every character that could move the cursor, colour or reorder the line replaced by a dot."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else " " if c in "\n\t\r" else "·" for c in text)


def fit(text: str, width: int) -> str:
    """Text cut to so many cells, with an ellipsis where something was cut."""
    if width <= 0:
        return ""
    if cell_len(text) <= width:
        return text
    return set_cell_size(text, width - 1).rstrip() + "…"


def pad(text: str, width: int) -> str:
    """Text cut or filled with blanks to exactly so many cells."""
    return set_cell_size(fit(text, width), max(0, width))


def wrap(text: str, width: int, indent: str = "") -> list[str]:
    """Text in lines of at most so many cells; paragraphs stay apart, long words are cut."""
    lines: list[str] = []
    for paragraph in text.splitlines() or [""]:
        clean = plain(paragraph)
        found = textwrap.wrap(clean, max(8, width), subsequent_indent=indent) or [""]
        lines.extend(fit(line, width) for line in found)
    return lines


def listed(names: list[str], most: int = 4) -> str:
    """Names in a row for a sentence: a, b and c; or a, b and 5 more."""
    if len(names) > most:
        return f"{', '.join(names[: most - 1])} and {len(names) - most + 1} more"
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
