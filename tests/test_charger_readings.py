"""What a charger shows is entered before it meets the pack, judged with the meter's ±, and compared with itself."""

from __future__ import annotations

import pytest

from tests import back
from tests.back import Made, made, rule
from tests.front import checklist
from tests.make import Given, build_with, judged

METER = [{"id": "m1", "meter": "hand meter", "quantity": "voltage", "range": "40 V", "resolution": "10 mV",
          "accuracy": "0.5 % + 3 digits"}]


def metered(**changed: Given) -> Made:
    """The sound build read with a meter of 10 mV steps."""
    return Made(build_with({**back.SOUND, "instruments": METER, **changed}, checklist(), "hand meter"), {})


def test_the_first_charge_waits_for_three_readings_of_its_charger() -> None:
    for given, state in (([], "open"), (["12.60 V"], "partly"), (["12.60 V"] * 3, "done")):
        status = judged({"first_charger_voltage": given} if given else {}, checklist()).status
        assert status.items["first_charger_voltage"].state == state
    item = checklist().items["first_charger_voltage"]
    order = [i.id for i in checklist().all_items()]
    assert item.hold and item.need == "must"
    assert order.index("first_charger_voltage") < order.index("first_charge_groups")


@pytest.mark.parametrize(("volts", "outcome"), [
    # 3 x 4.20 V x 1.01 is 12.726 V (4.2 V ± 1 % as sellers describe it, limits.toml); 0.5 % + 3 digits of 12.7 V is 94 mV
    ("12.62 V", "pass"), ("12.70 V", "unsure"), ("12.80 V", "unsure"), ("12.85 V", "fail")])
def test_before_the_first_charge_the_limit_of_the_charger_is_judged_with_the_error_of_the_meter(
        volts: str, outcome: str) -> None:
    assert rule("first-charger-too-high", metered(first_charger_voltage=[volts] * 3)).outcome == outcome


def test_twelve_point_six_and_twelve_point_two_of_one_charger_are_questioned() -> None:
    ruling = rule("charger-unsteady", made({"charger_voltage": ["12.6 V", "12.2 V", "12.6 V"]}))
    assert ruling.outcome == "fail"
    assert ruling.facts["rows"] == "12.20 V and 12.60 V"
    # 0.5 % to either side of 12.6 V (sheet of the charger circuit MCP73871: 4.20 V ± 0.5 %)
    assert ruling.facts["limit"] == "0.13 V"


def test_a_charger_is_compared_with_what_it_showed_before_its_first_charge() -> None:
    drifted: dict[str, Given | None] = {"first_charger_voltage": ["12.60 V"] * 3, "charger_voltage": ["12.40 V"] * 3}
    assert rule("charger-unsteady", made(drifted)).outcome == "fail"
    assert rule("first-charger-unsteady", made(drifted)).outcome == "pass"
    assert rule("charger-unsteady", made({**drifted, "first_charger_voltage": None})).outcome == "pass"


def test_a_difference_between_readings_of_one_meter_keeps_only_what_they_do_not_share() -> None:
    # limit 2 x 0.5 % x 12.60 V = 126 mV; each last digit is ± 5 mV (7 mV together), 0.5 % of the difference 0.6 mV
    for low, outcome in (("12.48 V", "unsure"), ("12.49 V", "pass"), ("12.46 V", "fail")):
        assert rule("charger-unsteady", metered(charger_voltage=["12.60 V", low])).outcome == outcome, low


def test_a_charger_below_its_target_is_told_as_a_note_only() -> None:
    found = {r.check: r for r in judged({**back.SOUND, "charger_voltage": ["12.20 V"] * 3}, checklist()).results}
    assert (found["charger-low"].severity, found["charger-low"].outcome) == ("note", "fail")
