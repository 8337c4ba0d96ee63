"""A build brought together with its checklist, its attached files and the moment, and judged."""

from __future__ import annotations

import copy
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from buildtrack import units
from buildtrack.checks.engine import Assessment, assess
from buildtrack.checks.ruling import Result
from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist
from buildtrack.storage.checklist_change import KEY as OUTLINE
from buildtrack.storage.checklist_change import asked_since, outline
from buildtrack.storage.collector import no_collection
from buildtrack.workings.explain import explain, in_brief, plain_data
from buildtrack.workings.graph import Sheet
from buildtrack.workings.inputs import ATTACHED, LOG_DATA, OWN_DATA
from buildtrack.workings.registry import refresh, sheet_of
from buildtrack.workings.values import Known, Value

OPEN_STOPS = "open_stops"
"""Key of a summary: titles of the stops that failed, or that the readings leave undecided."""


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
    if build.entry("own_curve_log").standing:
        from buildtrack.storage.log_data import read_own_logs

        found[OWN_DATA] = read_own_logs(build, checklist, folder)
    return found


def file_stamps(build: Build, checklist: Checklist, folder: Path) -> tuple[tuple[str, int, int], ...]:
    """Name, time of change [ns] and size [bytes] of every attached file; -1 where it cannot be looked at."""
    if not any(build.entry(i.id).standing for i in checklist.all_items() if i.kind in ("photo", "file")):
        return ()
    from buildtrack.storage.attachments import AttachmentError, resolve
    from buildtrack.storage.attachments import attached as attached_files

    found = []
    for _, reading in attached_files(build, checklist):
        try:
            seen = resolve(folder, reading.text).stat()
        except (AttachmentError, OSError):
            found.append((reading.text, -1, -1))  # the check of the files says what is wrong with it
        else:
            found.append((reading.text, seen.st_mtime_ns, seen.st_size))
    return tuple(found)


def judge(build: Build, checklist: Checklist, folder: Path, now: datetime) -> Judged:
    """Evaluate and judge a build from scratch."""
    with no_collection():
        sheet = sheet_of(build, checklist, now.date(), attached(build, checklist, folder))
        return Judged(build, checklist, folder, now, _assessed(build, checklist, sheet, now))


FINISHED = ("cleared", "cleared with conditions", "not cleared")
"""Verdicts of a build in which nothing was open."""


def _assessed(build: Build, checklist: Checklist, sheet: Sheet, now: datetime) -> Assessment:
    """A build judged, told first what its checklist has come to ask since."""
    found = assess(build, checklist, sheet, now)
    told = _asked_more(build, checklist, found)
    return replace(found, reasons=(told, *found.reasons)) if told else found


def _asked_more(build: Build, checklist: Checklist, found: Assessment) -> str:
    """What of that which is open, or speaks against a build, its checklist did not have when the build was made."""
    items, checks = asked_since(build, checklist)
    if build.ended is not None or not (items or checks):
        return ""
    needed = [s for s in found.status.items.values() if not s.settled and checklist.items[s.item].need != "optional"
              and not (s.lacks and all(name.partition(".")[0] in items for name in s.lacks))]  # waits for what is new
    new = [f"'{checklist.items[s.item].label}'" for s in needed if s.item in items]
    against = [f"'{r.title}'" for r in found.results if r.check in checks and r.severity != "note" and r.waiver is None
               and r.outcome in ("fail", "unsure")]
    if not new and not against:
        return ""
    done = "finished" if build.snapshot.get("verdict") in FINISHED else "made"
    told = [f"its checklist asks for more since this build was {done}: {_few(new)}"] if new else []
    told += [f"its checklist judges by more since this build was {done}: {_few(against)}"] if against else []
    return "; ".join(told) + ("; no other item is open" if new and len(new) == len(needed) else "")


def _few(names: list[str], most: int = 6) -> str:
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


def judge_again(before: Judged, build: Build, now: datetime) -> Judged:
    """Judge an edited build, recomputing only what depends on the edit; `before` stays as it is."""
    sheet = copy.copy(before.assessment.sheet)
    sheet.values = dict(sheet.values)
    refresh(sheet, build, before.checklist, now.date(), attached(build, before.checklist, before.folder))
    return Judged(build, before.checklist, before.folder, now, _assessed(build, before.checklist, sheet, now))


def lifted(before: Judged, after: Judged) -> list[Result]:
    """The stops that stood failed before an edit and are gone after it."""
    still = {r.check for r in after.assessment.results if r.outcome in ("fail", "unsure")}
    return [r for r in before.assessment.results
            if r.severity == "stop" and r.outcome == "fail" and r.check not in still]


SAME_MOMENT = timedelta(seconds=20)
"""So long a judgement of the same build is given again: what depends on time counts in hours and days."""


class Judge:
    """Judges one build again and again, each edit once, whichever thread asks first."""

    def __init__(self, whole: Callable[[Build, Checklist, Path, datetime], Judged] = judge,
                 again: Callable[[Judged, Build, datetime], Judged] = judge_again) -> None:
        self._whole, self._again = whole, again
        self._guard = threading.Lock()
        self._last: Judged | None = None
        self._stamps: tuple[tuple[str, int, int], ...] = ()
        """The attached files as they were when it judged last."""

    def of(self, build: Build, checklist: Checklist, folder: Path, now: datetime) -> Judged:
        """The judgement of a build at a moment: the last one where it still holds, else one that builds on it."""
        with self._guard:
            last, stamps = self._last, file_stamps(build, checklist, folder)
            same_files, self._stamps = stamps == self._stamps, stamps
            if last is None or last.checklist is not checklist:
                last = self._whole(build, checklist, folder, now)
            elif (same_files and abs(now - last.now) < SAME_MOMENT and now.date() == last.now.date()
                  and last.build == build):
                last = last if last.build is build else replace(last, build=build)  # a build just read once more
            else:
                last = self._again(last, build, now)
            self._last = last
            return last

    def files_changed(self, build: Build, checklist: Checklist, folder: Path) -> bool:
        """Whether an attached file is another one, is gone or came back since the last judgement."""
        return file_stamps(build, checklist, folder) != self._stamps

    def summary(self, build: Build, checklist: Checklist, path: Path, now: datetime) -> Mapping[str, Any]:
        """The summary of a build, as storage asks for it."""
        return snapshot(self.of(build, checklist, path.parent, now))


def snapshot(judged: Judged) -> Mapping[str, Any]:
    """Verdict and workings for readers without the program; recomputed on opening, never read as truth."""
    sheet = judged.assessment.sheet
    workings = {}
    for name in sheet.workings:
        _, state, shown = in_brief(name, sheet, judged.checklist)
        if state == "known":
            workings[name] = shown
    stops = [r.title for r in judged.assessment.results if r.severity == "stop" and r.outcome in ("fail", "unsure")]
    made_with = judged.build.checklist.sha256 == judged.checklist.sha256
    return {
        "verdict": judged.assessment.verdict, "checklist_version": judged.checklist.version,
        "judged_at": judged.now.replace(microsecond=0), "conditions": list(judged.assessment.conditions),
        # of the checklist the build was made with: what a later one changed is told against it
        OUTLINE: outline(judged.checklist) if made_with else judged.build.snapshot.get(OUTLINE, {}),
        "workings": workings,
        **({OPEN_STOPS: stops} if stops else {}),
    }


def summary(build: Build, checklist: Checklist, path: Path, now: datetime) -> Mapping[str, Any]:
    """The snapshot of a build file at `path`, as storage asks for it when it saves."""
    return snapshot(judge(build, checklist, path.resolve().parent, now))


def _in_unit(value: Any, unit: str) -> Any:
    """A number in the unit named beside it; structured results keep the canonical units of their field names."""
    return units.in_unit(value, unit) if isinstance(value, float) else plain_data(value)


def _spread_in_unit(spread: float | None, unit: str) -> float | None:
    found = units.find_unit(unit) if unit else None
    return spread if spread is None or found is None else spread / found.factor


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
            "label": told.label, "value": _in_unit(told.value, told.unit), "unit": told.unit, "shown": told.shown,
            "plus_minus": _spread_in_unit(told.plus_minus, told.unit),
            "formula": told.formula, "substituted": told.substituted,
            "source": told.source, "needs": list(told.needs), "inputs": list(told.inputs), "state": told.state}
    return {"title": judged.build.title, "checklist": judged.checklist.id, "verdict": a.verdict,
            "reasons": list(a.reasons), "conditions": list(a.conditions), "findings": findings, "workings": workings}
