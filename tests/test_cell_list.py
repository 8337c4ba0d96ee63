"""Lists of cells as testers write them, and the command that groups them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack import cli
from buildtrack.storage.cell_list import CellListError, read_cells


def listed(tmp_path: Path, text: str) -> list[tuple[str, float, float | None]]:
    path = tmp_path / "cells.csv"
    path.write_text(text, encoding="utf-8")
    return [(c.id, round(c.capacity_ah, 6), c.resistance_ohm and round(c.resistance_ohm, 6)) for c in read_cells(path).cells]


EXPECTED = [("a", 2.1005, 0.045), ("b", 1.98, 0.0525)]


@pytest.mark.parametrize("text", [
    "id,capacity_mAh,resistance_mOhm\na,2100.5,45\nb,1980,52.5\n",
    "Cell;Capacity (mAh);IR [mΩ]\na;2100,5;45\nb;1980;52,5\n",
    "Zelle Nr\tKap[Ah]\tRi[Ohm]\nx\t\t\n".replace("Zelle Nr", "Nr").replace("x\t\t\n", "") + "a\t2,1005\t0,045\nb\t1,98\t0,0525\n",
    "tester 4 bay\nserial;1\n\nCell;Cap;IR\na;2100,5;45 mΩ\nb;1980 mAh;52,5\n",
    "\ufeffid,capacity (Ah),dcir (mohm)\r\na,2.1005,45\r\nb,1.98,52.5\r\n",
])
def test_columns_are_known_by_name_and_unit(text: str, tmp_path: Path) -> None:
    assert listed(tmp_path, text) == EXPECTED


def test_a_line_that_is_no_cell_is_passed_over_and_named(tmp_path: Path) -> None:
    path = tmp_path / "cells.csv"
    path.write_text("id;capacity (mAh)\na;2100\nb;bad\nc;99000000\n", encoding="utf-8")
    found = read_cells(path)
    assert [c.id for c in found.cells] == ["a"]
    assert found.passed_over[0].startswith("line 3:") and found.passed_over[1].startswith("line 4:")


@pytest.mark.parametrize(("text", "says"), [
    ("", "no line of headings"), ("a;b\n1;2\n", "no line of headings"), ("id;capacity\na;2100\na;2000\n", "stands twice"),
    ("id;capacity\n", "no line held a cell"),
])
def test_a_list_that_cannot_be_used_is_one_line(text: str, says: str, tmp_path: Path) -> None:
    with pytest.raises(CellListError, match=says):
        listed(tmp_path, text)


@given(st.text(max_size=300))
@settings(max_examples=150, deadline=None, derandomize=True)
def test_no_text_gives_a_traceback(text: str) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cells.csv"
        path.write_text(text, encoding="utf-8", errors="replace")
        try:
            read_cells(path)
        except ValueError as error:
            assert str(path) in str(error)


def test_the_command_groups_and_says_what_is_proven(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Largest with smallest is best for pairs: 2100 + 1900 and 2050 + 1960 (by hand)."""
    path = tmp_path / "cells.csv"
    path.write_text("id;capacity (mAh)\na;2100\nb;1900\nc;2050\nd;1960\ne;1500\n", encoding="utf-8")
    assert cli.main(["cells", str(path), "--series", "2", "--parallel", "2", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert sorted(sorted(g) for g in told["groups"]) == [["a", "b"], ["c", "d"]]
    assert (told["smallest_mAh"], told["bound_mAh"], told["proven"], told["left_over"]) == (4000, 4000, True, ["e"])


def test_too_few_cells_are_refused_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "cells.csv"
    path.write_text("id;capacity (mAh)\na;2100\n", encoding="utf-8")
    assert cli.main(["cells", str(path), "--series", "2", "--parallel", "2"]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_cells_that_could_not_be_read_are_named_where_there_are_too_few(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "cells.csv"
    path.write_text("id;capacity (mAh)\na;2100\nb;about two\n", encoding="utf-8")
    assert cli.main(["cells", str(path), "--series", "2", "--parallel", "1"]) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1 and "1 cells could be read" in told and "line 3" in told


def test_one_missing_resistance_leaves_all_out_and_that_is_said(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "cells.csv"
    path.write_text("id;capacity (mAh);IR (mOhm)\na;2100;40\nb;2000;\n", encoding="utf-8")
    assert cli.main(["cells", str(path), "--series", "2", "--parallel", "1"]) == 0
    assert "resistances are left out of the grouping: b without one" in capsys.readouterr().out
    path.write_text("id;capacity (mAh)\na;2100\nb;2000\n", encoding="utf-8")
    assert cli.main(["cells", str(path), "--series", "2", "--parallel", "1"]) == 0
    assert "left out" not in capsys.readouterr().out


def test_a_log_is_told_in_the_promised_keys(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """2 A for an hour is 2 Ah; the trapezoid of 12 V falling to 10 V in a line is 22 Wh."""
    path = tmp_path / "log.csv"
    rows = [f"{t};{12 - 2 * t / 3600:.6f};2.000" for t in range(0, 3601, 60)]
    path.write_text("time [s];voltage [V];current [A]\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert cli.main(["log", str(path), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["rows"] == 61 and told["gaps"] == []
    assert (told["duration_s"], told["charge_Ah"], told["energy_Wh"], told["mean_V"]) == pytest.approx((3600, 2.0, 22.0, 11.0))


def test_a_column_of_a_log_can_be_set_by_hand(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "log.csv"
    rows = [f"{t};{12 - t / 3600:.4f};5;2.000" for t in range(0, 3601, 60)]
    path.write_text("time [s];voltage [V];limit [A];current [A]\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert cli.main(["log", str(path), "--json", "--map", "current=4"]) == 0
    assert json.loads(capsys.readouterr().out)["charge_Ah"] == pytest.approx(2.0)
    assert cli.main(["log", str(path), "--map", "current=none"]) == 2
    assert "there is no column 'none'" in capsys.readouterr().err


@pytest.mark.parametrize(("text", "says"), [
    (";" * 4_000_000, "line 1: 4000001 columns are more than the 500 this program reads"),
    ("id;capacity (mAh)\n" + "a\n" * 20_000, "20001 lines are more than the 20000 this program reads"),
    ("id;capacity (mAh)\na;2100\n" + ";" * 500, "line 3: 501 columns are more than the 500 this program reads")])
def test_what_is_built_to_take_long_is_refused_before_it_is_parted(tmp_path: Path, text: str, says: str) -> None:
    """Five megabytes of separators took 20 s and 500 MB."""
    path = tmp_path / "cells.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CellListError) as refused:
        read_cells(path)
    assert str(refused.value) == f"{path}: {says}"


@pytest.mark.parametrize("heading", ["(" * 100_000, "a" + "_a" * 50_000, "[" + " " * 100_000])
def test_a_long_heading_beside_the_capacity_is_looked_at_in_part(tmp_path: Path, heading: str) -> None:
    path = tmp_path / "cells.csv"
    path.write_text(f"id;{heading};capacity (mAh)\na;1;2100\n", encoding="utf-8")
    assert [c.capacity_ah for c in read_cells(path).cells] == [2.1]
