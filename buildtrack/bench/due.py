"""What is due, and when: rests that run, readings that will expire, re-checks. From dates in the build."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from buildtrack.bench.plain import listed, plain
from buildtrack.judging import Judged
from buildtrack.model.build import Build
from buildtrack.workings.inputs import parse_date
from buildtrack.workings.status import last_taken
from buildtrack.workings.values import Known

TABLE = "candidates"
WORN_OUT = "worn-out"
"""The check that says a pack has served its time."""
SOON = timedelta(days=14)
"""How long before its end an expiry is announced."""


@dataclass(frozen=True, slots=True, order=True)
class Due:
    """One thing that is or will be due."""

    on: date
    what: str
    item: str = ""

    def told(self, today: date, idle: bool = True) -> str:
        """The sentence for the screen; idle: whether there is really nothing to do before."""
        if self.on <= today:
            return f"due since {day(self.on)}: {self.what}" if self.on < today else f"due today: {self.what}"
        return f"nothing to do until {day(self.on)}; then {self.what}" if idle else f"on {day(self.on)}: {self.what}"


def day(when: date) -> str:
    """A day for people: 19 Nov 2026."""
    return when.strftime("%-d %b %Y")


def _days(judged: Judged, policy: str, default: float) -> timedelta:
    value = judged.assessment.sheet.number(policy)
    return timedelta(seconds=value if value is not None else default)


def _read_day(text: str) -> date | None:
    try:
        return parse_date(text)
    except ValueError:
        return None  # the table itself shows the refusal beside the field


def rests(judged: Judged) -> Iterator[Due]:
    """Second resting voltages that wait for their day."""
    for on, cells in resting(judged.build, _days(judged, "rest_duration", 12 * 86400.0)):
        yield Due(on, f"read {cells} with the same meter", TABLE)


def resting(build: Build, rest: timedelta) -> Iterator[tuple[date, str]]:
    """Days on which cells have rested long enough for their second voltage, with the names of the cells."""
    waiting: dict[date, list[str]] = {}
    for row in build.entry(TABLE).rows:
        began = _read_day(row.text("rest_1_on"))
        if began is not None and not row.text("rest_2_voltage") and row.text("decision") != "reject":
            waiting.setdefault(began + rest, []).append(plain(row.id))
    for on, names in waiting.items():
        yield on, f"{names[0]} to {names[-1]}" if len(names) > 3 else listed(names)


def handed_over(build: Build) -> bool:
    """Whether the pack is in use: handed over, or re-checked already."""
    return bool(build.entry("handed_over_on").standing or build.entry("rechecks").rows)


def expiries(judged: Judged) -> Iterator[Due]:
    """Answers that hold only for a time."""
    for item in judged.checklist.all_items():
        taken = last_taken(judged.build.entry(item.id))
        if item.expires_s is None or item.expires_before or taken is None or item.expires_s < 86400:
            continue
        ends = (taken + timedelta(seconds=item.expires_s)).date()
        if ends - judged.now.date() <= SOON:
            yield Due(ends, f"measure '{item.label}' again", item.id)


def rechecks(judged: Judged) -> Iterator[Due]:
    """The next re-check of a pack that was handed over, or is cleared."""
    build = judged.build
    value = judged.assessment.sheet.values.get("next_recheck")
    if isinstance(value, Known) and (handed_over(build) or judged.assessment.verdict.startswith("cleared")):
        on = _read_day(str(value.value))
        if on is not None:
            yield Due(on, "re-check the pack: resting voltages of every group", "rechecks")
        look = judged.assessment.sheet.values.get("next_top_up")
        by = _read_day(str(look.value)) if isinstance(look, Known) else None
        if by is not None and (on is None or by < on):
            yield Due(by, "look at every group and top up, as agreed", "rechecks")


def due(judged: Judged) -> list[Due]:
    """Everything that is or will be due, the earliest first."""
    return sorted([*rests(judged), *expiries(judged), *rechecks(judged)])


def due_lines(judged: Judged) -> list[str]:
    """Sentences for the screen: first that the pack is out of use where it is; then what is due."""
    if judged.build.ended is not None:
        return []
    today, barred = _today(judged.now), _barred(judged)
    # Of a pack in use nothing else is to be done only where no item waits; cells at rest are what their step waits for.
    waiting = bool(judged.assessment.status.next_item)
    told = [each.told(today, not barred and not (waiting and each.item == "rechecks")) for each in due(judged)]
    return [*barred[:1], *told] if handed_over(judged.build) else told


def _barred(judged: Judged) -> list[str]:
    """What forbids the use of the pack, the gravest first: stops that failed, its service ended, stops in doubt."""
    failed = [r for r in judged.assessment.findings if r.outcome == "fail"]
    unsure = [r for r in judged.assessment.findings if r.outcome == "unsure" and r.severity == "stop"]
    rules = judged.checklist.check
    stops = [(r.title, rules[r.check].ends) for r in failed if r.severity == "stop"]
    told = [f"out of use: {title}; until {ends}" if ends else f"out of use until it is mended: {title}"
            for title, ends in stops]
    return told + [
        f"out of service: {r.title}" for r in failed if r.check == WORN_OUT] + [
        f"read again before it is used: {r.title}" for r in unsure]


def _today(now: datetime) -> date:
    return now.date()
