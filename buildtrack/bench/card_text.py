"""What the card says about an item: how it is answered, what was answered, what is usual. Knows no screen."""

from __future__ import annotations

from collections.abc import Iterator

from buildtrack.bench import words
from buildtrack.bench.desk import Desk
from buildtrack.bench.plain import fit, plain
from buildtrack.bench.widgets.card import BEFORE_NAME, BEFORE_TYPING, CardText
from buildtrack.bench.widgets.line_text import Line, Piece, prose
from buildtrack.model.checklist import Item


def card_text(desk: Desk, item: Item, how_next: str, corrected: str = "", narrow: bool = False) -> CardText:
    """The card of one item. how_next: with what and how the next answer is taken. corrected: what it replaces.

    narrow: whether there is no room for the panel beside it.
    """
    refused = desk.refusal(item)
    kind = "" if refused else {"choice": "options", "tick": "options", "table": ""}.get(item.kind, "field")
    standing = desk.build.entry(item.id).standing
    chosen = standing[-1].text if standing else ""
    return CardText(
        item=item.id,
        label=item.label,
        mark=_mark(item),
        why=item.why,
        how=words.pointing(item.how, narrow),
        caution=item.caution,
        facts=tuple(_facts(desk, item, refused, how_next)),
        unit=words.unit_text(item.unit, desk),
        input=kind,
        sign=_sign(desk, item, corrected),
        placeholder=_placeholder(item),
        options=tuple(_options(item, chosen)),
        chosen=chosen,
    )


def _facts(desk: Desk, item: Item, refused: str, how_next: str) -> Iterator[Piece]:
    if refused:
        yield Piece(f"■ {words.without_since(refused)}", "warn")
    state = desk.item_state(item.id)
    if state.lacks or state.state in ("outside", "misfit", "stale", "expired"):
        yield Piece(f"{words.glyph(state.state)} {plain(state.why)}", "warn")
    last = "" if item.several > 1 and item.kind == "reading" else words.last_text(item, desk)
    yield from (Piece(t) for t in (words.readings_text(item, desk), words.combined_text(item, desk), last) if t)
    if charged := words.charge_text(item, desk):
        yield Piece(charged, "warn")
    if item.kind == "table":
        yield Piece(words.table_text(item, desk))
        if not refused:
            yield Piece("Enter opens the table", "accent")
    if aside := [t for t in (words.expected_text(item, desk), words.usual_text(item, desk), how_next) if t]:
        yield Piece(" · ".join(aside), "muted")


def _sign(desk: Desk, item: Item, corrected: str) -> str:
    """What stands before the field: which of several readings it is, or what it corrects."""
    if corrected:
        return f"in place of {fit(plain(corrected), 24)} › "
    number = len(desk.build.entry(item.id).standing) + 1
    return f"reading {number} › " if item.kind == "reading" and item.several > 1 else "› "


def _mark(item: Item) -> str:
    if item.hold:
        return "must · hold point"
    return {"must": "must", "expected": words.KINDS[item.kind], "optional": "optional"}[item.need]


def _placeholder(item: Item) -> str:
    if item.kind == "reading":
        return "type a number"
    if item.kind in ("photo", "file"):
        return BEFORE_NAME
    return BEFORE_TYPING


def _options(item: Item, chosen: str) -> list[Line]:
    labels = {"yes": "Yes", "no": "No"} if item.kind == "tick" else {o.id: o.label for o in item.options}
    pairs = [(name, key, labels[name]) for name, key in words.option_keys(item).items()]
    return [
        prose(f"{key}  {plain(label)}{'  ✓' if name == chosen else ''}", "plain", key=name, hang=3)
        for name, key, label in pairs
    ]
