"""Tables fit the page: no word of a head is broken, measured with the font itself."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from buildtrack.judging import judge
from buildtrack.record.content import gather
from buildtrack.record.gridding import PAGE_WIDTH_MM, beside, head_width, word_width
from buildtrack.record.gridding import grid as made_grid
from buildtrack.record.pages import Grid, Pages
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.places import shipped_samples
from tests.drawn_labels import width

AT = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
POINT_MM = 25.4 / 72
LARGE, SMALL = 8.3 * POINT_MM, 7.8 * POINT_MM
"""Type of tables and of those under workings (record.css)."""
PADDING_MM, FLUSH_RIGHT_MM = 1.4, 2.6
SAMPLES = sorted(p.stem for p in shipped_samples().glob("*.toml"))


def grids(pages: Pages) -> Iterator[tuple[Grid, float]]:
    """Every table of a record with the size of its type."""
    for step in pages.steps:
        yield from ((g, LARGE) for g in step.grids)
        yield from ((w.grid, SMALL) for w in step.workings if w.grid)
    yield from ((g, LARGE) for g in (pages.waivers, pages.left_out, pages.policy, pages.missing, pages.not_computed) if g)


@pytest.mark.parametrize("name", SAMPLES)
def test_no_word_of_a_head_is_wider_than_its_column(name: str) -> None:
    path = shipped_samples() / f"{name}.toml"
    build = read_build(path).build
    pages = gather(judge(build, find_checklist(build.checklist.id), path.parent, AT), b"x")
    broken = []
    for grid, size in grids(pages):
        for head, share, numeric in zip(grid.head, grid.widths, grid.numeric, strict=True):
            room = PAGE_WIDTH_MM * grid.width * share / 10_000 - (FLUSH_RIGHT_MM if numeric else PADDING_MM)
            broken += [(grid.title, word) for word in head.split() if width(word, size, "600") > room]
    assert broken == []


@pytest.mark.parametrize("word", ["mm²", "warmest", "headroom", "WWW", "[EUR]", "resistance", "mV", "°C", "ill", "speaks", "bundle"])
def test_the_width_of_a_word_is_reckoned_from_above(word: str) -> None:
    assert width(word, LARGE, "600") <= word_width(word) <= 1.5 * width(word, LARGE, "600")


@pytest.mark.parametrize(("head", "lines"), [
    ("A end", ["A", "end"]), ("leak per day", ["leak", "per day"]), ("heaviest current", ["heaviest", "current"]),
    ("mV a month against the middle", ["mV a month", "against", "the middle"]),
    ("of the working current", ["of the", "working", "current"]), ("capacity", ["capacity"])])
def test_a_head_is_set_in_few_lines(head: str, lines: list[str]) -> None:
    # the lines as one sets them by eye, two or, where the head is long, three; their widths from the font file
    assert " ".join(lines) == head
    widest = max(width(words, LARGE, "600") for words in lines)
    assert widest <= head_width(head) <= 1.15 * widest, "the reckoning from above adds up to 15 %"


def test_a_head_without_words_has_no_width() -> None:
    assert head_width("") == 0.0


def small(title: str, rows: int, notes: tuple[str, ...] = ()) -> Grid:
    return made_grid(title, ("cell", "V"), [(f"c{n}", "3.7 V") for n in range(rows)], (), notes)


def test_two_small_tables_stand_beside_each_other_in_their_order() -> None:
    a, b, c = small("Drop over each joint", 4), small("Taps", 5), small("Costs", 3)
    pairs = beside((a, b, c))
    assert [[g for g, _ in pair] for pair in pairs] == [[a, b], [c]]
    (_, left), (_, right) = pairs[0]
    assert left + right <= 96 and pairs[1][0][1] == 100


def test_a_table_that_needs_its_room_stands_alone() -> None:
    plain = small("Taps", 4)
    for wide in (small("Taps", 13), small("Taps", 11), small("The same cell read with every voltmeter " * 2, 4),
                 small("Taps", 4, ("x" * 430,)), made_grid("Wide", tuple(f"column {n}" for n in range(12)), [("3.7 V",) * 12])):
        assert [len(pair) for pair in beside((wide, plain))] == [1, 1], wide.title
    assert beside(()) == []


@pytest.mark.parametrize("name", SAMPLES)
def test_a_pair_is_never_wider_than_the_page(name: str) -> None:
    path = shipped_samples() / f"{name}.toml"
    build = read_build(path).build
    pages = gather(judge(build, find_checklist(build.checklist.id), path.parent, AT), b"x")
    for step in pages.steps:
        rows = beside(step.grids)
        assert [g for row in rows for g, _ in row] == list(step.grids)
        assert all(sum(room for _, room in row) <= 100 and all(room >= g.width for g, room in row) for row in rows)


def test_columns_without_a_single_value_are_left_out_of_a_result() -> None:
    path = shipped_samples() / "grass-shears-in-progress.toml"
    build = read_build(path).build
    pages = gather(judge(build, find_checklist(build.checklist.id), path.parent, AT), b"x")
    report = next(w.grid for s in pages.steps for w in s.workings if w.id == "cell_report")
    assert report is not None and report.head == ("cell", "decision", "arrival", "speaks against it")
