"""What the reviewer's questions are told from the record as a whole: order, acceptances, days, ratios, the verdict."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from buildtrack import units
from buildtrack.checks.engine import Assessment
from buildtrack.model.build import Build, Reading, Row
from buildtrack.model.checklist import Checklist, Item
from buildtrack.workings.inputs import counting, parse_date
from buildtrack.workings.pack_groups import GroupReport
from buildtrack.workings.values import Known


@dataclass(frozen=True, slots=True)
class Evidence:
    """One thing the record says to a question."""

    key: str
    """item:x, working:x, check:x, or nothing."""
    label: str
    shown: str
    known: bool
    against: bool = False
    stated: bool = False
    """A limit of the checklist that stands without any answer, or a remark: shown, but it answers nothing."""
    weight: str = ""
    """Of a check that found something: stop, caution, accepted or note."""


def _nothing(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    yield from ()


def _order(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    holds = [i for i in checklist.all_items() if i.hold and assessment.status.items[i.id].state != "not needed"]
    settled = [i for i in holds if assessment.status.items[i.id].settled]
    yield Evidence("", "Hold points settled", f"{len(settled)} of {len(holds)}", bool(settled))
    for step in checklist.steps:
        stops = assessment.status.step(step.id).stopped_by
        if stops and any(build.entry(i.id).standing or build.entry(i.id).rows for i in step.items):
            shown = ", ".join(checklist.check[name].title for name in stops)
            yield Evidence(f"check:{stops[0]}", f"{step.title}: entered although a stop holds it", shown, True, True,
                           weight="stop")


def _waivers(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    for waiver in build.waivers:
        rule = checklist.check.get(waiver.check)
        shown = _said_by(waiver.by, waiver.reason)
        yield Evidence(f"check:{waiver.check}", f"Accepted: {rule.title if rule else waiver.check}", shown, True)
    for item in checklist.all_items():
        entry = build.entry(item.id)
        if (
            entry.left_out is not None
            and assessment.status.items[item.id].state == "left out"
            and item.need == "expected"
        ):
            shown = _said_by(entry.left_out.by, entry.left_out.reason)
            yield Evidence(f"item:{item.id}", f"Left out: {item.label}", shown, True)
        for reading in counting(item, entry):
            if reading.accepted and assessment.status.items[item.id].state != "not needed":
                shown = _said_by(_entered_by(build, item, reading), reading.accepted)
                yield Evidence(f"item:{item.id}", f"Accepted as unusual: {item.label} {reading.text}", shown, True)
    if not build.waivers:
        yield Evidence("", "Accepted cautions", "none", bool(build.entries))


def _said_by(who: str, reason: str) -> str:
    return f"{who}: {reason}" if who else reason


def _entered_by(build: Build, item: Item, reading: Reading) -> str:
    """Who entered a reading, by the history; empty where that does not say."""
    return next((e.by for e in reversed(build.history) if e.item == item.id and e.after == reading.text and e.by), "")


def _typing(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    times = [e.at for e in build.history if e.at is not None and e.what in ("entered", "changed")]
    if times:
        yield Evidence(
            "", "Entries", f"{len(times)} from {min(times):%Y-%m-%d %H:%M} to {max(times):%Y-%m-%d %H:%M}", True
        )
    else:
        yield Evidence("", "Entries", "none in the history", False)


def _classes(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    counted: Counter[str] = Counter()
    for entry in build.entries.values():
        counted.update(r.value_class for r in entry.standing)
        counted.update(c.value_class for row in entry.rows for c in row.cells.values() if c.text)
    shown = ", ".join(f"{counted[k]} {k}" for k in ("measured", "taken over", "guessed") if counted[k])
    yield Evidence("", "Answers by how they were obtained", shown or "none", bool(counted))


def _verdict(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    """The verdict is computed of any record: it is shown, and answers nothing about its limits of use."""
    yield Evidence("", "Verdict by rule", assessment.verdict, True, stated=True)
    yield Evidence("", "Conditions", f"{len(assessment.conditions)} named", True, stated=True)


def _kept(build: Build) -> list[Row]:
    return [r for r in build.entry("candidates").rows if r.text("decision") != "reject"]


def _arrivals(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    """On which days the kept cells were read as they came."""
    rows = _kept(build)
    days = [c.taken.date() for r in rows if (c := r.cells.get("arrival_voltage")) and c.text and c.taken]
    if rows:
        shown = f"{len(days)} of {len(rows)} cells, {_span(min(days), max(days))}" if days else "not recorded"
        yield Evidence("item:candidates", "Day of the arrival reading", shown, len(days) == len(rows))


def _rests(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    """The days of the rest test as numbers, cell by cell the least and the most."""
    item = checklist.items.get("candidates")
    for label, first, last in (("Days from charge to first rest reading", "charged_on", "rest_1_on"),
                               ("Days between the rest readings", "rest_1_on", "rest_2_on")):
        if item is None or not (item.column(first) and item.column(last)):
            continue
        rows = _kept(build)
        days = [d for r in rows if (d := _days_between(r.text(first), r.text(last))) is not None]
        shown = f"{_span(min(days), max(days))} d, {len(days)} of {len(rows)} cells" if days else "not recorded"
        yield Evidence("item:candidates", label, shown, bool(days) and len(days) == len(rows))


def _days_between(first: str, last: str) -> int | None:
    try:
        return (parse_date(last) - parse_date(first)).days if first and last else None
    except ValueError:
        return None  # the column says so itself


def _span(low: object, high: object) -> str:
    return f"{low}" if low == high else f"{low} to {high}"


def _resistance_ratio(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    """The highest resistance of a kept cell over the median of the lot."""
    median, table = assessment.sheet.number("median_resistance"), assessment.sheet.value("candidates")
    kept = [r for r in table.value if r.get("decision") == "keep"] if isinstance(table, Known) else []
    ohms = {r.id: ohm for r in kept if (ohm := r.number("resistance")) is not None}
    if median and ohms:
        worst = max(ohms, key=lambda name: ohms[name])
        shown = f"{worst}, {units.show(ohms[worst] / median, digits=3)} times the median"
        yield Evidence("item:candidates", "Highest resistance of a kept cell", shown, True)


def _smallest_group(build: Build, checklist: Checklist, assessment: Assessment) -> Iterator[Evidence]:
    """Which group holds least by its cells, and whether it was the first one down."""
    report = assessment.sheet.value("group_report")
    groups = report.value.groups if isinstance(report, Known) and isinstance(report.value, GroupReport) else ()
    sums = {g.id: g.capacity_ah for g in groups if g.capacity_ah is not None}
    if len(groups) < 2 or len(sums) < len(groups):
        return
    low = min(sums.values())
    names = [name for name, ah in sums.items() if ah <= low * 1.0000001]
    first = assessment.sheet.value("first_group_down")
    same = f"; first down: {first.value}" if isinstance(first, Known) else ""
    yield Evidence("working:group_report", "Smallest group by its cells", f"{', '.join(names)}{same}", True)


Teller = Callable[[Build, Checklist, Assessment], Iterator[Evidence]]

TOLD: Mapping[str, Teller] = {
    "": _nothing,
    "order": _order,
    "waivers": _waivers,
    "typing": _typing,
    "classes": _classes,
    "verdict": _verdict,
    "arrivals": _arrivals,
    "rests": _rests,
    "resistance ratio": _resistance_ratio,
    "smallest group": _smallest_group,
}
