"""Page 1 and the overview: verdict, conditions, key figures, reviews, what the record is of."""

from __future__ import annotations

from datetime import datetime

from buildtrack import __version__
from buildtrack.checks.silent import says_nothing
from buildtrack.judging import Judged
from buildtrack.record.figures_list import GLANCE, KEY_FIGURES
from buildtrack.record.gather_values import facts
from buildtrack.record.pages import FactGroup, Identity, ReviewLine, VerdictPage
from buildtrack.record.text import day, line, moment, plain, tied

MEANINGS = {
    "cleared": "Every hold point is settled, and every stop and caution that had something to judge passed.",
    "cleared with conditions": "No stop stands. The pack may be used only under the conditions below.",
    "not cleared": "The pack must not be used. What stands against it is listed below.",
    "incomplete": "The work is not finished; nothing here clears the pack for use.",
    "ended early": "The project was stopped for the reason below. The pack must not be used.",
}
LIMITS_ITEM = "user_limits"
"""Text item in which the maker writes what the user must know."""
REVIEWS_PRINTED = 12
"""So many of the last reviews stand on page 1; the history has them all."""
_ACCEPTED = ("accepted", "left out:", "unusual value accepted:")


def last_change(judged: Judged) -> datetime:
    """When the build was last changed; the moment it is judged, where nothing in it is dated."""
    times = [e.at for e in judged.build.history if e.at]
    times += [r.at for r in judged.build.reviews if r.at]
    for entry in judged.build.entries.values():
        times += [r.taken for r in entry.readings if r.taken]
    return max(times, default=judged.build.created or judged.now)


def identity(judged: Judged, content_hash: str, file_hash: str) -> Identity:
    """What this record is of."""
    build, checklist = judged.build, judged.checklist
    origin = build.origin
    made_from = f"{line(origin.title)} ({line(origin.id)}, SHA-256 {line(origin.sha256)})" if origin else ""
    version = checklist.version
    if build.checklist.version and build.checklist.version != version:
        version = f"{version} (begun with {line(build.checklist.version)})"
    return Identity(
        line(build.title, 200) or "untitled build", line(build.id, 80), line(build.maker, 120),
        plain(build.notice, 600), line(checklist.title), version, moment(build.created), moment(last_change(judged)),
        day(judged.now), content_hash, file_hash, made_from, f"buildtrack {__version__}")


def reviews(judged: Judged, content_hash: str) -> tuple[ReviewLine, ...]:
    """Who judged it, and of what content."""
    return tuple(ReviewLine(line(r.reviewer, 120), line(r.decision, 80), day(r.at), plain(r.remarks),
                            line(r.content, 64), bool(r.content) and r.content == content_hash)
                 for r in judged.build.reviews[-REVIEWS_PRINTED:])


def told_to_users(judged: Judged) -> list[str]:
    """The limits that the maker wrote down for the people who use the pack; `none yet` is no limit."""
    item, standing = judged.checklist.items.get(LIMITS_ITEM), judged.build.entry(LIMITS_ITEM).standing
    written = item is not None and standing and not says_nothing(item, standing[-1].text)
    return [f"{item.label}: {standing[-1].text}"] if item is not None and written else []


def verdict_page(judged: Judged, content_hash: str) -> VerdictPage:
    """What page 1 says."""
    a = judged.assessment
    accepted = tuple(c for c in a.conditions if c.startswith(_ACCEPTED))
    limits = [c for c in a.conditions if not c.startswith(_ACCEPTED)] + told_to_users(judged)
    return VerdictPage(
        a.verdict, MEANINGS[a.verdict], tuple(tied(line(r)) for r in a.reasons), tuple(tied(line(c)) for c in limits),
        tuple(tied(line(c)) for c in accepted), tuple(line(c) for c in judged.checklist.cautions),
        facts(judged, KEY_FIGURES), reviews(judged, content_hash))


def glance(judged: Judged) -> tuple[FactGroup, ...]:
    """The design at a glance."""
    groups = (FactGroup(title, facts(judged, names)) for title, names in GLANCE)
    return tuple(g for g in groups if g.facts)
