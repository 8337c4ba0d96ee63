"""The day of handing over is a day of the calendar, wherever it is typed or stands already."""

from __future__ import annotations

import pytest

from buildtrack.bench.entry import try_item
from tests.bench_walk import main_checklist
from tests.make import judged

ITEM = main_checklist().items["handed_over_on"]


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("y", "not a date"),
        ("xy", "not a date"),
        ("31.2.2026", "no day of the calendar"),
        ("05/06/2026", "write 2026-06-05 or 2026-05-06"),
    ],
)
def test_what_is_no_day_is_refused_with_what_would_be_right(typed: str, told: str) -> None:
    refused = try_item(ITEM, typed, "EUR").refused
    assert told in refused and "2026-" in refused


@pytest.mark.parametrize("typed", ["27.11.2026", "2026-11-27", "27/11/2026"])
def test_a_day_that_can_be_read_in_one_way_only_is_taken(typed: str) -> None:
    assert try_item(ITEM, typed, "EUR").refused == ""


def test_an_old_build_with_another_text_is_judged_and_says_that_it_is_no_date() -> None:
    state = judged({"handed_over_on": "y"}, main_checklist()).status.items["handed_over_on"]
    assert state.state == "misfit" and "'y' is not a date" in state.why
