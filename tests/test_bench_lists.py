"""Lists longer than the screen: a page is a screenful, nothing between two lines is passed over unseen."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

from textual.app import App, ComposeResult
from textual.pilot import Pilot

from buildtrack.bench.widgets.line_text import Line, line
from buildtrack.bench.widgets.lines import LineList

HEIGHT = 10


class OneList(App[None]):
    """A list and nothing else."""

    def __init__(self, lines: list[Line]) -> None:
        super().__init__()
        self.shown = lines

    def compose(self) -> ComposeResult:
        yield LineList(self.shown)


def in_list(lines: list[Line], steps: Callable[[LineList, Pilot[None]], Awaitable[None]]) -> None:
    async def go() -> None:
        app = OneList(lines)
        async with app.run_test(size=(40, HEIGHT)) as pilot:
            found = app.query_one(LineList)
            found.focus()
            await pilot.pause()
            await steps(found, pilot)

    asyncio.run(go())


def text(numbers: range) -> list[Line]:
    return [line(f"text {n}") for n in numbers]


def seen(found: LineList) -> set[str]:
    rows = found.rows(30)[found.top : found.top + HEIGHT]
    return {"".join(p.text for p in row.left).strip() for row in rows}


MIXED = [line("first", key="a"), *text(range(30)), line("second", key="b"), line("third", key="c"), *text(range(30, 90))]


def test_a_list_read_page_by_page_shows_every_row() -> None:
    async def steps(found: LineList, pilot: Pilot[None]) -> None:
        shown = seen(found)
        for _ in range(20):
            await pilot.press("pagedown")
            shown |= seen(found)
        assert shown == {"".join(p.text for p in entry.left).strip() for entry in MIXED}

    in_list(MIXED, steps)


def test_a_list_read_by_arrows_shows_every_row_also_between_two_lines_that_can_be_chosen() -> None:
    async def steps(found: LineList, pilot: Pilot[None]) -> None:
        shown = seen(found)
        for _ in range(90):
            await pilot.press("down")
            shown |= seen(found)
        assert shown == {"".join(p.text for p in entry.left).strip() for entry in MIXED}
        assert found.current_key == "c"

    in_list(MIXED, steps)


def test_home_shows_the_top_and_end_the_bottom_where_no_line_can_be_chosen() -> None:
    async def steps(found: LineList, pilot: Pilot[None]) -> None:
        await pilot.press("end")
        assert "text 89" in seen(found) and found.current_key == "b"
        await pilot.press("home")
        assert "text 0" in seen(found)

    in_list([*text(range(20)), line("one", key="a"), line("two", key="b"), *text(range(20, 90))], steps)


def test_page_up_from_the_bottom_comes_back_by_screenfuls() -> None:
    async def steps(found: LineList, pilot: Pilot[None]) -> None:
        await pilot.press("end")
        shown = seen(found)
        for _ in range(15):
            await pilot.press("pageup")
            shown |= seen(found)
        assert shown == {"".join(p.text for p in entry.left).strip() for entry in MIXED}

    in_list(MIXED, steps)


def test_the_arrows_move_by_one_in_a_list_where_every_line_can_be_chosen() -> None:
    async def steps(found: LineList, pilot: Pilot[None]) -> None:
        for n in range(1, 25):
            await pilot.press("down")
            assert found.current_key == f"k{n}" and f"line {n}" in seen(found)

    in_list([line(f"line {n}", key=f"k{n}") for n in range(30)], steps)
