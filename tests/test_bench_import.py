"""Import of a CSV file into a table: what goes where is shown, changed column by column, and refused with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack.bench import csv_rows
from buildtrack.bench.screens.ask import AskOne, AskText
from buildtrack.bench.screens.import_rows import Mapping
from buildtrack.bench.screens.table import TableScreen
from buildtrack.model.build import Cell, Entry, Row
from buildtrack.model.checklist import Column, Span
from tests.bench_walk import Walk, walk
from tests.test_bench_entry import CHECKLIST, SIZES
from tests.test_bench_guidance import READY, with_entries
from tests.test_bench_typing_ahead import table

TEXT = "Cell;Voltage on arrival [V];Capacity (mAh);colour\nc01;3,91;2400;blue\n\nc02;3,88;abc;red\n"


async def mapping(w: Walk, name: str = "cells.csv") -> Mapping:
    await table(w, "candidates")
    await w.press("c")
    await w.type(name)
    assert isinstance(w.screen, Mapping)
    return w.screen


def rows_of(w: Walk) -> dict[str, dict[str, str]]:
    return {r.id: {c: cell.text for c, cell in r.cells.items()} for r in w.build.entry("candidates").rows}


def folder(tmp_path: Path, text: str = TEXT) -> Path:
    (tmp_path / "cells.csv").write_text(text, encoding="utf-8")
    return tmp_path / "build.toml"


@SIZES
def test_a_csv_file_fills_a_table_after_its_mapping_was_shown(tmp_path: Path, size: tuple[int, int]) -> None:
    async def steps(w: Walk) -> None:
        await mapping(w)
        shown = " ".join(w.text().split())
        assert "Take it over: 3 fields in 2 rows" in shown and "→ name of the row" in shown
        assert "colour blue, red" in shown and "→ nothing: left away" in shown and "in mAh" in shown
        assert "c01: Voltage on arrival 3,91 V" in shown.replace("arrival 3,91", "Voltage on arrival 3,91").replace(
            "Voltage on Voltage on", "Voltage on"), "the first rows are shown as they will stand"
        await w.press("enter")
        assert isinstance(w.screen, TableScreen)
        found = rows_of(w)
        assert (found["c01"]["arrival_voltage"], found["c01"]["capacity"]) == ("3,91 V", "2400 mAh")
        assert found["c02"] == {"arrival_voltage": "3,88 V"}
        assert "1 did not fit" in w.screen.said
        await w.press("u")
        assert rows_of(w) == {}, "an import is one edit"

    walk(steps, READY, CHECKLIST, path=folder(tmp_path), size=size)


@SIZES
def test_any_column_of_the_file_is_sent_elsewhere_by_its_list_or_by_the_arrows(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    async def steps(w: Walk) -> None:
        page = await mapping(w)
        await w.press("down", "down", "down", "down", "enter")
        assert isinstance(w.screen, AskOne) and "Where does 'colour' go?" in w.text()
        await w.press("3")
        assert page.planned.targets[3] == "source"
        assert "→ Where from" in w.text()
        await w.press("left")
        assert page.planned.targets[3] == csv_rows.ROW_NAME and page.planned.targets[0] == csv_rows.NOWHERE
        await w.press("right", "home", "enter")
        assert [r["source"] for r in rows_of(w).values()] == ["blue", "red"]

    walk(steps, READY, CHECKLIST, path=folder(tmp_path), size=size)


def test_a_field_that_does_not_fit_is_named_with_its_line_and_its_column(tmp_path: Path) -> None:
    async def steps(w: Walk) -> None:
        page = await mapping(w)
        (refused,) = page.planned.refused
        assert refused.startswith("line 4, column 'Capacity (mAh)' (c02):"), "an empty line counts as a line"

    walk(steps, READY, CHECKLIST, path=folder(tmp_path))


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("none.csv", None, "none.csv: cannot be read"),
        ("bytes.csv", b"cell;source\nc01;\xff\n", "bytes.csv: line 2 is not UTF-8 text"),
        ("head.csv", b"cell;source\n", "head.csv: needs a line of heads and at least one row"),
        ("many.csv", b"cell;source\n" + b"c;x\n" * 401, "many.csv: 401 rows are more than the 400"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_in_its_box_where_its_name_stays(
    tmp_path: Path, name: str, content: bytes | None, said: str
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)

    async def steps(w: Walk) -> None:
        await table(w, "candidates")
        await w.press("c")
        await w.type(name)
        assert isinstance(w.screen, AskText) and said in " ".join(w.text().split())
        assert name in w.text()

    walk(steps, READY, CHECKLIST, path=tmp_path / "build.toml")


@SIZES
def test_the_box_names_the_known_heads_and_the_files_and_the_key_stands_at_the_bottom(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    async def steps(w: Walk) -> None:
        await table(w, "candidates")
        assert "c import" in w.text().splitlines()[-1]
        await w.press("c")
        shown = " ".join(w.text().split())
        assert "Voltage on arrival" in shown and "cells.csv" in shown

    walk(steps, READY, CHECKLIST, path=folder(tmp_path), size=size)


def test_of_two_columns_for_one_place_the_first_goes_there() -> None:
    columns = CHECKLIST.items["candidates"].columns
    sheet = csv_rows.Sheet(("capacity", "Capacity (Ah)", "voltage on"), (("2000", "2.1", "3.9"),))
    assert csv_rows.targets_of(sheet, columns) == ("capacity", csv_rows.NOWHERE, "arrival_voltage")


ROWS_COLUMNS = (
    Column(id="v", label="Voltage", kind="reading", unit="V", dimension="voltage", plausible=Span(2.5, 4.25),
           hard=Span(0.0, 5.0)),
)


def test_a_row_with_more_fields_than_heads_is_refused_and_not_cut() -> None:
    """A decimal comma in a file parted by commas: 4,172 would come in as 4."""
    sheet = csv_rows.Sheet(("cell", "Voltage"), (("c01", "4", "172"), ("c02", "3.95", "")), (2, 3))
    found = csv_rows.plan(sheet, (csv_rows.ROW_NAME, "v"), ROWS_COLUMNS, (), "c")
    assert [(p.row, p.text) for p in found.fields] == [("c02", "3.95")]
    assert len(found.refused) == 1
    assert found.refused[0].startswith("line 2: 3 fields, but 2 heads") and "semicolons" in found.refused[0]


def test_a_second_row_of_one_name_does_not_overwrite_the_first() -> None:
    sheet = csv_rows.Sheet(("cell", "Voltage"), (("c01", "3.9"), ("c01", "3.8"), ("", "3.7")), (2, 3, 4))
    found = csv_rows.plan(sheet, (csv_rows.ROW_NAME, "v"), ROWS_COLUMNS, ("c01", "c02", "c03"), "c")
    assert [(p.row, p.text) for p in found.fields] == [("c01", "3.9"), ("c03", "3.7")]
    assert found.refused == ("line 3: 'c01' stands twice; each row needs a name of its own",)


def test_a_head_goes_to_a_column_by_whole_words_never_by_a_part_of_one() -> None:
    """`strip` is not the beginning of `Strips in parallel`, which is another thing: how many, not which."""
    parallel = Column(id="parallel", label="Strips in parallel", kind="reading", dimension="count")
    capacity = Column(id="c", label="Capacity at 2 A", kind="reading", dimension="capacity", unit="mAh")
    columns = (parallel, capacity)
    assert csv_rows.column_for("strip", columns) is None
    assert csv_rows.column_for("Strips", columns) is parallel
    assert csv_rows.column_for("capac", columns) is None
    assert csv_rows.column_for("capacity [mAh]", columns) is capacity


def names_of(*written: str) -> csv_rows.Sheet:
    return csv_rows.Sheet(("cell", "Voltage"), tuple((name, "3.9") for name in written))


@pytest.mark.parametrize(("names", "written", "rows"), [
    (("n1", "n2", "n12"), ("1", "2", "12"), ("n1", "n2", "n12")),
    (("c01", "c02"), ("C1", "c 2"), ("c01", "c02")),
    (("c01", "c02"), ("1", "3"), ("c01", "3")),
    (("n1", "n01"), ("1",), ("1",)),  # two rows could be meant
    (("n1", "1"), ("1", "2"), ("1", "2")),  # one is called so: the file is taken at its word
    ((), ("1", "2"), ("1", "2")),
])
def test_a_number_in_the_file_is_the_row_of_that_number_where_only_one_can_be_meant(
    names: tuple[str, ...], written: tuple[str, ...], rows: tuple[str, ...]
) -> None:
    prefix = names[0][0] if names else "c"
    found = csv_rows.plan(names_of(*written), (csv_rows.ROW_NAME, "v"), ROWS_COLUMNS, names, prefix)
    assert tuple(f.row for f in found.fields) == rows
    assert found.new == tuple(r for r in rows if r not in names)
    assert found.meant == tuple((w, r) for w, r in zip(written, rows, strict=True) if w != r)


def test_two_names_of_one_row_do_not_overwrite_one_another() -> None:
    found = csv_rows.plan(names_of("1", "01"), (csv_rows.ROW_NAME, "v"), ROWS_COLUMNS, ("n1",), "n")
    assert [f.row for f in found.fields] == ["n1"] and "'n1' stands twice" in found.refused[0]


@SIZES
def test_the_page_says_which_rows_are_meant_which_are_new_and_what_is_replaced(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    """Rows 1 and 2 are c01 and c02; x is no row of the table, and c03 gets nothing."""
    standing = tuple(Row(f"c0{n}", {"arrival_voltage": Cell("3.60")}) for n in (1, 2, 3))
    build = with_entries(READY, candidates=Entry(rows=standing))

    async def steps(w: Walk) -> None:
        await mapping(w)
        shown = " ".join(w.text().replace("▌", " ").split())
        assert "Take it over: 3 fields in 3 rows" in shown
        assert "Names of the file are taken as those of the table: 1 → c01 and 2 → c02." in shown
        assert "1 row is NEW in the table: x." in shown and "c03 of the table gets nothing." in shown
        assert "2 values stand and would be replaced: c01, Voltage on arrival: 3.60 → 3.91" in shown
        await w.press("enter")
        assert [r.text("arrival_voltage") for r in w.build.entry("candidates").rows] == ["3.91", "3.92", "3.60", "3.93"]

    text = "Cell;Voltage on arrival\n1;3.91\n2;3.92\nx;3.93\n"
    walk(steps, build, CHECKLIST, path=folder(tmp_path, text), size=size)


def test_one_field_in_one_row_is_said_as_one(tmp_path: Path) -> None:
    async def steps(w: Walk) -> None:
        await mapping(w)
        assert "Take it over: 1 field in 1 row" in w.text() and "1 rows" not in w.text()
        await w.press("enter")
        assert "1 field imported. One undo takes it back." in w.screen.said  # type: ignore[attr-defined]

    walk(steps, READY, CHECKLIST, path=folder(tmp_path, "Cell;Voltage on arrival\nc01;3.91\n"))
