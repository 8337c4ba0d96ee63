"""Workings of the pack in service."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildtrack.workings import aftercare_ageing, aftercare_days, aftercare_rechecks
from buildtrack.workings.aftercare_rechecks import DriftReport, RecheckReport
from buildtrack.workings.values import Record, Table

DAY = 86400.0
MONTH = 2629800.0
APPOINTMENTS = (7 * DAY, MONTH, 3 * MONTH, 6 * MONTH, 12 * MONTH)


def day(text: str) -> float:
    return float(date.fromisoformat(text).toordinal())


def rechecks(*rows: dict[str, object]) -> Table:
    return Table(tuple(Record(f"a{n}", row) for n, row in enumerate(rows, 1)))


def test_rechecks_stand_in_the_order_of_their_dates() -> None:
    found = aftercare_rechecks.recheck_report(rechecks(
        {"on": day("2027-01-02"), "g1": 3.80, "g2": 3.79}, {"on": day("2026-12-02"), "g1": 3.80, "g2": 3.80},
        {"g1": 3.7}))
    assert found is not None
    assert [r.id for r in found.rechecks] == ["a2", "a1"]
    assert found.lines[1] == ("2027-01-02", "3.790 V", "10 mV", "-", "-", "-")
    assert aftercare_rechecks.recheck_report(rechecks({"g1": 3.7})) is None


def test_a_re_check_without_a_date_stands_at_the_day_it_was_typed_and_its_drift_is_at_least_that() -> None:
    """Closed form: 150 mV lost in at most 30 days are at least 150 mV a month."""
    first, last = ({"on": day("2026-12-02"), "g1": 4.10, "g2": 4.10, "g3": 4.10},
                   {"g1": 4.10, "g2": 4.101, "g3": 3.95, "days_since_charge": 12.0})
    table = Table((Record("a1", first), Record("a2", last, typed_on=day("2027-01-01"))))
    report = aftercare_rechecks.recheck_report(table)
    assert report is not None and [(r.id, r.dated) for r in report.rechecks] == [("a1", True), ("a2", False)]
    assert report.lines[1][0] == "typed 2027-01-01" and "without a date, typed on 2027-01-01" in report.summary
    found = aftercare_rechecks.drift_report(report, 0.005, 0.015)
    assert found is not None and found.verdict == "stop" and found.worst.group == "g3"
    assert found.worst.per_month_v == pytest.approx(-0.150)
    assert "at least -150.0 mV a month" in found.summary and "a2 has no date" in found.summary
    due = aftercare_ageing.next_recheck(*APPOINTMENTS, report, "2026-11-25")
    assert due == aftercare_ageing.next_recheck(*APPOINTMENTS, RecheckReport(report.dated), "2026-11-25"), "it stays due"


def test_a_re_check_typed_on_the_day_of_another_is_held_against_the_one_before() -> None:
    rows = [Record("a1", {"on": day("2026-12-02"), "g1": 4.1, "g2": 4.1, "g3": 4.1}),
            Record("a2", {"on": day("2027-01-01"), "g1": 4.0, "g2": 4.0, "g3": 4.0}),
            Record("a3", {"g1": 4.0, "g2": 4.0, "g3": 3.9, "days_since_charge": 40.0}, typed_on=day("2027-01-01"))]
    report = aftercare_rechecks.recheck_report(Table(tuple(rows)))
    assert report is not None
    found = aftercare_rechecks.drift_report(report, 0.005, 0.015)
    assert found is not None and found.verdict == "stop" and (found.worst.group, found.worst.undated) == ("g3", "a3")


def drift(second: float, days_since_charge: float | None = 40.0) -> DriftReport | None:
    last: dict[str, object] = {"on": day("2027-01-01"), "g1": 3.780, "g2": 3.780, "g3": second}
    if days_since_charge is not None:
        last["days_since_charge"] = days_since_charge
    report = aftercare_rechecks.recheck_report(rechecks(
        {"on": day("2026-12-02"), "g1": 3.800, "g2": 3.800, "g3": 3.800}, last))
    assert report is not None
    return aftercare_rechecks.drift_report(report, 0.005, 0.015)


@pytest.mark.parametrize(("third", "verdict"), [(3.776, "good"), (3.772, "watch"), (3.760, "stop")])
def test_a_group_that_falls_against_its_sisters_is_named(third: float, verdict: str) -> None:
    # 30 days; the others fell 20 mV, so the third's own drift is its reading less 3.780 V, a month
    found = drift(third)
    assert found is not None
    assert found.worst.group == "g3"
    assert found.worst.per_month_v == pytest.approx(third - 3.780)
    assert found.verdict == verdict


def since_charge(third: float, days: float | None, *before: dict[str, object]) -> DriftReport | None:
    last: dict[str, object] = {"on": day("2027-06-01"), "g1": 4.121, "g2": 4.125, "g3": third}
    if days is not None:
        last["days_since_charge"] = days
    report = aftercare_rechecks.recheck_report(rechecks(*before, last))
    assert report is not None
    return aftercare_rechecks.drift_report(report, 0.005, 0.015)


QUIET_BEFORE: tuple[dict[str, object], ...] = (
    {"on": day("2026-12-02"), "g1": 3.80, "g2": 3.80, "g3": 3.80, "days_since_charge": 2.0},
    {"on": day("2027-01-02"), "g1": 3.79, "g2": 3.79, "g3": 3.79, "days_since_charge": 33.0})


@pytest.mark.parametrize("before", [(), QUIET_BEFORE], ids=["first", "after two quiet ones"])
def test_a_group_far_from_its_sisters_long_after_a_charge_is_told(before: tuple[dict[str, object], ...]) -> None:
    """3.950 V against a middle of 4.121 V, 74 days on: (171 - 20) mV / 74 d x 30 d = 61 mV a month, by hand."""
    found = since_charge(3.950, 74.0, *before)
    assert found is not None and found.assumed
    assert found.worst.group == "g3"
    assert found.worst.per_month_v == pytest.approx(-0.0612, abs=1e-4)
    assert found.verdict == "stop"
    assert "if that left them equal" in found.summary


@pytest.mark.parametrize("third", [3.80, 4.060, 4.110, 4.122])
def test_what_was_measured_without_a_charge_is_not_taken_back_by_a_milder_guess(third: float) -> None:
    """The third group fell 100 mV in a month; whatever it reads after the next charge, it leaks."""
    leaky = (QUIET_BEFORE[0], {**QUIET_BEFORE[1], "g3": 3.69})
    found = since_charge(third, 100.0, *leaky)
    assert found is not None and found.verdict == "stop"


def test_a_group_above_the_others_is_the_one_that_is_named() -> None:
    report = aftercare_rechecks.recheck_report(rechecks(
        {"on": day("2027-06-01"), "g1": 4.16, "g2": 4.12, "g3": 4.12, "days_since_charge": 30.0}))
    assert report is not None
    found = aftercare_rechecks.drift_report(report, 0.005, 0.015)
    assert found is not None and found.summary.startswith("g1 moves at least +")


@pytest.mark.parametrize(("third", "days"), [(4.105, 74.0), (3.950, 3.0), (3.950, None)])
def test_groups_close_together_or_just_charged_tell_of_no_leak(third: float, days: float | None) -> None:
    assert since_charge(third, days) is None


def test_how_level_a_charge_leaves_the_groups_is_a_limit_of_the_build() -> None:
    report = served({"on": day("2027-06-01"), "g1": 4.12, "g2": 4.12, "g3": 4.09, "days_since_charge": 60.0})
    # 30 mV below the middle: with 20 mV each way 10 mV may be a leak, in two months 5 mV a month
    found = aftercare_rechecks.drift_report(report, 0.004, 0.015, 0.020)
    assert found is not None and found.worst.per_month_v == pytest.approx(-0.005)
    assert "within 20 mV" in found.summary
    assert aftercare_rechecks.drift_report(report, 0.004, 0.015, 0.030) is None


def test_a_charge_in_between_leaves_little_to_say() -> None:
    found, unsaid = drift(3.760, 3.0), drift(3.760, None)
    assert found is not None and found.verdict == "charged" and "says little" in found.summary
    assert unsaid is not None and unsaid.verdict == "charged"


def served(*more: dict[str, object]) -> RecheckReport:
    found = aftercare_rechecks.recheck_report(rechecks(*more))
    assert found is not None
    return found


def test_fade_and_growth_are_told_per_month() -> None:
    report = rechecks({"on": day("2027-01-01"), "capacity": 3.5, "resistance": 0.110},
                      {"on": day("2027-06-30"), "capacity": 3.29, "resistance": 0.121})
    # 180 days: (1 - 3.29 / 3.5) / 6 = 1 % a month; (0.121 / 0.110 - 1) / 6 = 1.67 %
    assert aftercare_ageing.fade_per_month(report) == pytest.approx(0.01)
    assert aftercare_ageing.resistance_growth(report) == pytest.approx(0.016667, abs=1e-6)
    assert aftercare_ageing.fade_per_month(rechecks({"on": day("2027-01-01"), "capacity": 3.5})) is None
    assert aftercare_ageing.resistance_growth(rechecks({"on": day("2027-01-01")})) is None


def test_a_pack_retires_at_its_limits() -> None:
    worn = aftercare_ageing.retire_report(rechecks({"on": day("2027-01-01"), "capacity": 2.89}), 0.8, 2.0, 3.62)
    assert worn is not None and worn.retire  # 2.89 / 3.62 = 79.8 %
    fine = aftercare_ageing.retire_report(rechecks({"on": day("2027-01-01"), "capacity": 2.90}), 0.8, 2.0, 3.62)
    assert fine is not None and not fine.retire  # 80.1 %
    tired = aftercare_ageing.retire_report(rechecks({"on": day("2027-01-01"), "resistance": 0.11},
                                             {"on": day("2027-02-01"), "resistance": 0.22}), 0.8, 2.0)
    assert tired is not None and tired.retire
    assert aftercare_ageing.retire_report(rechecks({"on": day("2027-01-01")}), 0.8, 2.0) is None


def test_the_time_left_is_a_straight_line() -> None:
    # 3.62 to 3.439 Ah (95 %) in 180 days: 5 % in 180 days, 15 % more in 540 days
    report = rechecks({"on": day("2026-12-31"), "capacity": 3.62}, {"on": day("2027-06-29"), "capacity": 3.439})
    found = aftercare_ageing.retire_report(report, 0.8, 2.0, 3.62)
    assert found is not None
    assert found.days_left == pytest.approx(540, abs=0.1)
    assert "rather less" in found.summary


def test_the_next_recheck_follows_the_last_kept_appointment() -> None:
    assert aftercare_ageing.next_recheck(*APPOINTMENTS, None, "2026-11-20") == "2026-11-27"
    assert aftercare_ageing.next_recheck(*APPOINTMENTS) is None
    week = served({"on": day("2026-11-28"), "g1": 3.8})
    # a day late for the first week: the next is a month after the hand-over
    assert aftercare_ageing.next_recheck(*APPOINTMENTS, week, "2026-11-20") == "2026-12-20"
    old = served({"on": day("2028-03-01"), "g1": 3.8})
    assert aftercare_ageing.next_recheck(*APPOINTMENTS, old, "2026-11-20") == "2029-03-01"


def test_appointments_fall_on_the_same_day_of_the_month() -> None:
    # three months of 30.4375 days from 8 August would be 7 November; by the calendar it is the 8th
    kept = served({"on": day("2026-08-15"), "g1": 3.8}, {"on": day("2026-09-12"), "g1": 3.8})
    assert aftercare_ageing.next_recheck(*APPOINTMENTS, kept, "2026-08-08") == "2026-11-08"
    kept = served({"on": day("2026-11-20"), "g1": 3.8}, {"on": day("2027-02-09"), "g1": 3.8}, {"on": day("2027-08-08"), "g1": 3.8})
    assert aftercare_ageing.next_recheck(*APPOINTMENTS, kept, "2026-08-08") == "2028-08-08"


@pytest.mark.parametrize(("start", "months", "end"), [  # read off a wall calendar
    ("2026-01-31", 1, "2026-02-28"), ("2028-01-31", 1, "2028-02-29"), ("2026-03-31", 1, "2026-04-30"),
    ("2026-08-31", 6, "2027-02-28"), ("2026-11-30", 3, "2027-02-28"), ("2028-02-29", 12, "2029-02-28"),
    ("2024-02-29", 48, "2028-02-29"), ("2026-12-15", 1, "2027-01-15"), ("2026-12-31", 12, "2027-12-31"),
    ("2026-05-08", 0, "2026-05-08"),
])
def test_a_month_later_is_the_same_day_or_the_last_of_a_shorter_month(start: str, months: int, end: str) -> None:
    assert aftercare_days.months_after(date.fromisoformat(start), months) == date.fromisoformat(end)


@given(st.dates(date(1990, 1, 1), date(2100, 12, 31)), st.integers(0, 240))
def test_months_are_counted_as_a_hand_turns_the_pages(start: date, months: int) -> None:
    first = start.replace(day=1)
    for _ in range(months):  # from the first of a month, 32 days later lies in the next
        first = (first + timedelta(days=32)).replace(day=1)
    found = aftercare_days.months_after(start, months)
    assert (found.year, found.month) == (first.year, first.month)
    assert found.day == start.day or (found.day < start.day and (found + timedelta(days=1)).day == 1)


def test_a_duration_that_is_no_whole_month_is_counted_in_days() -> None:
    start = date(2026, 1, 31)
    assert aftercare_days.day_after(start, 30 * DAY) == date(2026, 3, 2)
    assert aftercare_days.day_after(start, 45 * DAY) == date(2026, 3, 17)
    assert aftercare_days.day_after(start, MONTH) == date(2026, 2, 28)
    assert aftercare_days.day_after(start, 12 * MONTH) == date(2027, 1, 31)
