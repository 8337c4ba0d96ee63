"""What stands against a build, counted in words and as a sign."""

from __future__ import annotations

from collections.abc import Sequence

from buildtrack.checks.ruling import Result


def faults_text(faults: Sequence[Result]) -> str:
    """How many stops and cautions, in words: 1 stop, 3 cautions; a stop that cannot be told is not settled."""
    stops = [r for r in faults if r.severity == "stop"]
    found = sum(r.outcome == "fail" for r in stops)
    unsure, cautions = len(stops) - found, len(faults) - len(stops)
    counted = ((found, "stop", ""), (unsure, "stop", " not settled"), (cautions, "caution", ""))
    return ", ".join(f"{n} {word}{'' if n == 1 else 's'}{more}" for n, word, more in counted if n)


def faults_sign(faults: Sequence[Result]) -> tuple[str, str]:
    """Sign and look of some stops and cautions, of which there is at least one."""
    if any(r.severity == "stop" and r.outcome == "fail" for r in faults):
        return "✗", "bad"
    return ("?", "bad") if any(r.severity == "stop" for r in faults) else ("▲", "warn")
