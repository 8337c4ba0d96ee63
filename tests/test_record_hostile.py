"""Builds of any size make a record of a size that can be laid out; what is not printed is counted, and attached."""

from __future__ import annotations

import io
import random
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from buildtrack.judging import Judged, judge
from buildtrack.model.build import Build, Cell, Entry, Reading, Row
from buildtrack.record.content import content_hash_of, gather
from buildtrack.record.html import record_html
from buildtrack.record.pdf import render_pdf
from buildtrack.record.shorten import longest_text, shortened
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from tests import record_builds

CHECKLIST = find_checklist("nickel-tool-pack")
BUILD = record_builds.full_build(CHECKLIST)
WORDS = " ".join(random.Random(1).choice(("the", "pack", "got", "warm near", "weld of group three")) for _ in range(5000))
ENDLESS = "x" * 2_000_000


def with_notes(text: str) -> Build:
    """The same note on every reading and every field."""
    return replace(BUILD, entries={
        name: replace(e, readings=tuple(replace(r, note=text) for r in e.readings),
                      rows=tuple(Row(r.id, {k: replace(c, note=text) for k, c in r.cells.items()}) for r in e.rows))
        for name, e in BUILD.entries.items()})


def with_texts(text: str) -> Build:
    """Every text that can be typed is this one."""
    typed = {i.id: Entry((Reading(text),)) for i in CHECKLIST.all_items() if i.kind == "text"}
    return replace(BUILD, title=text, maker=text, notice=text, entries={**BUILD.entries, **typed},
                   reviews=tuple(replace(r, remarks=text, reviewer=text) for r in BUILD.reviews),
                   waivers=tuple(replace(w, reason=text, by=text) for w in BUILD.waivers))


def with_rows(count: int) -> Build:
    """Every table so long."""
    return replace(BUILD, entries={n: replace(e, rows=tuple(Row(f"r{k}", e.rows[k % len(e.rows)].cells) for k in range(count)))
                                   if e.rows else e for n, e in BUILD.entries.items()})


def with_readings(times: int) -> Build:
    """Every reading taken so often."""
    return replace(BUILD, entries={n: replace(e, readings=e.readings * times) for n, e in BUILD.entries.items()})


def big_pack() -> Build:
    """200 cells in 20 groups of 10."""
    rows = BUILD.entry("candidates").rows
    cells = tuple(Row(f"c{k + 1:03}", rows[k % 6].cells) for k in range(200))
    groups = tuple(Row(f"g{g + 1}", {"cells": Cell(" ".join(f"c{g * 10 + n + 1:03}" for n in range(10)))}) for g in range(20))
    return replace(BUILD, entries={**BUILD.entries, "candidates": Entry(rows=cells), "groups": Entry(rows=groups),
                                   "series_count": Entry((Reading("20"),)), "parallel_count": Entry((Reading("10"),))})


HOSTILE: dict[str, Callable[[], Build]] = {
    "2 MB in every text": lambda: with_texts(ENDLESS), "notes of 5,000 words": lambda: with_notes(WORDS),
    "500 rows in every table": lambda: with_rows(500), "40 readings of every item": lambda: with_readings(40),
    "200 cells in 20 groups": big_pack, "a history of 40,000 lines": lambda: replace(BUILD, history=BUILD.history * 400),
    "unbroken notes": lambda: with_notes("y" * 2000)}


def judged_of(build: Build, folder: Path) -> Judged:
    return judge(build, CHECKLIST, folder, record_builds.NOW)


def printed(html: str) -> tuple[int, int]:
    """Characters and table rows of a page without its style and drawings."""
    body = re.sub(r"<svg.*?</svg>|<style>.*?</style>", "", html, flags=re.DOTALL)
    return len(re.sub(r"<[^>]+>", "", body)), body.count("<tr")


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_printed_stays_within_its_budget(name: str, tmp_path: Path) -> None:
    letters, rows = printed(record_html(gather(judged_of(HOSTILE[name](), tmp_path), b"x")))
    usual_letters, usual_rows = printed(record_html(gather(judged_of(BUILD, tmp_path), b"x")))
    assert letters < usual_letters + 260_000 and rows < usual_rows + 2_600


@pytest.mark.parametrize(("name", "words"), [
    ("2 MB in every text", "2000000 characters; the whole text is in the build file"),
    ("notes of 5,000 words", "more notes are in the attached build file"),
    ("500 rows in every table", "more rows are in the attached build file"),
    ("40 readings of every item", "more readings are in the attached build file"),
    ("a history of 40,000 lines", "earlier changes are in the attached build file")])
def test_what_is_not_printed_is_counted(name: str, words: str, tmp_path: Path) -> None:
    assert words in record_html(gather(judged_of(HOSTILE[name](), tmp_path), b"x"))


def test_all_200_cells_are_printed(tmp_path: Path) -> None:
    pages = gather(judged_of(big_pack(), tmp_path), b"x")
    cells = next(s for s in pages.steps if s.id == "cells")
    listed = {row[0] for g in cells.grids if g.title.startswith("Candidate") for row in g.rows}
    assert listed == {f"c{k + 1:03}" for k in range(200)}
    assert next(f for f in cells.figures if f.title == "Cell map").svg


def test_hash_and_verdict_are_of_the_whole_build(tmp_path: Path) -> None:
    judged = judged_of(with_notes(WORDS), tmp_path)
    pages = gather(judged, b"x")
    assert pages.identity.content_hash == content_hash_of(judged) and pages.verdict.word == judged.assessment.verdict


def test_short_texts_stand_whole_beside_a_long_one() -> None:
    entries = {**BUILD.entries, "user_limits": Entry((Reading("z" * 300_000),))}
    cut = shortened(replace(BUILD, entries=entries)).build
    assert cut.entry("tool") == BUILD.entry("tool")
    assert longest_text(BUILD) == 2000 and shortened(BUILD).build is BUILD


@pytest.mark.parametrize("path", sorted(shipped_samples().glob("*.toml")), ids=lambda p: p.stem)
def test_no_sample_is_cut(path: Path) -> None:
    build = read_build(path).build
    assert shortened(build).build is build


def test_unbroken_words_do_not_leave_the_page(tmp_path: Path) -> None:
    pages = gather(judged_of(with_texts("W" * 3000), tmp_path), b"x")
    few = replace(pages, steps=pages.steps[:1], photos=(), passed=(), not_computed=None)
    reader = pypdf.PdfReader(io.BytesIO(render_pdf(record_html(few), (), record_builds.NOW, timeout_s=600)))
    right_edge = (210 - 20) / 25.4 * 72
    for page in reader.pages:
        found: list[float] = []

        def begins(text: str, cm: list[float], tm: list[float], _font: object, _size: float,
                   found: list[float] = found) -> None:
            if text.strip():
                found.append(cm[0] * tm[4] + cm[4])

        page.extract_text(visitor_text=begins)
        assert max(found) < right_edge
