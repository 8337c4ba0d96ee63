"""Values of a build turned into words for paper: facts by name, readings with ±, workings with formula and source."""

from __future__ import annotations

from collections.abc import Iterable

from buildtrack import units
from buildtrack.judging import Judged
from buildtrack.model.build import Reading
from buildtrack.model.checklist import Item
from buildtrack.model.instruments import Instrument, instruments, taken_with
from buildtrack.record.gridding import grid
from buildtrack.record.minus import below_zero
from buildtrack.record.pages import Fact, Grid, ItemLine, ReadingText, WorkingBlock
from buildtrack.record.redoing import for_a_reader, in_currency, left_out, numbers
from buildtrack.record.shorten import WHERE
from buildtrack.record.text import NBSP, line, minus, moment, plain, sentence, tied
from buildtrack.workings.explain import explain, show_plain
from buildtrack.workings.inputs import counting, reading_value
from buildtrack.workings.values import Known

STRUCTURED_LINES = 80
"""Most lines printed of one structured working."""
LONGEST_RESULT = 600
"""Longest result in words of one working [characters]."""
USE_WORDS = {"last": "the last counts", "first": "the first counts", "lowest": "the lowest counts",
             "highest": "the highest counts", "mean": "their mean counts", "median": "their median counts"}


def option_label(item: Item, answer: str) -> str:
    """What an answer of a choice is called."""
    return next((o.label for o in item.options if o.id == answer), answer)


def fact(judged: Judged, name: str) -> Fact | None:
    """One named value; None where this checklist does not have it or it is not known."""
    sheet = judged.assessment.sheet
    value = sheet.values.get(name)
    if not isinstance(value, Known):
        return None
    if name in sheet.workings:
        told = explain(name, sheet, judged.checklist)
        return Fact(line(told.label), tied(below_zero(judged, line(in_currency(judged, told.shown)))), told.value_class)
    item = judged.checklist.items.get(name)
    if item is None or item.kind == "table":
        return None
    if item.kind in ("choice", "text"):
        return Fact(line(item.label), line(option_label(item, str(value.value)), 300), value.value_class)
    standing = judged.build.entry(name).standing
    if item.kind == "reading" and len(standing) == 1 and value.plus_minus is None:
        return Fact(line(item.label), tied(line(with_unit(judged, standing[0].text, item))), value.value_class)
    shown = show_plain(value.value, item.unit, value.plus_minus)
    return Fact(line(item.label), tied(in_currency(judged, shown)), value.value_class)


def facts(judged: Judged, names: Iterable[str]) -> tuple[Fact, ...]:
    """The named values that are there."""
    return tuple(f for name in names if (f := fact(judged, name)) is not None)


def shown_unit(judged: Judged, unit: str) -> str:
    """A unit as it is printed: money is in the currency of the build."""
    return (line(judged.build.currency, 12) or "money") if unit == "money" else unit


def with_unit(judged: Judged, typed: str, item: Item) -> str:
    """A typed reading; a plain number gets the unit it was taken to be in, in brackets."""
    taken = units.unit_taken(typed, item.unit) if item.kind == "reading" else ""
    return f"{typed.strip()} ({shown_unit(judged, taken)})" if taken else typed


def _plus_minus(item: Item, reading: Reading, meters: dict[str, Instrument]) -> str:
    if item.kind != "reading":
        return ""
    try:
        value = reading_value(item, reading, meters, item.id)
    except units.QuantityError:
        return "does not fit: see what is missing"
    if not value.plus_minus:
        return ""
    return "± " + units.show(value.value, item.unit, value.plus_minus).partition("± ")[2]


def reading_text(judged: Judged, item: Item, reading: Reading, counts: bool,
                 meters: dict[str, Instrument]) -> ReadingText:
    """One reading as it is printed: the text as typed, never another."""
    text = option_label(item, reading.text) if item.kind == "choice" else with_unit(judged, reading.text, item)
    note = reading.note
    if reading.columns:
        note = f"{note}\n" * bool(note) + f"columns set by hand: {reading.columns}"
    if reading.accepted:
        note = f"{note}\n" * bool(note) + f"unusual, accepted: {reading.accepted}"
    return ReadingText(tied(plain(text)), tied(_plus_minus(item, reading, meters)),
                       line(taken_with(item, reading), 40), moment(reading.taken), tied(plain(note)),
                        reading.value_class, plain(reading.withdrawn), counts)


def item_line(judged: Judged, item: Item, readings_left: int = 0) -> ItemLine | None:
    """One item that is no table; None where it does not apply or nothing was asked and nothing entered."""
    entry = judged.build.entry(item.id)
    state = judged.assessment.status.items[item.id]
    if state.state == "not needed" and not entry.readings:
        return None
    if state.state == "open" and item.need == "optional":
        return None
    meters = dict(instruments(judged.build))
    made_of = counting(item, entry)
    readings = merged(tuple(reading_text(judged, item, r, r in made_of, meters) for r in entry.readings))
    counts = ""
    if item.kind == "reading" and len(entry.standing) > 1:
        value = judged.assessment.sheet.value(item.id)
        if isinstance(value, Known):
            shown = tied(show_plain(value.value, item.unit, value.plus_minus))
            counts = f"{USE_WORDS[item.use]}: {shown}"
    elif len(entry.standing) > 1 and item.kind in ("choice", "tick", "text"):
        counts = f"{USE_WORDS['last']}: {reading_text(judged, item, entry.standing[-1], True, meters).text}"
    if readings_left:
        counts = "; ".join(x for x in (counts, f"{readings_left} more readings are in {WHERE}") if x)
    expected = f"past build: {line(entry.expected)}" if entry.expected else ""
    ticked = item.kind == "tick" and state.state == "done" and len(readings) == 1 and readings[0].bare
    return ItemLine(line(item.label), item.hold, state.state, line(state.why), readings, counts, ticked, expected)


def _range(spreads: list[str]) -> str:
    """Several ± as one: the least and the greatest."""
    if len(spreads) == 1:
        return spreads[0]
    parts = [s.replace("\u00a0", " ").removeprefix("± ").partition(" ") for s in spreads if s]
    numbers = sorted((float(number), number) for number, _, _ in parts)
    return tied(f"± {numbers[0][1]}–{numbers[-1][1]} {parts[0][2]}") if numbers else ""


def merged(readings: tuple[ReadingText, ...]) -> tuple[ReadingText, ...]:
    """Several readings of one instrument without notes as one line: their texts side by side."""
    if len(readings) < 2 or not all(r.bare and r.instrument == readings[0].instrument for r in readings):
        return readings
    if len({r.value_class for r in readings}) > 1 or len({r.counts for r in readings}) > 1:
        return readings
    spreads = list(dict.fromkeys(r.plus_minus for r in readings))
    times = list(dict.fromkeys(r.taken for r in readings if r.taken))
    first = readings[0]
    taken = times[0] if len(times) == 1 else f"{times[0].replace(' ', NBSP)} to {times[-1][11:]}" if times else ""
    if times and times[0][:10] != times[-1][:10]:
        taken = f"{times[0][:10]} to {times[-1][:10]}"
    return (ReadingText(" · ".join(r.text for r in readings), _range(spreads), first.instrument, taken, "",
                        first.value_class, "", first.counts),)


def structured_grid(judged: Judged, value: object) -> Grid | None:
    """The table of a structured result, from its `head` and `lines`."""
    head, lines = getattr(value, "head", None), getattr(value, "lines", None)
    if not isinstance(head, tuple) or not isinstance(lines, tuple) or not lines:
        return None
    rows = tuple(tuple(tied(below_zero(judged, line(str(cell), 300))) for cell in _filled(row, len(head)))
                 for row in lines[:STRUCTURED_LINES])
    told = [k for k in range(len(head)) if k == 0 or any(row[k] not in ("", "-") for row in rows)]
    head, rows = tuple(head[k] for k in told), tuple(tuple(row[k] for k in told) for row in rows)
    left = len(lines) - len(rows)
    notes = (f"{left} more lines are left out; the program computes them anew from the attached build file.",)
    return grid("", tuple(tied(line(str(h))) for h in head), rows, (), notes if left else ())


def _filled(row: tuple[object, ...], width: int) -> tuple[object, ...]:
    """A row as wide as the head: what is missing is told as "-", what is too much stands in its last field."""
    surplus = "; ".join(str(cell) for cell in row[width - 1:]) if len(row) > width else None
    return (*row, *("-",) * (width - len(row))) if surplus is None else (*row[:width - 1], surplus)


def working_block(judged: Judged, name: str) -> WorkingBlock | None:
    """A known working as a reader can do it again; None where it is not known."""
    sheet = judged.assessment.sheet
    told = explain(name, sheet, judged.checklist)
    if told.state != "known":
        return None
    working = sheet.workings[name]
    shown, put_in = line(in_currency(judged, told.shown)), line(numbers(judged, told, working))
    put_in = for_a_reader(minus(put_in)) if working.expression else below_zero(judged, put_in)
    formula = for_a_reader(minus(line(told.formula))) if working.expression else minus(line(told.formula))
    note = "; ".join(x for x in (minus(line(told.note)), left_out(judged, told, working)) if x)
    return WorkingBlock(
        name, line(told.label), line(working.symbol), tied(below_zero(judged, _in_short(shown))),
        formula, tied(put_in), line(told.source),
        told.value_class, sentence(note),
        structured_grid(judged, told.value))


def _in_short(words: str) -> str:
    """A result in words, cut where it is endless: what is left out stands in its table or can be computed anew."""
    return words if len(words) <= LONGEST_RESULT else words[:LONGEST_RESULT].rpartition(" ")[0] + " …"
