"""`buildtrack review`: verdict, findings, and the reviewer's questions answered from the record."""

from __future__ import annotations

import argparse

from buildtrack.checks.review import answers, review_lines
from buildtrack.checks.review_since import changed_since_review, event_words, last_decision
from buildtrack.console.common import load, plain, print_json, width, wrapped
from buildtrack.console.judge import CLEARED, finding_text
from buildtrack.judging import Judged
from buildtrack.storage.hashing import content_hash
from buildtrack.workings.explain import plain_data


def review(options: argparse.Namespace) -> int:
    """Print the review of a build; exit codes as for check."""
    judged = load(options.file)
    if options.json:
        print_json(_data(judged))
    else:
        _print(judged)
    return 0 if judged.assessment.verdict in CLEARED else 1


def _data(judged: Judged) -> dict[str, object]:
    a = judged.assessment
    decision = last_decision(judged.build, content_hash(judged.build))
    changes = None if decision is None else len(changed_since_review(judged.build))
    return {
        "title": judged.build.title, "verdict": a.verdict, "reasons": list(a.reasons), "conditions": list(a.conditions),
        "content": content_hash(judged.build), "reviews": plain_data(judged.build.reviews),
        "origin": plain_data(judged.build.origin),
        "changed_since_review": changes,
        "changed_since_review_reason": "" if decision is not None else "never reviewed",
        "decision_holds": None if decision is None else decision.holds,
        "changes": [] if decision is None else [event_words(e, judged.checklist) for e in decision.changes],
        "questions": plain_data(answers(judged.build, judged.checklist, a))}


def _print(judged: Judged) -> None:
    a = judged.assessment
    print(f"{plain(judged.build.title)}: {a.verdict}")
    if judged.build.notice:
        print(plain(judged.build.notice))
    print(f"content {content_hash(judged.build)}")
    if (origin := judged.build.origin) is not None:
        print(wrapped(plain(f"begun from {origin.title} ({origin.id}), SHA-256 {origin.sha256}"), "  ", ""))
    _decision(judged, "")
    for head, lines in (("Why not better", a.reasons), ("Conditions", a.conditions)):
        if lines:
            print(f"\n{head}")
            for line in lines:
                print(wrapped(plain(line), "    ", "  - "))
    shown = [r for r in a.findings if r.outcome != "unknown"]
    if shown:
        print("\nFindings")
        for result in shown:
            print(finding_text(result))
    _reviews(judged)
    print()
    for line in review_lines(judged.build, judged.checklist, a, width()):
        print(plain(line))


def _reviews(judged: Judged) -> None:
    print("\nReviews" if judged.build.reviews else "\nNot reviewed yet")
    now = content_hash(judged.build)
    for review in judged.build.reviews:
        when = review.at.strftime("%Y-%m-%d") if review.at else "no date"
        state = "of exactly this content" if review.content == now else "the content was changed since"
        told = f"{review.reviewer}, {when}: {review.decision} ({state}). {review.remarks}"
        print(wrapped(plain(told), "    ", "  - "))
    _decision(judged, "    ")


def _decision(judged: Judged, indent: str) -> None:
    """Whether the last decision still holds, and what was changed since."""
    decision = last_decision(judged.build, content_hash(judged.build))
    if decision is None:
        return
    print(wrapped(plain(decision.words), indent + "  ", indent))
    for event in decision.changes:
        print(wrapped(plain(event_words(event, judged.checklist)), indent + "    ", indent + "  - "))
