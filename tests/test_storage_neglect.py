"""A pack in the drawer: what is told when it was forgotten, lies full or nearly empty, or must not be used at all."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from buildtrack.bench.due import due_lines
from buildtrack.checks.ruling import fill
from buildtrack.judging import judge
from buildtrack.model.build import Ended
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.workings.aftercare_rechecks import recheck_report
from buildtrack.workings.aftercare_upkeep import next_top_up
from buildtrack.workings.values import Record, Table
from tests import back, front
from tests.back import checked, made, rule
from tests.back_cases import served
from tests.make import NOW, Given

QUARTER: dict[str, Given] = {"top_up_interval": "90 d"}


def told(check: str, *rechecks: dict[str, str], **changed: Given) -> str:
    """What a check says of the sound build with these re-checks; empty where it passes."""
    ruling = rule(check, made({**QUARTER, **served(*rechecks), **changed} if rechecks else {**QUARTER, **changed}))
    return "" if ruling.outcome == "pass" else fill(front.library(check).message, ruling.facts)


def test_a_pack_that_was_not_topped_up_for_170_days_where_90_were_agreed_is_remarked() -> None:
    assert told("left-too-long", checked("2026-11-25", "170", "3.79 V")) == (
        "at a1 the last charge was 170 d ago; a look and a top-up were agreed every 90 d")
    assert told("left-too-long", checked("2026-11-25", "90", "3.79 V")) == ""


def test_a_pack_that_nobody_has_looked_at_since_its_last_re_check_is_remarked_on_the_day_after() -> None:
    # 27 August and 90 days is 25 November, the day of these tests
    assert told("left-too-long", checked("2026-08-27", "3", "3.79 V")) == ""
    assert "nobody has looked for 91 d" in told("left-too-long", checked("2026-08-26", "3", "3.79 V"))


def test_the_gap_before_the_last_look_counts_from_the_look_before_or_from_the_hand_over() -> None:
    early, late = checked("2026-05-01", "3", "3.79 V"), checked("2026-11-20", "3", "3.79 V")
    assert "a2 came 203 d after the look before it" in told("left-too-long", early, late)
    assert "a1 came 204 d after" in told("left-too-long", late, handed_over_on="2026-04-30")
    assert told("left-too-long", late) == "", "without a hand-over nothing is known of the time before"


def test_the_interval_in_seconds_leads_to_a_day_of_the_calendar() -> None:
    report = recheck_report(Table((Record("a1", {"on": float(date(2026, 1, 31).toordinal()), "g1": 3.8}),)))
    assert next_top_up(90 * 86400.0, report, "2026-01-01") == (date(2026, 1, 31) + timedelta(days=90)).isoformat()
    assert next_top_up(30 * 86400.0, None, "2026-01-01") == "2026-01-31"
    assert next_top_up(30 * 86400.0) is None


@pytest.mark.parametrize(("days", "volts", "remarked"), [
    # above 4.0 V for months is wear (common practice, no source); a month is our own choice
    ("30", "4.01 V", True), ("29", "4.15 V", False), ("30", "4.00 V", False), ("", "4.15 V", False)])
def test_a_pack_that_still_rests_nearly_full_a_month_after_its_charge_is_remarked(
        days: str, volts: str, remarked: bool) -> None:
    row = {k: v for k, v in checked("2026-11-25", days, volts, "3.9 V").items() if v}
    assert ("g1" in told("stored-full", row)) == remarked


def test_a_group_below_the_voltage_at_which_to_charge_is_remarked_long_before_it_is_found_empty() -> None:
    low = checked("2026-11-25", "60", "3.60 V", "3.45 V")
    assert told("stored-low", low).startswith("g2 3.450 V")
    assert told("found-empty", low) == ""


@pytest.mark.parametrize(("checklist", "full", "charge"), [("nickel-tool-pack", 4.0, 3.5), ("shed-light-lfp", 3.35, 3.2)])
def test_what_is_full_and_what_is_low_in_the_drawer_follows_the_chemistry(checklist: str, full: float, charge: float) -> None:
    found = find_checklist(checklist).policy
    assert (found["storage_full"].value, found["storage_charge"].value) == (full, charge)


# --- days that cannot be ---


def test_a_re_check_a_rest_and_a_hand_over_dated_in_the_future_are_named_with_their_day() -> None:
    assert told("recheck-ahead", checked("2027-01-05", "3", "3.79 V")) == "a1 Date 2027-01-05"
    ahead = front.cells(c02={"rest_1_on": "2027-10-03"})
    assert told("cells-dated-ahead", candidates=ahead) == "c02 First rest reading on 2027-10-03"
    assert "2027-01-01" in told("hand-over-ahead", handed_over_on="2027-01-01")


# --- what is due, and what must not be used ---


def due(handed_over_on: str, *rechecks: dict[str, str], ended: bool = False) -> list[str]:
    build = back.build({**QUARTER, "handed_over_on": handed_over_on, **(served(*rechecks) if rechecks else {})})
    build = replace(build, ended=Ended("given away", NOW) if ended else None)
    return due_lines(judge(build, back.checklist(), Path("."), NOW))


def test_the_look_that_was_agreed_is_due_before_the_next_appointment() -> None:
    lines = due("2026-01-10", checked("2026-08-01", "3", "3.79 V", "3.79 V", "3.79 V"))
    assert lines[0] == "due since 30 Oct 2026: look at every group and top up, as agreed"


def test_beside_a_stop_it_is_not_said_that_there_is_nothing_to_do() -> None:
    lines = due("2026-09-20", checked("2026-10-01", "3", "3.800 V", "3.800 V", "3.800 V"),
                checked("2026-11-20", "53", "3.790 V", "3.790 V", "3.700 V"))
    assert lines[0].startswith("out of use: One group leaks: out of service; until the leaking cell is replaced")
    assert not any("nothing to do" in line for line in lines)


def test_a_pack_that_has_served_its_time_is_out_of_service_whatever_is_due_next() -> None:
    # the first test delivered 3.667 Ah: 80 % is 2.933 Ah
    lines = due("2026-09-20", checked("2026-11-20", "3", "3.79 V", capacity="2.90 Ah"))
    assert lines[0] == "out of service: The pack has reached the end of its service"
    assert not any("nothing to do" in line for line in lines)


def test_a_project_that_was_ended_waits_for_nothing() -> None:
    assert due("2026-09-20", ended=True) == []
