"""A build begun from a past one carries the design and asks for every measurement again; what the hash covers."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings

from buildtrack.model import edit
from buildtrack.model.build import (
    Build,
    Cell,
    ChecklistRef,
    Ended,
    Entry,
    Event,
    LeftOut,
    Origin,
    PolicyChange,
    Reading,
    Review,
    Row,
    Waiver,
)
from buildtrack.model.checklist import Checklist, Column, Item, Option, Step
from buildtrack.storage.hashing import content_hash
from buildtrack.storage.template import start_from, start_new
from buildtrack.storage.write import to_text
from tests.small import small
from tests.storage_cases import AT, BUILDS, small_build

LATER = AT.replace(year=2027)
YES = (Option("yes", "Yes"), Option("no", "No"))
COLUMNS = (Column("run", "Run", reuse="carry"), Column("length", "Length", "reading", reuse="confirm"),
           Column("drop", "Drop", "reading"), Column("side", "Side", "choice", options=YES, reuse="carry"))
ITEMS = (
    Item("tool", "plan", "text", "Tool", reuse="carry"), Item("voltage", "plan", "reading", "Voltage", reuse="confirm"),
    Item("current", "plan", "reading", "Current"),
    Item("choice", "plan", "choice", "Choice", options=YES, reuse="carry"),
    Item("photo", "plan", "photo", "Photo", reuse="carry"), Item("log", "plan", "file", "Log", reuse="carry"),
    Item("wires", "wire", "table", "Wires", columns=COLUMNS),
    Item("parts", "wire", "table", "Parts", reuse="carry", columns=COLUMNS),
    Item("cells", "wire", "table", "Cells", columns=(Column("v", "V", "reading"),)),
    Item("instruments", "plan", "table", "Instruments", role="instruments", reuse="confirm", columns=(
        Column("kind", "Kind", reuse="confirm"),)))
CHECKLIST = Checklist(1, "pack", "3", "Pack", "", (
    Step("plan", "Plan", 5, "", tuple(i for i in ITEMS if i.step == "plan")),
    Step("wire", "Wire", 5, "", tuple(i for i in ITEMS if i.step == "wire"))), sha256="ef" * 32)


def rows(*names: str) -> tuple[Row, ...]:
    return tuple(Row(n, {"run": Cell(f"run {n}", AT, "m1", note="old"), "length": Cell("1 m"), "drop": Cell("2 mV"),
                         "side": Cell("yes")}) for n in names)


PAST = small_build(
    title="Old trimmer", currency="EUR", notice="invented", maker="somebody", created=AT,
    entries={
        "tool": Entry((Reading("edger", AT), Reading("trimmer", AT, note="n", accepted="a"),
                       Reading("oops", withdrawn="no"))),
        "voltage": Entry((Reading("18 V", AT, "m1"),), expected="17 V"), "current": Entry((Reading("5 A", AT),)),
        "choice": Entry((Reading("perhaps"),)), "photo": Entry((Reading("a.jpg", sha256="00"),)),
        "log": Entry((Reading("a.csv"),)), "wires": Entry(rows=rows("w1", "w2")), "parts": Entry(rows=rows("p1")),
        "cells": Entry(rows=(Row("c1", {"v": Cell("3.7 V")}), Row("c2"))), "gone": Entry((Reading("x"),)),
        "instruments": Entry(rows=(Row("m1", {"kind": Cell("multimeter", AT)}),), left_out=LeftOut("x"))},
    policy={"a": PolicyChange("1", "b")}, waivers=(Waiver("a", "b"),), reviews=(Review("r", "agree"),),
    history=(Event(AT, "entered"),), origin=Origin("older", "o", "p"), ended=Ended("x"),
    snapshot={"verdict": "cleared"})


def begun() -> Build:
    return start_from(PAST, "ab" * 32, CHECKLIST, "New trimmer", LATER, "b2")


def test_a_new_build_is_empty_and_knows_its_checklist() -> None:
    build = start_new(CHECKLIST, "Trimmer", "me", AT, "b1")
    assert build == Build("b1", "Trimmer", ChecklistRef("pack", "3", "ef" * 32), AT, "me",
                          history=(Event(AT, "started", after="Trimmer", by="me"),))


def test_what_is_carried_is_marked_as_taken_over_now_and_without_its_remarks() -> None:
    build = begun()
    assert build.entry("tool") == Entry((Reading("trimmer", LATER, value_class="taken over"),))


def test_the_instruments_of_the_past_build_are_shown_and_are_nobodys_here() -> None:
    build = begun()
    assert build.entry("instruments") == Entry(expected_rows=(Row("m1", {"kind": Cell("multimeter")}),))


def test_what_is_to_be_confirmed_or_measured_again_is_an_expectation_only() -> None:
    build = begun()
    assert build.entry("voltage") == Entry(expected="18 V")
    assert build.entry("current") == Entry(expected="5 A")
    assert build.entry("cells") == Entry(expected_rows=(Row("c1", {"v": Cell("3.7 V")}),))


def test_a_table_is_split_by_its_columns() -> None:
    def taken(text: str) -> Cell:
        return Cell(text, LATER, value_class="taken over")

    wires, parts = begun().entry("wires"), begun().entry("parts")
    assert wires.rows == tuple(Row(n, {"run": taken(f"run {n}"), "side": taken("yes")}) for n in ("w1", "w2"))
    assert wires.expected_rows == tuple(Row(n, {"length": Cell("1 m"), "drop": Cell("2 mV")}) for n in ("w1", "w2"))
    assert set(parts.rows[0].cells) == {"run", "drop", "side"}
    assert set(parts.expected_rows[0].cells) == {"length"}


def test_judgements_photos_files_and_history_stay_behind() -> None:
    build = begun()
    assert set(build.entries) == {"tool", "voltage", "current", "wires", "parts", "cells", "instruments"}
    assert (build.policy, build.waivers, build.reviews, build.ended, build.snapshot) == ({}, (), (), None, {})
    assert (build.notice, build.maker, build.currency, build.created) == ("", "", "EUR", LATER)
    assert build.history == (Event(LATER, "started from a past build", before="Old trimmer", after="New trimmer"),)
    assert build.origin == Origin("Old trimmer", "b1", "ab" * 32)
    assert "hot" not in to_text(build, CHECKLIST)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(BUILDS)
def test_whatever_the_past_build_holds_no_reading_of_it_counts_as_measured(past: Build) -> None:
    build = start_from(past, "x", CHECKLIST, "t", LATER, "b2")
    assert all(r.value_class == "taken over" for e in build.entries.values() for r in e.readings)
    assert all(c.value_class == "taken over" for e in build.entries.values() for r in e.rows for c in r.cells.values())


SAME: tuple[dict[str, Any], ...] = (
    {}, {"snapshot": {"verdict": "cleared"}}, {"reviews": (Review("r", "agree"),)},
    {"history": (*PAST.history, Event(AT, "reviewed"))}, {"entries": {**PAST.entries, "empty": Entry()}},
    {"entries": dict(reversed(list(PAST.entries.items())))})
OTHER: tuple[dict[str, Any], ...] = (
    {"title": "x"}, {"id": "x"}, {"maker": "x"}, {"created": LATER}, {"notice": "x"}, {"currency": "x"}, {"policy": {}},
    {"waivers": ()}, {"history": ()}, {"origin": None}, {"ended": None}, {"checklist": ChecklistRef("x")},
    {"entries": {}}, {"entries": {**PAST.entries, "tool": Entry((Reading("trimmer ", AT),))}},
    {"history": (Event(LATER, "entered"),)})


def test_the_hash_covers_all_that_is_judged_and_nothing_else() -> None:
    first = content_hash(PAST)
    assert len(first) == 64
    assert [change for change in SAME if content_hash(replace(PAST, **change)) != first] == []
    assert [change for change in OTHER if content_hash(replace(PAST, **change)) == first] == []
    assert len({content_hash(replace(PAST, **change)) for change in OTHER}) == len(OTHER)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(BUILDS)
def test_the_hash_is_the_same_after_writing_and_reading(build: Build) -> None:
    from buildtrack.storage.build_file import parse_build

    assert content_hash(parse_build(to_text(build, None))) == content_hash(build)


def test_a_review_does_not_change_the_hash_it_refers_to() -> None:
    build = small_build()
    review = Review("r", "agree", at=AT, content=content_hash(build))
    reviewed = edit.add_review(build, review, edit.Hand(AT))
    assert content_hash(reviewed) == review.content
    later = edit.rename(reviewed, "other", edit.Hand(AT))
    assert content_hash(later) != review.content


@pytest.mark.parametrize("checklist", [small(), CHECKLIST])
def test_a_build_from_a_past_one_can_be_written(checklist: Checklist) -> None:
    from buildtrack.storage.build_file import parse_build

    build = start_from(PAST, "x", checklist, "t", LATER, "b2")
    assert parse_build(to_text(build, checklist)) == build
