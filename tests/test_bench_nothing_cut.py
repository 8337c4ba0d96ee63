"""Nothing that matters is cut with an ellipsis: card, next thing to do, head, findings, questions, tables of a working."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from rich.cells import cell_len
from textual.widgets import Static

from buildtrack.bench.screens.ask import AskOne
from buildtrack.bench.surroundings import Surroundings
from buildtrack.bench.wide_table import table_lines
from buildtrack.bench.widgets.lines import LineList
from buildtrack.model.build import Cell, Entry, Row
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import Clock, Walk, main_checklist, new_build, walk
from tests.cut_lines import CUT, cut_at, rows_of
from tests.test_bench_entry import CHECKLIST, SIZES
from tests.test_bench_guidance import READY, with_entries
from tests.test_bench_typing_ahead import table

HARD = ("may_be_modified", "winding_method", "old_charger_fate", "taps", "alarm_setting", "charger_voltage")
"""Items whose answers or labels are long."""


@SIZES
@pytest.mark.parametrize("sample", ["drill-not-cleared", "grass-shears-in-progress"])
def test_card_next_thing_and_head_are_whole_at_the_items_with_the_longest_words(
    sample: str, size: tuple[int, int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All items of all samples can be walked in the same way: `cut_at` at each of them."""
    monkeypatch.setenv("BUILDTRACK_STATE", str(tmp_path / "state"))
    shutil.copytree(shipped_samples(), tmp_path / "builds")

    async def steps(w: Walk) -> None:
        found = [c for item in HARD for c in await cut_at(w, item)]
        faults = [c for c in found if c.where == "next" and any(s in c.text for s in ("✗", "▲"))]
        assert not [c for c in found if c.where == "card"] + faults
        assert size[0] > 80 or not [c for c in found if c.where == "head"]

    walk(steps, new_build(CHECKLIST), CHECKLIST, size=size, path=tmp_path / "builds" / f"{sample}.toml",
         around=lambda s: replace(Surroundings(), clock=Clock()))


def test_the_next_thing_to_do_is_told_in_two_rows_where_one_has_no_room() -> None:
    """The last step: a stop waits for one field of a table, which is a long sentence."""
    rows = tuple(Row(f"c0{n}", {"source": Cell("laptop")}) for n in (1, 2))

    async def steps(w: Walk) -> None:
        panel = " ".join(" ".join(rows_of(w.screen.query_one("#meaning"))).split())
        assert panel.count("Next:") == 1 and CUT not in panel.partition("checks")[0]

    walk(steps, with_entries(READY, candidates=Entry(rows=rows)), CHECKLIST)


def test_a_long_answer_of_a_question_is_wrapped() -> None:
    async def steps(w: Walk) -> None:
        long = "a resistance that was read at a small current from a bench supply, because the winding is very low"
        w.app.push_screen(AskOne("Which?", [("a", long), ("b", "short")]))
        await w.settle()
        text = " ".join(w.text().replace("▌", " ").split())
        assert long in text
        await w.press("down")
        assert w.screen.query_one(LineList).current_key == "2:b"

    walk(steps, READY, CHECKLIST)


@pytest.mark.parametrize("room", [40, 72, 86])
def test_no_field_of_a_wide_table_is_cut_and_the_names_of_the_rows_stand_in_every_block(room: int) -> None:
    head = ("cell", "decision", "arrival", "drop", "slope", "leak", "capacity", "kept", "R (dc)", "allowance")
    rows = [(f"c{n:02d}", "keep", "4.671 V", "1.1 mV", "-0.2 mV/d", "24.05 mAh", "2410 mAh", "96.4 %", "71.2 mΩ",
             "4.82 A") for n in range(1, 4)]
    told = ["".join(p.text for p in entry.left) for entry in table_lines(head, rows, room)]
    assert all(len(text) <= room and CUT not in text for text in told)
    whole = " ".join(told).split()
    assert all(word in whole for text in (*head, *rows[1]) for word in text.split())
    blocks = sum(text.startswith("cell") for text in told)
    assert blocks == sum(text.startswith("c02") for text in told)
    assert blocks > 1 or room > 72


REFUSED = "full 21.0 V, the old pack had 17.4 V; may carry 3.2 A, the work draws 9.4 A; 15 cells, the housing holds 12"


@pytest.mark.parametrize("room", [30, 60, 86, 200])
def test_a_long_text_of_a_table_takes_the_room_there_is_and_wraps_where_that_is_too_little(room: int) -> None:
    rows = [("5S3P", "21.0 V", "0.22 ×", REFUSED), ("4S3P", "16.8 V", "1.43 ×", "recommended")]
    told = ["".join(p.text for p in entry.left) for entry in table_lines(("option", "full", "headroom", "refused because"), rows, room)]
    assert all(cell_len(text) <= room and CUT not in text for text in told)
    apart = " ".join(" ".join(told).split())
    assert all(word in apart.split() for word in REFUSED.split())
    if room == 200:
        assert any(REFUSED in text for text in told) and len(told) == 3
    if room == 86:
        beside = [text for text in told if "the old pack had 17.4 V; may carry" in text]
        assert beside, "the text is as wide as the page leaves room, not forty cells"


@pytest.mark.parametrize("text", ["x" * 300, "電" * 90, ""])
def test_a_word_longer_than_its_column_is_broken_and_not_cut(text: str) -> None:
    told = ["".join(p.text for p in entry.left) for entry in table_lines(("a", "b"), [("1", text)], 40)]
    assert all(cell_len(line) <= 40 for line in told)
    assert "".join(line[1:].strip() for line in told[1:]).count(text[:1] or "?") == len(text)


def test_the_way_through_a_table_is_told_whole_on_the_smallest_screen() -> None:
    async def steps(w: Walk) -> None:
        await table(w, "candidates")
        told = str(w.screen.query_one("#table-head", Static).content)
        assert told.endswith(("Enter goes →", "Enter goes ↓")) and len(told) <= 76

    walk(steps, with_entries(READY, candidates=Entry(rows=(Row("c01", {"source": Cell("laptop")}),))), CHECKLIST)


def test_the_walk_finds_what_is_cut() -> None:
    async def steps(w: Walk) -> None:
        assert w.app.desk is not None
        w.app.desk.build = replace(w.app.desk.build, title="long " * 40)
        assert {c.where for c in await cut_at(w, "tool")} == {"head"}

    main = main_checklist()
    walk(steps, new_build(main), main)


@pytest.mark.parametrize("size", [(110, 32), (120, 40)])
def test_beside_the_bench_no_step_loses_its_name_or_its_word_and_a_short_answer_stands_below_a_long_name(
    size: tuple[int, int],
) -> None:
    checklist = CHECKLIST
    label = "How long it rests between charge and test"
    step, *others = checklist.steps
    first, *rest = step.items
    named = replace(step, title="Test discharge cutoff", items=(replace(first, label=label), *rest))
    checklist = replace(checklist, steps=(named, *others))

    async def steps(w: Walk) -> None:
        await w.press("enter")
        await w.type("twelve hours and a half")
        rows = [row.rstrip(" │▌") for row in w.text().splitlines()]
        assert any("1 Test discharge cutoff" in row for row in rows), "the rail"
        of_rail = [row[:29] for row in rows]
        at = next(n for n, row in enumerate(of_rail) if "1 Test discharge cutoff" in row)
        assert "left" in of_rail[at] + of_rail[at + 1], "and the word of its state"
        items = w.screen.query_one("#items", LineList)
        found = ["".join(p.text for p in (*row.left, *row.right)) for row in items.rows(items._text_width())]
        shown = " ".join(" ".join(found).split())
        assert label in shown and "twelve hours and a half" in shown and "…" not in shown

    walk(steps, new_build(checklist), checklist, size=size)
