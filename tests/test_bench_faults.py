"""A stop that cannot be told is counted as not settled, never as a stop that was found."""

from __future__ import annotations

from buildtrack.bench.faults import faults_sign, faults_text
from buildtrack.checks.ruling import Result


def fault(severity: str, outcome: str = "fail") -> Result:
    return Result("c", severity, outcome, "wire", "", "Title", "message", "", (), (), "")


def test_stops_found_and_stops_not_settled_are_told_apart() -> None:
    found, unsure, caution = fault("stop"), fault("stop", "unsure"), fault("caution")
    assert faults_text([found, unsure, caution]) == "1 stop, 1 stop not settled, 1 caution"
    assert faults_text([unsure, unsure]) == "2 stops not settled"
    assert faults_text([fault("caution", "unsure"), caution]) == "2 cautions"
    signs = [faults_sign(each) for each in ([unsure, found], [unsure, caution], [caution])]
    assert signs == [("✗", "bad"), ("?", "bad"), ("▲", "warn")]
