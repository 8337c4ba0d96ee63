"""No rule breaks, and none falls silent, when one of the values it looks at is missing."""

from __future__ import annotations

import copy
from dataclasses import replace
from functools import cache

import pytest

from buildtrack.checks.engine import rule_on
from buildtrack.checks.ruling import OUTCOMES, Context, Ruling
from buildtrack.model.build import Build
from buildtrack.storage.checklist_file import check_library
from buildtrack.workings.graph import Sheet
from buildtrack.workings.registry import sheet_of
from buildtrack.workings.status import Status, status_of
from buildtrack.workings.values import Missing
from tests import back, front
from tests.make import NOW

Whole = tuple[Build, Sheet, Status]


@cache
def sound(left_away: str = "") -> Whole:
    """The build that is sound to its end, or the same with one item never answered; computed once."""
    build = back.build({"record_detail": "full"})
    build = replace(build, entries={name: entry for name, entry in build.entries.items() if name != left_away})
    sheet = sheet_of(build, front.checklist(), NOW.date())
    return build, sheet, status_of(build, front.checklist(), sheet, NOW)


def without(*names: str) -> Whole:
    """It without an answer, or with values of its sheet missing and everything else as it was."""
    build, whole, status = sound()
    if names[0] in build.entries:
        return sound(names[0])
    sheet = copy.copy(whole)
    sheet.values = {**whole.values, **{name: Missing(frozenset({name})) for name in names}}
    return build, sheet, status


def ruled(check: str, whole: Whole) -> tuple[Ruling, set[str]]:
    build, sheet, status = whole
    context = Context(build, front.checklist(), sheet, status, check_library()[check], NOW)
    return rule_on(check_library()[check], context), context.seen


@pytest.mark.parametrize("check", sorted(check_library()))
def test_a_rule_answers_whichever_of_its_values_is_missing(check: str) -> None:
    _, seen = ruled(check, sound())
    for name in sorted(seen & set(sound()[1].values)):
        ruling, _ = ruled(check, without(name))
        assert ruling.outcome in OUTCOMES, (check, name)
        # an open answer says what it waits for, so that somebody can act
        assert ruling.outcome != "unknown" or ruling.needs, (check, name)


NEEDED: list[tuple[str, str]] = [
    # the limit of a check is missing: it cannot be judged, whatever the value
    ("charge-limit-exceeded", "cell_full"), ("capacity-kept-bad", "health_recycle"),
    ("leak-watched", "drop_ok"), ("rest-from-the-charger", "rest_baseline"), ("rest-too-short", "rest_duration"),
    ("reading-beyond-range", "meter_share"), ("joined-not-ideally", "joining_ideal"),
    ("group-resistances-apart", "group_resistance_ratio"), ("strip-overloaded", "duty_rms_current")]


@pytest.mark.parametrize(("check", "name"), NEEDED)
def test_a_rule_that_lost_its_limit_cannot_be_judged(check: str, name: str) -> None:
    assert name in sound()[1].values
    more = ("charge_policy",) if check == "charge-limit-exceeded" else ()
    ruling, _ = ruled(check, without(name, *more))
    assert ruling.outcome == "unknown" and ruling.needs
