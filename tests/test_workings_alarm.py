"""Workings of the alarm: ladder, setting, channels, idle drain."""

from __future__ import annotations

import pytest

from buildtrack.workings import alarm, alarm_channels
from buildtrack.workings.alarm_ladder import Ladder, ladder
from buildtrack.workings.pack_groups import Group, GroupReport
from buildtrack.workings.values import Record, Table


def group(name: str, resistance_ohm: float | None) -> Group:
    return Group(name, ("c1",), 3.8, None, resistance_ohm, 5.0, 5.0, "c1", (1.0,), None, 0.0, 1.0, None, None, {}, {})


def channels(*rows: tuple[float | None, float | None, float | None]) -> Table:
    names = ("shown", "meter", "sounded")
    return Table(tuple(
        Record(f"g{n}", {k: v for k, v in zip(names, row, strict=True) if v is not None})
        for n, row in enumerate(rows, 1)))


def rungs(**more: float) -> Ladder:
    given = {"series_count": 3.0, "cell_full": 4.20, "cell_absolute_max": 4.25, "cell_nominal": 3.6,
             "storage_low": 3.7, "storage_high": 3.85, "group_minimum": 2.75, "charger_tolerance": 0.005}
    return ladder(**{**given, **more})


def test_the_ladder_sorts_all_thresholds_and_gives_them_per_pack() -> None:
    found = rungs(board_overcharge=4.25, board_overcharge_tolerance=0.0, board_cutoff=2.8, board_cutoff_tolerance=0.0,
                  alarm_setting=3.2)
    assert [r.name for r in found.rungs] == [
        "cell's absolute maximum", "over-charge cut", "end of charge", "storage", "nominal", "alarm", "board cutoff",
        "cell's minimum"]
    assert found.lines[2] == ("end of charge", "4.200 V", "4.179 V", "4.221 V", "12.60 V")  # 3 x 4.20; 0.5 %
    assert found.contradictions == ()
    assert found.summary.endswith("all in order with their tolerances")


def test_the_usual_board_contradicts_the_ladder_at_its_tolerances() -> None:
    # over-charge 4.25 +- 0.05, balance 4.20 +- 0.03, cutoff 2.5 +- 0.1: the edges 4.30, 4.20, 4.23 and 2.4 all cross
    found = rungs(board_overcharge=4.25, board_overcharge_tolerance=0.05, board_balance_start=4.20,
                  board_balance_tolerance=0.03, board_cutoff=2.5, board_cutoff_tolerance=0.1, alarm_setting=3.2)
    said = " | ".join(found.contradictions)
    assert "4.25 V ± 50 mV" in said and "rise to 4.3 V" in said
    assert "may end the charge before it balances" in said
    assert "out of order: the board may let a group fall to 2.4 V" in said
    assert "before the alarm sounds" not in said
    assert found.summary.endswith("5 pairs are not clear of each other")
    below = {line[0]: line[-1] for line in found.lines}
    assert below["over-charge cut"] == "end of charge, balance start" and below["alarm"] == ""


def test_an_alarm_whose_step_reaches_into_the_cutoff_is_named() -> None:
    # 3.0 - 0.1 = 2.9 V meets 2.85 + 0.05 V; 3.1 - 0.1 = 3.0 V does not
    found = rungs(board_cutoff=2.85, board_cutoff_tolerance=0.05, alarm_setting=3.0, alarm_resolution=0.1)
    assert any("the board may open before the alarm sounds" in s for s in found.contradictions)
    assert not rungs(board_cutoff=2.85, board_cutoff_tolerance=0.05, alarm_setting=3.1,
                     alarm_resolution=0.1).contradictions


def test_the_recommended_setting_sounds_at_the_resting_target() -> None:
    # 3.45 V - 6.27 A x 36.9 milliohm = 3.219 V, on steps of 0.1 V: 3.2 V; floor 2.5 + 0.1 + 0.3 = 2.9 V
    found = alarm.alarm_advice(3.45, 6.27, 0.0369, 2.5, 0.3, 2.75, 0.1, 0.1, 3.3)
    assert found.advice.exact_v == pytest.approx(3.2186, abs=1e-4)
    assert alarm.alarm_recommended(found) == pytest.approx(3.2)
    assert "governed by the resting target; set now: 3.30 V (+0.10 V)" in found.summary


def test_the_board_governs_where_its_cutoff_is_high() -> None:
    # 3.0 + 0.1 + 0.3 = 3.4 V lies above 3.219 V
    found = alarm.alarm_advice(3.45, 6.27, 0.0369, 3.0, 0.3, 2.75, 0.1, 0.1)
    assert alarm.alarm_recommended(found) == pytest.approx(3.4)
    assert found.advice.governed_by == "board cutoff"


def test_what_the_weakest_group_rests_at_when_the_alarm_sounds() -> None:
    # 3.22 V + 6.3 A x 36.9 milliohm = 3.452 V
    assert alarm.alarm_resting_voltage(3.22, 6.3, 0.0369) == pytest.approx(3.4525, abs=1e-4)


def test_worst_resistance_and_the_current_that_sags_to_the_cutoff() -> None:
    worst = alarm.worst_group_resistance(GroupReport((group("g1", 0.0359), group("g2", 0.0369), group("g3", None))))
    assert worst == 0.0369
    # (3.45 - 2.6) / 0.0369 = 23.0 A
    assert alarm.sagging_cutoff_current(3.45, 2.6, 0.0369) == pytest.approx(23.04, abs=0.01)
    assert alarm.worst_group_resistance(GroupReport((group("g1", None),))) is None


def test_the_alarm_counts_from_where_its_channels_really_sounded() -> None:
    assert alarm_channels.alarm_lowest(3.3, 0.1) == pytest.approx(3.2)
    assert alarm_channels.alarm_lowest(3.3, 0.1, channels((None, None, 3.28), (None, None, 3.25))) == pytest.approx(3.25)
    # g2 was not heard, so one step below the setting still counts
    assert alarm_channels.alarm_lowest(3.3, 0.1, channels((None, None, 3.28), (None, None, None))) == pytest.approx(3.2)
    assert alarm.alarm_above_cutoff(3.2, 2.6) == pytest.approx(0.6)


def test_channels_are_judged_by_what_they_show_and_where_they_sound() -> None:
    found = alarm_channels.alarm_channel_report(channels((3.71, 3.70, 3.28), (3.80, 3.70, 3.30), (3.70, 3.70, 3.10),
                                                (3.70, 3.70, None)), 3.3)
    assert found is not None
    assert [c.verdict for c in found.channels] == ["good", "off", "off", "not tried"]
    assert found.bad == ("g2", "g3") and found.silent == ("g4",)
    assert found.lines[2] == ("g3", "+0 mV", "3.10 V", "-200 mV", "off")


def test_without_a_measured_leak_the_usual_self_discharge_counts() -> None:
    # 3 % of 3.6 Ah in 30 days is 3.6 mAh a day; the board's 18 uA add 0.432 mAh
    assert alarm.idle_drain(2.0, 18e-6, 0.0, "no", None, 0.03, 3.6) == pytest.approx(4.032e-3)
    # a leak that was measured counts, even one of nothing
    assert alarm.idle_drain(2.0, 18e-6, 0.0, "no", 0.0, 0.03, 3.6) == pytest.approx(0.432e-3)


def test_idle_drain_and_the_days_it_leaves() -> None:
    # 18 uA x 24 h = 0.432 mAh a day; an alarm of 3 mA left on adds 72 mAh; two cells leaking 0.9 mAh each add 1.8
    assert alarm.idle_drain(2.0, 18e-6, 3e-3, "yes", 0.9e-3) == pytest.approx(2.232e-3)
    assert alarm.idle_drain(2.0, 18e-6, 3e-3, "no", 0.0) == pytest.approx(72.432e-3)
    # (0.5 - 0.05) x 3.62 Ah / 0.072432 Ah a day = 22.5 days
    days = alarm.idle_days(3.62, 72.432e-3)
    assert days is not None and days / 86400 == pytest.approx(22.49, abs=0.01)
    # a reading that its meter's error pushes below nothing counts as nothing
    assert alarm.idle_drain(2.0, -30e-3, 0.0, "yes", -0.1e-3) == 0.0
    assert alarm.idle_days(3.62, 0.0) is None
