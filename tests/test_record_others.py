"""What else leaves the program: the label, one HTML file, the parts list."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pypdf
import pytest

from buildtrack.judging import Judged, judge
from buildtrack.model.build import Cell, Entry, Reading, Row
from buildtrack.record.errors import RecordError
from buildtrack.record.html_file import write_html
from buildtrack.record.label import NOT_CLEARED, label_html, label_lines, write_label
from buildtrack.record.parts import harmless, parts_csv
from tests import record_builds


@pytest.fixture(scope="module")
def judged(tmp_path_factory: pytest.TempPathFactory) -> Judged:
    return record_builds.full_judged(tmp_path_factory.mktemp("build"))


class Links(HTMLParser):
    """Every address in a page, and every tag."""

    def __init__(self) -> None:
        super().__init__()
        self.addresses: list[str] = []
        self.tags: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.addresses += [v or "" for k, v in attrs if k in ("href", "src", "xlink:href", "action", "data")]


def test_the_html_file_needs_nothing_beside_it(judged: Judged, tmp_path: Path) -> None:
    text = write_html(judged, b"x", tmp_path / "record.html").read_text(encoding="utf-8")
    links = Links()
    links.feed(text)
    assert all(a.startswith(("#", "data:image/")) for a in links.addresses), links.addresses
    assert not re.findall(r'url\((?!"data:)', text)
    assert "script" not in links.tags and "svg" in links.tags
    assert "default-src 'none'" in text


def test_every_place_the_contents_point_to_is_there(judged: Judged, tmp_path: Path) -> None:
    text = write_html(judged, b"x", tmp_path / "record.html").read_text(encoding="utf-8")
    for anchor in re.findall(r'href="#([^"]+)"', text):
        assert text.count(f'id="{anchor}"') == 1, anchor


def test_the_same_build_gives_the_same_html(judged: Judged, tmp_path: Path) -> None:
    first, second = (write_html(judged, b"x", tmp_path / f"{n}.html").read_bytes() for n in "ab")
    assert first == second


def test_the_label_says_what_the_next_person_must_know(judged: Judged) -> None:
    lines = " ".join(label_lines(judged)).replace("\u00a0", " ")
    # 3 cells in series, 2 in parallel; charged to 3 × 4.15 V; fuse as entered
    for words in ("3S2P", "not certified", "12.45 V", "Fuse: 10 A", f"Record: {judged.build.id}"):
        assert words in lines


def test_a_pack_that_is_not_cleared_says_so_first(judged: Judged) -> None:
    assert judged.assessment.verdict != "cleared"
    assert label_lines(judged)[0] == NOT_CLEARED
    cleared = replace(judged, assessment=replace(judged.assessment, verdict="cleared with conditions"))
    assert NOT_CLEARED not in label_lines(cleared)


def test_a_label_without_its_readings_says_what_it_needs(judged: Judged) -> None:
    entries = {k: v for k, v in judged.build.entries.items() if k != "charger_current"}
    found = judge(replace(judged.build, entries=entries), judged.checklist, judged.folder, judged.now)
    with pytest.raises(RecordError, match=judged.checklist.items["charger_current"].label):
        label_lines(found)


def test_the_label_page_is_one_page_with_the_label_in_three_sizes(judged: Judged, tmp_path: Path) -> None:
    out = write_label(judged, tmp_path / "label.pdf")
    reader = pypdf.PdfReader(out)
    assert len(reader.pages) == 1
    assert reader.pages[0].extract_text().count("not certified") == 3


def test_the_label_page_can_be_letter(judged: Judged, tmp_path: Path) -> None:
    box = pypdf.PdfReader(write_label(judged, tmp_path / "label.pdf", paper="Letter")).pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (612, 792)


def test_hostile_names_on_the_label_stay_words(judged: Judged) -> None:
    build = replace(judged.build, title="<b>x</b>", id="<img src=x>")
    html = label_html(replace(judged, build=build))
    assert "<b>x" not in html and "<img" not in html


@pytest.mark.parametrize("text", ["=2+3", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "\uff1d1"])
def test_no_field_of_the_parts_list_is_a_formula(text: str) -> None:
    assert harmless(text)[0] not in "=+-@\t\r \uff1d"


def test_the_parts_list_holds_cells_wires_parts_and_costs(judged: Judged) -> None:
    rows = list(csv.DictReader(io.StringIO(parts_csv(judged))))
    kept = [r for r in judged.build.entry("candidates").rows if r.text("decision") == "keep"]
    assert next(r for r in rows if r["kind"] == "Cells")["count"] == str(len(kept)) == "6"
    assert [r["remark"] for r in rows if r["what"] == "wire"] == [
        r.text("run") for r in judged.build.entry("conductors").rows]
    assert [r["amount [EUR]"] for r in rows if r["remark"] == "bought"] == ["9.50", "4.20", "2.80"]
    single = {r["what"]: r["size or marking"] for r in rows if r["remark"] != "bought"}
    assert single["protection board"] == "3 groups; 12 A" and single["fuse"] == "Blade fuse, 32 V or 58 V; 10 A; 32 V"
    assert "'=2+3 nickel strip" in {r["what"] for r in rows}


def test_the_parts_list_names_what_one_buys_in_words(judged: Judged) -> None:
    answers = {"charger_kind": "cc/cv charger", "charger_voltage": "12.58 V", "charger_current": "0.93 A", "switch_rating": "15 A"}
    entries = {**judged.build.entries, **{name: Entry((Reading(text),)) for name, text in answers.items()}}
    text = parts_csv(judge(replace(judged.build, entries=entries), judged.checklist, judged.folder, judged.now))
    rows = list(csv.DictReader(io.StringIO(text)))
    # three groups to 4.15 V each, as chosen for this pack; the volts and the current that a meter showed are no property one can order
    assert [r["size or marking"] for r in rows if r["what"] == "charger"] == ["CC/CV charger for lithium; 12.45 V"]
    assert "12.58" not in text and "0.93 A" not in text
    assert "switch" not in {r["what"] for r in rows}, "the switch is the tool's own"
    labels = {o.label for o in judged.checklist.items["costs"].columns[1].options}
    assert {r["kind"] for r in rows} <= labels
    ids = [o.id for n in ("charger_kind", "fuse_family") for o in judged.checklist.items[n].options]
    assert not {field for r in rows for field in r["size or marking"].split("; ")} & set(ids)


def test_a_pack_without_a_fuse_has_none_in_its_parts_list(judged: Judged) -> None:
    build = replace(judged.build, entries={**judged.build.entries, "fuse_family": Entry((Reading("none"),))})
    text = parts_csv(judge(build, judged.checklist, judged.folder, judged.now))
    assert "fuse" not in {r["what"] for r in csv.DictReader(io.StringIO(text))}


def test_fields_with_commas_quotes_and_lines_survive(judged: Judged) -> None:
    row = Row("k1", {"what": Cell('a "good", part\nof two'), "amount": Cell("1")})
    build = replace(judged.build, entries={**judged.build.entries, "costs": Entry(rows=(row,))})
    rows = list(csv.DictReader(io.StringIO(parts_csv(replace(judged, build=build)))))
    assert rows[-1]["what"] == 'a "good", part of two'
