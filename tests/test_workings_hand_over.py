"""Workings of handing over: cost, worth, label."""

from __future__ import annotations

from datetime import date

import pytest

from buildtrack.workings import hand_over, hand_over_label, hand_over_worth
from buildtrack.workings.values import Record, Table
from tests import front


def test_costs_add_up_and_are_told_per_watt_hour() -> None:
    costs = Table(tuple(Record(f"k{n}", {"amount": a}) for n, a in enumerate((6.0, 2.5, 4.0, 9.0, 3.0))))
    assert hand_over.total_cost(costs) == pytest.approx(24.5)  # 6 + 2.5 + 4 + 9 + 3
    assert hand_over.cost_per_wh(24.5, 38.9) == pytest.approx(0.6298, abs=1e-4)  # 24.5 / 38.9
    assert hand_over.cost_per_wh_new(35.0, 15.3) == pytest.approx(2.288, abs=1e-3)  # 35 / 15.3
    assert hand_over.total_cost(Table(())) is None


def test_cells_count_by_their_own_prices_unless_a_line_of_the_costs_is_for_cells() -> None:
    board, cells = Record("k1", {"amount": 6.4, "kind": "board"}), Record("k2", {"amount": 12.0, "kind": "cells"})
    assert hand_over.total_cost(Table((board,)), 19.0) == pytest.approx(25.4)  # 6.40 + 19.00
    assert hand_over.total_cost(Table((board, cells)), 19.0) == pytest.approx(18.4)  # 6.40 + 12.00, cells not twice
    assert hand_over.total_cost(Table(()), 19.0) is None, "nothing was entered as a cost yet"


def test_mass_energy_and_time_against_the_old_pack() -> None:
    assert hand_over.mass_change(480.0, 560.0) == -80.0
    assert hand_over.energy_against_old(38.9, 15.3) == pytest.approx(2.5425, abs=1e-4)
    assert hand_over.runtime_working(3.62, 4.27) / 60 == pytest.approx(50.87, abs=0.01)  # 3.62 / 4.27 x 60 min
    assert hand_over.runtime_old(1.3, 4.27) / 60 == pytest.approx(18.27, abs=0.01)
    assert hand_over.claimed_shortfall(47.5, 38.9) == pytest.approx(0.181, abs=5e-4)  # 1 - 38.9 / 47.5
    assert hand_over.money_share(24.5, 29.0) == pytest.approx(0.8448, abs=1e-4)


def test_worth_compares_with_every_way_of_buying_one() -> None:
    # nine hours of work; the cheapest bought way costs 35: (35 - 24.5) / 9 = 1.17 an hour
    found = hand_over_worth.worth_report(24.5, 38.9, 15.3, 35.0, None, 55.0, 9 * 3600.0)
    assert found.against == "new original pack"
    assert hand_over.break_even(found) == pytest.approx(1.1667, abs=1e-4)
    assert found.per_year == pytest.approx(24.5 / 3)
    assert [line[0] for line in found.lines] == ["rebuilt pack", "new original pack", "new tool with pack"]
    assert found.lines[0][3] == "0.63"
    assert "less than 1.17" in found.summary


def test_worth_says_when_buying_would_have_been_cheaper_and_when_nothing_can_be_compared() -> None:
    assert "whatever an hour is worth" in hand_over_worth.worth_report(60.0, 38.9, None, 35.0, hours=3600.0).summary
    alone = hand_over_worth.worth_report(24.5)
    assert alone.hour_value is None and alone.against == "" and "24.50 in all" in alone.summary


def test_the_label_carries_measured_values_and_the_limits() -> None:
    joined = Table(tuple(Record(f"g{n}", {"joined_on": float(day.toordinal())})
                         for n, day in enumerate((date(2026, 11, 24), date(2026, 11, 25)))))
    found = hand_over_label.label_text(3.0, 2.0, 10.8, 12.6, 3.62, 38.9, 1.0, "3INR19/66-2", 7.59, None, 15.0, "blade",
                                 "2026-12-02", joined)
    said = found.summary
    for text in ("3INR19/66-2, 3S2P", "10.8 V nominal, 12.60 V at most", "3.62 Ah, 39 Wh, as measured", "7.5 A lasting",
                 "12.60 V, 1 A", "Fuse: 15 A blade", "Built: 2026-11-25. Re-check: 2026-12-02.", "Record: ___",
                 "not certified"):
        assert text in said
    bare = hand_over_label.label_text(3.0, 2.0, 10.8, 12.6, 3.62, 38.9, 1.0)
    assert "Fuse" not in bare.summary and "Built: ____" in bare.summary


def test_the_label_names_alarm_record_and_the_days_that_are_known() -> None:
    def label(**known: object) -> str:
        return hand_over_label.label_text(3.0, 2.0, 10.8, 12.6, 3.62, 38.9, 1.0, **known).summary  # type: ignore[arg-type]

    told = label(alarm_scope="each group", alarm_setting=3.2, record_id="b-7f3", recheck_after=7 * 86400.0,
                 joined_day=float(date(2026, 11, 25).toordinal()))
    assert "The alarm sounds at 3.20 V per group: stop, then charge" in told
    assert "Built: 2026-11-25. Re-check: 7 d after it goes into use." in told and "Record: b-7f3" in told
    assert "alarm" not in label(alarm_scope="none", alarm_setting=3.2)
    assert "alarm" not in label(alarm_scope="each group")
    # what was written into the table of groups is better known than the day of the tick
    table = Table((Record("g1", {"joined_on": float(date(2026, 11, 20).toordinal())}),))
    assert "Built: 2026-11-20" in label(groups=table, joined_day=float(date(2026, 11, 25).toordinal()))


def test_what_cannot_be_divided_is_refused_in_words_and_never_breaks_a_table() -> None:
    with pytest.raises(ValueError, match="must be above 0 Wh"):
        hand_over.energy_against_old(38.9, 0.0)
    with pytest.raises(ValueError, match="price must be above 0"):
        hand_over.money_share(24.5, 0.0)
    strange = hand_over_worth.worth_report(24.5, -38.9, 0.0, 35.0)
    assert [line[3] for line in strange.lines] == ["-", "-"]


def test_what_the_wrappers_promise_is_held_against_the_test() -> None:
    # six cells of 2200 mAh, two beside each other: 3 x 3.6 V x 4.4 Ah = 47.52 Wh printed; measured groups hold less
    sheet = front.sheet()
    assert sheet.number("claimed_energy") == pytest.approx(47.52)
    assert (sheet.number("nominal_energy") or 99.0) < 42.0
    unprinted = front.sheet({"candidates": front.cells(c01={"rated_capacity": ""})})
    assert unprinted.number("claimed_energy") is None


@pytest.mark.parametrize(("kind", "stall_a", "told"), [
    ("drill", None, True), ("", 27.0, True), ("light", None, False), ("", None, False)])
def test_only_what_has_a_motor_is_not_to_be_stalled(kind: str, stall_a: float | None, told: bool) -> None:
    label = hand_over_label.label_text(2.0, 1.0, 6.4, 6.86, 3.0, 20.0, 0.8, pack_allowance=2.2, tool_kind=kind,
                                       stall_current=stall_a)
    assert ("2.2 A lasting at most" in label.summary) and ("do not stall" in label.summary) is told
