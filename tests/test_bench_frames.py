"""A key is one frame: what it changed is seen at once and whole; what takes its time begins when that is seen."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

import pytest
from rich.console import RenderableType
from textual import events
from textual.geometry import Region, Spacing
from textual.screen import Screen
from textual.strip import Strip
from textual.widget import Widget

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.screens.bench import BenchScreen
from buildtrack.bench.surroundings import Surroundings
from buildtrack.bench.themes import WORDS
from buildtrack.bench.widgets.card_sheet import CardSheet
from buildtrack.bench.widgets.field import Field
from buildtrack.bench.widgets.line_text import line, prose
from buildtrack.bench.widgets.lines import LineList
from tests.bench_walk import Walk, screen_text, small_checklist, walk
from tests.test_bench_drawn import Paper, cells, paper_of
from tests.test_bench_entry import LOAD, PLAN, answered, build_with
from tests.test_bench_golden import BUILD

CHECKLIST = small_checklist()
BEGUN = build_with(tool=PLAN["tool"], tool_kind=PLAN["tool_kind"])
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)])


@dataclass
class Frame:
    """What was seen, and what went on meanwhile."""

    text: str
    of_a_key: bool
    unsaved: bool
    pending: bool
    """Whether it was still to be judged."""


@contextmanager
def frames_of(app: BuildtrackApp) -> Iterator[list[Frame]]:
    """Note every frame that reaches the terminal."""
    found: list[Frame] = []
    display = BuildtrackApp._display

    def _display(self: BuildtrackApp, screen: Screen[object], update: RenderableType | None) -> None:
        display(self, screen, update)
        if update is not None and not self._batch_count:
            assert self.desk is not None
            found.append(Frame(screen_text(self), self.keys_waiting, self.desk.unsaved, self.desk.pending))

    with patch.object(BuildtrackApp, "_display", _display):
        yield found


@contextmanager
def frames_of_keys(paper: Paper) -> Iterator[list[list[int]]]:
    """Of the frame of each key the rows in which it is not what the screen would be if it were drawn whole."""
    found: list[list[int]] = []
    draw = BuildtrackApp._draw

    def _draw(self: BuildtrackApp) -> None:
        draw(self)
        whole = cells(self.screen._compositor)
        found.append([y for y, (drawn, now) in enumerate(zip(paper.rows, whole, strict=True)) if drawn != now])

    with patch.object(BuildtrackApp, "_draw", _draw):
        yield found


def listed_and_card(text: str) -> tuple[list[str], list[str]]:
    """Rows of the list above the card and of the card, their words with one blank between them."""
    rows = [" ".join(row.split()) for row in text.splitlines()]
    first = next(n for n, row in enumerate(rows) if "▌" in row)
    return rows[:first], [row for row in rows if "▌" in row]


def bench(w: Walk) -> BenchScreen:
    assert isinstance(w.screen, BenchScreen)
    return w.screen


# -- one frame a key ---------------------------------------------------------------------------------------------------


@SIZES
def test_enter_shows_the_answer_and_the_next_item_in_one_frame_and_then_saves_and_judges(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        assert bench(w).item_id == "rated_voltage"
        await w.press("1", "4")
        with frames_of(w.app) as frames:
            await w.press("enter")
        assert [f.of_a_key for f in frames].count(True) == 1, "not bit by bit"
        assert frames[0].of_a_key and frames[0].unsaved and frames[0].pending
        listed, card = (" ".join(rows) for rows in listed_and_card(frames[0].text))
        assert "✓ Voltage on the plate 14" in listed and "▸ · A place to charge is ready" in listed
        assert "A place to charge is ready" in card and "Voltage on the plate" not in card
        assert "Never on a wooden shelf." in card
        assert "Next" in frames[0].text and " ".join(frames[0].text.split()).count("Voltage on the plate") == 1
        assert w.session.build is w.build and not bench(w).desk.pending, "it is saved and judged by now"

    walk(steps, BEGUN, CHECKLIST, size=size)


@SIZES
def test_a_character_is_one_frame_with_all_that_it_changes(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        for key, shown in (("1", "Enter take it"), ("4", "› 14"), ("escape", "u brings it back")):
            with frames_of(w.app) as frames:
                await w.press(key)
            assert [f.of_a_key for f in frames].count(True) == 1 and frames[0].of_a_key, key
            assert shown in " ".join(frames[0].text.split()), key

    walk(steps, BEGUN, CHECKLIST, size=size)


@SIZES
@pytest.mark.parametrize("keys", [("f2", "enter", "escape"), ("up", "enter", "escape"), ("f4", "escape")])
def test_another_place_comes_whole(keys: tuple[str, ...], size: tuple[int, int]) -> None:
    """Textual does not send what a screen draws of itself while a key is on its way."""

    async def steps(w: Walk) -> None:
        with paper_of() as paper:
            w.app.screen.refresh(layout=True)
            await w.pilot.pause()
            for key in keys:
                with frames_of_keys(paper) as differ:
                    await w.press(key)
                assert differ == [[]], f"after {key}"

    walk(steps, BUILD, CHECKLIST, size=size)


def test_what_was_drawn_and_not_sent_while_a_key_was_on_its_way_is_drawn_again() -> None:
    async def steps(w: Walk) -> None:
        screen = bench(w)
        with paper_of() as paper:
            screen.refresh(layout=True)
            await w.pilot.pause()
            with w.app.batch_update():
                screen.items.select("tool")
                await w.pilot.pause()
                screen._compositor.update_widgets({screen.items})
                screen._compositor_refresh()
            assert paper.rows != cells(screen._compositor)
            w.app._draw()
            assert paper.rows == cells(screen._compositor)

    walk(steps, BEGUN, CHECKLIST)


# -- what does not cost a frame ----------------------------------------------------------------------------------------


def test_what_stands_when_a_build_is_open_is_not_looked_through_for_garbage_at_a_key() -> None:
    gc.unfreeze()

    async def steps(w: Walk) -> None:
        assert gc.get_freeze_count() > 10_000 and gc.isenabled()

    walk(steps, BEGUN, CHECKLIST)
    gc.unfreeze()


def test_garbage_is_looked_for_again_where_a_file_cannot_be_opened(tmp_path: Path) -> None:
    (tmp_path / "torn.toml").write_text("format = ", encoding="utf-8")

    async def steps(w: Walk) -> None:
        w.app.around = Surroundings()
        w.app.open_build(tmp_path / "torn.toml")
        await w.settle()
        assert "torn.toml" in bench(w).said and gc.isenabled()

    walk(steps, BEGUN, CHECKLIST)


def test_prose_without_room_is_moved_by_the_wheel_between_label_and_facts() -> None:
    async def steps(w: Walk) -> None:
        sheet = bench(w).card.sheet
        height = sheet.size.height
        sheet.say([line("label")], [prose(f"row {n}") for n in range(height + 3)], [line("fact")])
        assert sheet_rows(sheet) == ["label", *(f"row {n}" for n in range(height - 3)), f"row {height - 3} ↓", "fact"]
        sheet.on_mouse_scroll_down(WHEEL)
        assert sheet_rows(sheet)[:2] == ["label", "row 3 ↑"] and sheet_rows(sheet)[-1] == "fact"
        sheet.on_mouse_scroll_down(WHEEL)
        sheet.on_mouse_scroll_down(WHEEL)
        assert sheet_rows(sheet)[-2:] == [f"row {height + 2}", "fact"], "no further than its end"
        sheet.say([line("label")], [prose("another item")], [line("fact")])
        assert sheet_rows(sheet) == ["label", "another item", *[""] * (height - 3), "fact"]

    walk(steps, BEGUN, CHECKLIST)


def test_a_label_that_has_no_room_beside_its_mark_stands_above_it_and_a_row_of_prose_stays() -> None:
    async def steps(w: Walk) -> None:
        sheet = bench(w).card.sheet
        height = sheet.size.height
        sheet.say([line("label")], [prose("how")], [line(f"fact {n}") for n in range(height + 2)])
        assert sheet_rows(sheet)[:3] == ["label", "how", "fact 0"]

    walk(steps, BEGUN, CHECKLIST)


def test_another_item_lays_nothing_out_anew() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("free_current")
        await w.settle()
        with patch.object(Screen, "_refresh_layout", side_effect=AssertionError("laid out")):
            await w.press("5", "down", "6", "up", "down")
        assert bench(w).item_id == "working_current" and bench(w).card.field.value == "6"

    walk(steps, build_with(**PLAN, **LOAD, supply_voltage=answered("14 V")), CHECKLIST, size=(120, 40))


# -- the field ---------------------------------------------------------------------------------------------------------


def test_the_field_shows_where_the_cursor_is_and_what_is_chosen() -> None:
    async def steps(w: Walk) -> None:
        field = bench(w).card.field
        closed = grounds(field)
        assert len(set(closed)) == 1
        await w.press("1", "4")
        opened = grounds(field)
        assert field.render_line(0).text.rstrip() == "14"
        assert opened.count(opened[2]) == 1 and len(set(opened)) == 2 and closed[0] not in opened
        await w.press("left")
        assert grounds(field)[1] == opened[2], "the cursor has gone back by one"
        field.select_all()
        assert len(set(grounds(field)[:2])) == 1 and grounds(field)[0] not in (*closed, *opened)
        await w.press("escape")
        assert grounds(field) == closed and field.render_line(0).text.rstrip() == "type a number"

    walk(steps, BEGUN, CHECKLIST)


def test_of_a_text_longer_than_the_field_its_end_is_seen() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("tool")
        await w.settle()
        await w.press("enter", *"abcdefghij" * 9)
        assert bench(w).card.field.render_line(0).text.endswith("fghij ")
        await w.press("home")
        assert bench(w).card.field.render_line(0).text.startswith("abcdefghij")

    walk(steps, build_with(), CHECKLIST)


WHEEL = events.MouseScrollDown(None, 0, 0, 0, 1, 0, False, False, False)


def sheet_rows(sheet: CardSheet) -> list[str]:
    """What the rows of the sheet show."""
    return [" ".join(sheet.render_line(y).text.split()) for y in range(sheet.size.height)]


def grounds(field: Field) -> list[object]:
    """The ground of each cell of the field."""
    strip: Strip = field.render_line(0)
    return [segment.style.bgcolor if segment.style else None for segment in strip for _ in segment.text]


# -- what stands in its place stays there ------------------------------------------------------------------------------


@SIZES
def test_words_that_come_and_go_lay_nothing_out_anew(size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        with patch.object(Screen, "_refresh_layout", autospec=True, side_effect=Screen._refresh_layout) as laid_out:
            for words, look in (("Saved.", ""), ("A stop fails.", "bad"), ("", "")):
                bench(w).say(words, look)
                await w.pilot.pause()
                assert (words in w.text()) and bench(w).said == words
            assert laid_out.call_count == 0
            bench(w).say("Words that need a second row. " * 6)
            await w.pilot.pause()
            assert laid_out.call_count > 0, "only more rows move what is around them"

    walk(steps, BUILD, CHECKLIST, size=size)


def test_a_rule_stands_above_what_it_means_while_nothing_is_said() -> None:
    async def steps(w: Walk) -> None:
        rule = "─" * 20
        bench(w).say("")
        await w.pilot.pause()
        assert sum(rule in row for row in w.text().splitlines()) == 1
        bench(w).say("Taken.")
        await w.pilot.pause()
        assert rule not in w.text() and w.text().count("Taken.") == 1

    walk(steps, BUILD, CHECKLIST, size=(80, 24))


@pytest.mark.parametrize("theme", ["dark", "contrast"])
@pytest.mark.parametrize("size", [(80, 24), (120, 40), (170, 48)])
def test_rows_of_lists_are_drawn_as_textual_would_draw_them(size: tuple[int, int], theme: str) -> None:
    """Border, padding and ground of every row come from Textual, once for all rows."""

    async def steps(w: Walk) -> None:
        w.app.theme = WORDS[theme]
        for keys in (("down",), ("1", "escape"), ("f2", "down"), ("escape", "enter")):
            await w.press(*keys)
            lists = [found for found in w.app.screen.query(LineList) if found in w.app.screen._compositor.visible_widgets]
            assert lists
            for found in lists:
                whole = Region(0, 0, *found.outer_size)
                ours = [seen(strip) for strip in found.render_lines(whole)]
                found._styles_cache.clear()
                assert ours == [seen(strip) for strip in Widget.render_lines(found, whole)], (keys, found)
                part = whole.shrink(Spacing(0, 2, 1, 3))
                assert [seen(s) for s in found.render_lines(part)] == [
                    seen(s) for s in Widget.render_lines(found, part)]

    walk(steps, BUILD, CHECKLIST, size=size)


def seen(strip: Strip) -> list[tuple[str, object]]:
    """Every character with its style."""
    return [(character, segment.style) for segment in strip for character in segment.text]
