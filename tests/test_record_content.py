"""What the record says: the numbers of the sheet, the texts as typed, and nothing else."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from html import unescape
from pathlib import Path

import pytest

from buildtrack import units
from buildtrack.judging import Judged, judge
from buildtrack.model.build import Cell, Entry, Event, Reading, Review, Row
from buildtrack.record.content import content_hash_of, gather, source_name
from buildtrack.record.gather_front import MEANINGS
from buildtrack.record.gridding import PAGE_WIDTH_MM, blocks, grid
from buildtrack.record.html import record_html
from buildtrack.record.pages import ItemLine, Pages, StepPage
from buildtrack.record.redoing import for_a_reader
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.workings.explain import explain
from tests import record_builds

SOURCE = b'title = "Garden shears"\n'


@pytest.fixture(scope="module")
def judged(tmp_path_factory: pytest.TempPathFactory) -> Judged:
    return record_builds.full_judged(tmp_path_factory.mktemp("build"))


@pytest.fixture(scope="module")
def pages(judged: Judged) -> Pages:
    return gather(judged, SOURCE)


def spaced(text: str) -> str:
    """Text with plain spaces and a plain minus."""
    return text.replace("\u00a0", " ").replace("\u2212", "-")


def bare(numbers: str) -> str:
    """What is put in, without the digits of the numbers, the steps of the tables and the currency."""
    return re.sub(r"\d+(\.\d+)?", "#", re.sub(r" \[step \d\]", "", numbers).replace(" EUR", " money"))


def step(pages: Pages, name: str) -> StepPage:
    """One step."""
    return next(s for s in pages.steps if s.id == name)


def item(pages: Pages, judged: Judged, name: str) -> ItemLine:
    """One item by its id."""
    found = judged.checklist.items[name]
    return next(i for i in step(pages, found.step).items if i.label == found.label)


def test_every_known_working_stands_with_formula_numbers_result_and_source(pages: Pages, judged: Judged) -> None:
    sheet = judged.assessment.sheet
    printed = {w.id: w for s in pages.steps for w in s.workings}
    for name in sheet.workings:
        told = explain(name, sheet, judged.checklist)
        if told.state != "known":
            assert name not in printed
            continue
        block = printed[name]
        assert spaced(block.shown) == " ".join(units.in_currency(told.shown, "EUR").split())
        assert block.formula and block.source
        assert bare(spaced(block.substituted)) == bare(" ".join(for_a_reader(told.substituted).split()))


def test_every_working_without_a_value_says_what_it_needs(pages: Pages, judged: Judged) -> None:
    assert pages.not_computed is not None
    listed = {(why, label) for why, labels in pages.not_computed.rows for label in labels.split("; ")}
    sheet = judged.assessment.sheet
    told = [explain(n, sheet, judged.checklist) for n in sheet.workings]
    assert listed == {(t.shown, " ".join(t.label.split())) for t in told if t.state != "known"}
    assert len({why for why, _ in listed}) == len(pages.not_computed.rows), "what needs the same stands together"


def test_a_table_that_lacks_columns_is_told_from_one_that_is_not_there(judged: Judged) -> None:
    told = explain("cells_cost", judged.assessment.sheet, judged.checklist)
    assert told.shown == "needs more in Candidate cells", "the cells are there, their prices are not"
    bare = replace(judged.build, entries={})
    empty = judge(bare, judged.checklist, judged.folder, judged.now)
    assert explain("cells_cost", empty.assessment.sheet, judged.checklist).shown == "needs Candidate cells"


def test_key_figures_are_those_of_the_sheet(pages: Pages, judged: Judged) -> None:
    shown = {f.label: spaced(f.value) for f in pages.verdict.key_figures}
    for name in ("pack_full_voltage", "pack_allowance", "delivered_capacity_tested"):
        told = explain(name, judged.assessment.sheet, judged.checklist)
        assert shown[told.label] == told.shown


def test_readings_stand_as_typed_with_instrument_and_time(pages: Pages, judged: Judged) -> None:
    charger = item(pages, judged, "charger_open_voltage").readings[0]
    assert spaced(charger.text) == "17.8 V"
    assert charger.instrument == "blue meter" and charger.taken.startswith("2026-10-0")
    # 60 V range: 0.5 % of 17.8 V and 3 counts of 10 mV are 0.119 V; with half a count root of 0.119² + 0.005² = 0.1191
    assert spaced(charger.plus_minus) == "± 0.12 V"


def test_several_readings_stand_side_by_side_with_the_one_that_counts(pages: Pages, judged: Judged) -> None:
    working = item(pages, judged, "working_current")
    assert spaced(working.readings[0].text) == "4.10 A · 4.35 A · 4.22 A · 4.41 A · 4.18 A"
    # mean of the five: 21.26 / 5 = 4.252
    assert "mean" in working.counts and "4.25" in working.counts


def test_value_classes_are_told_apart(pages: Pages, judged: Judged) -> None:
    marks = {name: item(pages, judged, name).readings[0].mark
             for name in ("rated_voltage", "fuse_rating", "board_resistance")}
    assert marks == {"rated_voltage": "●", "fuse_rating": "←", "board_resistance": "?"}
    loop = next(w for w in step(pages, "wire").workings if w.id == "loop_resistance")
    assert loop.mark == "?", "what rests on a guess is no better than a guess"


def test_a_withdrawn_reading_stays_with_its_reason(pages: Pages, judged: Judged) -> None:
    first, second = item(pages, judged, "alarm_setting").readings
    assert first.withdrawn == "below what the alarm can show" and not first.counts
    assert second.counts and spaced(second.text) == "3.30 V"


def test_a_choice_that_another_took_the_place_of_is_struck_and_the_one_that_counts_is_named(tmp_path: Path) -> None:
    checklist = find_checklist("nickel-tool-pack")
    wrong, right = (Reading(text, record_builds.NOW) for text in ("adapter", "cc/cv charger"))
    build = record_builds.full_build(checklist)
    entries = {**build.entries, "charger_kind": Entry((wrong, right))}
    found = judge(replace(build, entries=entries), checklist, tmp_path, record_builds.NOW)
    told = item(gather(found, SOURCE), found, "charger_kind")
    assert [r.counts for r in told.readings] == [False, True]
    assert told.counts == f"the last counts: {told.readings[1].text}"


def test_a_plain_number_shows_the_unit_it_was_taken_in(pages: Pages, judged: Judged) -> None:
    assert spaced(item(pages, judged, "new_pack_price").readings[0].text) == "48 (EUR)"


def test_every_field_of_every_table_is_printed(pages: Pages, judged: Judged) -> None:
    for found in judged.checklist.all_items():
        if found.kind != "table":
            continue
        texts = {c for g in step(pages, found.step).grids for row in g.rows for c in row}
        shown = " ".join(spaced(t) for t in texts)
        for row in judged.build.entry(found.id).rows:
            for column in found.columns:
                typed = row.text(column.id)
                if typed and column.kind != "choice":
                    assert " ".join(typed.split()) in shown, (found.id, row.id, column.id)


def test_wide_tables_are_broken_and_keep_the_row_names(pages: Pages) -> None:
    grids = [g for g in step(pages, "cells").grids if g.title.startswith("Candidate")]
    assert len(grids) > 1
    assert all([row[0] for row in g.rows] == [f"c{n:02}" for n in range(1, 9)] for g in grids)
    assert grids[1].title.endswith(", continued")


def test_blocks_of_columns_fit_the_page_and_hold_every_column_once() -> None:
    widths = [12.0, *([23.0, 41.0, 18.0, 55.0, 9.0] * 6)]
    runs = blocks(widths)
    assert [k for run in runs for k in run] == list(range(1, len(widths)))
    assert all(widths[0] + sum(widths[k] for k in run) <= PAGE_WIDTH_MM for run in runs)


def test_a_column_wider_than_the_page_still_gets_its_block() -> None:
    assert blocks([10.0, 400.0, 20.0]) == [range(1, 2), range(2, 3)]


def test_columns_of_numbers_are_set_flush_right() -> None:
    found = grid("", ("a", "b", "c"), [("x", "3.3 V", "note 1"), ("y", "? 12 V", "2 notes, and so on and on and on")])
    assert found.numeric == (False, True, False)
    assert sum(found.widths) == pytest.approx(100, abs=0.5)


def test_conditions_and_what_was_accepted_stand_apart(pages: Pages, judged: Judged) -> None:
    both = [spaced(c) for c in (*pages.verdict.limits, *pages.verdict.accepted)]
    assert {" ".join(c.split()) for c in judged.assessment.conditions} <= set(both)
    assert any("camera was not at hand" in c for c in pages.verdict.accepted)
    assert any("Do not hold the trigger" in c for c in pages.verdict.limits)


def test_findings_are_all_there_by_severity(pages: Pages, judged: Judged) -> None:
    listed = [f.title for g in pages.findings for f in g.lines]
    assert listed == [r.title for r in judged.assessment.findings]
    passed = [r for r in judged.assessment.results if r.outcome == "pass"]
    assert list(pages.passed) == [r.title for r in passed if not r.idle], "looked for and not found"
    assert [r.check for r in passed if r.idle], "this build has checks without anything to look at"
    assert list(pages.idle) == [r.title for r in passed if r.idle], "nothing to judge yet"


def test_every_check_stands_in_one_list_of_the_findings_page(pages: Pages, judged: Judged) -> None:
    page = re.sub(r"\s+", " ", unescape(record_html(pages)))
    page = page[page.index('id="findings"'):page.index('id="waivers"')]
    assert f"Nothing to judge yet ({len(pages.idle)})" in page and len(pages.idle) > 0
    lists = [f.title for g in pages.findings for f in g.lines] + list(pages.passed) + list(pages.idle)
    assert sorted(lists) == sorted(r.title for r in judged.assessment.results)
    assert [r.title for r in judged.assessment.results if r.title not in page] == []


def test_a_cleared_pack_is_not_said_to_have_passed_what_had_nothing_to_judge() -> None:
    assert MEANINGS["cleared"].endswith("every stop and caution that had something to judge passed.")


def test_waivers_left_out_and_changed_limits_carry_their_reasons(pages: Pages) -> None:
    assert pages.waivers is not None and pages.left_out is not None and pages.policy is not None
    assert pages.waivers.rows[0][1:4] == ("the tester reads low", "Kim", "2026-10-01")
    assert "the camera was not at hand" in pages.left_out.rows[0]
    assert "cells of one batch" in pages.policy.rows[0]


def test_missing_items_are_listed(pages: Pages, judged: Judged) -> None:
    assert pages.missing is not None
    lines = {(row[0], row[1].partition(",")[0], said) for row in pages.missing.rows for said in row[3].split("; ")}
    checklist = judged.checklist
    titles = {s.id: s.title for s in checklist.steps}
    expected = [(titles[t.step], checklist.items[s.item]) for t in judged.assessment.status.steps for s in t.items
                if not s.settled and checklist.items[s.item].need != "optional"]
    assert len(lines) == len(expected) and expected
    for title, item in expected:
        assert any(line[:2] == (title, item.need) and line[2].startswith(item.label) for line in lines), item.label


def test_first_entries_are_counted_and_changes_told(pages: Pages, judged: Judged) -> None:
    entered = [e for e in judged.build.history if e.what == "entered"]
    assert sum(int(n) for _, n, _ in pages.history.days) == len(entered)
    when, what, where, change, why = pages.history.changes[-1]
    assert (when, what) == ("2026-10-03 17:00", "changed")
    assert spaced(change) == "3.10 V → 3.30 V" and "margin too small" in why and "Kim" in why


def test_like_changes_of_one_occasion_are_told_in_one_line_and_values_that_counted_each_in_its_own(judged: Judged) -> None:
    at = datetime(2026, 11, 27, 17, 36, tzinfo=UTC)
    cells = [f"c{n:02}" for n in range(1, 25)]
    taken_back = [Event(at, "undone", "cells", "candidates", row, column, after=f"{n}")
                  for row in cells[:3] for n, column in enumerate(("mass", "price", "capacity"))]
    method = [Event(at, "changed", "cells", "candidates", row, "resistance_kind", "ac", "dc") for row in cells]
    group = [Event(at, "changed", "charge", "charge_groups", f"g{n}", "at_end", f"4.2{n}", "4.20") for n in range(1, 6)]
    pages = gather(replace(judged, build=replace(judged.build, history=(*taken_back, *method, *group))), SOURCE)
    told = [c[1:4] for c in pages.history.changes]
    assert told[0] == ("undone", "Candidate cells, c01, c02, c03", "9 fields")
    assert told[1][1].startswith("Candidate cells, 24 rows c01 to c24, ") and told[1][2] == "ac → dc"
    assert [t[2] for t in told[2:]] == [f"4.2{n} → 4.20" for n in range(1, 6)], "another value before each"


def test_a_long_history_is_cut_and_says_so(judged: Judged) -> None:
    many = tuple(Event(record_builds.START, "changed", item="tool", after=str(n)) for n in range(400))
    pages = gather(replace(judged, build=replace(judged.build, history=many)), SOURCE)
    assert len(pages.history.changes) == 120 and pages.history.left == 280


def test_a_review_says_whether_it_judged_this_content(judged: Judged) -> None:
    review = Review("Robin", "agree", content=content_hash_of(judged))
    build = replace(judged.build, reviews=(*judged.build.reviews, review))
    lines = gather(replace(judged, build=build), SOURCE).verdict.reviews
    assert [r.of_this for r in lines] == [False, True], "a review does not change the content it judges"


def test_an_unusual_value_is_told_with_the_answer(judged: Judged) -> None:
    entries = {**judged.build.entries, "old_mass": Entry((Reading("9 kg", accepted="cast iron housing"),))}
    found = judge(replace(judged.build, entries=entries), judged.checklist, judged.folder, judged.now)
    pages = gather(found, SOURCE)
    assert "cast iron housing" in item(pages, found, "old_mass").readings[0].note
    assert any("cast iron housing" in c for c in pages.verdict.accepted)


def test_attached_files_are_named_with_their_hash_and_state(judged: Judged, tmp_path: Path) -> None:
    (tmp_path / "photo.png").write_bytes(b"\x89PNG\r\n\x1a\nrest")
    entries = {**judged.build.entries,
               "label_photo": Entry((Reading("photo.png", sha256="00" * 32),)),
               "wiring_photo": Entry((Reading("../outside.png"),)), "cells_photo": Entry((Reading("gone.jpg"),))}
    found = replace(judged, build=replace(judged.build, entries=entries), folder=tmp_path)
    lines = {f.name: f for f in gather(found, SOURCE).files}
    assert lines[source_name(judged)].inside
    assert "changed since it was attached" in lines["photo.png"].remark and lines["photo.png"].inside
    assert not lines["../outside.png"].inside and "leads out of the folder" in lines["../outside.png"].remark
    assert not lines["gone.jpg"].inside and "no such file" in lines["gone.jpg"].remark


def test_a_drawing_without_data_is_a_sentence(tmp_path: Path) -> None:
    checklist = find_checklist("nickel-tool-pack")
    empty = replace(record_builds.full_build(checklist), entries={}, waivers=(), reviews=(), history=(), policy={})
    pages = gather(judge(empty, checklist, tmp_path, record_builds.NOW), SOURCE)
    figures = [f for s in pages.steps for f in s.figures]
    assert len(figures) >= 8
    assert all(f.caption.endswith(".") for f in figures if not f.svg)
    assert [f.title for f in figures if f.svg] == []
    assert pages.verdict.word == "incomplete" and not pages.verdict.key_figures


def test_all_drawings_of_a_full_build_are_drawn(pages: Pages) -> None:
    missing = [(f.title, f.caption) for s in pages.steps for f in s.figures if not f.svg]
    assert missing == []


def test_instrument_of_a_single_field_is_told_where_it_differs(judged: Judged) -> None:
    rows = tuple(Row(r.id, {**r.cells, "voltage": Cell("3.66 V", None, "m2")}) if r.id == "B1" else r
                 for r in judged.build.entry("taps").rows)
    build = replace(judged.build, entries={**judged.build.entries, "taps": Entry(rows=rows)})
    found = next(g for g in step(gather(replace(judged, build=build), SOURCE), "wire").grids if g.title.startswith("Taps"))
    assert spaced(found.rows[1][1]) == "3.66 V [m2]"
    assert any("m1" in note for note in found.notes)


def test_seconds_an_hour_are_named_and_a_reading_of_3600_is_not() -> None:
    assert for_a_reader("I * t / 3600") == "I * t / 3600 s/h"
    assert for_a_reader("3600 mAh × 18.5 V") == "3600 mAh × 18.5 V"
    assert for_a_reader("3600 s + 1e-9") == "3600 s"


@pytest.mark.parametrize(("called", "name"), [
    ("my drill.toml", "my drill.toml"), ("Säge.toml", "Säge.toml"), ("..toml", ""), ("a/../b.toml", "a-..-b.toml"),
    (".hidden.toml", "hidden.toml"), ("x\u202ey.toml", "x-y.toml"), ("n" * 300 + ".toml", "n" * 120 + ".toml"), ("", "")])
def test_the_build_file_goes_into_the_record_under_its_own_name_where_that_is_one(
        judged: Judged, called: str, name: str) -> None:
    assert source_name(judged, called) == (name or source_name(judged))
