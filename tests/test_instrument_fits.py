"""An instrument is noted by itself only where a reading lies in a sensible part of its range; limits worked by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import pytest

from buildtrack.bench.meters import by_itself, fitting, listed_for
from buildtrack.checks.engine import assess
from buildtrack.model.build import Build, Cell, Entry, Reading, Row
from buildtrack.model.checklist import Checklist, Column, Item, Span
from buildtrack.model.instruments import instruments
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.workings.inputs import item_value
from buildtrack.workings.registry import sheet_of
from buildtrack.workings.values import Known, Table
from tests.make import NOW, build_with, judged

KINDS = ("nickel-tool-pack", "hand-held-radio", "hand-vacuum", "bicycle-light", "garden-light-lfp", "shed-light-lfp")
CLAMP = {"id": "m3", "meter": "clamp", "quantity": "current", "range": "40 A", "resolution": "10 mA",
         "accuracy": "2 % + 5 digits"}  # at 0.1 A: 2 + 50 mA and half a step 5 = 57 mA, more than a quarter
MICRO = {"id": "m1-600ua", "meter": "m1", "quantity": "current", "range": "600 µA", "resolution": "0.1 µA",
         "accuracy": "1 % + 2 digits"}


@cache
def of(kind: str = "nickel-tool-pack") -> Checklist:
    return find_checklist(kind)


def listing(*rows: dict[str, str]) -> Build:
    return build_with({"instruments": rows}, of())


def test_a_clamp_of_forty_ampere_is_not_noted_with_microampere() -> None:
    idle = of().items["board_idle_current"]
    assert fitting(listing(CLAMP), idle) == [] and listed_for(listing(CLAMP), idle)
    assert by_itself(listing(CLAMP), idle, ["m3"], "18 µA") == "", "not even where it was used for the item before"
    assert by_itself(listing(CLAMP, MICRO), idle, ["m3"], "18 µA") == "m1-600ua"


@pytest.mark.parametrize(("text", "name"), [
    ("12 A", "m3"), ("0.30 A", "m3"),  # 6 + 50 + 5 = 61 mA of 300 mA: a fifth
    ("0.20 A", ""),  # 4 + 50 + 5 = 59 mA of 200 mA: more than a quarter
    ("41 A", "")])
def test_a_reading_too_small_or_above_the_range_is_noted_without_it(text: str, name: str) -> None:
    heaviest = of().items["working_current"]
    assert by_itself(listing(CLAMP), heaviest, ["m3"], text) == name


def test_another_range_of_the_same_meter_takes_its_place_and_another_meter_does_not() -> None:
    ranges = [{**CLAMP, "id": "m3-4", "range": "4 A", "resolution": "1 mA"}, CLAMP]
    other = {**ranges[0], "id": "m9", "meter": "red meter"}
    working = of().items["working_current"]
    assert by_itself(listing(*ranges), working, ["m3"], "0.20 A") == "m3-4"
    assert by_itself(listing(CLAMP, other), working, ["m3"], "0.20 A") == ""


def test_where_nothing_is_usual_a_reading_near_nothing_is_right() -> None:
    end = of().items["pack_after_cutoff"]
    meter = {"id": "m1", "meter": "m1", "quantity": "voltage", "range": "60 V", "resolution": "10 mV",
             "accuracy": "0.2 % + 2"}
    assert [by_itself(listing(meter), end, [], text) for text in ("0.00 V", "0.03 V", "19 V")] == ["m1"] * 3


def test_of_a_thermometer_and_of_a_meter_without_booklet_only_what_is_known_counts() -> None:
    room = Item("room", "plan", "reading", "Room", unit="°C", dimension="temperature", plausible=Span(-10.0, 30.0))
    thermometer = {"id": "t", "meter": "t", "quantity": "temperature", "range": "100 °C", "resolution": "1 °C",
                   "accuracy": "2 °C"}
    assert by_itself(listing(thermometer), room, [], "1 °C") == "t"
    bare = {"id": "m3", "meter": "clamp", "quantity": "current", "range": "40 A"}  # 2000 steps of 20 mA
    assert by_itself(listing(bare), of().items["board_idle_current"], ["m3"], "18 µA") == ""
    assert by_itself(listing(bare), of().items["working_current"], ["m3"], "1.2 A") == "m3"
    unknown = {"id": "q", "meter": "q", "quantity": "current"}
    assert by_itself(listing(unknown), of().items["working_current"], [], "1 A") == "q"


PRINTED = re.compile(r"[Ff]rom its sheet|^Read the plate|^As (printed|set)|^Printed|Read the print on|^The ± figure|"
                     r"sheet\.$|^Its sheet|No meter needed")
"""How an item says that no meter of the maker is asked."""


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_printed_set_or_from_a_sheet_is_read_with_no_instrument(kind: str) -> None:
    every = [i for i in of(kind).all_items() if i.kind == "reading"]
    told = {i.id for i in every if PRINTED.search(i.how)}
    assert len(told) >= 6 and not {i.id for i in every if i.id in told and i.metered}
    columns = {c.id for i in of(kind).all_items() for c in i.columns if not c.metered}
    assert {"rated_capacity", "rated_current", "charge_limit", "min_voltage", "capacity_current"} <= columns
    for item in (i for i in every if not i.metered):
        assert fitting(listing(CLAMP), item) == [] and not listed_for(listing(CLAMP), item)


def errors_of(item: str, reading: Reading) -> dict[str, float]:
    value = item_value(of().items[item], Entry((reading,)), instruments(listing(CLAMP)))
    assert isinstance(value, Known)
    return dict(value.spread)


def test_a_stamp_of_an_old_build_on_a_printed_figure_or_one_taken_over_brings_no_error() -> None:
    assert errors_of("fuse_rating", Reading("20 A", NOW, "m3")) == {}
    assert errors_of("working_current", Reading("20 A", NOW, "m3"))
    for value_class in ("taken over", "guessed"):
        assert errors_of("working_current", Reading("20 A", NOW, "m3", value_class=value_class)) == {}
    cells = of().items["candidates"]
    row = Row("c01", {c: Cell("10 A", NOW, "m3") for c in ("rated_current", "dc_current_2")})
    table = item_value(cells, Entry(rows=(row,)), instruments(listing(CLAMP)))
    assert isinstance(table, Known) and isinstance(table.value, Table)
    assert list(table.value.rows[0].spreads) == ["dc_current_2"] == list(table.value.rows[0].marks)


def results(**given: str) -> dict[str, tuple[str, str, str]]:
    stamped = build_with(given, of(), "m3")
    build = replace(stamped, entries={**listing(CLAMP).entries, **stamped.entries})
    found = assess(build, of(), sheet_of(build, of(), NOW.date()), NOW).results
    return {r.check: (r.outcome, r.message, r.advice) for r in found}


def test_a_stop_that_a_coarse_meter_cannot_tell_names_the_meter_and_the_way_out() -> None:
    outcome, message, advice = results(board_idle_current="18 µA")["board-idle-far-too-high"]
    assert outcome == "unsure" and message.startswith("cannot tell with m3, which does not show such a value: ")
    assert advice.startswith("Read it again in a range that shows it.") and "Replace the board" not in advice


def test_trips_above_the_range_of_a_stamped_meter_are_no_reading_near_its_top() -> None:
    found = results(board_trip_low="60 A", board_trip_high="80 A")
    assert found["reading-beyond-range"][0] == "pass", found["reading-beyond-range"]


def test_a_right_reading_without_an_instrument_passes_the_stop() -> None:
    found = {r.check: r.outcome for r in judged({"board_idle_current": "18 µA"}, of()).results}
    assert found["board-idle-far-too-high"] == "pass" == found["board-idle-current"]


def test_a_column_says_in_the_checklist_that_no_instrument_reads_it() -> None:
    column = of().items["alarm_channels"].column("shown")
    assert isinstance(column, Column) and not column.metered
