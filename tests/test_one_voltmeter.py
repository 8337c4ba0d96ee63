"""With one voltmeter there is nothing to compare: it is not asked, and the record says that nothing has checked it."""

from __future__ import annotations

import pytest

from tests import front
from tests.front import checklist, rule
from tests.make import Given, judged, sheet_with


def listed(*meters: tuple[str, str, str], first: int = 1) -> list[dict[str, str]]:
    """Rows of the list of instruments: meter, kind, what it measures."""
    return [{"id": f"m{n}", "meter": meter, "kind": kind, "quantity": quantity}
            for n, (meter, kind, quantity) in enumerate(meters, first)]


ONE = listed(("Hand meter", "multimeter", "voltage"), ("hand meter ", "multimeter", "voltage"),
             ("hand meter", "multimeter", "current"), ("kitchen scale", "scale", "mass"))
"""Two ranges of one meter, spelled in two ways."""
TWO = [*ONE, *listed(("cell tester", "tester", "voltage"), first=5)]
SUPPLY = [*ONE, *listed(("supply", "bench supply", "voltage"), first=5)]


def asked(instruments: list[dict[str, str]] | None) -> str:
    given: dict[str, Given] = {"instruments": instruments} if instruments else {}
    return judged(given, checklist()).status.items["meter_check"].state


@pytest.mark.parametrize(("instruments", "count"), [(ONE, 1), (TWO, 2), (SUPPLY, 1), (ONE[2:], 0)])
def test_ranges_of_one_meter_count_once_and_a_bench_supply_is_no_voltmeter(
        instruments: list[dict[str, str]], count: int) -> None:
    assert sheet_with({"instruments": instruments}, checklist()).number("voltmeters") == count


def test_the_comparison_is_asked_only_with_two_voltmeters_in_the_list() -> None:
    assert [asked(i) for i in (None, ONE, SUPPLY, TWO)] == ["not needed", "not needed", "not needed", "open"]


def test_one_voltmeter_leaves_no_condition_in_the_verdict_but_a_note() -> None:
    given = {name: value for name, value in front.SOUND.items() if name != "meter_check"}
    whole = judged({**given, "instruments": ONE}, checklist())
    found = {r.check: r for r in whole.results}["voltmeter-unchecked"]
    assert (found.severity, found.outcome) == ("note", "fail") and "names one voltmeter" in found.message
    assert not any("voltmeter" in c for c in whole.conditions)
    assert not any("voltmeter" in r for r in whole.reasons)


def test_two_voltmeters_that_were_compared_leave_no_note() -> None:
    two = [{"id": "k1", "meter": "Hand meter", "reading": "4.012 V"},
           {"id": "k2", "meter": "cell tester", "reading": "4.006 V"}]
    assert rule("voltmeter-unchecked", front.build({"instruments": TWO, "meter_check": two})).outcome == "pass"
    waits = rule("voltmeter-unchecked", front.build({"instruments": TWO, "meter_check": None}))
    assert waits.outcome == "unknown" and waits.needs == ("meter_check",)
