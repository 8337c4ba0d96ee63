"""An item in the table of a wrong step is read, and said to be there."""

from __future__ import annotations

from pathlib import Path

import pytest

from buildtrack import cli
from buildtrack.model import edit
from buildtrack.model.build import Reading
from buildtrack.storage.build_file import read_build
from buildtrack.storage.checklist_file import find_checklist
from buildtrack.storage.misplaced import misplaced
from buildtrack.storage.session import open_session
from tests.entered import put
from tests.make import NOW


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A build whose series count was pasted into the step of the load."""
    path = tmp_path / "build.toml"
    assert cli.main(["new", str(path), "--title", "a drill"]) == 0
    put(path, "series_count", "3")
    path.write_text(path.read_text().replace("[steps.cells.series_count]", "[steps.load.series_count]").replace(
        "[[steps.cells.series_count.readings]]", "[[steps.load.series_count.readings]]").replace(
        "[steps.cells]", "[steps.load]"))
    return path


def told(path: Path) -> tuple[str, ...]:
    return misplaced(read_build(path).steps, find_checklist("nickel-tool-pack"))


def test_it_is_read_and_named_with_the_table_it_belongs_in(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert read_build(path).build.entry("series_count").standing[0].text == "3"
    assert told(path) == ("step load, item series_count: stands in the wrong step and is read all the same; it belongs "
                          "in [steps.cells.series_count]",)
    capsys.readouterr()
    assert cli.main(["check", str(path), "--json"]) == 1
    said = capsys.readouterr()
    assert "step load, item series_count: stands in the wrong step" in said.err and said.out.startswith("{")


def test_opening_it_says_so_and_saving_leaves_it_where_it_stands(path: Path) -> None:
    session = open_session(path)
    try:
        assert any("step load, item series_count: stands in the wrong step" in note for note in session.notes)
        item = session.checklist.items["tool"]
        session.commit(edit.add_reading(session.build, item, Reading("a drill", NOW), edit.Hand(NOW)))
    finally:
        session.close()
    assert told(path) != () and read_build(path).build.entry("series_count").standing[0].text == "3"


def test_a_file_in_order_is_not_spoken_of(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "build.toml"
    assert cli.main(["new", str(path)]) == 0
    put(path, "series_count", "3")
    assert told(path) == ()


def test_many_are_counted() -> None:
    checklist = find_checklist("nickel-tool-pack")
    wrong = {item.id: "elsewhere" for item in list(checklist.all_items())[:9] if item.id != "instruments"}
    found = misplaced(wrong, checklist)
    assert len(found) == 6 and found[-1] == f"{len(wrong) - 5} more items stand in a wrong step"
