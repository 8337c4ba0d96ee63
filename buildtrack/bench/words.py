"""What the bench says about items, steps and values: one line each, no layout, no screen."""

from __future__ import annotations

import re
import statistics
from collections.abc import Sequence

from rich.cells import cell_len

from buildtrack import units
from buildtrack.bench.desk import Desk
from buildtrack.bench.plain import fit, listed, plain
from buildtrack.model.build import Entry, Reading, Row
from buildtrack.model.checklist import Column, Item, Option, Span, Step
from buildtrack.model.instruments import instruments, taken_with
from buildtrack.workings.asked import wanted_rows
from buildtrack.workings.explain import show_value
from buildtrack.workings.inputs import item_value
from buildtrack.workings.status import GLYPHS
from buildtrack.workings.typed_days import EXAMPLE
from buildtrack.workings.values import Known

STEP_WORDS = {"done": "done", "open": "open", "partly": "begun", "held": "held"}
SEVERITY_GLYPHS = {"stop": "✗", "caution": "▲", "note": "○"}
VERDICT_GLYPHS = {
    "incomplete": "◐",
    "not cleared": "✗",
    "cleared with conditions": "✓",
    "cleared": "✓",
    "ended early": "■",
}
KINDS = {
    "reading": "reading",
    "choice": "choice",
    "text": "text",
    "tick": "yes or no",
    "table": "table",
    "photo": "photo",
    "file": "file",
}


def glyph(state: str) -> str:
    """The sign of a state; the word always stands beside it."""
    return GLYPHS.get(state, "·")


def option_label(options: tuple[Option, ...], name: str) -> str:
    """Label of an option, or the text itself where it is none."""
    return next((o.label for o in options if o.id == name), name)


def is_yes_no(place: Item | Column) -> bool:
    """Whether it is answered with y or n: a tick, or a choice that offers yes and no."""
    names = {option.id for option in place.options}
    return place.kind == "tick" or place.kind == "choice" and {"yes", "no"} <= names


def option_keys(item: Item) -> dict[str, str]:
    """The key that marks each answer, by its id, as it stands before it: y and n for yes and no, else a number."""
    letters = {"yes": "y", "no": "n"} if is_yes_no(item) else {}
    return {o.id: letters.get(o.id, str(n)) for n, o in enumerate(item.options, 1)} or letters


def answer_text(item: Item, entry: Entry) -> str:
    """The answer of an item, short, for the list."""
    if item.kind == "table":
        return f"{len(entry.rows)} {item.row_name}{'s' if len(entry.rows) != 1 else ''}" if entry.rows else ""
    standing = entry.standing
    if not standing:
        return ""
    last = plain(standing[-1].text)
    if item.kind == "choice":
        return option_label(item.options, last)
    if item.kind == "reading":
        return with_unit(last, item.unit)
    return last


def marked_text(item: Item, name: str, entry: Entry) -> str:
    """What is said of an answer that was marked by its key, and what Enter and Esc do now."""
    marked = {"yes": "Yes", "no": "No"}.get(name, name) if item.kind == "tick" else option_label(item.options, name)
    now = entry.standing[-1].text if entry.standing else ""
    if now and now != name:
        return f"Now: {answer_text(item, entry)}. Enter changes it to: {marked}. Esc leaves it."
    if now:
        return f"That is the answer already: {marked}. Esc leaves it."
    return f"{'Hold point. ' if item.hold else ''}Enter takes: {marked}. Esc leaves it."


def early_text(item: Item | None, text: str) -> str:
    """What is said of keys that were pressed before their hold point was seen, and how it is answered.

    item: None for a field of a table, where what is typed stands and Enter takes it.
    """
    how = f"Enter takes {plain(text)}"
    if item is not None and item.kind in ("choice", "tick"):
        how = "y Enter or n Enter" if is_yes_no(item) else "Esc, its number and Enter"
    return f"Typed before this hold point was seen: read it, then {how}."


def dropped_text(text: str, before: str = "") -> str:
    """What is said of a text that was left with Esc."""
    stays = f"; '{plain(before)}' stays" if before else ""
    return f"Dropped '{plain(text)}'{stays}. u brings it back."


BESIDE = {"beside this line": "behind F2", "stands in the panel": "stands behind F2"}
"""Words of a checklist that point to the panel, and what they say where it has no room beside the card."""


def pointing(text: str, narrow: bool) -> str:
    """A text that points to where the thing is seen: to the panel, or in a narrow window to the key that shows it."""
    for wide, behind in BESIDE.items() if narrow else ():
        text = text.replace(wide, behind)
    return text


def lifted_text(old: str, new: str, titles: Sequence[str]) -> tuple[str, str]:
    """The question for the reason of a correction that takes stops away, and what is said below it."""
    named = listed([f"'{plain(t)}'" for t in titles], 3)
    stops = "the stop" if len(titles) == 1 else "the stops"
    asked = f"{plain(old)} raised {stops} {named}. Why is it {plain(new) or 'empty'} now?"
    return asked, f"With it the {'stop is' if len(titles) == 1 else 'stops are'} gone. Your reason stands beside it."


NO_WHY = "write in words why, or press Esc"
"""Said where the reason of such a correction is left empty."""


def in_place_of(old: str, reason: str, before: str = "") -> str:
    """The remark beside a reading that took a stop away. before: what is remarked already."""
    return "; ".join(p for p in (before, f"in place of {old}: {reason}") if p)


def over_text(waits: str, typed: str) -> str:
    """What is said where a new answer is begun in a field in which another text waits."""
    return f"'{plain(waits)}' waits in this field: Enter puts {plain(typed)} … in its place, Esc keeps it."


def back_text(text: str) -> str:
    """What is said of a text that was brought back; its field is still closed."""
    return f"'{plain(text)}' is back in its field: Enter goes on with it."


SINCE = re.compile(r" since \S+( \S+)? \(process \d+\)")
"""What a lock says beside whose it is."""


def held_text(item: Item, desk: Desk) -> str:
    """Why nothing may be entered now, beside the card that says it in full; with the key to what holds the step."""
    refused, step = desk.refusal(item), desk.step_state(item.step)
    if desk.refusal() or not refused:
        return refused
    if not step.held_by:
        rule = desk.checklist.check.get(step.stopped_by[0])
        does = "that holds it" if rule is not None and rule.ends else "to mend first"
        return f"Nothing can be entered yet. x shows the stop {does}: '{_title(desk, step.stopped_by[0])}'."
    label = desk.checklist.items[step.held_by[0]].label
    return f"Nothing can be entered yet. x goes to what is missing first: '{label}'."


def _title(desk: Desk, check: str) -> str:
    return desk.checklist.check[check].title


def without_since(refusal: str) -> str:
    """A refusal in one line: who writes the file; since when and in which process is told when it is opened."""
    return SINCE.sub("", refusal)


def notes_text(notes: Sequence[str], room: int, key: str = "k") -> str:
    """What was found when a file was opened, in so many cells: the first of it, and by which key the rest is read."""
    whole = "; ".join([*(note.removesuffix(".") for note in notes[:-1]), *notes[-1:]])
    if cell_len(whole) <= room:
        return whole
    rest = f" {key} reads all {len(notes)} notes." if len(notes) > 1 else f" {key} reads it all."
    return fit(whole, room - cell_len(rest)) + rest


EXAMPLES = {
    "meter": "red multimeter", "range": "20 V", "resolution": "10 mV",
    "accuracy": "0.5 % + 2 digits", "longest": "10 s",
}  # fmt: skip
"""What is written in the columns of an instrument."""


def example_text(item: Item, column: Column) -> str:
    """An example for a field of an instrument, which no range tells of; empty for others."""
    if item.role != "instruments" or column.kind == "choice" or column.id not in EXAMPLES:
        return ""
    return f"for instance {EXAMPLES[column.id]}"


def stop_text(desk: Desk, how: str) -> str:
    """What is said of a stop that has just failed."""
    rule = desk.checklist.check.get(desk.fresh_stop)
    return f"✗ Stop: {rule.title if rule else desk.fresh_stop}. {how}."


def with_unit(text: str, unit: str) -> str:
    """Typed text with the unit behind it where only a number was typed."""
    return f"{text} {taken}" if (taken := units.unit_taken(text, unit)) else text


def _counted(item: Item, desk: Desk) -> tuple[Known, list[float]] | None:
    """What counts of several readings, and each of them; None where there is only one, or the last counts alone."""
    standing = desk.build.entry(item.id).standing
    if item.kind != "reading" or len(standing) < 2 or item.use in ("last", "first"):
        return None
    value = item_value(item, desk.build.entry(item.id), instruments(desk.build))
    if not isinstance(value, Known):
        return None
    return value, [units.parse(r.text, item.dimension, item.unit).value for r in standing]


def list_text(item: Item, desk: Desk, room: int = 26) -> str:
    """The answer of an item for the list: of several readings what counts, with spread and number where they fit."""
    counted = _counted(item, desk)
    if counted is None:
        return in_money(answer_text(item, desk.build.entry(item.id)), desk)
    value, numbers = counted
    number = f"n {len(numbers)}"
    mean, low, high = (f"{units.in_unit(v, item.unit):.4g}" for v in (value.value, min(numbers), max(numbers)))
    shown = f"{mean} {item.unit}".rstrip()
    longest = f"{item.use} {shown} ({low} to {high}), {number}"
    told = (longest, f"{item.use} {shown}, {number}", f"{shown}, {number}")
    return next((t for t in told if len(t) <= room), shown)


def combined_text(item: Item, desk: Desk) -> str:
    """Mean, lowest or highest of several readings with their spread; empty where there is only one."""
    counted = _counted(item, desk)
    if counted is None:
        return ""
    value, numbers = counted
    shown = f"{item.use} {show_value(value, item.unit)}"
    low, high = units.show(min(numbers), item.unit), units.show(max(numbers), item.unit)
    deviation = f", scatter {units.show(statistics.stdev(numbers), item.unit, digits=2)}" if len(numbers) > 2 else ""
    return f"{shown}, from {low} to {high}{deviation}"


def span_text(span: Span, unit: str) -> str:
    """A range for people: 2.5 V to 4.25 V."""
    tail = f" {unit}" if unit else ""
    low, high = (f"{units.in_unit(v, unit):.6g}" if v is not None else "" for v in (span.low, span.high))
    if low and high:
        return f"{low} to {high}{tail}"
    return f"{low}{tail} or more" if low else f"{high}{tail} or less" if high else ""


def in_money(text: str, desk: Desk) -> str:
    """A text with its amounts in the currency of the build."""
    return units.in_currency(text, plain(desk.build.currency))


def like_today(text: str, desk: Desk) -> str:
    """A text whose example of a day is today's."""
    return text.replace(f"like {EXAMPLE}", f"like {desk.hand().at.astimezone().date().isoformat()}")


def unit_text(unit: str, desk: Desk) -> str:
    """The unit that stands behind a field: of money the currency of the build."""
    return plain(desk.build.currency) if unit == "money" else unit


FULL_TEXT = re.compile(r"\b4\.20? V\b")
"""How texts of the checklist name the voltage of a full lithium-ion cell."""


def charge_text(item: Item, desk: Desk) -> str:
    """What this build is charged to, where a text of the item names the usual 4.20 V and the build stays below."""
    sheet = desk.judged.assessment.sheet
    full = sheet.number("charge_policy") or sheet.number("cell_full")
    told = any(FULL_TEXT.search(text) for text in (item.how, item.why, item.caution))
    if not told or item.id == "charge_policy" or full is None or full > 4.195:
        return ""
    return f"this build: {units.show(full, 'V', digits=3)} per group, not 4.20 V"


def usual_text(place: Item | Column, desk: Desk) -> str:
    """What is usual for a field: its range, money in the build's currency; empty where none is given."""
    usual = in_money(span_text(place.plausible, place.unit), desk)
    return f"usually {usual}" if usual else ""


CORRECTED = "corrected to "
"""How the reason of a reading begins that another one took the place of."""


def in_place(entry: Entry) -> list[int]:
    """Places in the file of the readings that stand, as they are listed: a correction where the corrected one stood.

    The file keeps readings in the order of their time.
    """
    place = {n: n for n in range(len(entry.readings))}
    taken: set[int] = set()
    for n, reading in enumerate(entry.readings):
        later = (k for k in range(n + 1, len(entry.readings)) if k not in taken)
        if reading.withdrawn.startswith(CORRECTED):
            text = reading.withdrawn.removeprefix(CORRECTED)
            found = next((k for k in later if entry.readings[k].text == text), None)
            if found is not None:
                place[found] = place[n]
                taken.add(found)
    return sorted((n for n, r in enumerate(entry.readings) if not r.withdrawn), key=lambda n: place[n])


def readings_text(item: Item, desk: Desk) -> str:
    """Every standing reading as typed, with how many are asked for."""
    entry = desk.build.entry(item.id)
    if item.several > 1:
        typed = "   ".join(plain(entry.readings[n].text) for n in in_place(entry)[-8:])
        return f"{len(entry.standing)} of {item.several} readings   {typed}".rstrip()
    return ""


def reading_text(item: Item, reading: Reading, desk: Desk) -> str:
    """One reading in a line: what was typed, when, with what, and its remark."""
    parts = [in_money(with_unit(plain(reading.text), item.unit), desk)]
    if reading.taken:
        parts.append(reading.taken.strftime("%-d %b %H:%M"))
    if meter := taken_with(item, reading):
        parts.append(f"with {plain(meter)}")
    if reading.note:
        parts.append(f"remark: {plain(reading.note)}")
    return " · ".join(parts)


def last_text(item: Item, desk: Desk) -> str:
    """The last answer with when and with what it was taken."""
    entry = desk.build.entry(item.id)
    if not entry.standing:
        return f"left out: {plain(entry.left_out.reason)}" if entry.left_out else ""
    last = entry.standing[-1]
    parts = [in_money(f"now {answer_text(item, entry)}", desk)]
    if meter := taken_with(item, last):
        parts.append(f"with {plain(meter)}")
    if last.value_class != "measured":
        parts.append(last.value_class)
    if last.taken:
        parts.append(last.taken.strftime("%-d %b %H:%M"))
    if last.columns:
        parts.append(f"columns set by hand: {plain(last.columns)}")
    if last.note:
        parts.append(f"remark: {plain(last.note)}")
    return " · ".join(parts)


def expected_text(item: Item, desk: Desk) -> str:
    """What the past build showed for the same item; never a reading."""
    entry = desk.build.entry(item.id)
    if entry.expected:
        return f"in the past build: {plain(entry.expected)}"
    if entry.expected_rows and item.role == "instruments":
        return f"the build it came from used {listed(_meters(item, entry.expected_rows), 6)}: list your own"
    if entry.expected_rows:
        return f"in the past build: {len(entry.expected_rows)} {item.row_name}s"
    return ""


def _meters(item: Item, rows: Sequence[Row]) -> list[str]:
    """What the instruments of a past build are, each once however many ranges are listed."""
    options = next((c.options for c in item.columns if c.id == "kind"), ())
    kinds = {r.text("meter") or r.id: option_label(options, r.text("kind")) for r in rows}
    return [plain(f"{name} ({kind})" if kind else name) for name, kind in kinds.items()]


def table_text(item: Item, desk: Desk) -> str:
    """How far a table is filled."""
    entry, sheet = desk.build.entry(item.id), desk.judged.assessment.sheet
    wanted = wanted_rows(item, sheet)
    have = len(entry.rows)
    rejected = sum(1 for r in entry.rows if r.text("decision") == "reject")
    many = f"{item.row_name}{'' if have == 1 and not wanted else 's'}"
    parts = [f"{have} of {len(wanted)} {many}" if wanted else f"{have} {many}"]
    if rejected:
        parts.append(f"{rejected} rejected")
    parts.append(f"columns: {listed([c.label for c in item.columns], 5)}")
    return " · ".join(parts)


def instrument_names(desk: Desk, dimension: str) -> list[tuple[str, str]]:
    """The instruments of the build that measure a dimension: id and words."""
    found = []
    for name, meter in instruments(desk.build).items():
        if meter.quantity == dimension:
            row = desk.build.entry("instruments").row(name)
            reach = f", {plain(row.text('range'))} range" if row and row.text("range") else ""
            found.append((name, f"{name}  {plain(meter.meter)}{reach}"))
    return found


def last_instrument(desk: Desk, step: Step, dimension: str) -> str:
    """The instrument last used in a step for a dimension: chosen once, it stays chosen."""
    taken = [
        (r.taken, r.instrument)
        for i in step.items
        if i.dimension == dimension
        for r in desk.build.entry(i.id).standing
        if r.instrument
    ]
    for item in step.items:
        columns = {c.id for c in item.columns if c.dimension == dimension}
        taken += [
            (cell.taken, cell.instrument)
            for row in desk.build.entry(item.id).rows
            for name, cell in row.cells.items()
            if name in columns and cell.instrument
        ]
    dated = [(when, name) for when, name in taken if when is not None]
    return max(dated)[1] if dated else taken[-1][1] if taken else ""
