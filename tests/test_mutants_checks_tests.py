"""Borders and corners of the rules over the tests of a pack, each with what it has to be by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from buildtrack.physics import logs
from buildtrack.workings.discharge_log import LogData
from buildtrack.workings.inputs import LOG_DATA
from buildtrack.workings.values import Known, Value
from tests import back
from tests.back import Made, made, rule
from tests.make import Given

FILE: dict[str, Given | None] = {"log_kind": "file", "discharge_log": "log.csv"}


def test_groups_that_were_not_read_at_the_alarm_say_nothing_about_it() -> None:
    silent = [{k: v for k, v in row.items() if k != "at_alarm"} for row in back.turns()]
    assert rule("alarm-off-in-test", made({"event_groups": silent})).outcome == "pass"
    assert rule("alarm-off-in-test", made({"event_groups": None})).outcome == "unknown"


def test_the_last_current_of_a_charge_is_told_to_three_digits() -> None:
    # 0.05 x 3.789 Ah = 189 mA is the end current; more than twice that is not tapered
    ruling = rule("charge-end-seen", made({"end_current": "412.34 mA"}))
    assert ruling.outcome == "fail" and ruling.facts["value"] == "412 mA"


def test_trips_without_a_known_stall_are_told_without_its_reason() -> None:
    found = made({"low_trips": "2", "winding_method": None, "shaft_positions": None, "heaviest_current": None})
    ruling = rule("trips-when-low", found)
    assert ruling.outcome == "fail" and ruling.facts["value"].startswith("2 of ten starts tripped")


@pytest.mark.parametrize("name", ["cutoff_after", "test_current"])
def test_a_label_that_rests_on_one_guess_is_not_measured(name: str) -> None:
    found = made()
    entry = found.build.entry(name)
    guess = replace(entry, readings=tuple(replace(r, value_class="guessed") for r in entry.readings))
    judged = Made(replace(found.build, entries={**found.build.entries, name: guess}), {})
    assert rule("label-measured", judged).outcome == "fail"
    assert rule("label-measured", found).outcome == "pass"


def test_a_group_may_come_back_to_what_it_had_at_the_start_and_no_higher() -> None:
    for later, outcome in (("4.150 V", "pass"), ("4.151 V", "fail")):
        judged = made({"event_groups": back.turns(later=("3.3 V", later, "3.2 V"))})
        assert rule("rebound-odd", judged).outcome == outcome, later


# --- gaps of a log ---


def log_with_gap(folder: Path, lead: int, first: int, last: int) -> dict[str, Value]:
    """10 s rows: `lead` s without load, 6600 s at 2 A, and nothing between two moments (s after the load came on)."""
    lines = ["time_s,current_A,voltage_V"]
    for second in [*range(-lead, 6601, 10)]:
        if not first < second < last:
            lines.append(f"{second + lead},{2.0 if second >= 0 else 0.0},{12.4 - 3.0 * max(second, 0) / 6600:.3f}")
    lines.append(f"{6630 + lead},0,0.3")
    path = folder / f"log-{lead}-{first}.csv"
    path.write_text("\n".join(lines) + "\n")
    return {LOG_DATA: Known(LogData(path.name, path.stat().st_size, logs.read_log(path)))}


@pytest.mark.parametrize(("lead", "first", "last", "outcome"), [
    # one per cent of the charge is 66 s; ten times the interval makes a gap, so the shortest of 110 s is too much
    (20, 3000, 3150, "fail"),
    # a gap in the pause before the load comes on holds nothing, however long
    (4000, -3000, -1000, "pass"),
    # the last tenth begins 5940 s after the load came on, however long the pause before it was
    (4000, 6000, 6130, "fail")])
def test_gaps_count_under_load_only_and_from_when_it_came_on(
        tmp_path: Path, lead: int, first: int, last: int, outcome: str) -> None:
    ruling = rule("log-gaps", made(FILE, log_with_gap(tmp_path, lead, first, last)))
    assert ruling.outcome == outcome, ruling.facts
    if first > 5940:
        assert "near the end" in ruling.facts["value"]


def test_a_log_with_fewer_groups_than_the_pack_has_is_told(tmp_path: Path) -> None:
    one_group = {"series_count": "1", **FILE}
    assert rule("log-without-groups", made(FILE, back.log(tmp_path, groups=False))).outcome == "fail"
    assert rule("log-without-groups", made(FILE, back.log(tmp_path))).outcome == "pass"
    assert rule("log-without-groups", made(one_group, back.log(tmp_path, groups=False))).outcome == "pass"
