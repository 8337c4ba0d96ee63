"""What happens to typed and pasted text before it becomes an answer. Pure: no screen, no build."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from buildtrack import units
from buildtrack.bench.pasted_fields import fields_of
from buildtrack.model.build import Build, Event, Reading
from buildtrack.model.checklist import Column, Item
from buildtrack.model.edit import EditError, Hand
from buildtrack.workings.inputs import column_misfit, misfit, one_meaning, outside

LONGEST_TEXT = 4000
"""Longest text kept as one answer [characters]."""
CONFIRMED = "asked, and confirmed as read"
"""Recorded where a person confirms an unusual value without giving a reason."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of typed text: an answer, a refusal, or a question to be asked once."""

    text: str
    refused: str = ""
    """Why it cannot be taken, and what would be right."""
    unusual: str = ""
    """Why it has to be asked about."""
    read_as: str = ""
    """Said where the text could have meant two numbers."""


def try_item(item: Item, text: str, currency: str = "") -> Tried:
    """Look at text typed for a simple item. currency: that of the build, where one is said."""
    typed = text.strip()
    if item.kind in ("text", "photo", "file") and not typed:
        return Tried(typed, refused="nothing typed: write a few words, or leave it out with l")
    if len(typed) > LONGEST_TEXT:
        return Tried(typed, refused=f"{len(typed)} characters are too many: at most {LONGEST_TEXT}")
    meant = one_meaning(item, typed)
    if sentence := misfit(item, meant):
        return Tried(typed, refused=sentence)
    if item.kind != "reading":
        return Tried(typed)
    if item.dimension == "money" and (sentence := units.other_currency(meant, currency)):
        return Tried(typed, refused=sentence)
    value = units.parse(meant, item.dimension, item.unit).value
    return Tried(meant, unusual=outside(item.plausible, value, item.unit, "is unusual"), read_as=_told(typed, meant))


def _told(typed: str, meant: str) -> str:
    return f"'{typed}' was read as {meant}" if meant != typed else ""


def try_column(column: Column, text: str, currency: str = "") -> Tried:
    """Look at text typed for one field of a table; an empty text clears the field."""
    typed = text.strip()
    if not typed:
        return Tried("")
    if len(typed) > LONGEST_TEXT:
        return Tried(typed, refused=f"{len(typed)} characters are too many: at most {LONGEST_TEXT}")
    written, typed = typed, day_named(column, option_named(column, typed))
    meant = one_meaning(column, typed)
    if sentence := column_misfit(column, meant):
        return Tried(typed, refused=sentence)
    if column.kind != "reading":
        return Tried(typed, read_as=_told(written, typed) if column.kind == "date" else "")
    if column.dimension == "money" and (sentence := units.other_currency(meant, currency)):
        return Tried(typed, refused=sentence)
    value = units.parse(meant, column.dimension, column.unit).value
    unusual = outside(column.plausible, value, column.unit, "is unusual")
    return Tried(meant, unusual=unusual, read_as=_told(typed, meant))


def no_reason(place: Item | Column, text: str) -> str:
    """Why a text is no reason for an unusual value: it is the next reading, typed ahead; empty where it may be one."""
    try:
        units.parse(text, place.dimension, place.unit)
    except units.QuantityError:
        if any(c.isalpha() for c in text) or not any(c.isdigit() for c in text):
            return ""
        return f"'{units.clip(text)}' is no reason: clear it, and press Enter or say in words why the first is right"
    return f"'{units.clip(text)}' is a reading, not a reason: clear it, and press Enter or say why the first is right"


def option_named(column: Column, text: str) -> str:
    """The option meant by its number, its id, or the only one that begins so; else the text itself."""
    if column.kind == "tick":
        return {"y": "yes", "n": "no"}.get(text.lower(), text.lower())
    if column.kind != "choice":
        return text
    options = column.options
    if text.isascii() and text.isdigit() and 0 < int(text[:4]) <= len(options):
        return options[int(text[:4]) - 1].id
    wanted = text.casefold()
    exact = [o.id for o in options if wanted in (o.id.casefold(), o.label.casefold())]
    begins = [o.id for o in options if o.id.casefold().startswith(wanted) or o.label.casefold().startswith(wanted)]
    parts = [o.id for o in options if wanted in [part.strip() for part in o.label.casefold().split(",")]]
    found = exact or begins or parts
    return found[0] if len(found) == 1 else text


_TIME = re.compile(r"(\S+)[T ]\s*([01]?\d|2[0-3])[:.][0-5]\d([:.][0-5]\d(\.\d+)?)?\s*(Z|[+-]\d\d:?\d\d)?", re.ASCII)


def day_named(column: Column, text: str) -> str:
    """The day of a date that is written with a time of day; else the text itself."""
    found = _TIME.fullmatch(text) if column.kind == "date" else None
    return found[1] if found is not None else text


def pasted_lines(text: str) -> list[str]:
    """The lines of a paste that hold something; the fields of a row of a sheet are as many lines."""
    return [part for line in text.splitlines() for part in fields_of(line) if part]


@dataclass(frozen=True, slots=True)
class Pasted:
    """How pasted lines are shared out."""

    taken: tuple[tuple[Item, str], ...]
    apart: tuple[tuple[Item, str, str], ...] = ()
    """What is unusual or does not fit, with the reason: the first of an item waits in its field."""
    left: tuple[str, ...] = ()
    """Lines that found no place."""
    read_as: tuple[str, ...] = ()
    """What could have meant two numbers, and how each was read."""


def told_once(read_as: Sequence[str]) -> str:
    """Of all that could have meant two numbers, one sentence; empty where there is none."""
    if not read_as:
        return ""
    more = f", and {len(read_as) - 1} more in the same way" if len(read_as) > 1 else ""
    return f"{read_as[0]}{more}."


def share_out(lines: Sequence[str], places: Sequence[Item], currency: str = "",
              waits: Callable[[Item], str] = lambda _: "") -> Pasted:
    """Give pasted lines to the places in order, one each; what does not fit keeps its place and is not taken.

    waits: says why the line for an item is to wait though it fits; empty where it is taken.
    """
    taken: list[tuple[Item, str]] = []
    apart: list[tuple[Item, str, str]] = []
    read_as: list[str] = []
    for place, line in zip(places, lines, strict=False):
        tried = try_item(place, line, currency)
        if wrong := tried.refused or tried.unusual or waits(place):
            apart.append((place, line, wrong))
        else:
            taken.append((place, tried.text))
            read_as += [tried.read_as] if tried.read_as else []
    return Pasted(tuple(taken), tuple(apart), tuple(lines[len(places) :]), tuple(read_as))


def note_reading(build: Build, item: Item, place: int, text: str, hand: Hand) -> Build:
    """Write a remark beside the reading at `place` of an item."""
    entry = build.entry(item.id)
    if not 0 <= place < len(entry.readings):
        raise EditError(f"{item.label}: a remark needs an answer to stand beside")
    readings: list[Reading] = list(entry.readings)
    before = readings[place].note
    readings[place] = replace(readings[place], note=text)
    event = Event(hand.at, "noted", item.step, item.id, before=before, after=text, by=hand.by)
    changed = {**build.entries, item.id: replace(entry, readings=tuple(readings))}
    return replace(build, entries=changed, history=(*build.history, event))
