"""All workings of a finished build from scratch and after one edit; its checks, states and verdict likewise."""

from __future__ import annotations

from collections.abc import Callable
from statistics import median
from time import thread_time
from typing import Any, TypeVar

from buildtrack.judging import judge, judge_again
from buildtrack.model import edit
from buildtrack.model.build import Reading
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from buildtrack.workings.graph import Sheet
from buildtrack.workings.registry import refresh, sheet_of
from buildtrack.workings.values import Known

ROUNDS = 25
T = TypeVar("T")


def _timed(times: list[float], act: Callable[..., T], *given: Any) -> T:
    start = thread_time()
    found = act(*given)
    times.append(thread_time() - start)
    return found


def _look_at_every_error(sheet: Sheet) -> None:
    for value in sheet.values.values():
        if isinstance(value, Known):
            len(value.spread)


def measure() -> list[tuple[str, float, str, str]]:
    """Milliseconds of processor time, medians of several rounds in this run; texts of readings were parsed before."""
    path = shipped_samples() / "garden-screwdriver-cleared.toml"
    build = read_build(path).build
    checklist = find_checklist(build.checklist.id)
    moment = build.history[-1].at
    assert moment is not None
    day, item = moment.date(), checklist.items["board_idle_current"]
    judged = judge(build, checklist, path.parent, moment)
    times: list[list[float]] = [[] for _ in range(5)]
    scratch, errors, edited, whole, again = times
    for round_ in range(ROUNDS):
        sheet = _timed(scratch, sheet_of, build, checklist, day)
        _timed(errors, _look_at_every_error, sheet)
        changed = edit.add_reading(build, item, Reading(f"{19 + round_} µA", moment), edit.Hand(moment))
        _timed(edited, refresh, sheet, changed, checklist, day)
        _timed(whole, judge, changed, checklist, path.parent, moment)
        _timed(again, judge_again, judged, changed, moment)
    both = [a + b for a, b in zip(scratch, errors, strict=True)]
    return [
        (f"all {len(sheet.workings)} workings of a finished build, from scratch", median(scratch) * 1e3, "ms", "5 ms"),
        ("the same with every ±, which else is worked out when it is asked for", median(both) * 1e3, "ms", "-"),
        ("the same after one edit (reading the build and what depends on it)", median(edited) * 1e3, "ms", "1 ms"),
        (f"judged from scratch: workings, {len(checklist.checks)} checks, states, verdict", median(whole) * 1e3, "ms", "-"),
        ("judged again after one edit", median(again) * 1e3, "ms", "-"),
    ]
