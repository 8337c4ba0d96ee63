"""Two states of a build are told apart item by item, the old beside the new, in the words of the checklist."""

from __future__ import annotations

from dataclasses import replace

from buildtrack.bench.differences import Difference, differences
from buildtrack.model.build import Cell, Entry, LeftOut, PolicyChange, Reading, Row, Waiver
from tests.bench_walk import NOW
from tests.test_bench_entry import CHECKLIST, PLAN, answered, build_with

LABEL = {name: item.label for name, item in CHECKLIST.items.items()}
BEFORE = build_with(**PLAN, candidates=Entry(rows=(Row("c01", {"source": Cell("laptop")}), Row("c02"))))


def test_what_says_the_same_differs_in_nothing() -> None:
    assert differences(BEFORE, replace(BEFORE, history=()), CHECKLIST) == []


def test_readings_fields_rows_and_what_was_left_out_are_told_with_both_texts() -> None:
    rows = (Row("c01", {"source": Cell("drill")}), Row("c03", {"source": Cell("new")}))
    changed = {**BEFORE.entries, "rated_voltage": answered("12 V", "12.6 V"), "candidates": Entry(rows=rows),
               "reason": Entry(left_out=LeftOut("not asked", NOW))}
    where, cells = CHECKLIST.items["candidates"], LABEL["candidates"]
    source = where.column("source")
    assert source is not None
    assert differences(BEFORE, replace(BEFORE, entries=changed), CHECKLIST) == [
        Difference(LABEL["rated_voltage"], "12 V", "12 V, 12.6 V"),
        Difference(LABEL["reason"], "old pack is dead", "left out: not asked"),
        Difference(f"{cells}, c01, {source.label}", "laptop", "drill"),
        Difference(f"{cells}, c02", "a row", "no row"),
        Difference(f"{cells}, c03", "no row", "a row"),
        Difference(f"{cells}, c03, {source.label}", "", "new"),
    ]


def test_title_limits_and_accepted_cautions_are_told_too() -> None:
    limit = next(iter(CHECKLIST.policy))
    after = replace(BEFORE, title="Another", policy={limit: PolicyChange("55", "metal", NOW)},
                    waivers=(Waiver("supply-high", "for a minute"),))
    assert differences(BEFORE, after, CHECKLIST) == [
        Difference("Title", BEFORE.title, "Another"),
        Difference(f"Limit: {CHECKLIST.policy[limit].label}", "", "55"),
        Difference("Accepted: The supply is above the plate", "", "for a minute"),
    ]


def test_a_withdrawn_reading_is_no_longer_told() -> None:
    entry = Entry((Reading("12 V", NOW, withdrawn="wrong plate"), Reading("14 V", NOW)))
    after = replace(BEFORE, entries={**BEFORE.entries, "rated_voltage": entry})
    assert differences(BEFORE, after, CHECKLIST) == [Difference(LABEL["rated_voltage"], "12 V", "14 V")]


def test_a_choice_is_told_in_the_words_of_its_answer() -> None:
    after = replace(BEFORE, entries={**BEFORE.entries, "tool_kind": answered("garden")})
    assert differences(BEFORE, after, CHECKLIST) == [Difference(LABEL["tool_kind"], "Drill", "Garden tool")]
