"""What was changed since a decision: what it comes to in the end, in the words of the checklist."""

from __future__ import annotations

from dataclasses import dataclass, replace

from buildtrack.checks.review_remarks import answer_words
from buildtrack.model.build import Build, Event, Review
from buildtrack.model.checklist import Checklist

TAKEN_BACK = "undone"


@dataclass(frozen=True, slots=True)
class Decision:
    """The last decision about a build, and what became of the content it was about."""

    review: Review
    holds: bool
    """Whether the content is just what was judged."""
    changes: tuple[Event, ...]
    """What was done since and stands; empty where it holds."""
    taken_back: bool = False
    """Whether something was done since, and all of it was taken back: only the history is longer."""

    @property
    def words(self) -> str:
        """Whether it holds, in a sentence."""
        said = f"{self.review.reviewer}: {self.review.decision}"
        if self.holds:
            return f"The last decision ({said}) is of exactly this content."
        if self.taken_back:
            return f"The last decision ({said}) is of these answers: what was changed since was taken back."
        if not self.changes:
            return f"The last decision ({said}) no longer holds: the content is another one, and no history says what."
        changed = "1 change" if len(self.changes) == 1 else f"{len(self.changes)} changes"
        return f"The last decision ({said}) no longer holds: {changed} since."


def last_decision(build: Build, content: str) -> Decision | None:
    """The last decision, where there is one. content: SHA-256 of the build as it is (storage.content_hash)."""
    if not build.reviews:
        return None
    review = build.reviews[-1]
    if review.content == content:
        return Decision(review, True, ())
    since = changed_since_review(build)
    standing = what_stands(since)
    return Decision(review, False, standing, taken_back=bool(since) and not standing)


def changed_since_review(build: Build) -> tuple[Event, ...]:
    """What was done to the build after its last review; everything where there was none."""
    places = [n for n, e in enumerate(build.history) if e.what == "reviewed"]
    return build.history[places[-1] + 1 :] if places else build.history


def what_stands(events: tuple[Event, ...]) -> tuple[Event, ...]:
    """Without what was taken back or left as it was; an answer changed twice from its first text to its last."""
    standing: list[Event] = []
    for event in events:
        if event.what != TAKEN_BACK:
            standing.append(event)
        elif standing:
            standing.pop()
    told: list[Event] = []
    for event in standing:
        if told and _goes_on(told[-1], event):
            told[-1] = replace(event, before=told[-1].before)
        else:
            told.append(event)
    return tuple(e for e in told if not (e.what == "changed" and e.before == e.after))


def _goes_on(first: Event, then: Event) -> bool:
    """Whether one change of an answer starts where the one just before it ended."""
    same = (first.item, first.row, first.column) == (then.item, then.row, then.column)
    return same and first.what == then.what == "changed" and first.after == then.before and bool(then.before)


def event_words(event: Event, checklist: Checklist) -> str:
    """One line of the history, in the words of the checklist; a bare number has the unit it is taken in."""
    item, check = checklist.items.get(event.item), checklist.check.get(event.item)
    column = item.column(event.column) if item is not None else None
    place = column or (item if item is not None and item.kind != "table" else None)
    limit = checklist.policy.get(event.item)
    label = item.label if item else check.title if check else limit.label if limit else event.item
    where = ", ".join(p for p in (label, event.row, column.label if column else event.column) if p)
    is_value = place is not None and event.what != "noted"
    before, after = (
        answer_words(place, text) if place is not None and is_value and text else text
        for text in (event.before, event.after)
    )
    change = f"{before} → {after}" if before and after else after or before
    reason = f"({event.reason})" if event.reason else ""
    by = f"by {event.by}" if event.by else ""
    when = f"{event.at:%Y-%m-%d %H:%M}" if event.at else ""
    return "  ".join(p for p in (when, event.what, where, change, reason, by) if p)
