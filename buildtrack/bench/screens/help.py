"""The help page: every key of a place and what it does, from the table of commands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from buildtrack.bench import commands
from buildtrack.bench.plain import pad, wrap
from buildtrack.bench.widgets.line_text import Line, Piece, line, prose

TYPING = (
    ("Enter", "take what is typed; refused text stays in the field"),
    ("Esc", "drop what is typed; u brings it back; where the review led to an item, back to its line there"),
    ("↑ ↓", "leave the field; what is typed stays in it"),
    ('"', "alone in a field of a table: as above"),
    ("digits", "on the list: begin a reading, or choose an answer by its number"),
    ("3.3  3,3  3300 mV", "a point or a comma, with or without a unit"),
    ("paste", "lines go down, fields of a sheet across; what would be replaced is asked first"),
)
SIGNS = (
    ("✓", "done, in order"),
    ("·", "open, not yet"),
    ("◐", "begun"),
    ("▲", "unusual; a caution"),
    ("✗", "does not fit; a stop"),
    ("?", "cannot be told with this meter"),
    ("■", "held until hold points are settled"),
    ("–", "left out or accepted, with a reason"),
    ("↻ ◷", "stale or expired: measure again"),
)
PLACE_NAMES = {
    "bench": "At the bench",
    "table": "In a table",
    "live": "Following a log",
    "review": "In the review",
    "shelf": "On the shelf",
    "welcome": "Here",
}
WIDEST = 84


def _pair(key: str, text: str, width: int) -> list[Line]:
    rows = wrap(text, width - 22)
    first = Line((Piece(pad(key, 20), "accent"), Piece(rows[0])))
    return [first, *(line(" " * 20 + row) for row in rows[1:])]


def keys_page(title: str, keys: Sequence[tuple[str, str]], signs: Sequence[tuple[str, str]], room: int) -> list[Line]:
    """Help for a page that has keys of its own, for so many cells."""
    width = min(WIDEST, room)
    found = [line(title, "head")]
    for key, text in keys:
        found += _pair(key, text, width)
    found += [line(""), line("Signs", "head")]
    for key, text in signs:
        found += _pair(key, text, width)
    return found


def help_page(place: str, keymap: Mapping[str, str], remarks: Sequence[str], room: int = WIDEST,
              around: commands.Situation | None = None) -> list[Line]:
    """All lines of the help page, for so many cells; around: without what never does anything there."""
    width = min(WIDEST, room)
    found: list[Line] = [line(PLACE_NAMES.get(place, place), "head")]
    for key, text in commands.help_lines(place, keymap, around):
        found += _pair(key, text, width)
    found += _pair("Ctrl-P", "The palette: every command by its words, also those without a key; themes.", width)
    found += _pair("Ctrl-Q", "Quit. Everything entered is already saved; you are asked where it is not.", width)
    found += [line(""), line("Typing", "head")]
    for key, text in TYPING:
        found += _pair(key, text, width)
    found += [line(""), line("Signs", "head")]
    for key, text in SIGNS:
        found += _pair(key, text, width)
    found += [
        line(""),
        line("Your own keys", "head"),
        prose(
            'Write keymap.toml in the configuration folder: [keys] and lines such as undo = "f8"; '
            'theme = "dark", "light" or "contrast" above them.'
        ),
    ]
    found += [prose(remark, "warn") for remark in remarks]
    return found
