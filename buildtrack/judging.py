"""A build brought together with its checklist, its attached files and the moment, and judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from buildtrack.checks.engine import Assessment, assess
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist
from buildtrack.workings.explain import explain, plain_data
from buildtrack.workings.inputs import ATTACHED, LOG_DATA
from buildtrack.workings.registry import refresh, sheet_of
from buildtrack.workings.values import Known, Value


@dataclass(frozen=True, slots=True)
class Judged:
    """Everything the screens, the record and the commands show of a build."""

    build: Build
    checklist: Checklist
    folder: Path
    """Folder of the build file: attached photos and logs are named relative to it."""
    now: datetime
    assessment: Assessment


def attached(build: Build, checklist: Checklist, folder: Path) -> dict[str, Value]:
    """Graph inputs read from attached files: the discharge log, and whether every file is there and unchanged."""
    found: dict[str, Value] = {}
    if any(build.entry(i.id).standing for i in checklist.all_items() if i.kind in ("photo", "file")):
        from buildtrack.storage.attachments import check_attachments  # a build without files never pays for it

        faults = check_attachments(build, checklist, folder)
        found[ATTACHED] = Known("; ".join(f.message for f in faults), {}, "computed")
    if build.entry("discharge_log").standing:
        from buildtrack.storage.log_data import read_log

        found[LOG_DATA] = read_log(build, checklist, folder)
    return found


def judge(build: Build, checklist: Checklist, folder: Path, now: datetime) -> Judged:
    """Evaluate and judge a build from scratch."""
    sheet = sheet_of(build, checklist, now.date(), attached(build, checklist, folder))
    return Judged(build, checklist, folder, now, assess(build, checklist, sheet, now))


def judge_again(before: Judged, build: Build, now: datetime) -> Judged:
    """Judge an edited build, recomputing only what depends on the edit (the sheet of `before` is taken over)."""
    sheet = before.assessment.sheet
    refresh(sheet, build, before.checklist, now.date(), attached(build, before.checklist, before.folder))
    return Judged(build, before.checklist, before.folder, now, assess(build, before.checklist, sheet, now))


def snapshot(judged: Judged) -> Mapping[str, Any]:
    """Verdict and workings for readers without the program; recomputed on opening, never read as truth."""
    sheet = judged.assessment.sheet
    workings = {}
    for name in sheet.workings:
        told = explain(name, sheet, judged.checklist)
        if told.state == "known":
            workings[name] = told.shown
    return {
        "verdict": judged.assessment.verdict, "checklist_version": judged.checklist.version,
        "judged_at": judged.now.replace(microsecond=0), "conditions": list(judged.assessment.conditions),
        "workings": workings,
    }


def summary(build: Build, checklist: Checklist, path: Path, now: datetime) -> Mapping[str, Any]:
    """The snapshot of a build file at `path`, as storage asks for it when it saves."""
    return snapshot(judge(build, checklist, path.resolve().parent, now))


def as_json(judged: Judged) -> dict[str, Any]:
    """What `check --json` prints."""
    a = judged.assessment
    findings = [{"check": r.check, "severity": r.severity, "outcome": r.outcome, "step": r.step, "item": r.item,
                 "title": r.title, "message": r.message, "needs": list(r.needs), "advice": r.advice,
                 "mistakes": list(r.mistakes), "waived": r.waiver.reason if r.waiver else None}
                for r in a.findings]
    workings = {}
    for name in a.sheet.workings:
        told = explain(name, a.sheet, judged.checklist)
        workings[name] = {
            "label": told.label, "value": plain_data(told.value), "unit": told.unit, "shown": told.shown,
            "plus_minus": told.plus_minus, "formula": told.formula, "substituted": told.substituted,
            "source": told.source, "needs": list(told.needs), "inputs": list(told.inputs), "state": told.state}
    return {"title": judged.build.title, "checklist": judged.checklist.id, "verdict": a.verdict,
            "reasons": list(a.reasons), "conditions": list(a.conditions), "findings": findings, "workings": workings}
