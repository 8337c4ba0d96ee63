"""A line that is told in full: its words and the number at its right, in as many rows as they take."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from buildtrack.bench.widgets.line_text import MOST_BENEATH, Line, Piece, Row, broken
from buildtrack.storage.build_file import read_build
from buildtrack.storage.places import shipped_samples
from tests.bench_walk import Walk, main_checklist, walk
from tests.test_bench_typing_ahead import bench


def rows(left: str, right: str, width: int) -> list[Row]:
    return broken(0, Line((Piece(left),), (Piece(right, "muted"),), "working:x", whole=True), width)


def told(found: list[Row]) -> str:
    return " ".join(p.text.strip() for r in found for p in (*r.left, *r.right))


def test_what_fits_stays_in_one_row() -> None:
    assert len(rows("Start pulse", "43.32 A²s", 36)) == 1


def test_a_label_too_long_for_its_number_is_wrapped_and_not_cut() -> None:
    found = rows("Share of the voltage lost in a stall", "1.490 ± 0.027 %", 36)
    assert len(found) == 2 and found[0].right == ()
    assert told(found) == "Share of the voltage lost in a stall 1.490 ± 0.027 %"
    assert [r.first for r in found] == [True, False]


def test_of_a_sentence_at_the_right_the_beginning_stands_beneath() -> None:
    found = rows("The chain", "least headroom: cells, 1.38 × the rms current; largest loss: cells; and a good deal more", 36)
    assert len(found) == 1 + MOST_BENEATH and told(found).startswith("The chain least headroom: cells")
    assert found[-1].left[0].text.endswith("…") and found[-1].left[0].look == "muted"


@given(st.text("abc ±", min_size=1, max_size=90), st.text("123.", max_size=20), st.integers(24, 60))
def test_no_row_is_wider_than_the_list_and_no_number_is_cut(left: str, right: str, width: int) -> None:
    found = rows(left, right, width)
    for row in found:
        words, number = ("".join(p.text for p in pieces) for pieces in (row.left, row.right))
        assert cell_len(words) + cell_len(number) <= width - 1 or len(found) == 1
    assert "".join(p.text for r in found for p in r.right) == right


def test_beside_the_bench_no_label_of_a_working_is_cut() -> None:
    async def steps(w: Walk) -> None:
        bench(w).jump("working_current")
        await w.settle()
        shown = [e for e in bench(w).meaning.lines if e.key.startswith(("working:", "check:"))]
        assert len(shown) > 5 and all(e.whole or e.wrapped for e in shown)

    walk(steps, read_build(shipped_samples() / "drill-not-cleared.toml").build, main_checklist(), size=(120, 40))
