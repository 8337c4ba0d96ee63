"""The gravest thresholds redone by hand from what was published: just inside, on the limit, just outside."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from buildtrack.model.checklist import Checklist
from tests import back, front
from tests.back import charged, checked
from tests.back_cases import served
from tests.front import checklist
from tests.make import Given, outcome

Case = Mapping[str, Given | None]
Row = tuple[str, Case, str]


def charger(volts: str) -> Case:
    return {"first_charger_voltage": [volts] * 3}


def highest(volts: str) -> Case:
    """One group at so much at the end of the charge."""
    return {"charge_groups": charged((volts, "4.15 V"), ("4.2 V", "4.15 V"), ("4.2 V", "4.15 V"))}


def cold(degrees: str, amperes: str) -> Case:
    return {"charge_temperature": degrees, "charger_current": amperes}


def board(overcharge: str, tolerance: str = "0 mV") -> Case:
    return {"board_overcharge": overcharge, "board_overcharge_tolerance": tolerance}


def cutoff(volts: str, tolerance: str, *alarm: str) -> Case:
    return {"board_cutoff": volts, "board_cutoff_tolerance": tolerance,
            **({"alarm_channels": back.channels(*alarm)} if alarm else {})}


def worn(capacity: str = "", first: str = "", last: str = "") -> Case:
    """Capacity at the last re-check; resistance at the first and the last."""
    begun = checked("2026-10-01", "3", "3.8 V", **({"resistance": first} if first else {}))
    read = {name: text for name, text in (("capacity", capacity), ("resistance", last)) if text}
    return served(begun, checked("2026-11-20", "3", "3.8 V", **read))


def arrived(volts: str) -> Case:
    return {"candidates": front.cells(c01={"arrival_voltage": volts})}


THRESHOLDS: list[Row] = [
    # 3 x 4.20 V + 1 %: 12.726 V (constant voltage 4.2 V ± 1 %: junleepower.com, electrodragon.com)
    ("first-charger-too-high", charger("12.725 V"), "pass"),
    ("first-charger-too-high", charger("12.726 V"), "pass"),
    ("first-charger-too-high", charger("12.727 V"), "fail"),
    # 3 x 4.20 V + 0.5 %: 12.663 V (sheet of the charger circuit MCP73871, p. 23: 4.20 V ± 0.5 %)
    ("first-charger-above-target", charger("12.663 V"), "pass"),
    ("first-charger-above-target", charger("12.664 V"), "fail"),
    # 4.25 V is the absolute maximum of a cell (greencelltech.com; 4.20 ± 0.05 V, sheet at machineu.com)
    ("group-over-charged", highest("4.249 V"), "pass"),
    ("group-over-charged", highest("4.250 V"), "pass"),
    ("group-over-charged", highest("4.251 V"), "fail"),
    # no charge below 0 °C (JEITA zones as summarised at e2e.ti.com)
    ("charged-frozen", cold("0.1 °C", "0.5 A"), "pass"),
    ("charged-frozen", cold("0 °C", "0.5 A"), "pass"),
    ("charged-frozen", cold("-0.1 °C", "0.5 A"), "fail"),
    # 0 to 10 °C half a capacity an hour, from 10 °C a whole one (the same); half of 3.789 Ah is 1.894 A
    ("charge-zone", cold("9.9 °C", "1.89 A"), "pass"),
    ("charge-zone", cold("9.9 °C", "1.90 A"), "fail"),
    ("charge-zone", cold("10 °C", "1.90 A"), "fail"),  # where two zones meet the gentler one counts: our own choice
    ("charge-zone", cold("10.1 °C", "1.90 A"), "pass"),
    # over-charge cuts: S-8254A 4.250 V ± 25 mV (its sheet, rev. 5.2); DW01A 4.300 V, another maker's 4.28 V (their sheets)
    ("board-over-charge", board("4.249 V"), "pass"),
    ("board-over-charge", board("4.250 V"), "pass"),
    ("board-over-charge", board("4.251 V"), "fail"),
    ("board-over-charge", board("4.28 V", "50 mV"), "fail"),
    ("board-over-charge", board("4.300 V", "50 mV"), "fail"),
    ("board-over-charge-edge", board("4.250 V", "25 mV"), "fail"),
    ("board-over-charge-edge", board("4.200 V", "50 mV"), "pass"),
    ("board-over-charge-edge", board("4.200 V", "51 mV"), "fail"),
    # over-discharge cut of the DW01A 2.40 V against the 2.75 V of ordinary cells' sheets (machineu.com, yokenergy.com)
    ("board-cutoff-low", cutoff("2.40 V", "100 mV"), "fail"),
    ("board-cutoff-low", cutoff("2.749 V", "0 mV"), "fail"),
    ("board-cutoff-low", cutoff("2.750 V", "0 mV"), "pass"),
    # S-8254A: 2.80 V ± 80 mV opens at 2.88 V at the earliest; an alarm that only meets it may never sound
    ("alarm-below-cutoff", cutoff("2.80 V", "80 mV", "3.2 V", "2.881 V", "3.2 V"), "pass"),
    ("alarm-below-cutoff", cutoff("2.80 V", "80 mV", "3.2 V", "2.880 V", "3.2 V"), "fail"),
    ("alarm-below-cutoff", cutoff("2.80 V", "80 mV", "3.2 V", "2.879 V", "3.2 V"), "fail"),
    # not after a week or longer below 1.5 V (Battery University, on reviving cells)
    ("cell-below-published-limit", arrived("1.501 V"), "pass"),
    ("cell-below-published-limit", arrived("1.500 V"), "pass"),
    ("cell-below-published-limit", arrived("1.499 V"), "fail"),
    # rms of 28 A falling to 7 A in 0.15 s, 7 A for 4 s, 0 A for 6 s: sqrt((0.15 x (784 + 196 + 49) / 3 + 196) / 10.15)
    # = 4.937 A; at most 75 % of the rating (L. Lundy, EDN, 26 September 1996): 6.583 A
    ("fuse-too-small", {"fuse_rating": "6.59 A"}, "pass"),
    ("fuse-too-small", {"fuse_rating": "6.58 A"}, "fail"),
    # 80 % of the first capacity or 200 % of the first resistance (twaice.com): 0.8 x 2.0 A x 110 min = 2.9333 Ah
    ("worn-out", worn("2.934 Ah"), "pass"),
    ("worn-out", worn("2.933 Ah"), "fail"),
    ("worn-out", worn(first="100 mΩ", last="199 mΩ"), "pass"),
    ("worn-out", worn(first="100 mΩ", last="200 mΩ"), "fail"),
    # a charge tapers to 0.05 C (sheet of the INR18650-25R: 125 mA of 2.5 Ah); twice that is our own tolerance: 378.9 mA
    ("charge-end-seen", {"end_current": "378 mA"}, "pass"),
    ("charge-end-seen", {"end_current": "380 mA"}, "fail"),
]


@pytest.mark.parametrize(("check", "changed", "expected"), THRESHOLDS,
                         ids=[f"{check} {n}" for n, (check, _, _) in enumerate(THRESHOLDS)])
def test_a_threshold_lies_where_its_source_puts_it(check: str, changed: Case, expected: str) -> None:
    given = {n: v for n, v in {**back.SOUND, **changed}.items() if v is not None}
    assert outcome(given, checklist(), check) == expected


def test_one_hundred_watt_hours_are_still_in_the_small_transport_class() -> None:
    # 49 CFR 173.185(c): 100 Wh a battery; six cells of 3.6 V: 100 / (6 x 3.6) = 4.6296 Ah each
    for printed, expected in (("4629 mAh", "pass"), ("4630 mAh", "fail")):
        cells = front.cells(**{f"c{n:02d}": {"rated_capacity": printed} for n in range(1, 8)})
        assert outcome({**back.SOUND, "candidates": cells}, checklist(), "energy-above-transport-class") == expected


def test_the_limits_tested_here_are_those_of_the_checklist_and_name_their_sources() -> None:
    found: Checklist = checklist()
    for name, text, source in (
            ("charger_stop", "1 %", "junleepower.com"), ("charger_tolerance", "0.5 %", "MCP73871"),
            ("charge_stop", "4.25 V", "greencelltech.com"), ("cell_absolute_max", "4.25 V", "machineu.com"),
            ("charge_temp_never", "0 °C", "JEITA"), ("cell_minimum", "2.75 V", "machineu.com"),
            ("arrival_published", "1.5 V", "Battery University"), ("fuse_share", "75 %", "EDN"),
            ("retire_capacity", "80 %", "twaice.com"), ("end_of_charge", "0.05 C", "INR18650-25R"),
            ("transport_pack", "100 Wh", "49 CFR 173.185")):
        assert found.policy[name].text == text and source in found.policy[name].source, name
