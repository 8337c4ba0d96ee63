"""`buildtrack check`: the verdict, its reasons and conditions, and the findings."""

from __future__ import annotations

import argparse

from buildtrack.checks.engine import NOT_YET, Assessment
from buildtrack.checks.ruling import Result
from buildtrack.console.common import load, plain, print_json, wrapped
from buildtrack.judging import as_json

CLEARED = ("cleared", "cleared with conditions")


def check(options: argparse.Namespace) -> int:
    """Print the judgement of a build; 0 cleared, 1 findings."""
    judged = load(options.file)
    if options.json:
        print_json(as_json(judged))
    else:
        print(f"{plain(judged.build.title)}: {judged.assessment.verdict.upper()}")
        if judged.build.notice:
            print(plain(judged.build.notice))
        _print(judged.assessment)
    return 0 if judged.assessment.verdict in CLEARED else 1


def _print(assessment: Assessment) -> None:
    for head, lines in (("Why not better", assessment.reasons), ("Conditions", assessment.conditions)):
        if lines:
            print(f"\n{head}")
            for line in lines:
                print(wrapped(plain(line), "    ", "  - "))
    shown = [r for r in assessment.findings if r.outcome != "unknown"]
    waiting = len(assessment.findings) - len(shown)
    if shown:
        print("\nFindings")
        for result in shown:
            print(finding_text(result))
    if waiting:
        print(f"\n{waiting} checks wait for readings (buildtrack show names them).")


def finding_text(result: Result) -> str:
    """One finding for people, with what to do."""
    waived = f" Accepted: {result.waiver.reason}" if result.waiver else ""
    said = f"{result.severity} {result.outcome}: {result.title}: {result.message}"
    if result.outcome == "unknown":
        said = f"{result.severity}, not judged yet: {result.title}: {result.message.removeprefix(NOT_YET)}"
    text = f"{said}{waived}"
    advice = f"\n{wrapped(plain(result.advice), '      ')}" if result.advice and result.outcome != "unknown" else ""
    return wrapped(plain(text), "    ", "  - ") + advice
